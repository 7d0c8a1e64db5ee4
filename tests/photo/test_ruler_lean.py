"""A comb that runs aslant to the line on which its ticks begin."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from settscan.photo import ruler
from settscan.photo.ruler_fold import PHASES, ROWS, Fold
from settscan.photo.ruler_lean import lean_of
from settscan.photo.ruler_lines import long_lines, pyramid
from settscan.photo.source import grey_of
from tests.photo.drawn_rulers import Drawn, scale_error, scene

LONGER = ((8, 3.0), (4, 1.6), (2, 0.9), (1, 0.4))  # of eighths of an inch, in spacings


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
def test_the_slope_of_the_line_is_told_from_ticks_of_one_kind(rise, side):
    assert lean_of(folded(rise, side)) == pytest.approx(rise, abs=0.25 * abs(rise))


def test_none_is_told_where_all_is_upright():
    assert lean_of(folded(0.0)) is None


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
