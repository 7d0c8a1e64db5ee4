"""The weave taken out of the column and row effects, once it is known.

The mean of a row holds each crossing column thread as shown or hidden. Over many columns that
comes to the weave's share; but a few contrasting stripes that lie alike in the weave lend one row
more of their colour and the next less, and that passes for a stripe. With yarns and threads known
the weave's own picture is folded out of the whole cloth, and what it lends each row and column is
taken off.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.sums import along_difference, outer_sum, strips
from settscan.reading.palette import Palette
from settscan.reading.profiles import Additive, alternate
from settscan.reading.stripes import Bands
from settscan.reading.threads import Lattice
from settscan.settings import SEPARATE, TEXTURE, SeparateSettings, TextureSettings

Floats = NDArray[Any]
FloatImage = NDArray[np.float32]


def without_weave(
    split: Additive,
    columns: Bands,
    rows: Bands,
    palette: Palette,
    lattices: tuple[Lattice | None, Lattice | None],
    settings: TextureSettings = TEXTURE,
    separating: SeparateSettings = SEPARATE,
) -> Additive:
    """The effects with what the weave lends them taken off, and the residual without the weave.

    Args:
        split: the separated picture.
        columns: bands along x.
        rows: bands along y.
        palette: yarns of the bands.
        lattices: thread coordinates along x and y; without both, or where they were not found by
            the weave, nothing is taken off.
        settings: see `TextureSettings`.
        separating: see `SeparateSettings`.
    """
    if any(lattice is None or lattice.found_by != "weave" for lattice in lattices):
        return split
    across, down = (
        _phases(lattice, length, settings)
        for lattice, length in zip(lattices, split.mask.shape[::-1], strict=True)
        if lattice is not None
    )
    height, width = split.mask.shape
    warp = palette.colours[palette.of_columns][columns.of_pixels(width)].astype(np.float32)
    weft = palette.colours[palette.of_rows][rows.of_pixels(height)].astype(np.float32)
    shown = _shown(split, warp, weft, across, down)
    left = np.zeros(split.residual.shape, np.float32)
    for strip in strips(height):
        lent = outer_sum(warp, -weft, strip)
        lent *= cv2.merge([shown[strip]] * 3)
        np.subtract(split.residual[strip], lent, out=lent)
        cv2.copyTo(lent, split.mask[strip].view(np.uint8), dst=left[strip])
    more = alternate(left, split.mask, separating.rounds, split.steady_columns, split.steady_rows)
    return replace(
        split,
        columns=split.columns + np.where(split.blind_columns[:, None], 0.0, more[0]),
        rows=split.rows + np.where(split.blind_rows[:, None], 0.0, more[1]),
        residual=left,
    )


def _phases(lattice: Lattice, length: int, settings: TextureSettings) -> FloatImage:
    """(length, phases) in which part of the weave's cycle each element lies, as 0 or 1."""
    turns = lattice.course.between(np.arange(length, dtype=float)) % 1.0
    one_of = np.eye(settings.phases, dtype=np.float32)
    return np.asarray(one_of[(turns * settings.phases).astype(int) % settings.phases])


def _shown(
    split: Additive, warp: FloatImage, weft: FloatImage, across: FloatImage, down: FloatImage
) -> FloatImage:
    """(H, W) how much more than on average the column thread shows, by place in the weave."""
    product = along_difference(split.residual, warp, weft)
    # The square of a difference between one of few yarns and another is one of few numbers.
    warps, of_x = np.unique(warp, axis=0, return_inverse=True)
    wefts, of_y = np.unique(weft, axis=0, return_inverse=True)
    squares = np.square(wefts[:, None] - warps[None]).sum(axis=2)
    power = squares[of_y][:, of_x] * split.mask
    folded = down.T @ product @ across
    known = down.T @ power @ across
    share = folded / np.maximum(known, 1e-6 * max(float(known.max()), 1e-12))
    return np.asarray(down @ share @ across.T)
