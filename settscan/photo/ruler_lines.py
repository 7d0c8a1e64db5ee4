"""Where a ruler might lie: long straight edges, as lines to look along.

The body of a ruler has long straight edges; so have the stripes of a check. All of them are
kept here: it is the ticks that tell a ruler.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.settings import RULER

Points = NDArray[np.float64]
Grey = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Line:
    """A straight edge: two ends in photo pixels (the outermost of its pieces) and its support.

    Attributes:
        ends: (2, 2) x, y.
        support: summed length of its pieces in photo pixels.
    """

    ends: Points
    support: float
    spare: ClassVar[float] = 1.0  # how far beyond either end one looks, in its own length

    @property
    def direction(self) -> Points:
        """Unit vector from the first end to the second."""
        step = self.ends[1] - self.ends[0]
        return np.asarray(step / np.linalg.norm(step))

    @property
    def across(self) -> Points:
        """Unit vector to the line's right (y down)."""
        dx, dy = self.direction
        return np.array([-dy, dx])

    @property
    def length(self) -> float:
        """From end to end in px."""
        return float(np.linalg.norm(self.ends[1] - self.ends[0]))

    def distance(self, points: Points) -> Points:
        """Signed distances in px of points (N, 2) from the line, positive to its right (y down)."""
        dx, dy = self.direction
        offset = points - self.ends[0]
        return np.asarray(dx * offset[:, 1] - dy * offset[:, 0])

    def holds(self, points: Points, apart: float) -> NDArray[np.bool_]:
        """Which points (N, 2) lie within `apart` px of the line as far as one looks along it."""
        along = (points - self.ends[0]) @ self.direction / self.length
        inside = (along > -self.spare) & (along < 1 + self.spare)
        return np.asarray(inside & (np.abs(self.distance(points)) < apart))


def pyramid(grey: Grey) -> tuple[Grey, ...]:
    """The picture at full, half, quarter ... size, each pixel the mean of the four before it.

    Pixel x of level k lies at ((x + 0.5) 2^k - 0.5) of the photo.
    """
    levels = [grey]
    while max(levels[-1].shape) > RULER.least_level_side:
        last = levels[-1]
        height, width = last.shape[0] // 2, last.shape[1] // 2
        even = last[: 2 * height, : 2 * width]
        half = cv2.resize(even, (width, height), interpolation=cv2.INTER_AREA)
        levels.append(np.asarray(half, dtype=np.uint8))
    return tuple(levels)


def long_lines(
    levels: tuple[Grey, ...],
    most: int = RULER.most_lines,
    apart: float = RULER.strip_half / 2,
) -> tuple[Line, ...]:
    """The long straight edges of the photo, best supported first.

    They are sought at two sizes: threads and twill lines fade at the smaller, fine edges show
    at the larger.

    Args:
        levels: the grey pyramid.
        most: edges kept at each size.
        apart: photo px within which parallel edges count as one: a strip along one of them holds
            the others.
    """
    lines: list[Line] = []
    for side in RULER.line_sides:
        level = _fitting(levels, side)
        lines += _lines_in(levels[level], level, most, apart)
    return tuple(sorted(lines, key=lambda ln: -ln.support))


def rough_lines(levels: tuple[Grey, ...]) -> tuple[Line, ...]:
    """The long straight edges at which fine detail ends, best supported first.

    A body may be no lighter or darker than its cloth, whose threads then break its edge into
    pieces. But it is smooth, and the cloth is rough.

    Args:
        levels: the grey pyramid.
    """
    level = _fitting(levels, max(RULER.line_sides))
    grey = levels[level].astype(np.float32)
    detail = grey - cv2.GaussianBlur(grey, (0, 0), RULER.rough_px)
    rough = np.sqrt(cv2.GaussianBlur(detail * detail, (0, 0), RULER.rough_px))
    strong = max(float(np.quantile(rough, RULER.rough_strong)), 1.0)
    picture = np.clip(rough * (255 / strong), 0, 255).astype(np.uint8)
    return tuple(_lines_in(picture, level, RULER.most_rough_lines, RULER.strip_half / 2))


def _fitting(levels: tuple[Grey, ...], side: int) -> int:
    """The finest level whose longer side is no longer than `side` px."""
    return next((k for k, p in enumerate(levels) if max(p.shape) <= side), len(levels) - 1)


