"""Bars that lie on the cloth: rulers whose ticks cannot be read, laths, the edge of a book.

A bar has two long straight edges, and so has a stripe. But the stripes that cross a stripe go on
in it, since a cloth is the sum of its warp and its weft, while those that come to a bar end
there. So between two parallel edges the picture is compared, place by place, with what lies
beside it: in a cloth it follows with a slope of one, on a bar it does not follow at all. Where
crossing stripes are too faint to tell, a bar is known by its ends: a stripe runs on.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import Photo
from settscan.photo.ruler_bodies import holds, without_lamp
from settscan.photo.ruler_lines import Line, long_lines, pyramid
from settscan.photo.source import grey_of, reduced
from settscan.photo.view import Small
from settscan.settings import BARS, RULER, BarSettings

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two edges: a point (x, y) on the first, the unit vectors along and across, and sizes in px.

    `start` and `stop` are where both edges show, along the first.
    """

    origin: Array
    along: Array
    across: Array
    width: float
    start: float
    stop: float


def find_bars(photo: Photo, settings: BarSettings = BARS) -> tuple[Array, ...]:
    """The outlines of the bars in a photo, (4, 2) photo pixels each.

    Args:
        photo: the photo.
        settings: see `BarSettings`.
    """
    lines = long_lines(pyramid(grey_of(photo)), apart=RULER.edges_apart)
    small = reduced(photo, settings.pixels)
    side = float(max(photo.width, photo.height))
    edges = tuple(line for line in lines if not _in_cloth(line, small, side, settings))
    found: list[Array] = []
    for pair in _pairs(edges, side, settings):
        outline = _bar(pair, small, side, settings)
        if outline is None or any(holds(o, outline.mean(axis=0)) for o in found):
            continue
        found.append(outline)
    return tuple(found)


def _pairs(lines: tuple[Line, ...], side: float, s: BarSettings) -> list[_Pair]:
    """Parallel edges at the distance of a bar's width that lie beside each other, wide first."""
    pairs = []
    for k, one in enumerate(lines):
        for two in lines[k + 1 :]:
            turn = one.direction[0] * two.direction[1] - one.direction[1] * two.direction[0]
            away = one.distance(two.ends)
            if abs(turn) > s.most_turn or np.prod(np.sign(away)) <= 0:
                continue
            width = float(np.abs(away).mean())
            if not s.widths[0] * side < width < s.widths[1] * side:
                continue
            at = [np.sort((line.ends - one.ends[0]) @ one.direction) for line in (one, two)]
            start, stop = max(at[0][0], at[1][0]), min(at[0][1], at[1][1])
            if stop - start > s.least_length * side:
                across = np.array([-one.direction[1], one.direction[0]]) * np.sign(away.sum())
                pairs.append(_Pair(one.ends[0], one.direction, across, width, start, stop))
    return sorted(pairs, key=lambda p: -p.width)


def _in_cloth(line: Line, small: Small, side: float, s: BarSettings) -> bool:
    """Whether what crosses an edge goes on behind it: then it is the edge of a stripe."""
    along = line.direction
    length = float((line.ends[1] - line.ends[0]) @ along)
    pair = _Pair(line.ends[0], along, np.array([-along[1], along[0]]), s.beside * side, 0.0, length)
    sides = _two_sides(pair, 0.0, small, side, s)
    if len(sides[0]) * s.step < s.least_seen:
        return False
    slopes = [_follows(*sides, s), _follows(*sides[::-1], s)]
    told = [slope[1] for slope in slopes if slope is not None]
    return bool(told) and min(told) > s.least_cloth


_SIDES = np.array([-1.0, -0.75, -0.5, 0.5, 0.75, 1.0])  # places across an edge, in `beside`


def _strip(
    pair: _Pair, t: Array, u: Array, small: Small, s: BarSettings
) -> tuple[Array, NDArray[np.bool_]]:
    """The picture along and across two edges, (T, U, 3), and where it shows, (T, U)."""
    points = (
        pair.origin + t[:, None, None] * pair.along + (u * pair.width)[None, :, None] * pair.across
    )
    at = small.positions(points).astype(np.float32)
    strip = cv2.remap(
        small.picture, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
    )
    shown = np.all((at >= 0) & (at < np.array(small.picture.shape[1::-1])), axis=2)
    # Along the edges a mean over some threads, in which the weave cancels.
    strip, share = (
        cv2.blur(part, (1, s.smooth_steps), borderType=cv2.BORDER_REPLICATE)
        for part in (np.where(shown[..., None], strip, 0.0), shown.astype(np.float64))
    )
    return np.asarray(strip / np.maximum(share, 1e-6)[..., None]), np.asarray(shown)


