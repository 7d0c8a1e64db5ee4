"""The bands of both axes as colours of yarns, each with the errors that it may have."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.photo.sums import as_matrix, counted, spread
from settscan.reading.grouping import Samples
from settscan.reading.profiles import Additive
from settscan.reading.stripes import Bands
from settscan.settings import GROUPS, GroupSettings

Floats = NDArray[Any]
Ints = NDArray[Any]

SIDES = 4  # the place of each among the shared trends, see `_trends`
OFFSETS = slice(5, 8)
BLUR = (8, 9)
SHARE = 10
CODED = (11, 12)
LUMA = np.array([0.299, 0.587, 0.114])  # of encoded values: ITU-T T.871 (JFIF)


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
    n, m = len(columns.levels), len(rows.levels)
    misfits = np.vstack(
        [
            _misfit(_parts_down(split, settings.parts), columns, settings) / share**2,
            _misfit(_parts_across(split, settings.parts), rows, settings) / (1 - share) ** 2,
        ]
    )
    threads = np.concatenate([np.maximum(b.widths / b.cell, 0.5) for b in (columns, rows)])
    halo = np.vstack([_contrast(colours[:n]), _contrast(colours[n:])]) / threads[:, None]
    # What the frame cuts or the edge of the cloth spoils has a neighbour that is not seen.
    halo[[0, n - 1, n, -1]] *= 2.0
    # The lamp lights what is seen, both threads of each crossing, and not one yarn alone.
    lit = np.vstack(
        [columns.levels / share, (rows.levels + split.columns.mean(axis=0)) / (1 - share)]
    )
    misfits = _of_means(misfits, lit, settings)
    away = colours - mean_colour(colours, threads)
    trends, spreads = _trends(lit, halo, away, columns, rows, share, settings)
    means = [np.average(colours[part], axis=0, weights=threads[part]) for part in _halves(n)]
    # A thread that lies closer hides more of what crosses it.
    across = np.vstack([colours[:n] - means[1], colours[n:] - means[0]])
    errors = _errors(colours, misfits, halo, across, threads, settings)
    clear = Samples(
        colours=colours,
        errors=_errors(colours, misfits, np.zeros_like(halo), across, threads, settings),
        trends=np.where(np.isin(np.arange(len(spreads)), (*BLUR, *CODED)), 0.0, trends),
        spreads=spreads,
    )
    return Samples(
        colours=colours,
        errors=errors,
        trends=trends,
        spreads=spreads,
        beside=np.vstack([_beside(n), np.where(_beside(m) < 0, -1, _beside(m) + n)]),
        clear=clear,
    )


def _beside(count: int) -> Ints:
    """(count, 2) the bands before and after each of one axis; -1 for none."""
    at = np.arange(count)
    return np.stack([at - 1, np.where(at + 1 < count, at + 1, -1)], axis=1)


def mean_colour(colours: Floats, threads: Floats) -> Floats:
    """(3,) the mean of all yarns (N, 3), about which an error of the share turns them."""
    return np.asarray(np.average(colours, axis=0, weights=threads))


def _halves(n: int) -> tuple[slice, slice]:
    """Where the columns and the rows stand among the samples."""
    return slice(0, n), slice(n, None)


def _contrast(colours: Floats) -> Floats:
    """(n, 3) what each band's colour differs from the mean of its neighbours'."""
    wide = np.pad(colours, ((1, 1), (0, 0)), mode="reflect" if len(colours) > 1 else "edge")
    return np.asarray(colours - (wide[:-2] + wide[2:]) / 2)


def _hue_contrast(light: Floats) -> Floats:
    """(n, 3) what each band would lose of its hue, in linear light, to the mean of its neighbours'.

    A coded picture holds brightness pixel by pixel and hues in half as many; both are of encoded
    values.
    """
    held = np.clip(light, 1e-4, 1.0)
    code = held ** (1 / 2.2)
    apart = _contrast(code)
    hue = apart - (apart @ LUMA)[:, None]
    return np.asarray(hue * 2.2 * held / code)


def _parts_down(split: Additive, parts: int) -> tuple[Floats, Floats]:
    """Sums of the residual down each column, (parts, W, 3), and how many pixels show, likewise."""
    ends = np.linspace(0, len(split.mask), parts + 1).astype(int)
    lying = as_matrix(split.residual)
    found = [
        np.ones(stop - start, np.float32) @ lying[start:stop] for start, stop in pairwise(ends)
    ]
    seen = [counted(split.mask[start:stop])[0] for start, stop in pairwise(ends)]
    return np.stack(found).reshape(parts, -1, 3).astype(np.float64), np.stack(seen)


def _parts_across(split: Additive, parts: int) -> tuple[Floats, Floats]:
    """The same across each row: (parts, H, 3) and (parts, H)."""
    ends = np.linspace(0, split.mask.shape[1], parts + 1).astype(int)
    lying = as_matrix(split.residual)
    found = [
        lying[:, 3 * start : 3 * stop] @ spread(np.ones(stop - start))
        for start, stop in pairwise(ends)
    ]
    seen = [counted(split.mask[:, start:stop])[1] for start, stop in pairwise(ends)]
    return np.stack(found).astype(np.float64), np.stack(seen)


def _misfit(sums: tuple[Floats, Floats], bands: Bands, s: GroupSettings) -> Floats:
    """(n, 3, 3) scatter of each band's level from part to part along it, linear light, squared.

    If columns and rows were all there is, each part of a band would have the level of the whole.
    What is left is mostly light, which all channels share: so hues are known far better than
    levels are.

    Args:
        sums: of the residual over each part of each element of the axis, (parts, N, 3), and how
            many pixels of it show, (parts, N).
        bands: n bands along the axis.
        s: settings.
    """
    length = sums[0].shape[1]
    starts = np.clip(np.round(bands.edges[:-1] + 0.5).astype(int), 0, length - 1)
    parts, seen = (np.add.reduceat(p, starts, axis=1) for p in sums)
    level = parts / np.maximum(seen, 1)[..., None]
    full = seen.max(axis=0, keepdims=True)
    weight = np.where(seen > s.least_seen * full, seen, 0.0)
    scatter = np.einsum("pn,pni,pnj->nij", weight, level, level)
    scatter /= np.maximum(weight.sum(axis=0), 1e-9)[:, None, None]
    usual = _at_least(scatter, _usual(scatter, s))
    # A band of which only a corner shows is known the less.
    shown = seen.sum(axis=0) / np.maximum(np.diff(np.append(starts, length)), 1)
    cover = np.clip(shown / max(float(shown.max()), 1.0), 0.05, 1.0)
    # What a narrow band shows of itself is less, and what is off in it is more of its level.
    own = bands.own_share()
    return np.asarray(usual / (cover * own**2)[:, None, None])


def _of_means(misfits: Floats, lit: Floats, s: GroupSettings) -> Floats:
    """Covariances (n, 3, 3) of the levels of whole bands, from those of their parts.

    Light is alike in neighbouring parts of a band, so few of them are independent. It makes what
    is `lit` (n, 3) brighter or darker and leaves its hue, of which more parts are witnesses.
    """
    way = lit / np.maximum(np.linalg.norm(lit, axis=1, keepdims=True), 1e-9)
    light = way[:, :, None] * way[:, None]
    kept = light / np.sqrt(s.independent_parts) + (np.eye(3) - light) / np.sqrt(s.independent_hues)
    return np.asarray(kept @ misfits @ kept)


def _usual(scatter: Floats, s: GroupSettings) -> Floats:
    """(3, 3) the shape that all scatters (n, 3, 3) have in common, at their median size."""
    scatter = scatter + s.least_light**2 * np.eye(3)
    size = np.trace(scatter, axis1=1, axis2=2)
    return np.asarray((scatter / size[:, None, None]).mean(axis=0) * np.median(size))


def _at_least(scatter: Floats, least: Floats) -> Floats:
    """Covariances (n, 3, 3), in no direction smaller than `least` (3, 3)."""
    root = np.linalg.cholesky(least)
    inverse = np.linalg.inv(root)
    size, way = np.linalg.eigh(inverse @ scatter @ inverse.T)
    grown = way * np.maximum(size, 1.0)[:, None, :] @ way.transpose(0, 2, 1)
    return np.asarray(root @ grown @ root.T)


def _errors(
    colours: Floats,
    misfits: Floats,
    halo: Floats,
    across: Floats,
    threads: Floats,
    s: GroupSettings,
) -> Floats:
    """Covariance of each band's colour (n, 3, 3) of its own."""
    light = np.maximum(colours, 0.0)
    hue = s.thread_tint**2 / threads + s.tint**2
    shade = s.thread_scatter**2 / threads + s.band_scatter**2
    cover = s.cover_scatter**2 / threads
    # Nothing is darker than black: what a level lies below is an error, of every channel.
    below = np.minimum(colours, 0.0).min(axis=1)
    alone = s.least_light**2 + below[:, None] ** 2 + hue[:, None] * light**2
    return np.asarray(
        misfits
        + alone[:, :, None] * np.eye(3)
        + shade[:, None, None] * colours[:, :, None] * colours[:, None]
        + cover[:, None, None] * across[:, :, None] * across[:, None]
        + s.dilution**2 * halo[:, :, None] * halo[:, None]
    )


