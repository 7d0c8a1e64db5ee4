"""Where the things that were read lie, as plain data: for whoever draws them over the pictures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from settscan.photo.flat import FlatCloth, RulerFound
from settscan.reading.model import AxisRead, ClothRead

_PLACES = 5


def places_data(
    flat: FlatCloth, read: ClothRead, rulers: Sequence[RulerFound] = ()
) -> dict[str, Any]:
    """Corners and ruler in photo pixels; stripes as shares of the straightened picture's sides.

    Args:
        flat: the straightened cloth.
        read: what was read from it.
        rulers: those found in the photo; the ends of the first one are told.

    Returns:
        `size` of the straightened cloth (width, height) in its pixels; `corners` of it in the
        photo, from the top left clockwise; `ruler` with its ends and their distance, or None;
        `columns` and `rows` with their stripes and `pitch`, the share of the side that one
        thread takes (None if not known).
    """
    height, width = flat.pixels.shape[:2]
    edges = np.array(
        [(-0.5, -0.5), (width - 0.5, -0.5), (width - 0.5, height - 0.5), (-0.5, height - 0.5)]
    )
    corners = flat.photo_points(edges)
    return {
        "size": [width, height],
        "corners": [[round(float(x), 1), round(float(y), 1)] for x, y in corners],
        "ruler": _ruler(rulers[0]) if rulers else None,
        "columns": _axis(read.columns, width),
        "rows": _axis(read.rows, height),
    }


def _ruler(ruler: RulerFound) -> dict[str, float]:
    """The first and the last tick, and how far apart they are."""
    (x0, y0), (x1, y1) = ruler.ticks_px[0], ruler.ticks_px[-1]
    known = ruler.ticks_mm
    length = ruler.length_mm if known is None else abs(float(known[-1] - known[0]))
    return {
        "x0": round(float(x0), 1),
        "y0": round(float(y0), 1),
        "x1": round(float(x1), 1),
        "y1": round(float(y1), 1),
        "length_mm": round(length, 3),
    }


def _axis(axis: AxisRead, side_px: int) -> dict[str, Any]:
    """The stripes in picture order."""
    return {
        "pitch": None if axis.pitch_px is None else float(axis.pitch_px.value) / side_px,
        "stripes": [
            {
                "yarn": stripe.yarn,
                "threads": stripe.threads,
                "low": stripe.low,
                "high": stripe.high,
                "chance": round(stripe.chance, 4),
                "cut": stripe.cut,
                "start": round((stripe.start_px + 0.5) / side_px, _PLACES),
                "end": round((stripe.end_px + 0.5) / side_px, _PLACES),
            }
            for stripe in axis.stripes
        ],
    }
