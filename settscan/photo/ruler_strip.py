"""Bands of the photo along an edge, and the equal ticks that are seen in them."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from settscan.photo.ruler_lines import Grey, Line
from settscan.photo.ruler_numbering import Lens, Numbering
from settscan.settings import RULER

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Strip:
    """A band of the photo along a line: sample (u, v) lies at origin + u along + v across.

    Attributes:
        origin: photo px of sample (0, 0); v = 0 is the line itself.
        along: photo px per sample of u.
        across: photo px per sample of v, a quarter turn clockwise from `along`.
        level: of the pyramid that it is cut from; one sample is 2^level photo px.
        rows: (2 strip_half, U) grey values, v = -strip_half ... strip_half - 1.
        lens: where the picture's middle lies along u.
    """

    origin: Array
    along: Array
    across: Array
    level: int
    rows: NDArray[np.float32]
    lens: Lens

    @property
    def window(self) -> int:
        """Samples in a piece whose tick spacing is measured."""
        return RULER.window if self.rows.shape[1] >= RULER.short_strip else RULER.window // 2

    @property
    def hop(self) -> int:
        """Samples from piece to piece."""
        return self.window // 2

    def photo(self, u: ArrayLike, v: ArrayLike) -> Array:
        """Photo px (..., 2) of samples."""
        return np.asarray(
            self.origin + np.multiply.outer(u, self.along) + np.multiply.outer(v, self.across)
        )


@dataclass(frozen=True, slots=True)
class Comb:
    """Equally spaced ticks seen in one band of rows of a strip.

    Attributes:
        strip: where.
        v: middle row of the band.
        numbering: from u to tick numbers.
        span: u from and to which the ticks are seen.
        strength: summed share of variation that the ticks explain, over the pieces.
        residual: rms distance of the pieces' phases from the numbering, in ticks.
    """

    strip: Strip
    v: float
    numbering: Numbering
    span: tuple[float, float]
    strength: float
    residual: float

    def number(self, u: Array) -> Array:
        """Tick number, fractional, at u."""
        return self.numbering.number(u)

    def place(self, n: Array) -> Array:
        """Place u of tick n: the inverse of `number`."""
        return self.numbering.place(n)

    @property
    def ticks(self) -> float:
        """How many ticks the span holds."""
        ends = self.number(np.array(self.span))
        return float(ends[1] - ends[0])

    @property
    def pitch(self) -> float:
        """Mean spacing of the ticks in samples."""
        return (self.span[1] - self.span[0]) / self.ticks

    @property
    def pitch_px(self) -> float:
        """The same in photo px."""
        return self.pitch * 2.0**self.strip.level


def strips(levels: tuple[Grey, ...], lines: tuple[Line, ...], level: int) -> list[Strip]:
    """Bands of one level along all lines, leaving out lines within an earlier one's band."""
    reach = RULER.strip_half / 2 * 2.0**level
    ends = np.array([line.ends for line in lines]).reshape(-1, 2)
    free = np.ones(len(lines), dtype=bool)
    cut: list[Strip] = []
    for k, line in enumerate(lines):
        if free[k]:
            free &= ~_beside(line, ends, reach)
            strip = strip_along(levels[level], line, level)
            if strip.rows.shape[1] >= 2 * strip.window:
                cut.append(strip)
    return cut


def _beside(line: Line, ends: Array, reach: float) -> NDArray[np.bool_]:
    """(N,) which lines run in the band of this one, and so nearly parallel that its ticks stay.

    Args:
        line: with the band.
        ends: (2 N, 2) of the others.
        reach: half width of the band in px.
    """
    away = line.distance(ends).reshape(-1, 2)
    held = line.holds(ends, reach).reshape(-1, 2).all(axis=1)
    return np.asarray(held & (np.abs(away[:, 1] - away[:, 0]) < reach / 8))


def strip_along(picture: Grey, line: Line, level: int) -> Strip:
    """The band along a line, as far as the picture goes and the line reaches thrice over."""
    scale = 2.0**level
    ends = (line.ends + 0.5) / scale - 0.5
    direction = line.direction
    length = float(np.linalg.norm(ends[1] - ends[0]))
    low, high = _chord(ends[0], direction, picture.shape)
    low, high = max(low, -Line.spare * length), min(high, (1 + Line.spare) * length)
    count = max(int(high - low), 0)
    start = ends[0] + low * direction
    across = np.array([-direction[1], direction[0]])
    corner = start - RULER.strip_half * across
    turn = np.column_stack([direction, across, corner])
    rows = cv2.warpAffine(
        picture,
        turn,
        (max(count, 1), 2 * RULER.strip_half),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    origin = (start + 0.5) * scale - 0.5
    height, width = picture.shape
    centre = np.array([width - 1, height - 1]) / 2
    lens = Lens(float((centre - start) @ direction), float(np.hypot(width, height)) / 2)
    return Strip(origin, direction * scale, across * scale, level, rows.astype(np.float32), lens)


def _chord(point: Array, direction: Array, shape: tuple[int, ...]) -> tuple[float, float]:
    """Steps along `direction` from `point` at which the picture begins and ends."""
    low, high = -np.inf, np.inf
    for at, step, size in zip(point, direction, (shape[1], shape[0]), strict=True):
        if abs(step) > 1e-9:
            ends = sorted(((0 - at) / step, (size - 1 - at) / step))
            low, high = max(low, ends[0]), min(high, ends[1])
    return (low, high) if high > low else (0.0, 0.0)
