"""The bodies of rulers: bands between two long edges in which the cloth does not go on.

In a small picture millimetres blur into each other, but a body is still seen: the light along it
is steady, or, where it is of clear plastic, a faded copy of the light beside it. What crosses the
edge of a stripe goes on in it undimmed, since a cloth is the sum of its warp and its weft.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_far_edge import far_edges
from settscan.photo.ruler_lines import Grey, Line
from settscan.settings import MARKS, MarkSettings

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Body:
    """A band that may be a ruler.

    Attributes:
        corners: (4, 2) px: along one edge, and back along the other.
        width: mean distance of the edges in px.
    """

    corners: Array
    width: float


@dataclass(frozen=True, slots=True)
class _Sides:
    """What lies on the two sides of each line, first that of positive distance.

    Attributes:
        like_body: (N, 2) how plainly a body begins there, 0 to 1.
        light: (N, 2) its mean grey, 0 to 1.
    """

    like_body: Array
    light: Array


def bodies(grey: Grey, lines: tuple[Line, ...], s: MarkSettings = MARKS) -> list[Body]:
    """The likeliest bodies in a picture, likeliest first.

    Args:
        grey: (H, W) the picture.
        lines: its long straight edges, in its own pixels.
        s: settings.
    """
    sides = _sides(grey, lines, s)
    pairs = sorted(_pairs(grey, lines, sides, s), reverse=True)
    whole = (_between(lines[k], lines[j]) for _, k, j in pairs)
    first = _different(whole, [], s.most_bodies)
    first += _different(_with_far_edge(grey, lines, sides, s), first, s.most_alone)
    cut = sorted(_cut_by_frame(grey, lines, sides, s), key=lambda item: -item[0])
    return first + _different((body for _, body in cut), first, s.most_cut)


def _different(some: Iterable[Body], known: list[Body], most: int) -> list[Body]:
    """The first bodies that are like none before."""
    found: list[Body] = []
    for body in some:
        if len(found) >= most:
            break
        if not any(_same(body, other) for other in (*known, *found)):
            found.append(body)
    return found


def _with_far_edge(
    grey: Grey, lines: tuple[Line, ...], sides: _Sides, s: MarkSettings
) -> Iterator[Body]:
    """Bodies of which one edge alone is among the lines, the plainest edge first."""
    length = np.array([ln.length for ln in lines])
    rank = sides.like_body * np.sqrt(length / max(grey.shape))[:, None]
    for place in np.argsort(-rank, axis=None)[: s.most_edges].tolist():
        k, side = divmod(place, 2)
        if sides.like_body[k, side] < s.least_cut_like:
            continue
        line = lines[k]
        way = line.across * (1.0 if side == 0 else -1.0)
        for far in far_edges(grey, line, way, s):
            ends = line.ends + np.array(far)[:, None] * way
            yield Body(np.array([*line.ends, *ends[::-1]]), float(np.mean(far)))


def _cut_by_frame(
    grey: Grey, lines: tuple[Line, ...], sides: _Sides, s: MarkSettings
) -> list[tuple[float, Body]]:
    """Bodies of which one edge shows and the other lies beyond the frame, or close to it."""
    size = np.array(grey.shape[::-1], dtype=np.float64)
    found = []
    for k, line in enumerate(lines):
        across = line.across
        for side, turn in ((0, 1.0), (1, -1.0)):
            like = float(sides.like_body[k, side])
            if like < s.least_cut_like:
                continue
            way = turn * across
            with np.errstate(divide="ignore"):
                room = np.where(way > 0, (size - 1 - line.ends) / way, -line.ends / way)
            room = np.where(np.abs(way) > 1e-6, room, np.inf).min(axis=1)
            width = float(room.max())
            if not s.least_width < width < s.most_width * max(size) / 2 or room.min() < 0:
                continue
            far = line.ends + width * way
            corners = np.array([*line.ends, *far[::-1]])
            length = line.length
            found.append((like * float(np.sqrt(length / max(size))), Body(corners, width)))
    return found


def _sides(grey: Grey, lines: tuple[Line, ...], s: MarkSettings) -> _Sides:
    like, light = np.zeros((len(lines), 2)), np.zeros((len(lines), 2))
    for k, line in enumerate(lines):
        strip = _beside(grey, line, s)
        if strip is None:
            continue
        mean, rest = strip.mean(axis=0), without_lamp(strip)
        for side in (0, 1):
            order = slice(None) if side == 0 else slice(None, None, -1)
            across, level = rest[:, order], mean[order]
            light[k, side] = level[_INSIDE].mean()
            step = abs(level[_INSIDE].mean() - level[_BEYOND].mean())
            inside, beyond = across[:, _INSIDE].mean(axis=1), across[:, _BEYOND].mean(axis=1)
            spread = float(beyond.std())
            if spread < s.plain_cloth:
                like[k, side] = s.like_unknown if step > s.least_step else 0.0
                continue
            slope = abs(float((inside * beyond).mean())) / spread**2
            like[k, side] = np.clip(1 - max(slope, 0.8 * float(inside.std()) / spread), 0, 1)
    return _Sides(like, light)


_BEYOND, _INSIDE = slice(0, 3), slice(6, 9)  # of the eleven places across a line


def _beside(grey: Grey, line: Line, s: MarkSettings) -> Array | None:
    """(T, 11) greys along a line, from one side of it to the other; None where it hardly shows."""
    along, across, length = line.direction, line.across, line.length
    t = np.arange(0.0, length, max(s.step_px, length / s.most_places))
    at = line.ends[0] + t[:, None, None] * along + _ACROSS[None, :, None] * across
    size = np.array(grey.shape[::-1])
    shown = ((at > 1) & (at < size - 2)).all(axis=(1, 2))
    if shown.sum() < s.least_places:
        return None
    at = at[shown].astype(np.float32)
    strip = cv2.remap(grey, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    smooth = cv2.blur(strip.astype(np.float32) / 255, (1, 5), borderType=cv2.BORDER_REPLICATE)
    return np.asarray(smooth, dtype=np.float64)


_ACROSS = np.arange(-10.0, 11.0, 2.0)  # px


def without_lamp(strip: Array) -> Array:
    """What is left along each column (T, C) without slow changes of light."""
    x = np.linspace(-1, 1, len(strip))
    basis = np.stack([np.ones_like(x), x, x**2], axis=1)
    return np.asarray(strip - basis @ np.linalg.lstsq(basis, strip, rcond=None)[0])


def _pairs(
    grey: Grey, lines: tuple[Line, ...], sides: _Sides, s: MarkSettings
) -> list[tuple[float, int, int]]:
    """Parallel edges with a body between them: how likely each is, and their two lines."""
    if not lines:
        return []
    side = max(grey.shape)
    ends = np.stack([line.ends for line in lines])
    way = np.stack([line.direction for line in lines])
    turn = np.outer(way[:, 0], way[:, 1]) - np.outer(way[:, 1], way[:, 0])
    offset = ends[None, :, :, :] - ends[:, None, :1, :]  # (N, N, 2 ends, x y), from the first line
    away = way[:, None, None, 0] * offset[..., 1] - way[:, None, None, 1] * offset[..., 0]
    along = np.sort((offset * way[:, None, None, :]).sum(axis=3), axis=2)
    width = np.abs(away).mean(axis=2)
    own = along[np.arange(len(lines)), np.arange(len(lines))][:, None, :]
    beside = np.minimum(along[..., 1], own[..., 1]) - np.maximum(along[..., 0], own[..., 0])
    whole = np.maximum(along[..., 1], own[..., 1]) - np.minimum(along[..., 0], own[..., 0])
    toward = (away.mean(axis=2) < 0).astype(np.int64)  # on which side of the line the other lies
    first = np.arange(len(lines))[:, None]
    like = sides.like_body[first, toward]
    light = sides.light[first, toward]
    clear = away.prod(axis=2) > 0
    good = clear & clear.T & (np.abs(turn) < s.most_turn)
    good &= (width > s.least_width) & (width < s.most_width * side)
    good &= (np.minimum(like, like.T) > s.least_like) & (np.abs(light - light.T) < s.most_uneven)
    good &= beside > np.maximum(s.least_beside * side, 2 * width)
    rank = np.minimum(like, like.T) + 0.3 * np.maximum(like, like.T)
    rank = rank * np.sqrt(np.maximum(beside, 0) / side * np.maximum(beside, 0) / whole)
    return [(float(rank[k, j]), k, j) for k, j in np.argwhere(np.triu(good, 1)).tolist()]


def _between(one: Line, two: Line) -> Body:
    """The band between two edges, as far as either shows."""
    along, across = one.direction, one.across
    places = [(line.ends - one.ends[0]) @ along for line in (one, two)]
    corners = [one.ends[0] + end * along for end in (np.min(places), np.max(places))]
    for corner in corners[::-1]:
        step = np.stack([across, -two.direction], axis=1)
        reach = np.linalg.solve(step, two.ends[0] - corner)[0]
        corners.append(corner + reach * across)
    return Body(np.array(corners), float(np.abs(one.distance(two.ends)).mean()))


def _same(one: Body, other: Body) -> bool:
    """Whether two bands differ by little of their width, in the middle and at either end."""
    apart = np.abs(one.corners.mean(axis=0) - other.corners.mean(axis=0)).max()
    wide = np.abs(_end_widths(one) - _end_widths(other, like=one)).max()
    return bool(max(apart, wide) < 0.2 * max(one.width, other.width))


def _end_widths(body: Body, like: Body | None = None) -> Array:
    """(2,) its width at either end, the ends in the order of another's."""
    first, second, third, last = body.corners
    widths = np.array([np.linalg.norm(last - first), np.linalg.norm(third - second)])
    if like is not None and (second - first) @ (like.corners[1] - like.corners[0]) < 0:
        return widths[::-1]
    return widths


def holds(outline: Array, point: Array) -> bool:
    """Whether a point (x, y) lies within an outline (N, 2)."""
    polygon = np.asarray(outline, dtype=np.float32).reshape(-1, 1, 2)
    return cv2.pointPolygonTest(polygon, (float(point[0]), float(point[1])), False) >= 0
