"""Centimetres or inches: what families do not settle, the size of the scale may."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from settscan.photo.ruler_spectrum import Band, Spectrum
from settscan.photo.ruler_unit import CM, INCH, Marks, _halved, period_mm, upright
from settscan.settings import MARKS

# A ruler 29 mm wide whose ticks and numerals reach 9.7 mm from the edge, in periods of 10 mm:
# usual school rulers (common practice, no source).
SMALL = Marks(
    times=28.2, score=12.0, rows=(12, 30), depth=0.97, width=2.91, beyond=(0.13, 0.18), odd=3,
    odd_double=0, halved=0.0, for_cm=0.0, tick_rows=1,
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
        {"halved": 0.5},  # every second mark is another
        {"beyond": (math.nan, 0.18)},  # the frame hides where it begins
        {"beyond": (0.13, math.nan)},  # or where it ends
        {"for_cm": -5.2},  # a quarter inch's, 20 pixels wide
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


def test_what_would_be_narrow_in_centimetres_is_not_told_to_be_by_its_depth():
    wide_scale = replace(INCHES, depth=0.90, for_cm=-9.0, tick_rows=3)  # 23 mm in inches: too deep
    assert period_mm(wide_scale) is None
    assert period_mm(replace(wide_scale, for_cm=0.0)) is None
    assert period_mm(replace(wide_scale, width=2.9, for_cm=0.0)) == CM


def test_sizes_tell_no_unit_of_a_few_marks_that_are_hardly_plain():
    assert period_mm(replace(SMALL, score=5.5)) is None
    assert period_mm(replace(SMALL, score=5.5, times=60.0)) == CM


@pytest.mark.parametrize(("slope", "stands"), [(0.0, True), (0.15, True), (1.0, False)])
def test_marks_of_a_ruler_stand_upright_and_lines_of_a_twill_do_not(slope, stands):
    columns, rows, period = 900, 24, 11.3
    u = np.arange(columns) - slope * np.arange(rows)[:, None]
    grey = np.where(u % period < 3, -40.0, 10.0).astype(np.float32)
    nothing = np.zeros((6, columns), np.float32)
    band = Band(
        np.zeros(2), np.array([1.0, 0.0]), np.array([0.0, 1.0]), np.ones(columns), 6,
        np.vstack([nothing, grey, nothing]),
    )  # fmt: skip
    spectrum = Spectrum(0.0, np.zeros((36, 1), np.float32), columns)
    found = replace(SMALL, times=columns / period, rows=(6, 29))
    assert (upright(band, spectrum, found) > MARKS.least_upright) is stands


def test_a_strip_within_a_ruler_beyond_which_the_marks_go_on_is_no_ruler():
    strip = replace(INCHES, for_cm=-40.0)
    assert period_mm(strip) == INCH
    assert period_mm(replace(strip, beyond=(0.36, 1.14))) is None
    assert period_mm(replace(strip, beyond=(0.36, 0.55))) == INCH  # its other edge has a scale


def test_marks_are_halved_where_every_second_is_another_and_not_where_cloth_shines_through():
    """Power of nine harmonics of the double period, in noise: those of equal marks are even."""
    alike = np.ones((12, 9))
    alike[3:8, 1::2] = 90.0
    cloth = alike.copy()
    cloth[8:, 0] = 25.0  # a wave that is no mark's, in rows of none
    cloth[3:8, 0] = 12.0
    second = alike.copy()
    second[5:8, ::2] = 60.0  # numerals at every second
    assert _halved(alike, MARKS) < 0.01
    assert _halved(cloth, MARKS) < MARKS.most_halved
    assert _halved(second, MARKS) > MARKS.most_halved
