"""What was read from one cloth, as a row of the table of swatches and rows of that of stripes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Row = dict[str, Any]

PHOTO = (
    "object", "file", "swatch", "photo_sha256", "taken", "scale_source", "scale_residual",
    "state", "reviewer", "program", "settings",
)  # fmt: skip
"""Columns on where a row comes from; every row of both tables has them."""

AXIS = (
    "density", "density_low", "density_high", "counted_by", "stripes", "threads_shown", "repeat",
    "repeat_threads", "repeat_chance", "sequence", "decided",
)  # fmt: skip
"""Columns of the warp, and again of the weft."""

SWATCH_COLUMNS = (
    *PHOTO[:5], "piece", "pieces", "piece_left", "piece_top", "piece_right", "piece_bottom",
    "photo_width", "photo_height", "status", "doubt", "unsure_stripes", "doubts", "reason",
    *PHOTO[5:8], "px_per_mm_x", "px_per_mm_y", "weave", "weave_confidence", "twill_direction",
    *(f"{axis}_{name}" for axis in ("warp", "weft") for name in AXIS),
    "yarns", "project", "evidence", "thumbnail", "edited", *PHOTO[8:],
)  # fmt: skip
STRIPE_COLUMNS = (
    *PHOTO[:5], "axis", "stripe", "yarn", "yarn_name", "hex", "lab_l", "lab_a", "lab_b",
    "threads", "threads_low", "threads_high", "chance", "others", "cut", "start_mm", "end_mm",
    "repeat", *PHOTO[5:],
)  # fmt: skip

_WHOLE = {"counts", "stripe", "threads", "threads_low", "threads_high", "piece", "pieces",
          "photo_width", "photo_height", "piece_left", "piece_top", "piece_right", "piece_bottom",
          "unsure_stripes"}  # fmt: skip
_NUMBER = {"doubt", "scale_residual", "px_per_mm_x", "px_per_mm_y", "weave_confidence", "chance",
           "lab_l", "lab_a", "lab_b", "start_mm", "end_mm"}  # fmt: skip
_AXIS_WHOLE = {"stripes", "threads_shown", "repeat_threads"}
_AXIS_NUMBER = {"density", "density_low", "density_high", "repeat_chance"}


def kind_of(column: str) -> str:
    """What a column holds: "whole" numbers, "number"s, "truth" values or "text"."""
    bare = column.removeprefix("warp_").removeprefix("weft_")
    if column in _WHOLE or (bare != column and bare in _AXIS_WHOLE):
        return "whole"
    if column in _NUMBER or (bare != column and bare in _AXIS_NUMBER):
        return "number"
    return "truth" if column in ("cut", "edited") else "text"


def swatch_row(reading: Mapping[str, Any]) -> Row:
    """The columns of the table of swatches that a reading (as JSON data) tells."""
    photo, scale, weave = reading["photo"], reading["scale"], reading["weave"]
    every = reading["doubts"] + reading["warp"]["doubts"] + reading["weft"]["doubts"]
    row: Row = {
        "photo_sha256": photo["sha256"],
        "photo_width": photo["width"],
        "photo_height": photo["height"],
        "status": reading["status"],
        "doubt": doubt_of(reading),
        "unsure_stripes": sum(s["low"] != s["high"] for s in _whole_stripes(reading)),
        "doubts": " ".join(dict.fromkeys(d["name"] for d in every)),
        "reason": reading["advice"][0] if reading["status"] == "refused" else "",
        "scale_source": scale["source"],
        "scale_residual": scale["relative_error"],
        "px_per_mm_x": scale["px_per_mm_x"],
        "px_per_mm_y": scale["px_per_mm_y"],
        "state": "finished",
        "weave": weave["name"],
        "weave_confidence": weave["confidence"],
        "twill_direction": weave["twill_direction"],
        "yarns": "; ".join(_yarn_words(yarn) for yarn in reading["yarns"]),
    }
    for axis, density in (("warp", "epi"), ("weft", "ppi")):
        row |= {f"{axis}_{k}": v for k, v in _axis_row(reading[axis], density).items()}
    return row


def _yarn_words(yarn: Mapping[str, Any]) -> str:
    """Such as "A navy #1b2654 L*a*b* 16.9 10.2 -28.0"."""
    lab = "" if yarn["lab"] is None else " L*a*b* " + " ".join(f"{v:.1f}" for v in yarn["lab"])
    return f"{yarn['key']} {yarn['name']} {yarn['srgb']}{lab}"


def _axis_row(axis: Mapping[str, Any], density: str) -> Row:
    found = axis[density] or {"value": None, "low": None, "high": None}
    return {
        "density": found["value"],
        "density_low": found["low"],
        "density_high": found["high"],
        "counted_by": axis["counted_by"],
        "stripes": len(axis["stripes"]),
        "threads_shown": sum(s["threads"] for s in axis["stripes"]),
        "repeat": repeat_shown(axis),
        "repeat_threads": axis["repeat"]["threads"],
        "repeat_chance": axis["repeat"]["chance"],
        "sequence": axis["repeat"]["sequence"],
    }


def repeat_shown(axis: Mapping[str, Any]) -> str:
    """How much of a repeat the photo shows: "whole", "half" (from pivot to pivot) or "partial"."""
    repeat, shown = axis["repeat"], sum(s["threads"] for s in axis["stripes"])
    if not axis["stripes"] or repeat["kind"] == "partial" or repeat["threads"] is None:
        return "partial"
    if repeat["kind"] == "symmetric" and shown < repeat["threads"]:
        return "half"
    return "whole"


def _whole_stripes(reading: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return [s for a in ("warp", "weft") for s in reading[a]["stripes"] if not s["cut"]]


def doubt_of(reading: Mapping[str, Any]) -> float | None:
    """How many stripes are expected to be wrong or are not counted; None for a refusal.

    By the reader's own chances: the sum of what is missing to certainty over the whole stripes;
    each band of an axis that was not counted, at least one, is one more.
    """
    if reading["status"] == "refused":
        return None
    total: float = sum(1 - s["chance"] for s in _whole_stripes(reading))
    for axis in ("warp", "weft"):
        if not reading[axis]["stripes"]:
            total += max(1, len(reading[axis]["bands"]))
    return round(total, 3)


def stripe_rows(reading: Mapping[str, Any]) -> list[Row]:
    """The rows of the table of stripes: the warp's from left to right, then the weft's."""
    yarns = {yarn["key"]: yarn for yarn in reading["yarns"]}
    rows = []
    for axis in ("warp", "weft"):
        repeat = repeat_shown(reading[axis])
        for number, stripe in enumerate(reading[axis]["stripes"], 1):
            yarn = yarns[stripe["yarn"]]
            light, a, b = yarn["lab"] or (None, None, None)
            rows.append({
                "axis": axis,
                "stripe": number,
                "yarn": stripe["yarn"],
                "yarn_name": yarn["name"],
                "hex": yarn["srgb"],
                "lab_l": light,
                "lab_a": a,
                "lab_b": b,
                "threads": stripe["threads"],
                "threads_low": stripe["low"],
                "threads_high": stripe["high"],
                "chance": stripe["chance"],
                "others": " ".join(f"{n}:{c:g}" for n, c in stripe["others"]),
                "cut": stripe["cut"],
                "start_mm": stripe["start_mm"],
                "end_mm": stripe["end_mm"],
                "repeat": repeat,
            })  # fmt: skip
    return rows
