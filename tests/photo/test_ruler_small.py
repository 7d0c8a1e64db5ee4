"""Rulers of which single millimetres cannot be seen are read by all their marks, or not at all."""

import dataclasses

import numpy as np
import pytest

from settscan.photo.flat import Photo
from settscan.photo.load import encode
from settscan.photo.ruler import see_rulers
from settscan.photo.ruler_lines import long_lines, pyramid
from settscan.photo.ruler_small import divides, likely_bodies, small_rulers
from settscan.photo.ruler_spectrum import sides_of
from settscan.photo.ruler_unit import Marks, period_mm
from settscan.photo.source import grey_of
from settscan.settings import MARKS
from settscan.things import Things
from tests.photo.drawn_rulers import Drawn, cloth, scale_error, scene

LONG = Drawn(length=320.0, width=30.0)


def small(photo):
    """What the small-ruler finder alone sees, whether or not single ticks can be read."""
    levels = pyramid(grey_of(photo))
    likely = likely_bodies(levels, long_lines(levels), 0)
    return small_rulers(levels, sides_of(levels[0], likely), 0)


@pytest.mark.parametrize("angle", [8, 105, 200])
@pytest.mark.parametrize(
    ("scale", "px", "unit", "period"),
    [("mm", 2.1, "mm", 10.0), ("inch8", 1.7, "inch", 25.4)],
)
def test_small_rulers_are_read_by_their_numbered_marks(scale, px, unit, period, angle):
    drawn = scene(
        dataclasses.replace(LONG, scale=scale), px=px, angle=angle, tilt=(6, 4), seed=3, jpeg=90
    )
    first = small(drawn.photo)[0].found
    assert first is not None
    assert (first.unit, first.tick_mm) == (unit, period)
    assert abs(scale_error(first, drawn)) < 0.004
    assert 0.0005 < first.relative_error < 0.01


@pytest.mark.parametrize(("angle", "seed"), [(8, 0), (200, 2), (30, 3), (150, 5)])
def test_a_long_rule_of_ten_pixels_to_the_centimetre_is_read_by_its_numerals(angle, seed):
    """Drawing and sampling make every second numeral differ by a trace: no mark of an inch."""
    what = dataclasses.replace(LONG, scale="mm", length=900.0, tick_width=0.5)
    drawn = scene(what, px=1.013, angle=angle, seed=seed)
    first = small(drawn.photo)[0].found
    assert first is not None
    assert (first.unit, first.tick_mm) == ("mm", 10.0)
    assert abs(scale_error(first, drawn)) < 0.004


def test_the_body_that_is_found_covers_the_ruler():
    drawn = scene(dataclasses.replace(LONG, scale="mm"), px=2.1, angle=12, seed=4)
    outline = small(drawn.photo)[0].outline_px
    what = drawn.what
    corners = np.array([[0, 0], [what.length, 0], [what.length, what.width], [0, what.width]])
    true = np.c_[corners, np.ones(4)] @ drawn.to_photo.T
    true = true[:, :2] / true[:, 2:]
    apart = np.linalg.norm(true[:, None] - outline[None], axis=2).min(axis=1)
    assert apart.max() < 12


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("scale", ["mm", "inch8", "inch16"])
def test_without_numerals_a_scale_is_right_or_none(scale, seed):
    what = dataclasses.replace(LONG, scale=scale, numerals=False, width=20.0 + seed)
    drawn = scene(what, px=1.3 + 0.3 * seed, angle=31 * seed, seed=seed)
    for found in see_rulers(drawn.photo).rulers:
        assert abs(scale_error(found, drawn)) < 0.02


@pytest.mark.parametrize("seed", range(5))
def test_cloth_alone_has_no_small_ruler(seed):
    rng = np.random.default_rng(seed)
    light = cloth(800, 1100, rng, pitch=3.0 + 2.5 * seed, sett=25 + 9 * seed, angle=0.03 * seed)
    assert small(Photo(encoded=encode(light), file="cloth.png", sha256="")) == []


def test_a_ruler_whose_scale_is_in_doubt_is_still_masked():
    drawn = scene(dataclasses.replace(LONG, scale="inch16", width=27.0), px=1.04, angle=8, seed=0)
    things = Things.seen_in(drawn.photo)
    assert things.rulers == ()
    middle = np.array([LONG.length / 2, 13.5, 1]) @ drawn.to_photo.T
    middle = middle[:2] / middle[2]
    assert any(
        (o.min(axis=0) < middle).all() and (middle < o.max(axis=0)).all() for o in things.bars
    )


def test_depth_counts_only_from_an_edge_that_shows():
    """Numbered marks too fine for families, as deep as on a centimetre rule: inches, cut off."""
    seen = Marks(
        times=14.8, score=13.0, rows=(21, 37), depth=1.03, width=1.59, beyond=(0.2, 0.3),
        odd=3, odd_double=0, halved=0.0, for_cm=-4.0, tick_rows=4,
    )  # fmt: skip
    assert period_mm(seen) == 10.0
    assert period_mm(dataclasses.replace(seen, beyond=(float("nan"), 0.3))) is None


def test_inches_that_are_halves_on_a_wider_body_are_not_counted_as_wholes():
    drawn = scene(dataclasses.replace(LONG, scale="inch8"), px=1.7, angle=8, tilt=(6, 4), seed=3)
    inches = small(drawn.photo)[0]
    assert inches.found is not None and inches.found.unit == "inch"
    centre = inches.outline_px.mean(axis=0)
    wider = dataclasses.replace(
        inches,
        found=None,
        outline_px=centre + 1.6 * (inches.outline_px - centre),
        halves_px=(1.01 * inches.period_px,),
    )
    assert divides(inches, wider, MARKS)
    assert not divides(inches, dataclasses.replace(wider, halves_px=()), MARKS)
    other = dataclasses.replace(wider, halves_px=(1.3 * inches.period_px,))
    assert not divides(inches, other, MARKS)
    agrees = dataclasses.replace(wider, found=inches.found)  # that body tells them as wholes too
    assert not divides(inches, agrees, MARKS)
    narrower = dataclasses.replace(inches, found=None, halves_px=wider.halves_px)
    assert not divides(dataclasses.replace(wider, found=inches.found), narrower, MARKS)
    apart = dataclasses.replace(wider, outline_px=wider.outline_px + [0, 900])
    assert not divides(inches, apart, MARKS)
