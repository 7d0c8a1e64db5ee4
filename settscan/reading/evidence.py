"""What the reader saw, drawn over the straightened cloth, for a person to check."""

from __future__ import annotations

import numpy as np

from settscan.photo.draw import Line, Mark, Picture, draw, flat_picture
from settscan.photo.flat import CardFound, FlatCloth, Photo, RulerFound
from settscan.reading.model import AxisRead, ClothRead

_LONGEST_PX = 1800


def evidence_png(
    photo: Photo,
    flat: FlatCloth,
    read: ClothRead,
    *,
    rulers: tuple[RulerFound, ...],
    card: CardFound | None,
    warp_is_columns: bool,
) -> bytes:
    """PNG of the straightened cloth with the edges of its stripes."""
    picture: Picture = flat_picture(flat, _LONGEST_PX, 4.0)
    factor = picture.shape[1] / flat.pixels.shape[1]
    marks: list[Mark] = []
    for axis, other in ((read.columns, picture.shape[0]), (read.rows, picture.shape[1])):
        for at in _edges(axis) * factor:
            ends = ((at, 0.0), (at, float(other)))
            if axis is read.rows:
                ends = ((0.0, at), (float(other), at))
            marks.append(Line(points=ends, colour=(255, 255, 255), opacity=0.6))
    return draw(picture, marks)


def _edges(axis: AxisRead) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.unique([edge for band in axis.bands for edge in (band.start_px, band.end_px)])
