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

    def model(values: Floats, columns: Floats, rows: Floats) -> Floats:
        scale, ratio, shading = np.exp(values[0]), np.exp(values[1]), values[2]
        apart = columns - ratio * rows - values[3:6]
        return np.asarray(np.sqrt((scale * apart) ** 2 @ np.ones(3) + shading**2))

    def slopes(values: Floats) -> Floats:
        """(n, 6) of what is left over, by the logarithms of k and r, by b and by o."""
        scale, ratio, shading = np.exp(values[0]), np.exp(values[1]), values[2]
        apart = own - ratio * others - values[3:6]
        size = np.maximum(model(values, own, others), 1e-12)[:, None]
        by_own = scale**2 * apart / size
        return np.hstack(
            [
                -(by_own * apart) @ np.ones((3, 1)),
                (by_own * others) @ np.full((3, 1), ratio),
                -shading / size,
                by_own,
            ]
        )

    typical = float(np.std(columns) + np.std(rows))
    found = [
        least_squares(
            lambda values: seen - model(values, own, others),
            [-np.log(max(typical, 1e-6)), ratio, 0.1, *start],
            jac=slopes,
            loss="cauchy",
            f_scale=settings.outlier,
            max_nfev=settings.trials,
        )
        for ratio in (-0.7, 0.0, 0.7)
    ]
    best = min(found, key=lambda one: one.cost).x
    return lambda columns, rows: usual * model(best, columns[None], rows[:, None])


def shortest_half(values: Floats) -> float:
    """The width of the narrowest range that holds half of the values, whatever the rest are."""
    rising = np.sort(values)
    half = len(rising) // 2
    return float((rising[half:] - rising[: len(rising) - half]).min())
