"""Lengths, densities, masses, shares, reeds: read from what people type and written for them.

Everything is an exact `Fraction` in millimetres, grams or threads per millimetre. How a number
may be typed is in `numerals`; yarn sizes are in `numbering`, and `parse_yarn` is offered here too.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from typing import NamedTuple

from settscan.errors import BadQuantity
from settscan.measured import Measured, Origin
from settscan.numbering import parse_yarn as parse_yarn
from settscan.numerals import FOOT, NUMBER, OUNCE, parse_number, tidy
from settscan.numerals import INCH as INCH
from settscan.numerals import POUND as POUND
from settscan.numerals import YARD as YARD
from settscan.numerals import decimal as decimal

_LENGTHS: Mapping[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "metre": Fraction(1000),
    "metres": Fraction(1000),
    "meter": Fraction(1000),
    "meters": Fraction(1000),
    "in": INCH,
    "inch": INCH,
    "inches": INCH,
    '"': INCH,
    "″": INCH,
    "ft": FOOT,
    "foot": FOOT,
    "feet": FOOT,
    "yd": YARD,
    "yds": YARD,
    "yard": YARD,
    "yards": YARD,
}
_MASSES: Mapping[str, Fraction] = {
    "g": Fraction(1),
    "gram": Fraction(1),
    "grams": Fraction(1),
    "kg": Fraction(1000),
    "oz": OUNCE,
    "ounce": OUNCE,
    "ounces": OUNCE,
    "lb": POUND,
    "lbs": POUND,
    "pound": POUND,
    "pounds": POUND,
}
# Bounds beyond which a number is a slip of the pen, whatever the loom.
_LONGEST = Fraction(10_000_000)  # mm: 10 km of warp
# Threads per mm. By Ashenhurst's rule (warping/sett.py) the finest silk that is reeled, of about 10
# denier, lies some 600 times side by side in an inch, 23.7 in a mm: nothing closer can be meant.
_DENSEST = Fraction(25)
# Threads per mm. By the same rule 140/2 silk, about the finest yarn that is spun (common practice,
# no source), lies 6.6 times in a mm. Reeled silk is set closer, to 320 ends in an inch (A.
# Wolfensberger, Theory of Silk Weaving, 2nd ed., 1921, p. 70): so it is doubted, not refused.
_FINEST_SPUN = Fraction(7)
_SPARSEST = Fraction(1, 100)  # threads per mm: one in 10 cm
_HEAVIEST = Fraction(10_000_000)  # g


def _check(value: Fraction, text: str, what: str, most: Fraction, allow_zero: bool) -> Fraction:
    """The value, if it is neither zero (unless allowed) nor absurd."""
    if value == 0 and not allow_zero:
        raise BadQuantity(f"A {what} of zero is of no use: {text!r}.", "Give what you measured.")
    if value > most:
        raise BadQuantity(f"The {what} {text!r} is absurdly large.", "Check number and unit.")
    return value


def _sum_of_parts(text: str, units: Mapping[str, Fraction], what: str, usual: str) -> Fraction:
    """Adds up "1 yd 9 in"; `usual` is the example in the error message."""
    plain = tidy(text, what)
    part = rf"({NUMBER})\s*([a-z\"″]+)"
    if not re.fullmatch(rf"(?:{part}\s*)+", plain):
        raise BadQuantity(f"{text!r} is not a {what}.", f"Write a number and a unit, as {usual}.")
    total = Fraction(0)
    for number, unit in re.findall(part, plain):
        if unit not in units:
            known = ", ".join(name for name in units if name.isalpha() and len(name) <= 2)
            raise BadQuantity(f"Unknown unit {unit!r} in {text!r}.", f"Use one of: {known}.")
        total += parse_number(number) * units[unit]
    return total


def parse_length(
    text: str, *, default_unit: str | None = None, allow_zero: bool = False
) -> Fraction:
    """A length in mm from "54 in", "1.4 m", "2 1/2 yd" or "1 yd 9 in".

    Args:
        text: what was typed.
        default_unit: unit of a bare number; without it a bare number is refused.
        allow_zero: whether nothing at all is an answer (a hem, a fringe).

    Raises:
        BadQuantity: if it is no length, or an absurd one.
    """
    if default_unit and re.fullmatch(NUMBER, tidy(text, "length")):
        text = f"{text} {default_unit}"
    value = _sum_of_parts(text, _LENGTHS, "length", "54 in, 2 1/2 yd or 140 cm")
    return _check(value, text, "length", _LONGEST, allow_zero)


def parse_mass(text: str, *, allow_zero: bool = False) -> Fraction:
    """A mass in grams from "100 g", "0.5 kg", "4 oz" or "1 lb 4 oz".

    Raises:
        BadQuantity: if it is no mass, or an absurd one.
    """
    value = _sum_of_parts(text, _MASSES, "mass", "100 g, 4 oz or 1 lb")
    return _check(value, text, "mass", _HEAVIEST, allow_zero)


_PER_INCH = r"(?:epi|ppi|dpi|tpi)"
_THREADS = r"(?:ends|picks|threads|dents|splits|e|p)?"
_PER = r"(?:/|per)\s*(10|1)?\s*(mm|cm|dm|m|inch|in)"


def parse_density(text: str) -> Fraction:
    """Threads (or dents) per mm from "24 epi", "24/in", "9.5 per cm" or "48/10cm".

    Raises:
        BadQuantity: if it is no density, or an absurd one.
    """
    plain = tidy(text, "density")
    if match := re.fullmatch(rf"({NUMBER})\s*{_PER_INCH}", plain):
        value = parse_number(match[1]) / INCH
    elif match := re.fullmatch(rf"({NUMBER})\s*{_THREADS}\s*{_PER}", plain):
        unit = {"dm": Fraction(100)}.get(match[3]) or _LENGTHS[match[3]]
        value = parse_number(match[1]) / (unit * int(match[2] or 1))
    else:
        raise BadQuantity(
            f"{text!r} is not a density.", "Write it as 24 epi, 24/in, 9.5/cm or 48/10cm."
        )
    if value > _DENSEST:
        most = f"{format_density(_DENSEST)}, {decimal(10 * _DENSEST, 0)} in one cm"
        raise BadQuantity(
            f"The density {text!r} is absurdly large: no yarn lies as close ({most} at most).",
            "Count one inch; a count over a longer stretch is written with it, as in 48/10cm.",
        )
    _check(value, text, "density", _DENSEST, allow_zero=False)
    if value < _SPARSEST:
        raise BadQuantity(f"The density {text!r} is absurdly low.", "Check number and unit.")
    return value


class Reed(NamedTuple):
    """A reed the weaver owns: exact dents per mm, and its name as typed ("12 dpi")."""

    dents_per_mm: Fraction
    label: str


# Dents in one inch of a reed numbered 1. Stockport counts dents in 2 in; Bolton, Blackburn and
# the cloth-width systems count beers of 20 dents in a fixed width; Scotch counts splits in 37 in;
# Bradford counts beers of 40 ends (20 dents at two in a dent) in 36 in. From Taylor, Cotton
# Weaving and Designing, 6th ed., pp. 243-244, and Brooks, Cotton Manufacturing, 1892, p. 92.
_REED_SYSTEMS: Mapping[str, Fraction] = {
    "huddersfield": Fraction(1),
    "radcliffe": Fraction(1),
    "stockport": Fraction(1, 2),
    "manchester": Fraction(1, 2),
    "bolton": Fraction(20) / Fraction(97, 4),
    "blackburn": Fraction(20, 45),
    "6-4": Fraction(20, 58),
    "9-8": Fraction(20, 44),
    "4-4": Fraction(20, 39),
    "7-8": Fraction(20, 34),
    "scotch": Fraction(1, 37),
    "bradford": Fraction(20, 36),
    "metric": INCH / 100,
}


def parse_reed(text: str) -> Reed:
    """A reed from "12 dpi", "48/10cm", "60 Stockport", "1100 Scotch" and the other old systems.

    Raises:
        BadQuantity: if it is no reed; lists the systems.
    """
    plain = tidy(text, "reed")
    match = re.fullmatch(rf"({NUMBER})(?:'?s)?\s+([a-z]+|\d-\d)(?:'?s)?(?:\s+reed)?", plain)
    if match and match[2] in _REED_SYSTEMS:
        dents = parse_number(match[1]) * _REED_SYSTEMS[match[2]] / INCH
    else:
        try:
            dents = parse_density(plain.removesuffix(" reed"))
        except BadQuantity as error:
            if "is not a density" not in error.message:
                raise
            systems = ", ".join(_REED_SYSTEMS)
            raise BadQuantity(
                f"{text!r} is not a reed.",
                f"Write 12 dpi, 48/10cm, or a number and one of: {systems}.",
            ) from None
    _check(dents, text, "reed", _DENSEST, allow_zero=False)
    return Reed(dents_per_mm=dents, label=" ".join(text.split()))


def parse_share(text: str) -> Fraction:
    """A fraction of one, at least 0 and below 1, from "12 %", "0.12" or "1/8".

    Raises:
        BadQuantity: outside that range; a bare 12 is refused with "12 %" as advice.
    """
    plain = tidy(text, "share")
    percent = plain.endswith(("%", "percent"))
    number = plain.removesuffix("%").removesuffix("percent").strip()
    value = parse_number(number) / (100 if percent else 1)
    if value >= 1:
        raise BadQuantity(
            f"{text!r} is not a share below one.",
            f"Did you mean {number} %?" if not percent else "A loss or a spare is less than 100 %.",
        )
    return value


def parse_span(text: str, origin: Origin = Origin.TYPED) -> Measured:
    """A share with its range: "12 %, 8 to 15", "12 %", or "8 to 15 %" (the middle is taken).

    Raises:
        BadQuantity: if the value lies outside its own range.
    """
    plain = tidy(text, "share").replace("(", ",").replace(")", "")
    unit = " %" if "%" in plain or "percent" in plain else ""
    bare = plain.replace("percent", "").replace("%", "")
    pattern = rf"(?:({NUMBER})\s*)?,?\s*(?:({NUMBER})\s*(?:to|-|–|\.\.)\s*({NUMBER})\s*)?"
    match = re.fullmatch(pattern, bare)
    if not match or not any(match.groups()):
        raise BadQuantity(f"{text!r} is not a share.", "Write it as 12 % or 12 %, 8 to 15.")
    value, low, high = (parse_share(part + unit) if part else None for part in match.groups())
    if low is None or high is None:
        return Measured.exact(value if value is not None else Fraction(0), origin)
    middle = (low + high) / 2 if value is None else value
    if not low <= middle <= high:
        raise BadQuantity(
            f"In {text!r} the range does not hold the value.", "Write it as 12 %, 8 to 15."
        )
    return Measured(middle, low, high, origin)


def per_inch(per_mm: Fraction | float) -> Fraction | float:
    """Threads per inch."""
    return per_mm * INCH if isinstance(per_mm, Fraction) else per_mm * float(INCH)


def per_10cm(per_mm: Fraction | float) -> Fraction | float:
    """Threads per 10 cm."""
    return per_mm * 100


def format_length(mm: Fraction | float, units: str = "inch") -> str:
    """Short text: inches below 3 yd and yards above, or cm below 2 m and metres above.

    Yards and metres have two decimals below 20, one below 100, none above.
    """
    if units == "inch":
        if mm < 3 * YARD:
            return f"{decimal(Fraction(mm) / INCH, 1)} in"
        return f"{_long(Fraction(mm) / YARD)} yd"
    return f"{decimal(Fraction(mm) / 10, 1)} cm" if mm < 2000 else f"{_long(Fraction(mm) / 1000)} m"


def format_yarn_length(mm: Fraction | float, units: str = "inch") -> str:
    """Short text in one unit however little or much it is, so that a column of them adds up.

    Yards or metres, with one decimal below 100 and none above; "-" for none.
    """
    long = Fraction(mm) / (YARD if units == "inch" else 1000)
    if not long:
        return "-"
    return f"{decimal(long, 1 if long < 100 else 0)} {'yd' if units == 'inch' else 'm'}"


def _long(length: Fraction) -> str:
    return decimal(length, 2 if length < 20 else 1 if length < 100 else 0)


_PER_INCH_NAMES: Mapping[str, str] = {"ends": "epi", "picks": "ppi", "dents": "dpi"}


def format_density(per_mm: Fraction | float, units: str = "inch", of: str = "ends") -> str:
    """Short text: "24 epi" ("ppi", "dpi" by `of`), or "94.5 ends per 10 cm"."""
    if units == "inch":
        return f"{decimal(per_inch(per_mm), 1)} {_PER_INCH_NAMES.get(of, f'{of} per inch')}"
    return f"{decimal(per_10cm(per_mm), 1)} {of} per 10 cm"


def closer_than_spun(per_mm: Fraction | float, units: str = "inch", of: str = "ends") -> str:
    """A sentence if a density, in threads per mm, is closer than spun yarn can lie, or ""."""
    if per_mm <= _FINEST_SPUN:
        return ""
    return (
        f"{format_density(per_mm, units, of)} is closer than any spun yarn can lie; only reeled"
        " silk is set so. A count over more than an inch is written as in 48/10cm."
    )


def format_mass(
    grams: Fraction | float, units: str = "inch", most: Fraction | float | None = None
) -> str:
    """Short text: ounces below a pound and pounds above, or grams below 1 kg and kg above.

    Args:
        grams: the mass.
        units: "inch" or "metric".
        most: the largest mass of a column, which decides the unit for all of it.
    """
    small = (grams if most is None else most) < (POUND if units == "inch" else 1000)
    if units == "inch":
        if small:
            return f"{decimal(Fraction(grams) / OUNCE, 1)} oz"
        return f"{decimal(Fraction(grams) / POUND, 2)} lb"
    return f"{decimal(grams, 0)} g" if small else f"{decimal(grams / 1000, 2)} kg"


def format_share(share: Fraction | float) -> str:
    """Short text in per cent: 0.125 -> "12.5 %"."""
    return f"{decimal(Fraction(share) * 100, 1)} %"