def _lines_in(picture: Grey, level: int, most: int, apart: float) -> list[Line]:
    """The long edges of a picture of the size of a level, in photo px."""
    found = cv2.createLineSegmentDetector(cv2.LSD_REFINE_NONE).detect(picture)[0]
    # an even picture gives None, which its type does not tell
    pieces = np.array([] if found is None else found, dtype=np.float64).reshape(-1, 2, 2)
    scale = 2.0**level
    apart = max(RULER.line_width, apart / scale)
    least = RULER.least_line * max(picture.shape)
    lines = _merged(pieces, math.hypot(*picture.shape), least, apart, most)
    return [Line((ln.ends + 0.5) * scale - 0.5, ln.support * scale) for ln in lines]


def _merged(pieces: Points, diagonal: float, least: float, apart: float, most: int) -> list[Line]:
    """Collinear pieces joined, by a Hough transform in which each piece votes its length.

    Parallel lines closer than `apart` count as one: the same strip will hold them.
    """
    step = pieces[:, 1] - pieces[:, 0]
    length = np.linalg.norm(step, axis=1)
    keep = length >= RULER.least_piece
    pieces, step, length = pieces[keep], step[keep], length[keep]
    if not len(pieces):
        return []
    normal = np.arctan2(step[:, 0], -step[:, 1]) % np.pi
    bins = _Bins(diagonal)
    cells = bins.cells(pieces.mean(axis=1), normal)
    votes = np.zeros(bins.size)
    np.add.at(votes, cells, length[:, None])
    alive = np.ones(len(pieces), bool)
    lines: list[Line] = []
    for _ in range(4 * most):
        best = int(votes.argmax())
        if votes[best] < least / 2 or len(lines) >= most:
            break
        members = alive & (cells == best).any(axis=1)
        line, members = _line_of(pieces, length, alive, members)
        if line.support >= least:
            lines.append(line)
            turned = np.abs(np.sin(normal - np.arctan2(line.direction[0], -line.direction[1])))
            near = line.holds(pieces.mean(axis=1), apart)
            members |= alive & near & (turned < RULER.line_turn)
        np.subtract.at(votes, cells[members], length[members, None])
        alive &= ~members
        votes[best] = 0.0
    return lines


class _Bins:
    """Cells of the Hough transform: normal angle by 0.5 degrees, distance by 2 px."""

    angles = 360
    width = 2.0

    def __init__(self, diagonal: float) -> None:
        self.reach = int(diagonal / self.width) + 2
        self.size = self.angles * 2 * self.reach

    def cells(self, middle: Points, normal: Points) -> NDArray[np.int64]:
        """(N, 9) flat cells that each piece votes for: its own and their neighbours."""
        own = np.floor(normal / np.pi * self.angles).astype(np.int64)
        columns = []
        for turn in (-1, 0, 1):
            index = own + turn
            angle = (index + 0.5) * np.pi / self.angles
            rho = middle[:, 0] * np.cos(angle) + middle[:, 1] * np.sin(angle)
            place = np.floor(rho / self.width).astype(np.int64)
            # beyond half a turn the same line has its distance reversed
            flipped = (index < 0) | (index >= self.angles)
            place = np.where(flipped, -1 - place, place)
            index %= self.angles
            for aside in (-1, 0, 1):
                columns.append(index * 2 * self.reach + place + aside + self.reach)
        return np.clip(np.stack(columns, axis=1), 0, self.size - 1)


def _line_of(
    pieces: Points, length: Points, alive: NDArray[np.bool_], members: NDArray[np.bool_]
) -> tuple[Line, NDArray[np.bool_]]:
    """The line through pieces that voted alike, refitted once to all pieces close to it."""
    line = _fitted(pieces[members], length[members])
    left = np.flatnonzero(alive)
    ends = pieces[left].reshape(-1, 2)
    members = members.copy()
    for _ in range(2):
        far = np.abs(line.distance(ends)).reshape(-1, 2).max(axis=1)
        close = left[far < RULER.line_width]
        if not len(close):
            break
        line = _fitted(pieces[close], length[close])
        members[close] = True
    return line, members


def _fitted(pieces: Points, length: Points) -> Line:
    points = pieces.reshape(-1, 2)
    weight = np.repeat(length, 2)
    middle = np.average(points, axis=0, weights=weight)
    offset = points - middle
    _, axes = np.linalg.eigh((offset * weight[:, None]).T @ offset)
    direction = axes[:, 1]
    along = offset @ direction
    ends = middle + np.outer([along.min(), along.max()], direction)
    return Line(ends, float(length.sum()))
