"""Centimetres or inches: what families do not settle, the size of the scale may."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from settscan.photo.ruler_unit import CM, INCH, Marks, period_mm

# A ruler 29 mm wide whose ticks and numerals reach 9.7 mm from the edge, in periods of 10 mm:
# usual school rulers (common practice, no source).
SMALL = Marks(
    times=28.2, score=12.0, rows=(12, 30), depth=0.97, width=2.91, beyond=(0.13, 0.18), odd=3,
    odd_double=0, for_cm=0.0, tick_rows=1,
)  # fmt: skip
# One of 29.7 mm, reaching 17.8 mm, in periods of an inch: its families half tell it.
INCHES = replace(SMALL, times=32.5, depth=0.70, width=1.17, for_cm=-20.7, tick_rows=4)


def test_what_is_too_deep_and_too_wide_for_inches_is_in_centimetres():
    assert period_mm(SMALL) == CM


@pytest.mark.parametrize(
    "other",
    [
        {"depth": 0.80},  # 20 mm in inches: some ruler's
        {"width": 1.70},  # 43 mm in inches
        {"odd_double": 1},  # perhaps halves of something
        {"beyond": (math.nan, 0.18)},  # the frame hides where it begins
        {"beyond": (0.13, math.nan)},  # or where it ends
        {"for_cm": -16.0},
        {"times": 7.0},
    ],
)
def test_else_its_unit_is_in_doubt(other):
    assert period_mm(replace(SMALL, **other)) is None


def test_what_is_too_shallow_for_centimetres_is_in_inches_if_its_families_lean_so():
    assert period_mm(INCHES) == INCH
    assert period_mm(replace(INCHES, depth=0.82)) is None
    assert period_mm(replace(INCHES, beyond=(math.nan, 0.18))) is None
    assert period_mm(replace(INCHES, width=1.55, for_cm=-10.0)) is None
    assert period_mm(replace(INCHES, for_cm=-10.0)) == INCH  # a centimetre's would be 12 mm wide
    assert period_mm(replace(INCHES, for_cm=-5.0)) is None
    assert period_mm(replace(INCHES, depth=0.82, for_cm=-31.0)) == INCH
