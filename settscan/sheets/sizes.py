"""Sizes of paper, in points, and which of them is usual where."""

from __future__ import annotations

SIZES = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}


def usual_paper(units: str) -> str:
    """What most printers hold where these units are used: "Letter" for "inch", else "A4"."""
    return "Letter" if units == "inch" else "A4"
