"""Rulers whose ticks are washed out are read by their numbers, if these count up."""

import dataclasses

import numpy as np
import pytest

from settscan.photo.flat import Photo
from settscan.photo.load import encode
from settscan.photo.ruler import see_rulers
from settscan.photo.ruler_lines import long_lines, pyramid
from settscan.photo.ruler_numbered import numbered_ruler
from settscan.photo.ruler_numbers import _Row, _unit, _View
from settscan.photo.ruler_small import likely_bodies
from settscan.photo.ruler_spectrum import sides_of
from settscan.photo.source import grey_of
from settscan.settings import NUMBERS
from tests.photo.drawn_rulers import Drawn, cloth, scale_error, scene

WORN = Drawn(length=320.0, width=30.0, ticks=False)


def numbered(photo):
    """What the numbers alone say."""
    levels = pyramid(grey_of(photo))
    likely = likely_bodies(levels, long_lines(levels), 0)
    return numbered_ruler(levels, sides_of(levels[0], likely), 0)


@pytest.mark.parametrize(
    ("scale", "px", "unit", "period", "angle"),
    [
        ("mm", 2.1, "mm", 10.0, 8),
        ("mm", 3.2, "mm", 10.0, 105),
        ("inch8", 2.6, "inch", 25.4, 200),
        ("inch8", 2.6, "inch", 25.4, 8),
    ],
)
def test_a_ruler_without_ticks_is_read_by_its_numbers(scale, px, unit, period, angle):
    what = dataclasses.replace(WORN, scale=scale)
    drawn = scene(what, px=px, angle=angle, tilt=(6, 4), seed=3, jpeg=90)
    found = numbered(drawn.photo)
    assert found is not None and (found.unit, found.tick_mm) == (unit, period)
    # a dozen numerals, ten pixels high, each placed to a third of a pixel
    assert abs(scale_error(found, drawn)) < 0.005
    assert 0.0005 < found.relative_error < 0.012


def test_numbers_are_asked_where_no_tick_is_seen():
    drawn = scene(WORN, px=2.1, angle=8, tilt=(6, 4), seed=3)
    found = see_rulers(drawn.photo).rulers
    assert len(found) == 1 and abs(scale_error(found[0], drawn)) < 0.004


@pytest.mark.parametrize("first", [0, 4, 37, 92])
def test_it_does_not_matter_where_numbers_begin(first):
    """A number of two figures has its last one farther from its middle than one of one."""
    what = dataclasses.replace(WORN, first=first, length=250.0)
    drawn = scene(what, px=2.4, angle=3, seed=1)
    found = numbered(drawn.photo)
    assert found is not None and found.unit == "mm"
    assert abs(scale_error(found, drawn)) < 0.004


@pytest.mark.parametrize("by", [2, 3, 7, 10])
def test_numbers_that_count_by_more_than_one_are_not_taken_for_such_as_count_by_one(by):
    """By tens they are millimetres, and as far apart as centimetres that are counted by one."""
    what = dataclasses.replace(WORN, by=by, length=259.0)
    drawn = scene(what, px=2.4, angle=40, seed=by)
    found = numbered(drawn.photo)
    if by == 10:
        assert found is not None and abs(scale_error(found, drawn)) < 0.004
    else:
        assert found is None


@pytest.mark.parametrize("seed", range(4))
def test_cloth_alone_bears_no_numbers(seed):
    rng = np.random.default_rng(seed)
    light = cloth(800, 1100, rng, pitch=3.0 + 2.5 * seed, sett=25 + 9 * seed, angle=0.03 * seed)
    assert numbered(Photo(encoded=encode(light), file="cloth.png", sha256="")) is None


@pytest.mark.parametrize(
    ("apart", "width", "across", "tall", "unit"),
    [
        (10.0, 30.0, 9.0, 3.0, 10.0),  # ticks above, numerals below them
        (25.4, 18.0, 4.8, 4.0, 25.4),  # half of a narrow inch ruler lies as deep as numerals end
        (10.0, 10.0, 2.2, 4.4, 10.0),  # a tape whose numerals stand near its other edge
        (10.0, 12.6, 3.5, 2.3, 25.4),  # as narrow a ruler of centimetres is rare
        (10.0, 20.0, 6.0, 2.3, None),  # 7.2 mm deep as centimetres, 18 as inches
    ],
)
def test_the_unit_of_numbers_is_told_by_sizes_that_only_one_has(apart, width, across, tall, unit):
    """Sizes in mm if the numbers are so far apart, 10 px."""
    width, across, tall = (size * 10 / apart for size in (width, across, tall))
    view = _View(np.zeros((10, 1, 1), np.float32), 1.0, False, False, (round(width), 400))
    row = _Row(10.0, 1.0, view, 10, tall, 0, 0, 1, 40)
    assert _unit(row, across, NUMBERS) == unit