def _trends(
    lit: Floats,
    halo: Floats,
    away: Floats,
    columns: Bands,
    rows: Bands,
    share: float,
    s: GroupSettings,
) -> tuple[Floats, Floats]:
    """Change of the colours per unit of each shared trend, (n, 3, 13), and their spreads (13,).

    Light that falls off along x or y (slope and bend), a weft that lies lighter or darker than
    the warp, the offset of the model, which moves warp and weft against each other, and blur or
    sharpening along x or y, which makes narrow bands more or less like their neighbours, the
    model's share, and the coding of the file along x or y, which blurs hues alone.
    """
    n = len(columns.levels)
    trends = np.zeros((len(lit), 3, 13))
    for part, bands, first in zip(_halves(n), (columns, rows), (0, 2), strict=True):
        middle = (bands.edges[:-1] + bands.edges[1:]) / 2
        at = 2 * (middle - bands.edges[0]) / max(bands.edges[-1] - bands.edges[0], 1e-9) - 1
        trends[part, :, first] = lit[part] * at[:, None]
        trends[part, :, first + 1] = lit[part] * (1.5 * at**2 - 0.5)[:, None]
    trends[n:, :, SIDES] = lit[n:]
    trends[:n, :, OFFSETS] = np.eye(3) / share
    trends[n:, :, OFFSETS] = -np.eye(3) / (1 - share)
    trends[:n, :, BLUR[0]] = halo[:n]
    trends[n:, :, BLUR[1]] = halo[n:]
    # An error of the share scales warp and weft against each other, about the mean light.
    trends[:n, :, SHARE] = -away[:n] / share
    trends[n:, :, SHARE] = away[n:] / (1 - share)
    spreads = [s.slope, s.bend, s.slope, s.bend, s.sides, *[s.offset] * 3]
    spreads += [s.dilution, s.dilution, s.share]
    weights = share, 1 - share
    for part, bands, place, weight in zip(_halves(n), (columns, rows), CODED, weights, strict=True):
        threads = np.maximum(bands.widths / bands.cell, 0.5)
        seen = lit[part] * weight
        trends[part, :, place] = _hue_contrast(seen) / weight / threads[:, None]
        # A thread of so many pixels holds two of hue, and its inner part is free of the others.
        spreads.append(max(s.coded_px * (2 / bands.cell - 2 / s.uncoded_px), 1e-6))
    return trends, np.array(spreads)
