"""Numerals beside the longest ticks tell the inch where few inches are in the picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from settscan.photo import ruler, ruler_glyphs
from settscan.photo.flat import Photo
from settscan.photo.ruler import find_rulers
from settscan.photo.ruler_fold import fold
from settscan.photo.ruler_glyphs import numbered_order, numerals_lack, ticks_per_inch
from settscan.photo.ruler_ladder import all_plain_orders
from settscan.photo.ruler_lines import long_lines, pyramid
from settscan.photo.source import grey_of
from tests.photo.drawn_rulers import INCH, Drawn, scale_error, scene


def _short(scale: str, inches: float, **other) -> Drawn:
    return Drawn(scale=scale, length=inches * INCH + 12, margin=6, **other)


@pytest.mark.parametrize(
    ("drawn", "px"),
    [
        (_short("inch8", 1.5), 18),
        (_short("inch8", 2.1, material="steel", flat_top=True), 14),
        (_short("inch16", 1.6, flat_top=True), 14),
        (_short("inch32", 1.4), 14),
        (_short("inch32", 1.4, flat_top=True), 14),
    ],
)
def test_an_inch_and_a_half_is_enough(drawn, px):
    """Halves may be as long as inches: then numerals alone tell them apart."""
    shown = scene(drawn, px=px, angle=5, seed=1)
    found = find_rulers(shown.photo)
    assert found
    assert abs(scale_error(found[0], shown)) < 0.01


def _told(drawn: Drawn) -> set[int | None]:
    """What the numerals of a drawn ruler say, over all combs and plain orders of its inches."""
    return _said(scene(drawn, px=14, angle=5, seed=1).photo)


def _said(photo: Photo) -> set[int | None]:
    """The same of a photo."""
    levels = pyramid(grey_of(photo))
    said: set[int | None] = set()
    for comb, where in ruler._candidates(levels, long_lines(levels)):
        folded = fold(levels, comb, where)
        for steps in all_plain_orders(folded):
            if steps.scheme.unit == "inch":
                said.add(ticks_per_inch(levels, comb, where, folded.slant, steps))
    return said


def test_a_ruler_without_numerals_tells_nothing():
    """The ends of long ticks are no numerals."""
    assert _told(_short("inch16", 2.1, numerals=False)) == {None}
    assert _told(_short("inch16", 2.1, numerals=False, flat_top=True)) == {None}


def test_numerals_tell_inches_from_halves():
    assert _told(_short("inch16", 2.1)) <= {16, None}
    assert 16 in _told(_short("inch16", 2.1))


def test_two_blots_beside_inches_that_bear_none_are_no_numerals():
    """Of two neighbours of seven the numerals would say that inches stand at every tick like them.

    So far from the edge of a ruler stand those of its other scale.
    """
    shown = scene(_short("inch16", 7.0, numerals=False), px=8, angle=5, seed=1)
    dirty = shown.photo.encoded.copy()
    for half in (5, 6):
        at = shown.what.margin + half * INCH / 2
        corner = np.array([[at, 10.5 + dy, 1.0] for dy in (0.0, 3.0)]) @ shown.to_photo.T
        (x, y0), (_, y1) = np.round(corner[:, :2] / corner[:, 2:]).astype(int)
        dirty[y0:y1, x - 2 : x + 3] = (dirty[y0:y1, x - 2 : x + 3] * 0.2).astype(dirty.dtype)
    assert 8 not in _said(replace(shown.photo, encoded=dirty))
    assert 16 not in _said(replace(shown.photo, encoded=dirty))


@pytest.mark.parametrize("flat_top", [False, True])
def test_ticks_of_the_other_edge_are_no_numerals(flat_top):
    """On a narrow tape those of its half inches stand where numerals would, and as tall."""
    tape = _short("inch32", 2.2, other="inch32", width=11, numeral_size=2.5, tick_factor=0.6)
    assert _told(replace(tape, flat_top=flat_top)) <= {32, None}


def test_a_blot_where_a_half_has_none_leaves_it_open():
    """A numeral that hardly shows is not a place without one: its ruler would be read doubly."""
    shown = scene(_short("inch32", 1.4, flat_top=True), px=14, angle=5, seed=1)
    half = shown.what.margin + INCH / 2
    corner = np.array([[half, 8.5 + dy, 1.0] for dy in (0.0, 2.5)]) @ shown.to_photo.T
    (x, y0), (_, y1) = np.round(corner[:, :2] / corner[:, 2:]).astype(int)
    dirty = shown.photo.encoded.copy()
    dirty[y0:y1, x - 2 : x + 3] = (dirty[y0:y1, x - 2 : x + 3] * 0.5).astype(dirty.dtype)
    found = find_rulers(replace(shown.photo, encoded=dirty))
    assert all(abs(scale_error(one, shown)) < 0.01 for one in found)


def test_longer_ticks_of_a_finer_scale_are_no_numerals_of_quarters():
    """Quarter ticks whose every second is longer: without numerals there it is no inch of eighths.

    32nds of an inch, of which a finger hid some so that the order of lengths was lost beyond it.
    """
    shown = scene(_short("inch32", 2.2), px=16, angle=5, seed=2)
    levels = pyramid(grey_of(shown.photo))
    quarters = [
        (comb, where, folded, steps)
        for comb, where in ruler._candidates(levels, long_lines(levels))
        for folded in [fold(levels, comb, where)]
        for steps in all_plain_orders(folded)
        if steps.scheme.unit == "inch" and steps.scheme.period == 4
    ]
    assert quarters
    for comb, where, folded, steps in quarters:
        eighths = replace(steps, scheme=replace(steps.scheme, tick_mm=INCH / 8))
        assert numerals_lack(levels, comb, where, folded, eighths)


@pytest.mark.parametrize(
    ("said", "ticks"),
    [({8: 8, 16: 16}, 8), ({8: None, 16: 16}, 16), ({8: 16, 16: 16}, 16), ({8: 8, 16: None}, None)],
)
def test_numerals_between_those_of_a_longer_order_make_the_inch_a_shorter_one(
    said, ticks, monkeypatch
):
    """Inches of which every second runs into its numeral look like halves of a longer one."""
    shown = scene(_short("inch16", 6), px=9, angle=5, seed=1)
    levels = pyramid(grey_of(shown.photo))
    comb, where = ruler._candidates(levels, long_lines(levels))[0]
    folded = fold(levels, comb, where)
    plain = next(o for o in all_plain_orders(folded) if o.scheme.unit == "inch")
    orders = [
        replace(plain, scheme=replace(plain.scheme, factors=factors))
        for factors in ((2, 2, 2), (2, 2, 2, 2))
    ]
    assert [o.scheme.period for o in orders] == [8, 16]
    monkeypatch.setattr(
        ruler_glyphs, "ticks_per_inch", lambda *known: said[known[-1].scheme.period]
    )
    monkeypatch.setattr(ruler_glyphs, "fits_a_ruler", lambda *_: True)
    found = numbered_order(levels, comb, where, folded, orders)
    assert (None if found is None else 25.4 / found.scheme.tick_mm) == (
        ticks and pytest.approx(ticks)
    )
