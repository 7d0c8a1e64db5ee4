"""Sums over large pictures, strip by strip, by BLAS and OpenCV.

A picture (H, W, 3) lies in memory as a matrix (H, 3 W), for which a linear algebra library has
fast products; sums over its last two axes have none. Strips keep what is in between small.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FloatImage, Mask

Array = NDArray[Any]

_STRIP = 16  # rows; so few that a cache holds what is in between, and single precision suffices


def strips(height: int, size: int = 1) -> Iterator[slice]:
    """Rows in strips, each but the last of a whole number of `size` rows."""
    step = max(_STRIP // size, 1) * size
    return (slice(top, min(top + step, height)) for top in range(0, height, step))


def as_matrix(picture: FloatImage) -> FloatImage:
    """A picture (H, W, 3) as a matrix (H, 3 W), the three of each pixel side by side."""
    return picture.reshape(len(picture), -1)


def masked(picture: FloatImage, mask: Mask) -> FloatImage:
    """A copy of a picture (H, W, 3), zero outside the mask (H, W)."""
    return np.asarray(cv2.copyTo(picture, mask.view(np.uint8)))


def masked_tiles(picture: FloatImage, mask: Mask, size: int) -> FloatImage:
    """Means (h, w, 3) over tiles of a picture (H, W, 3) that is zero outside the mask (H, W)."""
    height = len(picture) // size * size
    return np.concatenate(
        [tiled(masked(picture[strip], mask[strip]), size) for strip in strips(height, size)]
    )


def summed(
    picture: FloatImage, mask: Mask, of_columns: Array, of_rows: Array
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sums of what the mask shows of a picture (H, W, 3), down and across.

    Args:
        picture: (H, W, 3).
        mask: (H, W) True for what is summed.
        of_columns: (W,) weights of the columns in the sums across.
        of_rows: (H,) weights of the rows in the sums down.

    Returns:
        (W, 3) sums down the columns and (H, 3) across the rows.
    """
    height, width = mask.shape
    across = spread(of_columns)
    down = of_rows.astype(np.float32)
    columns, rows = np.zeros(3 * width), np.zeros((height, 3))
    for strip in strips(height):
        part = as_matrix(masked(picture[strip], mask[strip]))
        columns += down[strip] @ part
        rows[strip] = part @ across
    return columns.reshape(width, 3), rows


def spread(weights: Array) -> FloatImage:
    """(3 W, 3) by which a picture as a matrix is summed across with weights (W,)."""
    return np.kron(weights.astype(np.float32)[:, None], np.eye(3, dtype=np.float32))


def outer_sum(columns: Array, rows: Array, strip: slice) -> FloatImage:
    """(h, W, 3) columns (W, 3) plus rows (H, 3), for a strip of the rows."""
    # Added as a matrix: a broadcast whose innermost length is three costs twice as much.
    total = np.tile(rows[strip].astype(np.float32), (1, len(columns)))
    total += columns.astype(np.float32).reshape(1, -1)
    return total.reshape(-1, len(columns), 3)


def along_difference(picture: FloatImage, columns: Array, rows: Array) -> FloatImage:
    """(H, W) a picture (H, W, 3) times columns (W, 3) less rows (H, 3), summed over the three."""
    found = np.empty(picture.shape[:2], np.float32)
    for strip in strips(len(picture)):
        way = outer_sum(columns, -rows, strip)
        way *= picture[strip]
        cv2.transform(way, np.ones((1, 3), np.float32), dst=found[strip])
    return found


def tiled(picture: NDArray[np.float32], size: int) -> NDArray[np.float32]:
    """Means (h, w, ...) over tiles of `size` by `size` pixels; what is left over is dropped."""
    height, width = (n // size for n in picture.shape[:2])
    inner = picture[: height * size, : width * size]
    return np.asarray(cv2.resize(inner, (width, height), interpolation=cv2.INTER_AREA))
