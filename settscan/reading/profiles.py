"""The additive model: in linear light, pixel = column effect + row effect + weave residual.

In linear light a woven check averages to k W(x) + (1-k) F(y): what the column threads give plus
what the row threads give. This module separates the two by alternating masked means; what is
left over, the residual, holds the weave itself, from which the threads are counted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.errors import Refusal

Floats = NDArray[Any]
FloatImage = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Additive:
    """The separated picture, cropped to the box of columns and rows that can be read.

    Attributes:
        columns: (W, 3) column effect, linear light; together with `rows` it sums to the picture.
        rows: (H, 3) row effect, linear light, with mean zero over the rows.
        residual: (H, W, 3) what the sum does not explain; zero outside the mask.
        mask: (H, W) True where the residual may be trusted.
        x0, y0: position of the box in the flat picture, pixels.
        noise_columns, noise_rows: (3,) standard error of one element of the two effects.
    """

    columns: Floats
    rows: Floats
    residual: FloatImage
    mask: Mask
    x0: int
    y0: int
    noise_columns: Floats
    noise_rows: Floats


def separate(
    pixels: FloatImage, mask: Mask, *, least_cover: float = 0.25, rounds: int = 6
) -> Additive:
    """Fit column and row effects to a flat picture.

    Args:
        pixels: (H, W, 3) linear light.
        mask: (H, W) True where there is cloth.
        least_cover: columns and rows with a smaller share of cloth are left out.
        rounds: alternations when the mask has holes (one is exact when it has none).

    Raises:
        Refusal: if too little cloth remains.
    """
    x0, x1, y0, y1 = _readable_box(mask, least_cover)
    pixels = pixels[y0:y1, x0:x1]
    mask = mask[y0:y1, x0:x1]
    if mask.mean() > 0.999:
        columns = pixels.mean(axis=0, dtype=np.float64)
        rows = pixels.mean(axis=1, dtype=np.float64)
        rows -= rows.mean(axis=0)
    else:
        columns, rows = _alternate(pixels, mask, rounds)
    residual = pixels - columns.astype(np.float32)[None] - rows.astype(np.float32)[:, None]
    residual *= mask[:, :, None]
    spread = np.sqrt(np.mean(residual[::4, ::4].astype(np.float64) ** 2, axis=(0, 1)))
    return Additive(
        columns=columns,
        rows=rows,
        residual=residual,
        mask=mask,
        x0=x0,
        y0=y0,
        noise_columns=spread / np.sqrt(max(mask.shape[0], 1)),
        noise_rows=spread / np.sqrt(max(mask.shape[1], 1)),
    )


def _readable_box(mask: Mask, least_cover: float) -> tuple[int, int, int, int]:
    """(x0, x1, y0, y1) of the columns and rows that hold enough cloth."""
    box = [0, mask.shape[1], 0, mask.shape[0]]
    for _ in range(3):
        inner = mask[box[2] : box[3], box[0] : box[1]]
        across = np.flatnonzero(inner.mean(axis=0) >= least_cover)
        if len(across) == 0:
            break
        box[0], box[1] = box[0] + int(across[0]), box[0] + int(across[-1]) + 1
        inner = mask[box[2] : box[3], box[0] : box[1]]
        down = np.flatnonzero(inner.mean(axis=1) >= least_cover)
        if len(down) == 0:
            break
        box[2], box[3] = box[2] + int(down[0]), box[2] + int(down[-1]) + 1
    if box[1] - box[0] < 32 or box[3] - box[2] < 32:
        raise Refusal(
            "Too little of the picture is cloth that can be read.",
            "Fill the frame with the cloth, keep the ruler to one side, and photograph again.",
        )
    return box[0], box[1], box[2], box[3]


def _alternate(pixels: FloatImage, mask: Mask, rounds: int) -> tuple[Floats, Floats]:
    """Column (W, 3) and row (H, 3) effects of a picture with holes, by alternating means.

    The sums over the masked pixels are taken once; each round is then two matrix products.
    """
    weights = mask.astype(np.float32)
    per_column = np.maximum(weights.sum(axis=0, dtype=np.float64), 1.0)[:, None]
    per_row = np.maximum(weights.sum(axis=1, dtype=np.float64), 1.0)[:, None]
    masked = pixels * weights[:, :, None]
    sum_columns = masked.sum(axis=0, dtype=np.float64)
    sum_rows = masked.sum(axis=1, dtype=np.float64)
    columns = sum_columns / per_column
    rows = np.zeros_like(sum_rows)
    for _ in range(rounds):
        rows = (sum_rows - weights @ columns.astype(np.float32)) / per_row
        rows -= np.average(rows, axis=0, weights=per_row[:, 0])
        columns = (sum_columns - weights.T @ rows.astype(np.float32)) / per_column
    return columns, rows
