"""What the columns and the rows of a picture with holes give, by alternating means."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.photo.sums import Patches, summed

Floats = NDArray[Any]
FloatImage = NDArray[np.float32]
Mask = NDArray[np.bool_]

_SETTLED = 1e-6  # linear light; no picture tells less


def alternate(
    pixels: FloatImage,
    mask: Mask,
    rounds: int,
    of_columns: Floats | None = None,
    of_rows: Floats | None = None,
) -> tuple[Floats, Floats]:
    """Column (W, 3) and row (H, 3) effects of a picture with holes, by alternating means.

    Args:
        pixels: (H, W, 3) linear light.
        mask: (H, W) True where there is cloth.
        rounds: of alternation.
        of_columns: (W,) weights of the columns in the rows' means; even if None.
        of_rows: (H,) weights of the rows in the columns' means.
    """
    height, width = mask.shape
    of_columns = np.ones(width) if of_columns is None else of_columns
    of_rows = np.ones(height) if of_rows is None else of_rows
    sums = summed(pixels, mask, of_columns, of_rows)
    return balanced(sums, mask, rounds, of_columns, of_rows)


def balanced(
    sums: tuple[Floats, Floats], mask: Mask, rounds: int, of_columns: Floats, of_rows: Floats
) -> tuple[Floats, Floats]:
    """The effects of which a picture's sums, down and across its mask, are made up.

    They alternate until nothing changes any more, which in a picture with few holes is soon.

    Args:
        sums: (W, 3) and (H, 3), as from `summed` with the same weights.
        mask: (H, W) True where there is cloth.
        rounds: of alternation, at most.
        of_columns: (W,) weights of the columns in the rows' means.
        of_rows: (H,) weights of the rows in the columns' means.
    """
    patches = Patches.of(mask)
    say_x, say_y = of_columns[:, None], of_rows[:, None]
    seen = np.maximum(patches.across(np.ones_like(say_x))[:, 0], 1.0)
    per_column, per_row = (
        np.maximum(total, 1e-3) for total in (patches.down(say_y), patches.across(say_x))
    )
    columns, rows = sums[0] / per_column, np.zeros_like(sums[1])
    for _ in range(rounds):
        rows = (sums[1] - patches.across(say_x * columns)) / per_row
        rows -= np.average(rows, axis=0, weights=seen)
        last = columns
        columns = (sums[0] - patches.down(say_y * rows)) / per_column
        if np.abs(columns - last).max() < _SETTLED:
            break
    return columns, rows
