"""Text that is measured, fitted and wrapped in the words in which it will stand on the paper."""

from __future__ import annotations

from settscan.sheets import lettering
from settscan.sheets.words import Say


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
