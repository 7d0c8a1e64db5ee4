"""The very place of the cloth's own edges: where the stripes that run up to them end.

A cloth is the sum of its warp and its weft, so that along every column the rows show with the
slope one, and beyond the last column not at all, whatever lies there and however dark its shadow
is. Summed up over the columns that the edge is blurred or bent over, the slope tells its mean place
to a part of a pixel. Where a fringe carries the stripes on, it tells none (see `woven_end`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FlatCloth
from settscan.reading.profiles import Additive
from settscan.settings import OWN_EDGE, OwnEdgeSettings

Floats = NDArray[Any]
Mask = NDArray[np.bool_]


class OwnEdge(NamedTuple):
    """An edge of the cloth.

    Attributes:
        at: its mean place along the axis, in flat pixels; the first pixel begins at -0.5.
        error: standard error, flat pixels.
        wide: flat pixels over which it is blurred or bent.
        beyond: threads by which what was seen stands out beyond the last thread's own.
        beyond_sd: standard deviation of that.
    """

    at: float
    error: float
    wide: float
    beyond: float
    beyond_sd: float


Edges = tuple[OwnEdge | None, OwnEdge | None, OwnEdge | None, OwnEdge | None]


def own_edges(flat: FlatCloth, split: Additive, settings: OwnEdgeSettings = OWN_EDGE) -> Edges:
    """The edges (left, top, right, bottom) of the cloth that can be told; None for the others.

    Args:
        flat: the straightened cloth.
        split: its columns and rows.
        settings: see `OwnEdgeSettings`.
    """
    return each_side(lambda way: _own_edge(way, flat, split, settings))


def each_side(edge_of: Callable[[int], OwnEdge | None]) -> Edges:
    """Edges of the sides 0 to 3: left, top, right, bottom."""
    return edge_of(0), edge_of(1), edge_of(2), edge_of(3)


def _own_edge(
    way: int, flat: FlatCloth, split: Additive, settings: OwnEdgeSettings
) -> OwnEdge | None:
    """The edge on one side: 0 for left, 1 for top, 2 for right, 3 for bottom."""
    upright, after, margin = way % 2 == 0, way > 1, flat.margin[way]
    if not margin:
        return None
    pixels, mask = (
        picture if upright else picture.swapaxes(0, 1) for picture in (flat.pixels, split.mask)
    )
    across, blind = (
        (split.rows, split.blind_rows) if upright else (split.columns, split.blind_columns)
    )
    start = split.y0 if upright else split.x0
    part = pixels[start : start + len(across)]
    # Seen from beyond the edge, whichever way that is.
    inwards = (part[:, ::-1] if after else part)[:, : 2 * margin]
    shows = np.asarray(inwards.any(axis=2))
    # The photo may end within the margin, and aslant.
    first = int(np.argmax(shows.mean(axis=0) > settings.least_in_photo))
    near = (mask[:, ::-1] if after else mask)[:, :margin]
    use = (near.mean(axis=1) > settings.least_shown) & ~blind & shows[:, first:].all(axis=1)
    slopes = _slopes(inwards[:, first:], across, use, settings)
    edge = step(slopes, np.ones_like(slopes), settings.least_slope, settings)
    if edge is None:
        return None
    edge = edge._replace(at=first + edge.at, beyond=settings.beyond, beyond_sd=settings.beyond_sd)
    return placed(edge, pixels.shape[1], after=after)


def placed(edge: OwnEdge, length: int, *, after: bool) -> OwnEdge:
    """An edge counted in lines from the outer one inwards, in pixels of a flat picture.

    Args:
        edge: its place is 0 where the outermost line begins.
        length: lines of the picture.
        after: whether the outermost line is the picture's last, not its first.
    """
    return edge._replace(at=length - 0.5 - edge.at if after else edge.at - 0.5)


def within(mask: Mask, edges: Edges) -> Mask:
    """The mask (H, W) of what lies within the cloth's own edges, and is no part of their blur."""
    inside = mask.copy()
    for axis, first in ((1, 0), (0, 1)):
        lines = np.moveaxis(inside, axis, 0)
        start, stop = edges[first], edges[first + 2]
        if start is not None:
            lines[: max(0, math.ceil(start.at + 0.5 + start.wide / 2))] = False
        if stop is not None:
            lines[max(0, math.floor(stop.at + 0.5 - stop.wide / 2)) :] = False
    return inside


