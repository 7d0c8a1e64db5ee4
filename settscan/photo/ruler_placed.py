"""A ruler's scale from the places of what is counted along its body."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import RulerFound
from settscan.photo.ruler_numbering import Lens, settled_scale
from settscan.photo.ruler_spectrum import Band
from settscan.photo.ruler_unit import INCH

Array = NDArray[np.float64]


class Places(NamedTuple):
    """What is counted along a band.

    Attributes:
        columns: (N,) of the band, rising.
        numbers: (N,) what is counted there.
        weight: (N,) how plainly it is seen.
        row: of the band.
    """

    columns: Array
    numbers: Array
    weight: Array
    row: float


def ruler_along(
    band: Band,
    seen: Places,
    mm: float,
    shape: tuple[int, ...],
    zoom: float,
    outline: Array,
    least: int,
    most_wander: float,
) -> RulerFound | None:
    """The scale by the places of all that is counted; None where they do not agree.

    Args:
        band: the ruler's body.
        seen: the places.
        mm: from one number to the next.
        shape: of the picture that the band lies in.
        zoom: photo px in one of that picture.
        outline: (4, 2) of the body, photo px.
        least: places that must agree.
        most_wander: rms error of the places, in numbers.
    """
    columns = band.detail.shape[1]
    start, end = band.photo(np.array([0.0, columns - 1.0]), seen.row)
    along = (end - start) / (columns - 1)
    sample = float(np.linalg.norm(along))
    centre = (np.array(shape[1::-1], dtype=np.float64) - 1) / 2
    lens = Lens(
        float((centre - start) @ along / sample**2),
        float(np.hypot(shape[0], shape[1])) / 2 / sample,
    )
    settled = settled_scale(seen.columns, seen.numbers, seen.weight, lens, least, most_wander)
    if settled is None:
        return None
    ends = settled.numbering.number(settled.u[[0, -1]])
    count = np.arange(np.ceil(ends.min()), np.floor(ends.max()) + 1)
    ticks = settled.numbering.place(count)
    order = np.argsort(ticks)
    ticks = ticks[order]
    one, two = ticks[1] - ticks[0], ticks[2] - ticks[0]
    bend = (2 * one - two) / (2 * (two - one))
    unit = "inch" if mm == INCH else "mm"
    return RulerFound(
        origin_px=(start + ticks[0] * along + 0.5) * zoom - 0.5,
        direction=along / sample,
        a=float(one * (1 + bend) * sample * zoom / mm),
        c=float(bend / mm),
        length_mm=float((len(ticks) - 1) * mm),
        tick_mm=mm,
        ticks_px=(start + ticks[:, None] * along + 0.5) * zoom - 0.5,
        ticks_mm=np.arange(len(ticks), dtype=np.float64) * mm,
        outline_px=outline,
        relative_error=settled.error,
        unit=unit,
        side=_side(band),
    )


def _side(band: Band) -> int:
    """+1 where the body lies to the right of the direction along it (y down)."""
    turn = band.along[0] * band.across[1] - band.along[1] * band.across[0]
    return 1 if turn > 0 else -1
