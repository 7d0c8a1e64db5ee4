"""Values written as TOML text, exactly: what is written here is read back as the same number."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe
from settscan.cloth.notation import format_sequence
from settscan.measured import Measured
from settscan.numerals import INCH, YARD
from settscan.quantities import Reed

_SENSIBLE_PLACES = 6


def words(value: object, units: str = "inch") -> str:
    """Text in double quotes, with what TOML does not allow in a line replaced."""
    import json  # a plan only reads

    safe = str(value).encode("utf-8", "replace").decode("utf-8")
    return json.dumps("".join(c if c.isprintable() else " " for c in safe), ensure_ascii=False)


def plain(value: object, units: str = "inch") -> str:
    """A whole number."""
    return str(value)


def truth(value: object, units: str = "inch") -> str:
    """True or false."""
    return "true" if value else "false"


def number(value: Fraction, units: str = "inch") -> str:
    """A bare decimal, or a fraction in quotes where decimals do not end."""
    text = _exact(value)
    return f'"{text}"' if "/" in text else text


def length(mm: Fraction, units: str = "inch") -> str:
    """A length in the unit that gives the shortest exact number."""
    inches = (("in", INCH), ("yd", YARD))
    metric = (("mm", Fraction(1)), ("cm", Fraction(10)), ("m", Fraction(1000)))
    first, second = (inches, metric) if units == "inch" else (metric, inches)
    for group in (first, second):
        told = [(_exact(mm / size), unit) for unit, size in group]
        short = [one for one in told if "/" not in one[0] and len(one[0]) <= 7]
        if short:
            best = min(short, key=lambda one: len(one[0]))
            return f'"{best[0]} {best[1]}"'
    return f'"{_exact(mm)} mm"'


def size(mm: Fraction, units: str = "inch") -> str:
    """A size of cloth: in inches or centimetres where that is exact, else as `length`."""
    name, unit = ("in", INCH) if units == "inch" else ("cm", Fraction(10))
    told = _exact(mm / unit)
    return length(mm, units) if "/" in told else f'"{told} {name}"'


def mass(grams: Fraction, units: str = "inch") -> str:
    """A mass in grams."""
    return f'"{_exact(grams)} g"'


def share(value: Fraction, units: str = "inch") -> str:
    """A share in per cent."""
    return f'"{_percent(value)}"'


def span(value: Measured, units: str = "inch") -> str:
    """A share with its range: "12 %, 8 to 15"."""
    if value.is_certain:
        return share(Fraction(value.value))
    middle, low, high = (Fraction(one) for one in (value.value, value.low, value.high))
    return f'"{_percent(middle)}, {_exact(low * 100)} to {_exact(high * 100)}"'


def reeds(value: Sequence[Reed], units: str = "inch") -> str:
    """A list of reeds by their names."""
    return "[" + ", ".join(words(reed.label) for reed in value) + "]"


def stripes(value: Sequence[Stripe], units: str = "inch") -> str:
    """Stripes in a line, "" for none."""
    return words(format_sequence(ColourSequence(SequenceKind.PARTIAL, tuple(value))))


def density(value: Measured, unit: str, units: str = "inch") -> str:
    """A density with its range, in quotes: "24.3 epi, 24.1 to 24.5".

    One without an interval is written to six places. One that was read is written to a tenth of
    its own interval, which is as much as it says.
    """
    per, name = (INCH, unit) if units == "inch" else (Fraction(100), "/10cm")
    middle, low, high = (Fraction(one) * per for one in (value.value, value.low, value.high))
    join = " " if units == "inch" else ""
    if value.is_certain:
        return f'"{_exact(round(middle, _SENSIBLE_PLACES))}{join}{name}"'
    places = _places(high - low)
    told = [_rounded(one, places) for one in (middle, low, high)]
    return f'"{told[0]}{join}{name}, {told[1]} to {told[2]}"'


def wraps(per_mm: Fraction, units: str = "inch") -> str:
    """Wraps in an inch or in 10 cm, whichever is exact; else as a fraction of an inch."""
    inch, metric = f'"{_exact(per_mm * INCH)}/in"', f'"{_exact(per_mm * 100)}/10cm"'
    first, second = (inch, metric) if units == "inch" else (metric, inch)
    return second if first.count("/") > 1 and second.count("/") == 1 else first


def _percent(value: Fraction) -> str:
    text = _exact(value * 100)
    return _exact(value) if "/" in text else f"{text} %"


def _places(width: Fraction) -> int:
    """Decimals that show an interval of this width to about a tenth of it."""
    places = 1
    while places < _SENSIBLE_PLACES and width * 10**places < 10:
        places += 1
    return places


def _rounded(value: Fraction, places: int) -> str:
    scaled = int(value * 10**places + Fraction(1, 2))
    return f"{scaled // 10**places}.{scaled % 10**places:0{places}d}"


def _exact(value: Fraction) -> str:
    """A decimal where one ends within a few places, else a fraction such as "1/3"."""
    value = Fraction(value)
    for places in range(_SENSIBLE_PLACES + 1):
        scaled = value * 10**places
        if scaled.denominator == 1:
            return str(scaled) if places == 0 else _rounded(value, places)
    return f"{value.numerator}/{value.denominator}"
