"""What a reading saw, as far as the sheets tell it: stripes, their places, and what to check.

It travels within the evidence picture (see `scan_result`), so that picture and words are of one
reading; a picture without it is printed as it is.
"""

from __future__ import annotations

import json
import re
from typing import Any, NamedTuple

from settscan.png_notes import note_in

NOTE = "settscan"
CHECKS_HEAD = "What the reading asks you to check"
_SURE = 0.9  # a chance below this is marked, as in the evidence picture


class SeenStripe(NamedTuple):
    """A stripe in the straightened photo: its label, its colour, and its edges as shares."""

    label: str
    colour: str
    doubtful: bool
    start: float
    end: float


class WhatWasSeen(NamedTuple):
    """The stripes from left to right and from the top down, and sentences on what to check."""

    columns: tuple[SeenStripe, ...]
    rows: tuple[SeenStripe, ...]
    yarns: tuple[tuple[str, str], ...]
    checks: tuple[str, ...]


def seen_in(evidence: bytes | None) -> WhatWasSeen | None:
    """What the note in an evidence picture says; None where there is none that can be used."""
    text = note_in(evidence, NOTE) if evidence else None
    if text is None:
        return None
    try:
        data = json.loads(text)
        colours = {str(y["key"]): _colour(y["colour"]) for y in data["yarns"]}
        return WhatWasSeen(
            columns=tuple(_stripe(one, colours) for one in data["columns"]),
            rows=tuple(_stripe(one, colours) for one in data["rows"]),
            yarns=tuple((str(y["key"]), str(y["name"])) for y in data["yarns"]),
            checks=tuple(map(str, data["checks"])),
        )
    except (ValueError, KeyError, TypeError, RecursionError):
        return None


def _stripe(one: dict[str, Any], colours: dict[str, str]) -> SeenStripe:
    low, high, chance, cut = int(one["low"]), int(one["high"]), float(one["chance"]), one["cut"]
    label, doubtful = f"{one['yarn']}{int(one['threads'])}", False
    if cut:
        label += "+"
    elif low != high:
        label, doubtful = f"{label}? {low}-{high}", True
    elif chance < _SURE:
        label, doubtful = f"{label}? {100 * chance:.0f} %", True
    start, end = float(one["start"]), float(one["end"])
    if not 0 <= start <= end <= 1:
        raise ValueError("a stripe lies beside the picture")
    return SeenStripe(label, colours[one["yarn"]], doubtful, start, end)


def _colour(text: str) -> str:
    if not re.fullmatch("#[0-9a-f]{6}", text):
        raise ValueError("no colour")
    return text
