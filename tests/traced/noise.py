"""Smooth random numbers along threads and over the cloth."""

from __future__ import annotations

import cv2
import numpy as np


def along(rng: np.random.Generator, shape: tuple[int, int], reach: float) -> np.ndarray:
    """(rows, n) noise of unit size, each row smooth over about `reach` samples of its own."""
    rows, n = shape
    coarse = rng.standard_normal((rows, max(4, int(n / reach) + 4))).astype(np.float32)
    # Row by row: all at once would smooth across the rows too.
    return np.stack(
        [cv2.resize(row[None], (n, 1), interpolation=cv2.INTER_CUBIC)[0] for row in coarse]
    )


def field(rng: np.random.Generator, shape: tuple[int, int], reach: float) -> np.ndarray:
    """(rows, columns) noise of unit size, smooth over `reach` samples both ways."""
    rows, columns = shape
    size = max(4, int(rows / reach) + 4), max(4, int(columns / reach) + 4)
    coarse = rng.standard_normal(size).astype(np.float32)
    return cv2.resize(coarse, (columns, rows), interpolation=cv2.INTER_CUBIC)
