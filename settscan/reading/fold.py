"""The weave's picture, folded out of the whole cloth by its own cycle.

Where two yarns cross, what is left of the picture after the column and row effects tells which of
them is on top. The weave does the same in every cycle, so each place in it is known from hundreds
of crossings, whatever the stripes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.photo.sums import Patches
from settscan.reading.diagonals import Diagonals
from settscan.reading.palette import Palette
from settscan.reading.profiles import Additive
from settscan.reading.stripes import Bands
from settscan.reading.threads import Signals
from settscan.settings import FOLD, FoldSettings

Floats = NDArray[Any]
FloatImage = NDArray[np.float32]
Parts = list[tuple[FloatImage, FloatImage]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossings:
    """What each pixel tells of the thread on top.

    Attributes:
        warp, weft: (W, 3), (H, 3) linear light of the yarns along x and along y.
        seen: (H, W) the residual times the difference of the two yarns that cross there.
        power: that difference squared, of each of them; 0 where there is nothing to be read.
    """

    warp: FloatImage
    weft: FloatImage
    seen: FloatImage
    power: Patches

    @classmethod
    def of(
        cls, split: Additive, columns: Bands, rows: Bands, palette: Palette, signals: Signals
    ) -> Crossings:
        """Of a picture whose bands and yarns are known, with the contrast of its `signals`."""
        height, width = split.mask.shape
        colours = palette.colours.astype(np.float32)
        # The square of a difference between one of few yarns and another is one of few numbers.
        squares = np.square(colours[None] - colours[:, None]).sum(axis=2)
        of_x = palette.of_columns[columns.of_pixels(width)]
        of_y = palette.of_rows[rows.of_pixels(height)]
        power = Patches.within(split.mask, (of_x, of_y), squares)
        return cls(warp=colours[of_x], weft=colours[of_y], seen=signals.contrast, power=power)

    def turned(self) -> Crossings:
        """With x and y exchanged."""
        return Crossings(
            warp=self.weft, weft=self.warp, seen=self.seen.T, power=self.power.turned()
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fold:
    """The weave by its place in the cycle, for one part of the cloth.

    Attributes:
        seen, power: (H, K) sums over what lies at the same place along x.
        table: (K, K) how much more than on average the column thread shows, by place along y
            and along x.
    """

    seen: FloatImage
    power: Floats
    table: Floats

    @classmethod
    def of(cls, crossings: Crossings, across: FloatImage, down: FloatImage) -> Fold:
        """By places along x (W, K) and along y (H, K), see `places`."""
        seen, power = crossings.seen @ across, crossings.power.across(across)
        folded, known = down.T @ seen, down.T @ power
        table = folded / np.maximum(known, 1e-6 * max(float(known.max()), 1e-12))
        return cls(seen=seen, power=power, table=table)


def places(turns: Floats, settings: FoldSettings = FOLD) -> FloatImage:
    """(N, K) in which part of the weave's cycle each element lies, as 0 or 1.

    Args:
        turns: (N,) cycles along the axis.
        settings: see `FoldSettings`.
    """
    one_of = np.eye(settings.phases, dtype=np.float32)
    return np.asarray(one_of[((turns % 1.0) * settings.phases).astype(int) % settings.phases])


def parts_of(shape: tuple[int, int], diagonals: Diagonals | None) -> Parts:
    """Columns (W, 1) and rows (H, 1) of the parts of a cloth that fold alike: 1, or 0 elsewhere.

    The lines of a herringbone rise one way in the one part and the other way in the other, and
    near a turn, which is known to a few threads only, neither way for sure: less than 1.
    """
    height, width = shape
    all_columns, all_rows = np.ones((width, 1), np.float32), np.ones((height, 1), np.float32)
    axis = diagonals.turning() if diagonals is not None else None
    if diagonals is None or axis is None:
        return [(all_columns, all_rows)]
    length = (width, height)[axis]
    lean = np.interp(np.arange(length), diagonals.at[axis], diagonals.lean[axis])
    lean /= max(float(np.median(np.abs(lean))), 1e-6)
    ways = [np.clip(way, 0, 1).astype(np.float32)[:, None] for way in (lean, -lean)]
    return [(way, all_rows) if axis == 0 else (all_columns, way) for way in ways]
