"""How strong the weave's wave is to be expected, from the colours that cross.

The wave is as strong as the two yarns that cross there differ. The effects of columns and rows
tell both yarns at every place, so that the strength to expect is known but for a few constants,
which are fitted.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.settings import HIDDEN, HiddenSettings

Floats = NDArray[Any]
Mask = NDArray[np.bool_]


def fit_amplitude(
    columns: Floats,
    rows: Floats,
    amplitude: Floats,
    use: Mask,
    settings: HiddenSettings = HIDDEN,
) -> Callable[[Floats, Floats], Floats]:
    """The amplitude (M, N) to expect where columns (N, 3) and rows (M, 3) of light cross.

    In each channel the wave is as high as warp and weft differ: k |column - r row - o|, where r
    and o stand for the shares of warp and weft in what is seen; b is the wave of the shading.

    Args:
        columns: (N, 3) light that the columns give where it was measured.
        rows: (M, 3) the same of the rows; the sum of both is the light of the cloth.
        amplitude: (M, N) that was measured.
        use: (M, N) True where it counts.
        settings: see `HiddenSettings`.
    """
    from scipy.optimize import least_squares  # a part of scikit-image's own needs

    usual = float(np.median(amplitude[use]))
    start = columns.mean(axis=0) - rows.mean(axis=0)
    down, across = np.nonzero(use)
    some = slice(None, None, -(-len(down) // settings.most_fitted))
    own, others = columns[across[some]], rows[down[some]]
    seen = amplitude[down[some], across[some]] / usual

    typical = float(np.std(columns) + np.std(rows))
    found = [
        least_squares(
            lambda values: seen - _model(values, own, others),
            [-np.log(max(typical, 1e-6)), ratio, 0.1, *start],
            jac=lambda values: _slopes(values, own, others),
            loss="cauchy",
            f_scale=settings.outlier,
            max_nfev=settings.trials,
        )
        for ratio in (-0.7, 0.0, 0.7)
    ]
    best = min(found, key=lambda one: one.cost).x
    return lambda columns, rows: usual * _model(best, columns[None], rows[:, None])


def _model(values: Floats, columns: Floats, rows: Floats) -> Floats:
    """The amplitude where columns and rows (..., 3) cross; values are log k, log r, b and o."""
    scale, ratio, shading = np.exp(values[0]), np.exp(values[1]), values[2]
    apart = columns - ratio * rows - values[3:6]
    return np.asarray(np.sqrt((scale * apart) ** 2 @ np.ones(3) + shading**2))


def _slopes(values: Floats, columns: Floats, rows: Floats) -> Floats:
    """(n, 6) by how much the amplitude falls short per unit of each of the model's values."""
    scale, ratio, shading = np.exp(values[0]), np.exp(values[1]), values[2]
    apart = columns - ratio * rows - values[3:6]
    size = np.maximum(_model(values, columns, rows), 1e-12)[:, None]
    by_own = scale**2 * apart / size
    by_scale = -(by_own * apart).sum(axis=1, keepdims=True)
    by_ratio = ratio * (by_own * rows).sum(axis=1, keepdims=True)
    return np.hstack([by_scale, by_ratio, -shading / size, by_own])


def shortest_half(values: Floats) -> float:
    """The width of the narrowest range that holds half of the values, whatever the rest are."""
    rising = np.sort(values)
    half = len(rising) // 2
    return float((rising[half:] - rising[: len(rising) - half]).min())
