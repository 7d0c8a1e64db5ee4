"""How one value of the project file is read: TOML value in, exact quantity out, or a sentence.

Each maker returns a reader; a reader raises BadInput (or a class below it) whose advice is what
to write instead.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from enum import StrEnum
from fractions import Fraction
from typing import Any, TypeVar

from settscan import quantities
from settscan.cloth.model import ColourSequence, Stripe, StripeDoubt
from settscan.cloth.notation import is_yarn_key, parse_sequence
from settscan.errors import BadInput, BadQuantity
from settscan.measured import Measured, Origin
from settscan.numerals import parse_number
from settscan.quantities import Reed

Reader = Callable[[object], Any]
Choice = TypeVar("Choice", bound=StrEnum)

_LONGEST_TEXT = 100_000


MOST_LOST = Fraction(9, 10)  # of a width or length, in weaving or in finishing


def text(value: object) -> str:
    """Plain text without control characters."""
    if not isinstance(value, str):
        raise BadInput(f"{_shown(value)} is not text.", f'Put it in double quotes: "{value}".')
    if len(value) > _LONGEST_TEXT or any(
        ord(letter) < 32 or ord(letter) == 127 for letter in value
    ):
        raise BadInput("The text is far too long or holds control characters.", "Shorten it.")
    return value.strip()


def some_text(value: object) -> str:
    """Text that says something."""
    found = text(value)
    if not found:
        raise BadInput("The text is empty.", "Write something, or remove the line.")
    return found


def colour(value: object) -> str:
    """A colour "#rrggbb", in small letters."""
    found = text(value).lower()
    if not re.fullmatch(r"#[0-9a-f]{6}", found):
        raise BadInput(
            f"{_shown(value)} is not a colour.",
            'Write red, green and blue as six hexadecimal digits, as in "#1b2654".',
        )
    return found


def truth(value: object) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise BadInput(f"{_shown(value)} is neither true nor false.", "Write true or false.")
    return value


def whole(least: int, most: int) -> Reader:
    """A reader of whole numbers in a range."""

    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise BadInput(
                f"{_shown(value)} is not a whole number.", "Write it without quotes, as in 4."
            )
        if not least <= value <= most:
            raise BadInput(f"{value} is out of range.", f"Write a number from {least} to {most}.")
        return value

    return read


def number(value: object) -> Fraction:
    """A number that is not negative, such as a price or seconds."""
    if isinstance(value, str):
        return parse_number(value)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BadInput(f"{_shown(value)} is not a number.", "Write it as in 6.50.")
    if value < 0 or value > 1e9:
        raise BadInput(f"{value} is out of range.", "Write a number that is not negative.")
    return Fraction(repr(value))


def one_of(choices: type[Choice]) -> Callable[[object], Choice]:
    """A reader of one word out of a few."""

    def read(value: object) -> Choice:
        known = {choice.value: choice for choice in choices}
        found = known.get(str(value).strip().lower()) if isinstance(value, str) else None
        if found is None:
            names = ", ".join(f'"{name}"' for name in known)
            raise BadInput(f"{_shown(value)} is none of the choices.", f"Write one of {names}.")
        return found

    return read


def length(value: object) -> Fraction:
    """A length in mm, more than nothing."""
    return quantities.parse_length(_with_unit(value, '"54 in", "1.4 m" or "30 mm"'))


def length_or_nothing(value: object) -> Fraction:
    """A length in mm; 0 needs no unit."""
    if value == 0 and not isinstance(value, bool):
        return Fraction(0)
    wanted = _with_unit(value, '"2 in" or "5 cm"')
    return quantities.parse_length(
        wanted, default_unit="mm" if wanted.strip() == "0" else None, allow_zero=True
    )


def mass(value: object) -> Fraction:
    """A mass in grams; 0 needs no unit."""
    if value == 0 and not isinstance(value, bool):
        return Fraction(0)
    return quantities.parse_mass(_with_unit(value, '"100 g" or "4 oz"'), allow_zero=True)


def some_mass(value: object) -> Fraction:
    """A mass in grams, more than nothing."""
    return quantities.parse_mass(_with_unit(value, '"20 g" or "1 oz"'))


def share(value: object) -> Fraction:
    """A fraction of one."""
    return quantities.parse_share(_typed(value))


def span(value: object) -> Measured:
    """A fraction of one with its range, as an assumption that can be edited."""
    found = quantities.parse_span(_typed(value), Origin.ASSUMED)
    if found.high > MOST_LOST:
        raise BadInput(
            f"A loss of {_shown(value)} is absurd: hardly any yarn loses half of its length.",
            "Check number and unit.",
        )
    return found


def take_up(value: object) -> Measured:
    """A take-up with its range; a crimp, "crimp 10 %", becomes the take-up that it is.

    Crimp is measured on the length in the cloth, take-up on that of the yarn (ASTM D3883): a crimp
    c is a take-up c / (1 + c).
    """
    crimp = re.fullmatch(r"\s*crimp\s+(.*)", _typed(value), flags=re.IGNORECASE)
    return span(crimp[1]).through(lambda c: c / (1 + c)) if crimp else span(value)


def border(value: object) -> tuple[Stripe, ...]:
    """Stripes in a line, used once; none for ""."""
    typed = text(value)
    return parse_sequence(typed, partial=True).stripes if typed else ()


def key(value: object) -> str:
    """The key of a yarn, or ""."""
    typed = text(value)
    if typed and not is_yarn_key(typed):
        raise BadInput(f"{_shown(value)} is not the key of a yarn.", 'Write it as in "A", or "".')
    return typed


def put_up(value: object) -> tuple[str, Fraction]:
    """A package of yarn: ("mass", grams) or ("length", mm)."""
    wanted = _with_unit(value, '"100 g" or "500 m"')
    try:
        return "mass", quantities.parse_mass(wanted)
    except BadQuantity:
        try:
            return "length", quantities.parse_length(wanted)
        except BadQuantity:
            raise BadQuantity(
                f'"{wanted}" is neither a mass nor a length.', 'Write "100 g", "4 oz" or "500 m".'
            ) from None


def yarn_size(value: object) -> tuple[str, Fraction]:
    """A yarn size as typed, and in tex."""
    typed = _with_unit(value, '"2/8 worsted", "30 tex" or "2240 yd/lb"')
    return typed.strip(), quantities.parse_yarn(typed)


def wraps(value: object) -> Fraction:
    """Wraps per mm from "16/in", "16 wpi" or "63/10cm"; a bare number is per inch."""
    typed = re.sub(r"\s*wpi\s*$", "/in", _typed(value), flags=re.IGNORECASE)
    bare = re.fullmatch(r"\s*[0-9./ ]+", typed)
    return quantities.parse_density(f"{typed}/in" if bare else typed)


def reeds(value: object) -> tuple[Reed, ...]:
    """A list of reeds."""
    if isinstance(value, str):
        value = [value]
    if not isinstance(value, list):
        raise BadInput(f"{_shown(value)} is not a list of reeds.", 'Write ["10 dpi", "12 dpi"].')
    return tuple(quantities.parse_reed(_with_unit(one, '["10 dpi", "12 dpi"]')) for one in value)


def counts(value: object) -> tuple[int, int]:
    """The smallest and the largest count of "7 to 9"; of "7 or more", 7 for both."""
    if least := re.fullmatch(r"\s*([0-9]{1,7})\s+or\s+more\s*", _typed(value)):
        return int(least[1]), int(least[1])
    match = re.fullmatch(r"\s*([0-9]{1,7})\s*(?:to|-|–)\s*([0-9]{1,7})\s*", _typed(value))
    if not match or not 0 <= int(match[1]) <= int(match[2]):
        raise BadInput(f"{_shown(value)} is not a range of counts.", 'Write it as "7 to 9".')
    return int(match[1]), int(match[2])


def chance(value: object) -> float:
    """A chance, 0 to 1, from "72 %"."""
    match = re.fullmatch(r"\s*([0-9]{1,3}(?:\.[0-9]+)?)\s*%\s*", _typed(value))
    if not match or float(match[1]) > 100:
        raise BadInput(f"{_shown(value)} is not a chance.", 'Write it as "72 %".')
    return float(match[1]) / 100


def doubt(value: object, sequence: ColourSequence) -> StripeDoubt | None:
    """A doubt about a stripe of a sequence; None if confirmed, or if the count was corrected."""
    table = value if isinstance(value, dict) else {}
    number = whole(1, len(sequence.stripes))(table.get("stripe", 0))
    low, high = counts(table.get("range", ""))
    stripe = sequence.stripes[number - 1]
    count = text(table.get("count", f"{stripe.yarn}{stripe.threads}"))
    corrected = count.replace("/", "") != f"{stripe.yarn}{stripe.threads}"
    if truth(table.get("confirmed", False)) or corrected:
        return None
    return StripeDoubt(
        position=number - 1,
        low=low,
        high=high,
        chance=chance(table.get("chance", "50 %")),
        note=text(table.get("note", "")),
    )


def density(unit: str) -> Callable[[object], Measured]:
    """A reader of a density with its range, in threads per mm.

    Args:
        unit: what a bare number means: "epi" or "ppi".
    """

    def one(typed: str) -> Fraction:
        bare = re.fullmatch(r"\s*[0-9./ ]+", typed)
        return quantities.parse_density(f"{typed} {unit}" if bare else typed)

    def read(value: object) -> Measured:
        first, comma, rest = _typed(value).partition(",")
        middle = one(first)
        if not comma:
            return Measured(middle, middle, middle)
        ends = re.fullmatch(r"\s*([0-9.]+)\s*(?:to|-|–)\s*([0-9.]+)\s*", rest)
        per = re.fullmatch(r"\s*[0-9.]+\s*([^0-9\s].*|)", first)
        if not ends or not per:
            raise BadQuantity(
                f"{_shown(value)} is not a density with its range.",
                f'Write it as "24.3 {unit}, 24.1 to 24.5" or "96/10cm, 95 to 97".',
            )
        low, high = (one(f"{part}{per[1]}") for part in ends.groups())
        if not low <= middle <= high:
            raise BadQuantity(
                f"In {_shown(value)} the range does not hold the value.",
                f'Write it as "24.3 {unit}, 24.1 to 24.5".',
            )
        return Measured(middle, low, high)

    return read


def _typed(value: object) -> str:
    """The text of a value that may also be a bare number."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise BadInput(f"{_shown(value)} is not a quantity.", 'Write it in quotes, as in "12 %".')
    return value if isinstance(value, str) else repr(value)


def _with_unit(value: object, examples: str) -> str:
    """The text of a value that needs a unit."""
    if not isinstance(value, str):
        raise BadInput(f"{_shown(value)} has no unit.", f"Write it in quotes, as in {examples}.")
    return value


def _shown(value: object) -> str:
    """A value as it stands in the file, cut short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    shown = f'"{value}"' if isinstance(value, str) else str(value)
    return shown if len(shown) <= 40 else shown[:39] + "…"
