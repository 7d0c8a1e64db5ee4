"""Yarn sizes: every usual numbering system, turned into tex (grams per 1000 m), exactly.

A **direct** number grows with the yarn (tex, denier); an **indirect** one shrinks (cotton count,
worsted count, metres per kilogram). Constants follow from 1 yd = 0.9144 m and 1 lb = 453.59237 g
(ASTM D2260, Standard Tables of Conversion Factors for Yarn Numbering Systems).

Plied yarn is written both ways round by the trade: "2/8 worsted" and "8/2 cotton" are each two
strands of number 8. The rule here: **the smaller number is the ply.** The size of the whole yarn
is that of one strand times the ply.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

from settscan.errors import BadQuantity
from settscan.numerals import NUMBER, OUNCE, POUND, YARD, decimal, parse_number, tidy

_METRE = Fraction(1000)  # mm


def _hank(yards: int) -> Fraction:
    """Tex of number 1 in a system of so many yards in a pound (tex x number)."""
    return POUND / (yards * YARD / 1_000_000)


# Tex x number. Hanks: ASTM D2260; woollen cut: Dooley, Textiles, 1914, ch. V; Yorkshire skein:
# 256 yd/lb; Galashiels: 300 yd in 24 oz, which is 200 yd in one pound; West of England 320 yd/lb
# (Ross, Encyclopedia of Handspinning); French cotton: Brooks, Cotton Manufacturing, 1892.
_INDIRECT: Mapping[str, Fraction] = {
    "nm": Fraction(1000),
    "metric": Fraction(1000),
    "cotton": _hank(840),
    "nec": _hank(840),
    "ne": _hank(840),
    "lyocell": _hank(840),
    "rayon": _hank(840),
    "viscose": _hank(840),
    "worsted": _hank(560),
    "new": _hank(560),
    "linen": _hank(300),
    "linen lea": _hank(300),
    "lea": _hank(300),
    "nel": _hank(300),
    "run": _hank(1600),
    "woollen run": _hank(1600),
    "cut": _hank(300),
    "woollen cut": _hank(300),
    "ysw": _hank(256),
    "yorkshire": _hank(256),
    "yorkshire skein": _hank(256),
    "yorkshire skeins": _hank(256),
    "galashiels": _hank(200),
    "gala": _hank(200),
    "galashiels cut": _hank(200),
    "gala cut": _hank(200),
    "west of england": _hank(320),
    "french cotton": Fraction(500),
    "nf": Fraction(500),
}
# Tex of one unit. Dram: drams (avoirdupois, 1/16 oz) in 1000 yd of thrown silk, Wolfensberger,
# Theory of Silk Weaving, 1921, p. 71. Spyndle: pounds in 14 400 yd of jute. Grain: grains
# (1/7000 lb) in 120 yd (ASTM D2260).
_DIRECT: Mapping[str, Fraction] = {
    "tex": Fraction(1),
    "dtex": Fraction(1, 10),
    "decitex": Fraction(1, 10),
    "ktex": Fraction(1000),
    "den": Fraction(1, 9),
    "denier": Fraction(1, 9),
    "dram": (OUNCE / 16) / (1000 * YARD / 1_000_000),
    "drams": (OUNCE / 16) / (1000 * YARD / 1_000_000),
    "jute": POUND / (14_400 * YARD / 1_000_000),
    "spyndle": POUND / (14_400 * YARD / 1_000_000),
    "lb/spyndle": POUND / (14_400 * YARD / 1_000_000),
    "lb spyndle": POUND / (14_400 * YARD / 1_000_000),
    "grain": (POUND / 7000) / (120 * YARD / 1_000_000),
    "grains": (POUND / 7000) / (120 * YARD / 1_000_000),
}
_LENGTH_UNITS: Mapping[str, Fraction] = {"m": _METRE, "yd": YARD, "yds": YARD, "yards": YARD}
_MASS_UNITS: Mapping[str, Fraction] = {"g": Fraction(1), "kg": Fraction(1000)} | {
    "lb": POUND,
    "oz": OUNCE,
    "pound": POUND,
}
# Words that say nothing about the size.
_IDLE = r"\b(?:un)?merceri[sz]ed\b|\b(?:combed|carded|organic|yarn|wool|silk)\b|,"
_MOST_PLIES = 12
_FINEST, _COARSEST = Fraction(1, 2), Fraction(200_000)  # tex: a silk filament, a rug roving


def tex_from_length_per_mass(length_mm: Fraction, mass_g: Fraction) -> Fraction:
    """Tex of a yarn of which so many mm weigh so many grams."""
    return mass_g / (length_mm / 1_000_000)


def mass_of(length_mm: Fraction, tex: Fraction) -> Fraction:
    """Grams of so many mm of a yarn."""
    return length_mm * tex / 1_000_000


def twisted_together(*sizes: Fraction) -> Fraction:
    """Tex of several yarns twisted into one, the shortening by the twist left out."""
    return sum(sizes, Fraction(0))


def _strands(count: str, text: str) -> tuple[Fraction, int]:
    """Number of one strand, and the ply: the smaller of the two ("2/8" and "8/2" are alike)."""
    if match := re.fullmatch(r"(\d+(?:\.\d+)?)\s*/\s*(\d+(?:\.\d+)?)", count):
        ply, number = sorted((Fraction(match[1]), Fraction(match[2])))
        if ply.denominator != 1 or not 1 <= ply <= _MOST_PLIES:
            raise BadQuantity(
                f"Neither number of {text!r} can be the ply.",
                "Write 2/8 or 8/2 for two strands of number 8.",
            )
        return number, int(ply)
    return parse_number(count), 1


def _indirect(count: str, per_number: Fraction, text: str) -> Fraction:
    number, ply = _strands(count, text)
    if number == 0:
        raise BadQuantity(f"A yarn number of zero is of no use: {text!r}.", "Check the label.")
    return per_number * ply / number


def _by_label(plain: str) -> Fraction | None:
    """Tex from length per mass ("2240 yd/lb", "225 m/50 g", "4480 ypp"), else None."""
    plain = re.sub(r"\b(?:ypp|yards? per pound)\b", "yd/lb", plain)
    plain = re.sub(r"\bmet(?:er|re)s?\b", "m", plain).replace(" per ", "/")
    pattern = rf"({NUMBER})\s*(m|yd|yds|yards)\s*/\s*({NUMBER})?\s*(g|kg|lb|oz|pound)"
    match = re.fullmatch(pattern, plain)
    if not match:
        return None
    length = parse_number(match[1]) * _LENGTH_UNITS[match[2]]
    mass = (parse_number(match[3]) if match[3] else Fraction(1)) * _MASS_UNITS[match[4]]
    if length == 0 or mass == 0:
        raise BadQuantity(f"A yarn of no length or mass: {plain!r}.", "Check the label.")
    return tex_from_length_per_mass(length, mass)


def _by_system(plain: str, text: str) -> Fraction | None:
    """Tex from a number and a system in either order, else None."""
    count = rf"(?:\d+(?:\.\d+)?\s*/\s*\d+(?:\.\d+)?|{NUMBER})"
    match = re.fullmatch(rf"(r?\s*{count})\s*(?:'?s\b)?\s*([a-z][a-z /]*?)\s*(?:x\s*(\d+))?", plain)
    if match:
        number, system, times = match[1], match[2], match[3]
    elif match := re.fullmatch(rf"([a-z][a-z ]*?)\s*({count})(?:'?s)?", plain):
        system, number, times = match[1], match[2], None
    else:
        return None
    number = number.removeprefix("r").strip()
    if system in _INDIRECT:
        return _indirect(number, _INDIRECT[system], text) * int(times or 1)
    if system in _DIRECT:
        if re.fullmatch(r"\d+\s*/\s*[2-9]", number):
            raise BadQuantity(
                f"It is not clear whether {text!r} is the whole yarn or one strand.",
                "Write 30 tex x 2 for two strands of 30 tex, or 60 tex for the whole.",
            )
        return parse_number(number) * _DIRECT[system] * int(times or 1)
    return None


def parse_yarn(text: str) -> Fraction:
    """Resultant tex from "2/8 worsted", "8/2 cotton", "Nm 16/2", "30 tex x 2", "2240 yd/lb" ...

    Of two numbers the smaller is the ply. Silk by count is refused, because spun silk is numbered
    on the finished yarn by one system and on the strand by another.

    Raises:
        BadQuantity: if the size or its system cannot be told.
    """
    plain = tidy(text, "yarn size")
    if "silk" in plain and "dram" not in plain and "den" not in plain and "tex" not in plain:
        plain = plain.replace("silk", "").strip()
        if (by_label := _by_label(plain)) is None:
            raise BadQuantity(
                f"Silk numbers such as {text!r} mean different sizes in different systems.",
                "Give its length by weight from the label, as 5000 yd/lb or 10000 m/kg.",
            )
        return by_label
    bare = " ".join(re.sub(_IDLE, " ", plain).split())
    tex = _by_label(bare)
    if tex is None:
        tex = _by_system(bare, text)
    if tex is None and re.search(r"\bwool\b", plain):
        raise BadQuantity(
            f"Wool is numbered in several systems, so {text!r} is not clear.",
            "Say worsted, run, cut, Yorkshire skein, Galashiels or Nm, or give yd/lb or m/kg.",
        )
    if tex is None:
        raise BadQuantity(
            f"{text!r} is not a yarn size that can be read.",
            "Write it as 2/8 worsted, 8/2 cotton, Nm 16/2, 30 tex, 2240 yd/lb or 4500 m/kg.",
        )
    if not _FINEST <= tex <= _COARSEST:
        raise BadQuantity(f"{text!r} is no size that a yarn can have.", "Check number and system.")
    return tex


def yarn_number(tex: Fraction, system: str) -> Fraction:
    """The number of a yarn in another system, for one strand ("cotton", "worsted", "den" ...).

    Raises:
        BadQuantity: for an unknown system.
    """
    name = system.lower()
    if name in _INDIRECT:
        return _INDIRECT[name] / tex
    if name in _DIRECT:
        return tex / _DIRECT[name]
    raise BadQuantity(f"Unknown yarn numbering system {system!r}.", "Use cotton, worsted, Nm ...")


def yards_per_pound(tex: Fraction) -> Fraction:
    """Yards of it in one pound."""
    return _hank(1) / tex


def metres_per_kilogram(tex: Fraction) -> Fraction:
    """Metres of it in one kilogram."""
    return Fraction(1_000_000) / tex


def format_yarn(tex: Fraction, units: str = "inch") -> str:
    """Short text: "2240 yd/lb" or "4516 m/kg"."""
    if units == "inch":
        return f"{decimal(yards_per_pound(tex), 0)} yd/lb"
    return f"{decimal(metres_per_kilogram(tex), 0)} m/kg"