def _slopes(seen: Floats, across: Floats, use: Mask, settings: OwnEdgeSettings) -> Floats:
    """(K,) with which slope what crosses shows in each column.

    Args:
        seen: (N, K, 3) light.
        across: (N, 3) what crosses the columns.
        use: (N,) where the cloth shows.
        settings: see `OwnEdgeSettings`.
    """
    if use.sum() < settings.least_places:
        return np.zeros(seen.shape[1])
    along = np.linspace(-1, 1, len(across))[use]
    lamp = np.polynomial.legendre.legvander(along, settings.lamp_degree)
    smooth, _ = np.linalg.qr(lamp)
    stripes = across[use] - smooth @ (smooth.T @ across[use])
    lit = seen[use].astype(np.float64)
    # The stripes have no smooth part any more, so that of the light adds nothing to the sums.
    power = float((stripes**2).sum())
    return np.asarray(np.einsum("nkc,nc->k", lit, stripes) / max(power, 1e-12))


def step(
    shows: Floats, weight: Floats, least: float, settings: OwnEdgeSettings = OWN_EDGE
) -> OwnEdge | None:
    """Where something that shows in cloth alone begins, in columns from the start.

    Args:
        shows: (K,) how much of it shows, from beyond the edge inwards.
        weight: (K,) of each.
        least: that must show within.
        settings: see `OwnEdgeSettings`.

    Returns:
        None where it does not begin, or in no one place.
    """
    told = np.flatnonzero(weight >= settings.least_weight * np.median(weight))
    shows = np.interp(np.arange(len(shows)), told, shows[told])
    at, room = _parting(shows, weight), settings.least_room
    low = high = at
    for _ in range(settings.rounds):
        beyond = _mean(shows, weight, max(low - settings.near, 0), low)
        full = _mean(shows, weight, high, high + settings.near)
        if full <= max(least, beyond) or abs(beyond) > settings.most_beyond * full:
            return None
        share = (shows - beyond) / (full - beyond)
        low = at - int(np.argmax(np.append(share[:at][::-1] < 0.1, True))) - settings.beside
        high = at + int(np.argmax(np.append(share[at:] > 0.9, True))) + settings.beside
        if low < room or high > len(shows) - room:
            return None
    share = (shows[low:high] - beyond) / (full - beyond)
    noise = max(shows[:low].std(), shows[high : high + settings.near].std()) / (full - beyond)
    error = float(np.hypot(noise * np.sqrt(high - low), settings.least_error))
    wide = high - low - 2 * settings.beside
    return OwnEdge(float(high - share.sum()), error, wide, beyond=0.0, beyond_sd=0.0)


def _mean(values: Floats, weight: Floats, start: int, stop: int) -> float:
    """Of values from `start` to `stop` by weight; 0 where there is none."""
    part = slice(start, stop)
    return float((values[part] * weight[part]).sum() / max(float(weight[part].sum()), 1e-12))


def _parting(shows: Floats, weight: Floats) -> int:
    """Before which of its values a row (K,) is parted so that both parts vary the least."""
    total, before = weight.sum(), np.cumsum(weight)[:-1]
    sums = np.cumsum(shows * weight)
    first, second = sums[:-1] / (before + 1e-12), (sums[-1] - sums[:-1]) / (total - before + 1e-12)
    return int(np.argmax(before * (total - before) * (second - first) ** 2)) + 1