def _bar(pair: _Pair, small: Small, side: float, s: BarSettings) -> Array | None:
    """The outline of the bar between two edges, None if it is a stripe or nothing tells."""
    step = s.step * side
    t = np.arange(pair.start - side, pair.stop + side, step)
    u = np.arange(-0.45, 1.46, 0.05)
    strip, shown = _strip(pair, t, u, small, s)
    inside = _median_shown(strip, shown & (u > 0.15) & (u < 0.85))
    between = (t > pair.start) & (t < pair.stop)
    within = shown[:, (u > 0) & (u < 1)]
    told, around = [], []
    for beside in (u < -0.1, u > 1.1):
        seen = between & shown[:, beside].all(axis=1)
        if seen.sum() * step < s.least_seen * side:
            continue
        near = strip[seen][:, beside].mean(axis=1)
        if np.abs(np.median(inside[seen] - near, axis=0)).max() < s.least_contrast:
            return None
        told.append(_follows(inside[seen], near, s))
        if told[-1] is not None and _adds_up(inside[seen], near):
            return None
        around.append(np.median(near, axis=0))
    slopes = [slope for slope in told if slope is not None]
    if slopes and (np.max(slopes, axis=0) > s.most_slopes).any():
        return None
    if min(_edge_shown(pair, edge, small, side, s) for edge in (0.0, 1.0)) < s.least_edge:
        return None  # lines of the weave, and no edge
    usual = np.median(inside[between], axis=0)
    plain = np.abs(inside - usual).max(axis=1) < s.plain
    if plain[between].mean() < s.least_plain:
        return None
    body = np.ix_(between, (u > 0.15) & (u < 0.85))
    even = np.abs(strip[body] - usual).max(axis=2) < s.plain
    if even[shown[body]].mean() < s.least_plain:
        return None  # plain in the mean alone, as a cloth is over some stripes
    for rim in ((u > 0.02) & (u < 0.15), (u > 0.85) & (u < 0.98)):
        off = np.abs(strip[between][:, rim].mean(axis=1) - usual).max(axis=1)
        if np.median(off) > s.plain:
            return None  # one of the edges lies beyond the bar
    plain = _going_on(plain & within.any(axis=1), between, s.smooth_steps)
    if not slopes and not _ends_in_cloth(inside, around, plain, within, s):
        return None
    ends = t[plain]
    edge = s.margin * pair.width
    corners = [
        (ends.min() - edge, -edge),
        (ends.max() + edge, -edge),
        (ends.max() + edge, pair.width + edge),
        (ends.min() - edge, pair.width + edge),
    ]
    return np.array([pair.origin + a * pair.along + c * pair.across for a, c in corners])


def _median_shown(strip: Array, shown: NDArray[np.bool_]) -> Array:
    """(T, 3) medians across (T, U, 3) of what is shown (T, U); 0 where nothing is."""
    light = np.zeros((len(strip), 3))
    some = shown.any(axis=1)
    light[some] = np.nanmedian(np.where(shown[some, :, None], strip[some], np.nan), axis=1)
    return light


def _going_on(plain: NDArray[np.bool_], between: NDArray[np.bool_], gap: int) -> NDArray[np.bool_]:
    """(T,) where a band is `plain`: between its edges, and on from there with no `gap` as long."""
    start, stop = np.flatnonzero(between)[[0, -1]]
    on = plain.copy()
    for way, at in ((1, stop), (-1, len(plain) - 1 - start)):
        ahead = on[::way][at:]
        gone = np.convolve(ahead, np.ones(gap), mode="full")[: len(ahead)] == 0
        gone[:gap] = False
        if gone.any():
            ahead[gone.argmax() :] = False
    return on


def _ends_in_cloth(
    inside: Array,
    around: list[Array],
    plain: NDArray[np.bool_],
    shown: NDArray[np.bool_],
    s: BarSettings,
) -> bool:
    """Whether a band ends at both ends with what lies beside it beyond: a stripe runs on.

    Args:
        inside: (T, 3) light along it and beyond.
        around: (3,) light on each side where that shows.
        plain: (T,) where it is as plain as a bar.
        shown: (T, U) what of it the photo shows.
        s: settings.
    """
    if len(around) < 2:
        return False
    first, last = np.flatnonzero(plain)[[0, -1]]
    usual = np.median(inside[first : last + 1], axis=0)
    for beyond in (slice(0, first), slice(last + 1, None)):
        seen = shown[beyond].all(axis=1)
        if seen.sum() < s.smooth_steps:
            return False
        light = np.median(inside[beyond][seen], axis=0)
        if np.abs(light - usual).max() < 2 * s.plain:
            return False
        if max(np.abs(light - side).max() for side in around) > s.plain:
            return False  # the rim of a cloth has the table on one side and at both ends
    return True


def _edge_shown(
    pair: _Pair,
    edge: float,
    small: Small,
    side: float,
    s: BarSettings,
) -> float:
    """Share of an edge (0 is the first, 1 the second) along which its two sides differ."""
    one, other = _two_sides(pair, edge, small, side, s)
    if not len(one):
        return 1.0  # it runs along the frame
    return float((np.abs(one - other).max(axis=1) > s.least_contrast).mean())


def _two_sides(
    pair: _Pair,
    edge: float,
    small: Small,
    side: float,
    s: BarSettings,
) -> tuple[Array, Array]:
    """Light (N, 3) close by on either side of an edge, where the photo shows both."""
    t = np.arange(pair.start, pair.stop, s.step * side)
    strip, shown = _strip(pair, t, edge + _SIDES * s.beside * side / pair.width, small, s)
    seen = strip[shown.all(axis=1)]
    return seen[:, _SIDES < 0].mean(axis=1), seen[:, _SIDES > 0].mean(axis=1)


def _follows(inside: Array, beside: Array, s: BarSettings) -> tuple[float, float] | None:
    """Slopes with which light inside (N, 3) follows that beside it; None where that is even.

    Slow changes are the lamp's and are left out. Warp and weft add up in linear light, of which
    the second slope is; in its root, as it is given, what is bright weighs less.
    """
    if float((without_lamp(beside) ** 2).mean()) < s.least_marks**2:
        return None
    root, linear = (
        abs(float((one * two).mean())) / float((two**2).mean())
        for one, two in (
            (without_lamp(inside), without_lamp(beside)),
            (without_lamp(inside**2), without_lamp(beside**2)),
        )
    )
    return root, linear


def _adds_up(inside: Array, beside: Array) -> bool:
    """Whether light inside (N, 3) is at most places that beside it and one light more.

    At a few something else may lie beside it, which sways a slope.
    """
    alone, together = (
        np.median(np.abs(light - np.median(light, axis=0)), axis=0).sum()
        for light in (inside**2, inside**2 - beside**2)
    )
    return bool(together < alone)
