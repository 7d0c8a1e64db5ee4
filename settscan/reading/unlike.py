"""Stripes that are none: what lies there does not add up to one yarn all across the cloth.

Something that was not noticed, a clear ruler or a fold, may lie there, or several stripes have
been taken for one. Neither its count nor its edges, which its neighbours share, can be trusted.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.doubts import doubt
from settscan.photo.flat import FlatCloth
from settscan.reading.misfit import misfit_of
from settscan.reading.model import AxisRead, ClothRead, StripeRead
from settscan.settings import READ, ReadSettings

Floats = NDArray[Any]


def with_unlike_doubted(
    read: ClothRead, flat: FlatCloth, settings: ReadSettings = READ
) -> ClothRead:
    """The reading with the stripes doubted that the picture is not like, and their neighbours."""
    misfit = misfit_of(flat, read)
    if misfit is None:
        return read
    height, width = flat.mask.shape
    return replace(
        read,
        columns=_doubted(read.columns, "columns", misfit.columns, width, settings),
        rows=_doubted(read.rows, "rows", misfit.rows, height, settings),
    )


def _doubted(
    axis: AxisRead, name: str, misfit: Floats, length: int, settings: ReadSettings
) -> AxisRead:
    """An axis of `length` pixels with its misfit (N,) in equal parts."""
    at = (np.arange(len(misfit)) + 0.5) * length / len(misfit) - 0.5
    stripes, doubts = list(axis.stripes), list(axis.doubts)
    for index, stripe in enumerate(axis.stripes):
        own = misfit[(at > stripe.start_px) & (at < stripe.end_px)]
        own = own[np.isfinite(own)]
        if stripe.cut or not len(own) or np.median(own) < settings.unlike_stripe:
            continue
        doubts.append(doubt("unlike-stripe", axis=name, stripe=index + 1))
        for beside in (index - 1, index + 1):
            if 0 <= beside < len(stripes):
                most = stripes[beside].high + stripe.threads
                stripes[beside] = _unsure(stripes[beside], high=most)
        stripes[index] = _unsure(stripes[index], low=1)
    return replace(axis, stripes=tuple(stripes), doubts=tuple(doubts))


def _unsure(stripe: StripeRead, *, low: int | None = None, high: int | None = None) -> StripeRead:
    """The stripe with a wider interval, as likely wrong as right."""
    return replace(
        stripe,
        low=stripe.low if low is None else low,
        high=stripe.high if high is None else high,
        chance=min(stripe.chance, 0.5),
    )
