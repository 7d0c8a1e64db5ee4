"""The weave taken out of the column and row effects, once it is known.

The mean of a row holds each crossing column thread as shown or hidden. Over many columns that
comes to the weave's share; but a few contrasting stripes that lie alike in the weave lend one row
more of their colour and the next less, and that passes for a stripe. With yarns and threads known
the weave's own picture is folded out of the whole cloth, and what it lends each row and column is
taken off.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from settscan.photo.flat import FloatImage
from settscan.photo.sums import masked, outer_sum, summed_parts
from settscan.reading.effects import balanced
from settscan.reading.fold import Crossings, Fold, Parts, places
from settscan.reading.profiles import Additive
from settscan.reading.threads import Lattice
from settscan.settings import SEPARATE, SeparateSettings


def without_weave(
    split: Additive,
    crossings: Crossings,
    parts: Parts,
    lattices: tuple[Lattice | None, Lattice | None],
    separating: SeparateSettings = SEPARATE,
) -> Additive:
    """The effects with what the weave lends them taken off.

    Args:
        split: the separated picture.
        crossings: what its pixels tell of the weave.
        parts: of the cloth that fold alike, see `parts_of`.
        lattices: thread coordinates along x and y; without both, or where they were not found by
            the weave, nothing is taken off.
        separating: see `SeparateSettings`.
    """
    if any(lattice is None or lattice.found_by != "weave" for lattice in lattices):
        return split
    x, y = (
        places(lattice.course.between(np.arange(length, dtype=float)))
        for lattice, length in zip(lattices, split.mask.shape[::-1], strict=True)
        if lattice is not None
    )
    shown = np.zeros(split.mask.shape, np.float32)
    for across, down in parts:
        table = Fold.of(crossings, x * across, y * down).table.astype(np.float32)
        shown += (y * down) @ table @ (x * across).T
    weights = split.steady_columns, split.steady_rows
    sums = summed_parts(lambda strip: _without(split, crossings, shown, strip), *weights)
    more = balanced(sums, split.mask, separating.rounds, *weights)
    return replace(
        split,
        columns=split.columns + np.where(split.blind_columns[:, None], 0.0, more[0]),
        rows=split.rows + np.where(split.blind_rows[:, None], 0.0, more[1]),
    )


def _without(split: Additive, crossings: Crossings, shown: FloatImage, strip: slice) -> FloatImage:
    """The residual (h, W, 3) of a strip without the weave, 0 outside the mask.

    Args:
        split: the separated picture.
        crossings: the yarns that cross at each pixel.
        shown: (H, W) how much more than on average the column thread shows.
        strip: of the rows.
    """
    lent = outer_sum(crossings.warp, -crossings.weft, strip)
    lent *= cv2.merge([shown[strip]] * 3)
    return masked(np.subtract(split.residual[strip], lent, out=lent), split.mask[strip])
