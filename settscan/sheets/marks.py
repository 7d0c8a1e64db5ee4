"""How a colour is shown so that a black-and-white printer loses nothing: letter, hatch, words."""

from __future__ import annotations

import colorsys
import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from settscan.cloth.model import Yarn
from settscan.errors import BadInput

INK = "#1d1b18"
PAPER = "#ffffff"


class Hatch(StrEnum):
    """Line patterns, told apart without colour; the letter tells the rest."""

    NONE = "plain"
    RISING = "rising lines"
    FALLING = "falling lines"
    UPRIGHT = "upright lines"
    LEVEL = "level lines"
    CROSSED = "crossed lines"
    DOTS = "dots"
    GRID = "squares"


@dataclass(frozen=True, slots=True)
class Mark:
    """One yarn as the sheets show it: key, colour words, sRGB, hatch, and the ink on it."""

    key: str
    name: str
    colour: str
    hatch: Hatch
    ink: str


def checked_colour(yarn: Yarn) -> str:
    """The yarn's colour, in small letters.

    Raises:
        BadInput: unless it is written "#rrggbb".
    """
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", yarn.colour):
        raise BadInput(
            f'The colour of yarn {yarn.key}, "{yarn.colour[:30]}", cannot be drawn.',
            'Write it as "#rrggbb", such as "#1b2654".',
        )
    return yarn.colour.lower()


def marks_of(yarns: Iterable[Yarn]) -> dict[str, Mark]:
    """A mark for each yarn, by key; neighbours in the list never share a hatch."""
    patterns = list(Hatch)
    return {
        yarn.key: Mark(
            yarn.key,
            yarn.name or colour_words(yarn.colour),
            checked_colour(yarn),
            patterns[place % len(patterns)],
            ink_on(checked_colour(yarn)),
        )
        for place, yarn in enumerate(yarns)
    }


def _parts(colour: str) -> tuple[float, float, float]:
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return red, green, blue


def ink_on(colour: str) -> str:
    """Dark or white ink, whichever is easier to read on the colour (relative luminance)."""
    red, green, blue = (
        value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4
        for value in _parts(colour)
    )
    luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    # WCAG 2.1 contrast with white and with this ink (luminance 0.011) is equal at
    # sqrt(1.05 * (0.011 + 0.05)) - 0.05
    return INK if luminance > 0.203 else PAPER


_HUES = (
    (15, "red"),
    (42, "orange"),
    (68, "yellow"),
    (165, "green"),
    (195, "blue-green"),
    (255, "blue"),
    (290, "violet"),
    (345, "pink"),
    (360, "red"),
)


def colour_words(colour: str) -> str:
    """Plain words for an sRGB colour that nobody has named yet: "dark blue", "light grey"."""
    hue, lightness, saturation = colorsys.rgb_to_hls(*_parts(colour))
    if lightness < 0.08:
        return "black"
    if lightness > 0.94:
        return "white"
    shade = "dark " if lightness < 0.32 else "light " if lightness > 0.7 else ""
    if saturation < 0.12:
        return f"{shade}grey"
    name = next(word for limit, word in _HUES if hue * 360 <= limit)
    return f"{shade}{name}"
