"""What a person gives along with a photo: points, distances, densities, read from text."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import TYPE_CHECKING

from settscan.errors import BadInput, BadQuantity

if TYPE_CHECKING:
    from settscan.commands.console import Console
    from settscan.measured import Measured
    from settscan.photo.given import GivenScale

Point = tuple[float, float]

_POINT = r"\(?\s*([0-9]*\.?[0-9]+)\s*,\s*([0-9]*\.?[0-9]+)\s*\)?"
_SCALE_FORM = 'Write two points of the photo and their distance, as in "120,800 2120,806 = 10 cm".'
_CORNERS_FORM = (
    'Write four points as in "10,20 900,25 905,700 8,690": top left, top right, bottom right,'
    " bottom left."
)


def parse_scale(text: str) -> GivenScale:
    """Two photo points and their distance from "x0,y0 x1,y1 = 10 cm".

    Raises:
        BadInput: with the form to write.
    """
    from settscan.photo.given import GivenScale
    from settscan.quantities import parse_length

    points, equals, length = text.partition("=")
    match = re.fullmatch(rf"\s*{_POINT}\s+{_POINT}\s*", points)
    if not equals or not match:
        raise BadInput(f'"{text}" is not a scale.', _SCALE_FORM)
    x0, y0, x1, y1 = (_pixel(one) for one in match.groups())
    return GivenScale(x0=x0, y0=y0, x1=x1, y1=y1, length_mm=float(parse_length(length.strip())))


def parse_corners(text: str) -> tuple[Point, ...]:
    """Four photo points of a rectangle on the cloth, in turn from the top left.

    Raises:
        BadInput: if there are not four, or they are not in turn.
    """
    match = re.fullmatch(rf"\s*{_POINT}\s+{_POINT}\s+{_POINT}\s+{_POINT}\s*", text)
    if not match:
        raise BadInput(f'"{text}" is not four corners.', _CORNERS_FORM)
    numbers = [_pixel(one) for one in match.groups()]
    points = tuple(zip(numbers[::2], numbers[1::2], strict=True))
    if any(_turn(*(points[(i + j) % 4] for j in range(3))) <= 0 for i in range(4)):
        raise BadInput("The four corners do not go around in turn.", _CORNERS_FORM)
    return points


def parse_pinned(text: str, unit: str) -> Fraction:
    """Threads per mm from "24", "24 epi" or "48/10cm"; a bare number is per inch.

    Args:
        text: as typed.
        unit: "epi" or "ppi", for the message.
    """
    from settscan.quantities import parse_density

    bare = re.fullmatch(r"\s*[0-9./ ]*[0-9]\s*", text) is not None
    try:
        return parse_density(f"{text.strip()} {unit}" if bare else text)
    except BadQuantity as error:
        raise BadQuantity(f"--{unit}: {error.message}", error.advice) from None


def doubt_closest(
    epi: Measured | Fraction | None, ppi: Measured | Fraction | None, console: Console
) -> None:
    """Doubts densities, in threads per mm, that hardly anybody means; alike ones once."""
    from settscan.measured import Measured
    from settscan.quantities import closer_than_spun

    for given, name in ((epi, "ends"), (ppi if ppi != epi else None, "picks")):
        value = given.value if isinstance(given, Measured) else given
        told = closer_than_spun(value, of=name) if value is not None else ""
        if told:
            console.paragraph(told, mark="! ")


def parse_factor(text: str) -> Fraction:
    """A factor from "1/2", "1.5" or "60 %".

    Raises:
        BadInput: for anything else, or one that makes no cloth.
    """
    match = re.fullmatch(
        r"\s*([0-9]{1,6}(?:\.[0-9]{1,9})?)(?:\s*/\s*([0-9]{1,6}))?\s*(%?)\s*", text
    )
    if not match or (match[2] and int(match[2]) == 0):
        raise BadInput(f'"{text}" is not a factor.', 'Write it as in "1/2", "1.5" or "60 %".')
    factor = Fraction(match[1]) / int(match[2] or 1) / (100 if match[3] else 1)
    if not Fraction(1, 100) <= factor <= 100:
        raise BadInput(f"A factor of {text.strip()} makes no cloth.", "Give one from 1/100 to 100.")
    return factor


def _pixel(text: str) -> float:
    value = float(text)
    if not math.isfinite(value) or value > 1e6:
        raise BadInput(f"{text[:20]} is no place in a photo.", "Give pixels.")
    return value


def _turn(a: Point, b: Point, c: Point) -> float:
    """Positive where a -> b -> c turns clockwise as seen (y runs down)."""
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
