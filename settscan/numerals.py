"""Numbers as people type them, read exactly; the units that everything else is built on.

English decimals ("1.4"), fractions ("1/2") and mixed numbers ("2 1/2"). A comma is refused,
because it means a decimal point to one reader and thousands to the next.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

from settscan.errors import BadQuantity

INCH = Fraction(254, 10)
FOOT = 12 * INCH
YARD = 36 * INCH
POUND = Fraction(45359237, 100000)  # grams; the international pound
OUNCE = POUND / 16

_VULGAR: Mapping[str, str] = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3"} | {
    "⅛": " 1/8",
    "⅜": " 3/8",
    "⅝": " 5/8",
    "⅞": " 7/8",
}
# A whole or decimal number, a fraction, or a mixed number, each without a sign.
NUMBER = r"(?:\d+\s+\d+/\d+|\d+/\d+|\d*\.?\d+|\d+\.)"
_LONGEST_TEXT = 80  # characters: a quantity is a few words, anything longer is a slip or an attack


def tidy(text: str, what: str) -> str:
    """Lower case, single spaces, plain fractions; refuses what no quantity can be.

    Args:
        text: what was typed.
        what: the kind of quantity, for the message ("length").

    Raises:
        BadQuantity: for empty or overlong text, commas, signs, NaN and infinity.
    """
    plain = text.strip().lower()
    shown = plain[:30]
    if not plain or len(plain) > _LONGEST_TEXT:
        raise BadQuantity(f"A {what} is missing or far too long: {shown!r}.", "Write it as 54 in.")
    for sign, fraction in _VULGAR.items():
        plain = plain.replace(sign, fraction)
    if re.search(r"\d,\d", plain):
        raise BadQuantity(
            f"The comma in {shown!r} could mean a decimal point or thousands.",
            "Write 1.4 with a point, and 2240 without any mark.",
        )
    if re.search(r"\b(nan|inf|infinity)\b", plain):
        raise BadQuantity(f"{shown!r} is not a number.", f"Write the {what} as a plain number.")
    if re.match(r"[-−–]\s*[\d.]", plain):
        raise BadQuantity(f"A {what} cannot be negative: {shown!r}.", "Leave out the minus sign.")
    return " ".join(plain.split())


def parse_number(text: str) -> Fraction:
    """An exact number from "54", "1.4", "1/2" or "2 1/2".

    Raises:
        BadQuantity: for anything else, with what to write instead.
    """
    plain = tidy(text, "number")
    if not re.fullmatch(NUMBER, plain):
        raise BadQuantity(f"{text!r} is not a number.", "Write it as 54, 1.4, 1/2 or 2 1/2.")
    whole, _, part = plain.rpartition(" ")
    try:
        return (Fraction(whole) if whole else Fraction(0)) + Fraction(part)
    except ZeroDivisionError:
        raise BadQuantity(f"{text!r} divides by zero.", "Write it as 1/2 or 0.5.") from None


def decimal(value: Fraction | float, places: int) -> str:
    """Rounded to so many places, halves away from zero, without trailing zeros: 12.50 -> "12.5"."""
    scaled = int(abs(Fraction(value)) * 10**places + Fraction(1, 2))
    whole, rest = divmod(scaled, 10**places)
    text = f"{whole}.{rest:0{places}d}".rstrip("0").rstrip(".") if places else str(whole)
    return f"-{text}" if value < 0 and scaled else text
