"""A comb that runs aslant to the line on which its ticks begin."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from settscan.photo import ruler
from settscan.photo.ruler_fold import PHASES, ROWS, Fold
from settscan.photo.ruler_lean import feet_of
from settscan.photo.ruler_lines import Line, long_lines, pyramid
from settscan.photo.source import grey_of
from tests.photo.drawn_rulers import Drawn, scale_error, scene

LONGER = ((8, 3.0), (4, 1.6), (2, 0.9), (1, 0.4))  # of eighths of an inch, in spacings

ONE_ROW = 1 / (ROWS * 42)  # over the whole comb


def folded(rise: float, side: int = 1) -> Fold:
    """Forty ticks of a light ruler whose feet rise by `rise` rows of a spacing from tick to tick.

    All of them show at the comb's own row.
    """
    numbers = np.arange(44.0)
    rows = np.arange(-12 * ROWS, 12 * ROWS + 1) / ROWS
    grey = np.full((len(rows), PHASES * len(numbers)), 220, np.float32)
    feet = rise * (numbers - numbers.mean())
    for n, foot in zip(numbers.astype(int), feet, strict=True):
        long = next(length for every, length in LONGER if n % every == 0) + 1.0
        on = (side * (rows - foot) > -0.6) & (side * (rows - foot) < long)
        grey[on, PHASES * n + PHASES // 2] = 40
    return Fold(numbers, rows, grey, np.full(44, 12.0), (0.0, 0.0), (-0.1, 0.1), 1 / 12, spare=1)


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("rise", [0.03, -0.02])
def test_the_line_of_the_feet_is_the_one_across_which_ticks_begin(rise, side):
    feet = feet_of(folded(rise, side), 90.0)
    assert feet.rise == pytest.approx(rise, abs=ONE_ROW)
    assert (feet.row, feet.side) == (pytest.approx(-0.6 * side, abs=0.2), side)


def test_cloth_as_bold_as_the_ticks_does_not_turn_it():
    """Threads beside the ruler, twice as dark as its ticks and of another spacing."""
    fold = folded(0.02)
    place = np.arange(fold.grey.shape[1]) / PHASES
    feet = 0.02 * (place - place.mean())
    cloth = fold.rows[:, None] < feet - 0.7
    threads = 128 - 120 * np.sin(2 * np.pi * place / 1.3)
    mixed = np.where(cloth, threads, fold.grey).astype(np.float32)
    found = feet_of(replace(fold, grey=mixed), 60.0)
    assert found.rise == pytest.approx(0.02, abs=ONE_ROW)


def test_no_slope_is_told_where_all_is_upright():
    assert feet_of(folded(0.0), 90.0).rise == pytest.approx(0.0, abs=ONE_ROW)


def test_a_comb_whose_core_was_turned_is_read_aslant():
    """Dark cloth beside the ticks turns what is taken for the line of their middles."""
    drawn = scene(Drawn(scale="inch8", length=130.0, margin=4), px=6.0, angle=4, seed=3)
    levels = pyramid(grey_of(drawn.photo))
    lines = long_lines(levels)
    comb, where = next(
        pair for pair in ruler._candidates(levels, lines) if ruler._read(levels, *pair) is not None
    )
    turned = replace(where, tilt=where.tilt + 0.03)
    assert ruler._read(levels, comb, turned) is None
    scale = ruler._read_aslant(levels, comb, turned)
    assert scale is not None
    assert abs(scale_error(scale.found, drawn)) < 0.004


@pytest.mark.parametrize("aslant", [0.5, 1.0, 2.0, 3.0, -1.0, -2.0])
def test_ticks_along_an_edge_that_runs_aslant_to_them_are_read(aslant):
    """The only edge may be that of a stripe of cloth or of the ruler's other side."""
    drawn = scene(Drawn(scale="inch8", length=150.0, margin=4), px=4.0, angle=4, seed=3)
    levels = pyramid(grey_of(drawn.photo))
    comb, _ = next(
        pair
        for pair in ruler._candidates(levels, long_lines(levels))
        if ruler._read(levels, *pair) is not None
    )
    ends = comb.strip.photo(np.array(comb.span), np.full(2, comb.v))
    middle, half = ends.mean(axis=0), (ends[1] - ends[0]) / 2
    turn = np.radians(aslant)
    half = half @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    line = Line(np.stack([middle - half, middle + half]), float(2 * np.linalg.norm(half)))
    scales = ruler._scales_aslant(levels, ruler._candidates(levels, (line,)))
    assert scales
    assert abs(scale_error(scales[0].found, drawn)) < 0.004
