"""Sums over large pictures, strip by strip, by BLAS and OpenCV.

A picture (H, W, 3) lies in memory as a matrix (H, 3 W), for which a linear algebra library has
fast products; sums over its last two axes have none. Strips keep what is in between small.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any, NamedTuple, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FloatImage, Mask

Array = NDArray[Any]
_Found = TypeVar("_Found")

_BANDED = 64  # rows of bands that are masked at a time
_STRIP = 16  # rows; so few that a cache holds what is in between, and single precision suffices


def strips(height: int, size: int = 1) -> Iterator[slice]:
    """Rows in strips, each but the last of a whole number of `size` rows."""
    step = max(_STRIP // size, 1) * size
    return (slice(top, min(top + step, height)) for top in range(0, height, step))


def by_strips(work: Callable[[slice], _Found], height: int, size: int = 1) -> list[_Found]:
    """What `work` finds in each of the `strips`, in their order."""
    return [work(strip) for strip in strips(height, size)]


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
        by_strips(lambda strip: tiled(masked(picture[strip], mask[strip]), size), height, size)
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
    return summed_parts(lambda strip: masked(picture[strip], mask[strip]), of_columns, of_rows)


def summed_parts(
    shown: Callable[[slice], FloatImage], of_columns: Array, of_rows: Array
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The same of a picture that is `shown` strip by strip, (h, W, 3)."""
    across = spread(of_columns)
    down = of_rows.astype(np.float32)
    rows = np.zeros((len(down), 3))

    def added(strip: slice) -> FloatImage:
        part = as_matrix(shown(strip))
        rows[strip] = part @ across
        return np.asarray(down[strip] @ part)

    columns = np.add.reduce(by_strips(added, len(down)), axis=0, dtype=np.float64)
    return columns.reshape(-1, 3), rows


class Patches(NamedTuple):
    """Weights of pixels (H, W) that are alike within patches, which lie in rows and columns.

    A mask that was made larger has few kinds of rows and columns, and sums over it cost little.

    Attributes:
        weight: (h, w) of the pixels of each patch.
        high, wide: (h,), (w,) pixels of each row and column of patches.
    """

    weight: NDArray[np.float64]
    high: NDArray[np.intp]
    wide: NDArray[np.intp]

    @classmethod
    def of(cls, mask: Mask) -> Patches:
        """1 where a mask is True, else 0."""
        height, width = mask.shape
        alike = np.zeros(width, np.intp), np.zeros(height, np.intp)
        return cls.within(mask, alike, np.ones((1, 1)))

    @classmethod
    def within(
        cls, mask: Mask, kinds: tuple[NDArray[np.intp], NDArray[np.intp]], weights: Array
    ) -> Patches:
        """Weights (R, C) by the kinds of columns (W,) and of rows (H,); 0 outside a mask."""
        of_x, of_y = kinds
        down = _starts(mask, of_y)
        some = mask[down]
        across = _starts(some.T, of_x)
        weight = weights[of_y[down]][:, of_x[across]] * some[:, across]
        return cls(weight, np.diff(down, append=len(of_y)), np.diff(across, append=len(of_x)))

    def turned(self) -> Patches:
        """With x and y exchanged."""
        return Patches(self.weight.T, self.wide, self.high)

    def down(self, values: Array) -> NDArray[np.float64]:
        """(W, K) weighted sums down each column of values (H, K) of the rows."""
        return np.repeat(self.weight.T @ _added(values, self.high), self.wide, axis=0)

    def across(self, values: Array) -> NDArray[np.float64]:
        """(H, K) weighted sums across each row of values (W, K) of the columns."""
        return np.repeat(self.weight @ _added(values, self.wide), self.high, axis=0)


def _starts(mask: Mask, kinds: NDArray[np.intp]) -> NDArray[np.intp]:
    """The first of each run of like rows of one kind."""
    unlike = (mask[1:] != mask[:-1]).any(axis=1) | (np.diff(kinds) != 0)
    return np.flatnonzero(np.concatenate([[True], unlike]))


def _added(values: Array, lengths: NDArray[np.intp]) -> NDArray[np.float64]:
    """(n, K) sums of so many neighbouring values (N, K) each."""
    return np.add.reduceat(values, np.cumsum(lengths) - lengths, axis=0, dtype=np.float64)


def banded(
    picture: FloatImage, mask: Mask, edges: NDArray[np.intp]
) -> tuple[FloatImage, FloatImage]:
    """Sums over bands of rows of what the mask shows of a picture (H, W, 3).

    Args:
        picture: (H, W, 3).
        mask: (H, W) True for what is summed.
        edges: (B + 1,) rows at which the bands begin and end.

    Returns:
        (B, W, 3) sums and (B, W) how many pixels each is of.
    """
    bands, width = len(edges) - 1, picture.shape[1]
    total, count = np.empty((bands, 3 * width), np.float32), np.empty((bands, width), np.float32)
    several = max(1, _BANDED * bands // int(edges[-1] - edges[0]))
    for first in range(0, bands, several):
        some = edges[first : first + several + 1]
        part = slice(some[0], some[-1])
        shown, truths = as_matrix(masked(picture[part], mask[part])), mask[part].astype(np.float32)
        for k, (start, stop) in enumerate(pairwise(some - some[0]), first):
            ones = np.ones(stop - start, np.float32)
            np.matmul(ones, shown[start:stop], out=total[k])
            np.matmul(ones, truths[start:stop], out=count[k])
    return total.reshape(bands, width, 3), count


def counted(mask: Mask) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """(W,) how many of a mask (H, W) are True in each column, and (H,) in each row."""
    truths = mask.view(np.uint8)
    down, across = (cv2.reduce(truths, k, cv2.REDUCE_SUM, dtype=cv2.CV_32S) for k in (0, 1))
    return np.asarray(down, np.int32).ravel(), np.asarray(across, np.int32).ravel()


def spread(weights: Array) -> FloatImage:
    """(3 W, 3) by which a picture as a matrix is summed across with weights (W,)."""
    return np.kron(weights.astype(np.float32)[:, None], np.eye(3, dtype=np.float32))


def outer_sum(columns: Array, rows: Array, strip: slice) -> FloatImage:
    """(h, W, 3) columns (W, 3) plus rows (H, 3), for a strip of the rows."""
    # As one product: a broadcast whose innermost length is three costs three times as much.
    ones = np.ones((len(rows[strip]), 1), np.float32)
    own = np.tile(np.eye(3, dtype=np.float32), len(columns))
    both = np.concatenate([own, columns.astype(np.float32).reshape(1, -1)])
    total = np.hstack([rows[strip].astype(np.float32), ones]) @ both
    return np.asarray(total.reshape(-1, len(columns), 3))


def along_difference(picture: FloatImage, columns: Array, rows: Array) -> FloatImage:
    """(H, W) a picture (H, W, 3) times columns (W, 3) less rows (H, 3), summed over the three."""
    found = np.empty(picture.shape[:2], np.float32)

    def project(strip: slice) -> None:
        way = outer_sum(columns, -rows, strip)
        way *= picture[strip]
        cv2.transform(way, np.ones((1, 3), np.float32), dst=found[strip])

    by_strips(project, len(picture))
    return found


def tiled(picture: NDArray[np.float32], size: int) -> NDArray[np.float32]:
    """Means (h, w, ...) over tiles of `size` by `size` pixels; what is left over is dropped."""
    height, width = (n // size for n in picture.shape[:2])
    inner = picture[: height * size, : width * size]
    return np.asarray(cv2.resize(inner, (width, height), interpolation=cv2.INTER_AREA))
