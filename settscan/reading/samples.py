"""The bands of both axes as colours of yarns, each with the errors that it may have."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.grouping import Samples
from settscan.reading.profiles import Additive
from settscan.reading.stripes import Bands
from settscan.settings import GROUPS, GroupSettings

Floats = NDArray[Any]


def samples_of(
    split: Additive,
    columns: Bands,
    rows: Bands,
    share: float,
    offset: Floats,
    settings: GroupSettings = GROUPS,
) -> Samples:
    """The yarn colours that the bands show at a share and an offset of the additive model.

    Args:
        split: the separated picture, whose residual tells how well the sum holds.
        columns: n bands of the columns.
        rows: m bands of the rows.
        share: k of the model, what the column threads weigh.
        offset: (3,) c of the model.
        settings: see `GroupSettings`.

    Returns:
        n + m samples, the columns first.
    """
    colours = np.vstack([(columns.levels - offset) / share, (rows.levels + offset) / (1 - share)])
    misfits = np.vstack(
        [
            _misfit(split.residual, split.mask, columns, settings) / share,
            _misfit(split.residual.transpose(1, 0, 2), split.mask.T, rows, settings) / (1 - share),
        ]
    )
    n = len(columns.levels)
    errors = [
        *_errors(colours[:n], misfits[:n], columns, settings),
        *_errors(colours[n:], misfits[n:], rows, settings),
    ]
    # The lamp lights what is seen, both threads of each crossing, and not one yarn alone.
    lit = np.vstack(
        [columns.levels / share, (rows.levels + split.columns.mean(axis=0)) / (1 - share)]
    )
    trends, spreads = _trends(lit, columns, rows, share, settings)
    return Samples(colours=colours, errors=np.array(errors), trends=trends, spreads=spreads)


def _misfit(residual: Floats, mask: NDArray[np.bool_], bands: Bands, s: GroupSettings) -> Floats:
    """(n, 3) scatter of each band's level from part to part along it, linear light.

    If columns and rows were all there is, each part of a band would have the level of the whole.
    """
    height = residual.shape[0]
    ends = np.linspace(0, height, s.parts + 1).astype(int)
    parts = np.add.reduceat(residual, ends[:-1], axis=0, dtype=np.float64)
    seen = np.add.reduceat(mask, ends[:-1], axis=0, dtype=np.float64)
    starts = np.clip(np.round(bands.edges[:-1] + 0.5).astype(int), 0, residual.shape[1] - 1)
    parts, seen = (np.add.reduceat(p, starts, axis=1) for p in (parts, seen))
    level = parts / np.maximum(seen, 1)[..., None]
    full = seen.max(axis=0, keepdims=True)
    weight = np.where(seen > s.least_seen * full, seen, 0.0)[..., None]
    scatter = np.sqrt((weight * level**2).sum(axis=0) / np.maximum(weight.sum(axis=0), 1e-9))
    usual = np.median(scatter, axis=0)
    return np.asarray(np.maximum(scatter, usual))


def _errors(colours: Floats, misfits: Floats, bands: Bands, s: GroupSettings) -> list[Floats]:
    """Covariance of each band's colour (3, 3)."""
    threads = np.maximum(bands.widths / bands.cell, 0.5)
    last = len(colours) - 1
    found = []
    for k, colour in enumerate(colours):
        own = np.diag(misfits[k] ** 2 / s.independent_parts + s.least_light**2)
        shade = s.thread_scatter**2 / threads[k] + s.band_scatter**2
        near = [colours[j] for j in (k - 1, k + 1) if 0 <= j <= last]
        beside = np.mean(near, axis=0) if near else colour
        # What the frame cuts or the edge of the cloth spoils has a neighbour that is not seen.
        reach = s.dilution / threads[k] * (2.0 if k in (0, last) else 1.0)
        contrast = colour - beside
        hue = s.thread_tint**2 / threads[k] + s.tint**2
        tint = hue * np.diag(np.maximum(colour, 0.0) ** 2)
        found.append(
            own + tint + shade * np.outer(colour, colour) + reach**2 * np.outer(contrast, contrast)
        )
    return found


def _trends(
    lit: Floats, columns: Bands, rows: Bands, share: float, s: GroupSettings
) -> tuple[Floats, Floats]:
    """Change of the colours per unit of each shared trend, (n, 3, 8), and their spreads (8,).

    Light that falls off along x or y (slope and bend), a weft that lies lighter or darker than
    the warp, and the offset of the model, which moves warp and weft against each other.
    """
    n = len(columns.levels)
    trends = np.zeros((len(lit), 3, 8))
    for part, bands, first in ((slice(0, n), columns, 0), (slice(n, None), rows, 2)):
        middle = (bands.edges[:-1] + bands.edges[1:]) / 2
        at = 2 * (middle - bands.edges[0]) / max(bands.edges[-1] - bands.edges[0], 1e-9) - 1
        trends[part, :, first] = lit[part] * at[:, None]
        trends[part, :, first + 1] = lit[part] * (1.5 * at**2 - 0.5)[:, None]
    trends[n:, :, 4] = lit[n:]
    trends[:n, :, 5:] = np.eye(3) / share
    trends[n:, :, 5:] = -np.eye(3) / (1 - share)
    # An error of the share scales warp and weft against each other, about the mean light.
    sides = np.hypot(s.sides, s.share / (share * (1 - share)))
    offset = np.hypot(s.offset, s.share * float(lit.mean()))
    spreads = [s.slope, s.bend, s.slope, s.bend, sides, *[offset] * 3]
    return trends, np.array(spreads)
