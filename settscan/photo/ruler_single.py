"""Scales of rulers so large in the picture that few ticks fit in: each tick is measured alone.

Rows of single ticks (`ruler_rows`), how long each of them is (`ruler_thin`), the order of their
lengths (`ruler_ladder`), the numerals beside the longest (`ruler_figures`), and here the scale.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from settscan.photo.ruler_figures import inches_are_numbered
from settscan.photo.ruler_ladder import plain_orders
from settscan.photo.ruler_lines import Grey, Line
from settscan.photo.ruler_numbering import settled_scale
from settscan.photo.ruler_rows import Row, rows_of_ticks
from settscan.photo.ruler_scale import Scale, described
from settscan.photo.ruler_scheme import Array, Ladder
from settscan.photo.ruler_settle import alike, fits_a_ruler
from settscan.photo.ruler_strip import strip_along, strips
from settscan.photo.ruler_thin import Thin, exact_places, thin_ticks
from settscan.settings import RULER, SINGLE


def single_scales(levels: tuple[Grey, ...], lines: tuple[Line, ...], first: int) -> list[Scale]:
    """The scales whose ticks were measured one by one.

    Args:
        levels: the grey pyramid.
        lines: long edges in photo px.
        first: the finest level that is looked at.
    """
    rows: list[Row] = []
    for level in range(first, len(levels)):
        for strip in strips(levels, lines[: SINGLE.most_lines], level):
            rows += rows_of_ticks(strip)[: SINGLE.rows_per_strip]
    rows.sort(key=lambda row: -row.rank)
    read = (_read(levels, row) for row in rows[: SINGLE.most_rows])
    # of rows with as many ticks the one whose ticks are best placed comes first
    return sorted((s for s in read if s is not None), key=lambda s: s.found.relative_error)


def _read(levels: tuple[Grey, ...], row: Row) -> Scale | None:
    """The scale of a row, if the order of its lengths is plain and its unit sure."""
    thin = thin_ticks(levels, row)
    if thin is None:
        return None
    if abs(thin.feet[1] - thin.feet[0]) > RULER.most_tilt:
        row, thin = _straightened(levels, row, thin)
    if thin.rough > SINGLE.most_rough:
        return None
    for steps in plain_orders(thin.fold, thin.numbers, thin.level):
        settled = _settled(levels, row, thin, steps)
        if settled is not None:
            return _fitted(levels, row, thin, settled)
    return None


def _straightened(levels: tuple[Grey, ...], row: Row, thin: Thin) -> tuple[Row, Thin]:
    """The row in a strip of its own along the feet of its ticks."""
    strip = row.comb.strip
    ends = strip.photo(row.u[[0, -1]], np.array(thin.feet))
    line = Line(ends, float(np.linalg.norm(ends[1] - ends[0])))
    own = strip_along(levels[strip.level], line, strip.level)
    best = (row, thin)
    for again in rows_of_ticks(own)[: SINGLE.rows_per_strip]:
        found = thin_ticks(levels, again)
        if found is not None and found.rough < best[1].rough:
            best = (again, found)
    return best


def _settled(levels: tuple[Grey, ...], row: Row, thin: Thin, steps: Ladder) -> Ladder | None:
    """The order with its unit, or None where that is in doubt or no ruler is like it.

    Two lengths are no order, for chance may make one of few ticks. An inch that has no eighths
    is none, for single ones would be seen.
    """
    scheme = steps.scheme
    if len(steps.classes) < SINGLE.least_classes:
        return None
    tall = thin.fold.core[1] - thin.fold.core[0]
    if scheme.unit == "inch":
        if scheme.period < SINGLE.least_parts:
            return None
        numbered = inches_are_numbered(levels, row, thin, steps)
        if not _tops_are_alike(steps):
            return None
        if numbered is False or (numbered is None and not _must_be_inches(steps, tall)):
            return None
        steps = replace(steps, scheme=replace(scheme, tick_mm=25.4 / scheme.period))
    return steps if fits_a_ruler(steps, tall, steps.scheme.tick_mm) else None


def _must_be_inches(steps: Ladder, tall: float) -> bool:
    """Whether the longest ticks are inches though no numerals tell.

    Else they were halves and wholes of one length, and all ticks half as long: shorter, perhaps,
    than those of any ruler.
    """
    scheme = steps.scheme
    other_mm = 25.4 / (2 * scheme.period)
    if (tall + SINGLE.tall_error) * other_mm < RULER.shortest_tick_mm:
        return True
    if (tall + steps.classes[-1]) * other_mm < RULER.longest_tick_mm[0]:
        return True
    return scheme.period > SINGLE.least_parts and all(len(g) for g in _tops(steps))


def _tops_are_alike(steps: Ladder) -> bool:
    """Whether every second of the longest ticks is as long as the others."""
    one, other = _tops(steps)
    return not len(one) or not len(other) or alike(one, other, steps)


def _tops(steps: Ladder) -> tuple[Array, Array]:
    """Lengths of every second of the longest ticks, and of the others."""
    period = steps.scheme.period
    top, odd = steps.whole % period == 0, (steps.whole // period) % 2 == 1
    return steps.lengths[top & odd], steps.lengths[top & ~odd]


def _fitted(levels: tuple[Grey, ...], row: Row, thin: Thin, steps: Ladder) -> Scale | None:
    """The scale by all ticks, each placed to a fraction of a pixel."""
    numbers, u = thin.numbers, exact_places(levels, row, thin)
    ones, lens = np.ones(len(u)), row.comb.strip.lens
    settled = settled_scale(u, numbers, ones, lens, SINGLE.least_ticks, RULER.largest_residual)
    if settled is None:
        return None
    feet = thin.core.low if steps.side > 0 else thin.core.high
    away = feet - row.comb.v
    lean = (thin.core.slant[0] * away, thin.core.slant[1] * away)
    found = described(levels, row.comb, feet, lean, steps, settled)
    return Scale(found, steps.agree * min(len(settled.numbers), RULER.most_ticks))
