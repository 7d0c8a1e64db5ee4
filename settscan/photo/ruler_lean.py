"""The line on which a ruler's ticks begin, where the comb that was found runs aslant to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_fold import ROWS, Fold, depth
from settscan.settings import RULER

Array = NDArray[Any]


@dataclass(frozen=True, slots=True)
class Feet:
    """The line on which all ticks of a comb begin.

    Attributes:
        step: how much more of a tick shows on the one side of the line than on the other.
        rise: rows by which it rises per sample along.
        row: where it crosses the middle of the comb, in spacings from the comb's own row.
        side: 1 where the ticks go on to growing rows, -1 where to falling ones.
    """

    step: float
    rise: float
    row: float
    side: int


def feet_of(folded: Fold, contrast: float) -> Feet:
    """The line across which ticks begin most sharply, of all that run a little aslant.

    On one side of a ruler's edge all its ticks show, on the other none: along that line alone is
    the step in the mean over the ticks sharp. Cloth and numerals do not keep the ticks' distance
    and take no part in it.

    Args:
        folded: what lies about the comb, not yet laid along any slope.
        contrast: how much darker (lighter) a tick is, in grey values; what is more says no more.
    """
    found = [
        _sharpest(np.clip(depth(folded, light) / contrast, -1.0, 1.0), folded.rows)
        for light in (False, True)
    ]
    return max(found, key=_sharpness)


def _sharpest(shown: Array, rows: Array) -> Feet:
    """The sharpest step of ticks (N, V), which show where they are 1, over lines aslant."""
    total = np.pad(np.cumsum(shown, axis=1), ((0, 0), (1, 0)))
    # A change by one row over the whole comb is the least that tells. The step is several rows
    # wide, so a few such changes do not hide it.
    least = 1 / (ROWS * len(shown))
    wide = np.arange(-RULER.most_rise, RULER.most_rise, 4 * least)
    first = max((_step(total, rows, float(rise)) for rise in wide), key=_sharpness)
    near = first.rise + least * np.arange(-3, 4)
    return max((_step(total, rows, float(rise)) for rise in near), key=_sharpness)


def _step(total: Array, rows: Array, rise: float) -> Feet:
    """The sharpest step along lines of one rise, from sums (N, V + 1) along the ticks."""
    count, height = total.shape[0], total.shape[1] - 1
    width = max(1, round(RULER.feet_width * ROWS))
    shift = np.round(rise * (np.arange(count) - (count - 1) / 2) * ROWS).astype(np.int64)
    index = np.clip(np.arange(height + 1) + shift[:, None], 0, height)
    mean = np.take_along_axis(total, index, axis=1).mean(axis=0) / width
    at = np.arange(width, height - width)
    step = mean[at + width] - 2 * mean[at] + mean[at - width]
    k = int(np.abs(step).argmax())
    row = float(rows[at[k]]) - 0.5 / ROWS
    return Feet(float(abs(step[k])), rise, row, 1 if step[k] > 0 else -1)


def _sharpness(feet: Feet) -> float:
    return feet.step
