"""How badly the stripes that were read explain the picture, place by place.

In linear light a woven check is close to a sum: something of the column's yarn and something of
the row's. With the levels of the yarns fitted, what is left over is weave texture, which averages
out over a few threads, and mistakes, which do not: a wrong stripe shows as a line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FlatCloth
from settscan.photo.sums import banded
from settscan.reading.model import AxisRead, BandSeen, ClothRead

Floats = NDArray[np.float64]

_MOST_CELLS = 450  # along the longer side: about what the small picture of it shows
_AVERAGE_CELLS = 4  # a cell is about a thread, and no common weave repeats in more than four
_ROUNDS = 3  # of fitting, each less led by what does not fit


@dataclass(frozen=True, slots=True, kw_only=True)
class Misfit:
    """What is left of the picture, as a share of its contrast (0 is a perfect fit).

    Attributes:
        blocks: (h, w) on a grid of cells over the whole flat cloth; NaN where there is none.
        columns: (w,) of the mean over each column of cells; NaN likewise.
        rows: (h,) of the mean over each row.
        typical: median of `blocks`.
    """

    blocks: Floats
    columns: Floats
    rows: Floats
    typical: float


def misfit_of(flat: FlatCloth, read: ClothRead) -> Misfit | None:
    """The misfit of a reading; None where there is no band or no contrast to explain."""
    if not read.columns.bands or not read.rows.bands:
        return None
    x_cuts = _cuts(flat.pixels.shape[1], flat.pixels.shape, read.columns)
    y_cuts = _cuts(flat.pixels.shape[0], flat.pixels.shape, read.rows)
    light, weight = _cell_means(flat, x_cuts, y_cuts)
    along, down = (
        _shares(axis.bands, cuts, read)
        for axis, cuts in ((read.columns, x_cuts), (read.rows, y_cuts))
    )
    weight = weight * np.outer(down.sum(axis=1), along.sum(axis=1))
    weight[weight < 0.5] = 0.0
    total = weight.sum()
    if total <= 0:
        return None
    mean = np.einsum("yx,yxc->c", weight, light) / total
    contrast = float(np.sqrt(np.einsum("yx,yxc->", weight, (light - mean) ** 2) / total))
    if contrast < 1e-4:
        return None
    left = (light - _fitted(light, weight, along, down)) / contrast
    blocks = _averaged(left, weight)
    return Misfit(
        blocks=blocks,
        columns=_size(left, weight, axis=0),
        rows=_size(left, weight, axis=1),
        typical=float(np.nanmedian(blocks)),
    )


def _cuts(length: int, shape: tuple[int, ...], axis: AxisRead) -> NDArray[np.intp]:
    """Edges of the cells along one axis: about a thread each, whole pixels."""
    least = max(shape[0], shape[1]) / _MOST_CELLS
    cell = least if axis.pitch_px is None else max(least, float(axis.pitch_px.value))
    number = max(1, round(length / max(cell, 1.0)))
    return np.linspace(0, length, number + 1).astype(np.intp)


def _cell_means(
    flat: FlatCloth, x_cuts: NDArray[np.intp], y_cuts: NDArray[np.intp]
) -> tuple[Floats, Floats]:
    """Mean light (h, w, 3) of the cloth in each cell, and the share of cloth in it (h, w)."""
    light, covered = (
        np.add.reduceat(sums, x_cuts[:-1], axis=1, dtype=np.float64)
        for sums in banded(flat.pixels, flat.opened(), y_cuts)
    )
    light /= np.maximum(covered, 1.0)[:, :, None]
    return light, covered / np.outer(np.diff(y_cuts), np.diff(x_cuts))


def _shares(bands: tuple[BandSeen, ...], cuts: NDArray[np.intp], read: ClothRead) -> Floats:
    """(cells, yarns): how much of each cell the bands of each yarn cover."""
    keys = [yarn.key for yarn in read.yarns]
    edges = cuts - 0.5  # the first pixel reaches from -0.5 to 0.5
    shares = np.zeros((len(cuts) - 1, len(keys)))
    for band in bands:
        low = np.maximum(edges[:-1], band.start_px)
        high = np.minimum(edges[1:], band.end_px)
        shares[:, keys.index(band.yarn)] += np.maximum(high - low, 0) / np.diff(edges)
    return shares


def _fitted(light: Floats, weight: Floats, along: Floats, down: Floats) -> Floats:
    """The sum of column and row levels, one level per yarn and axis, that fits the light best.

    Rounds of least squares, in which cells count less the worse they fit (least absolute
    residuals), so that a mistake stays where it is.
    """
    yarns = along.shape[1]
    trust = weight
    fitted = np.zeros_like(light)
    for _ in range(_ROUNDS):
        cross = down.T @ trust @ along
        normal = np.block(
            [
                [along.T * trust.sum(axis=0) @ along, cross.T],
                [cross, down.T * trust.sum(axis=1) @ down],
            ]
        )
        seen = trust[:, :, None] * light
        right = np.vstack([along.T @ seen.sum(axis=0), down.T @ seen.sum(axis=1)])
        levels = np.linalg.lstsq(normal, right, rcond=1e-9)[0]
        fitted = (along @ levels[:yarns])[None] + (down @ levels[yarns:])[:, None]
        off = np.linalg.norm(light - fitted, axis=2)
        usual = float(np.median(off[weight > 0]))
        trust = weight / np.maximum(off, max(usual, 1e-6))
    return np.asarray(fitted)


def _averaged(left: Floats, weight: Floats) -> Floats:
    """(h, w) length of the residual averaged over the cells about each; NaN without cloth."""
    total = np.dstack([left * weight[:, :, None], weight])
    for axis in (0, 1):
        total = _running(total, axis)
    cover = total[:, :, 3]
    with np.errstate(invalid="ignore", divide="ignore"):
        size = np.linalg.norm(total[:, :, :3], axis=2) / cover
    return np.where(weight > 0, size, np.nan)


def _running(values: Floats, axis: int) -> Floats:
    """Sums over a few neighbouring cells along an axis."""
    before = _AVERAGE_CELLS // 2
    room = [(0, 0)] * values.ndim
    room[axis] = (before + 1, _AVERAGE_CELLS - before - 1)
    sums = np.cumsum(np.pad(values, room), axis=axis)
    length = values.shape[axis]
    high = np.take(sums, np.arange(length) + _AVERAGE_CELLS, axis=axis)
    return np.asarray(high - np.take(sums, np.arange(length), axis=axis))


def _size(left: Floats, weight: Floats, axis: int) -> Floats:
    """Length of the mean residual along an axis; NaN where there is no cloth."""
    total = weight.sum(axis=axis)
    mean = (left * weight[:, :, None]).sum(axis=axis) / np.maximum(total, 1e-9)[:, None]
    return np.where(total > 0, np.linalg.norm(mean, axis=1), np.nan)
