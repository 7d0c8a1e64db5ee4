"""Text that is measured, fitted and wrapped in the words in which it will stand on the paper."""

from __future__ import annotations

from collections.abc import Sequence

from settscan.sheets import lettering
from settscan.sheets.words import Say

LEAD = 1.42  # from line to line of a text, as a share of its size
ROW_LEAD = 1.36  # the same in a cell of a table
CELL_GAP = 8.0  # free at the right of a cell
_ROW_AIR = 7.0  # above and below the lines of a row together


class Lettered:
    """Something that text is put on, in the words of `say`; sizes and widths are in points."""

    def __init__(self, say: Say) -> None:
        self.say = say

    def width_of(self, text: str, style: str, size: float) -> float:
        """See `lettering.width_of`."""
        return lettering.width_of(self.say(text), style, size)

    def fitted(self, text: str, style: str, size: float, width: float, least: float = 6) -> float:
        """See `lettering.fitted`."""
        return lettering.fitted(self.say(text), style, size, width, least)

    def clipped(self, text: str, style: str, size: float, width: float) -> str:
        """See `lettering.clipped`."""
        return lettering.clipped(self.say(text), style, size, width)

    def wrapped(self, text: str, style: str, size: float, width: float) -> list[str]:
        """See `lettering.wrapped`."""
        return lettering.wrapped(self.say(text), style, size, width)

    def tall(self, text: str, style: str, size: float, width: float) -> float:
        """Height that a text takes when it is wrapped into a width."""
        return len(self.wrapped(text, style, size, width)) * size * LEAD

    def row_tall(
        self, row: Sequence[str], size: float, widths: Sequence[float], least: float = 0
    ) -> float:
        """Height of a row of a table: that of its tallest cell, `least` or more."""
        cells = zip(row, widths, strict=True)
        lines = (len(self.wrapped(text, "text", size, wide - CELL_GAP)) for text, wide in cells)
        return max(least, max(lines, default=1) * size * ROW_LEAD + _ROW_AIR)
