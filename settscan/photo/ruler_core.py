"""The rows in which all ticks of a comb stand: a ruler's have an end, a cloth's threads go on."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_strip import Comb
from settscan.settings import RULER

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Core:
    """The rows in which all ticks of a comb show.

    Attributes:
        low: first row v of the strip.
        high: last row.
        slant: (s0, s1): a tick at u of the comb's middle row goes on to u + (s0 + s1 u) dv.
        contrast: amplitude of the ticks in grey values.
        outside: amplitude beyond the feet, over that in the core.
        tilt: rows by which the core's middle rises per sample of u, in the strip.
        middle: row v of the core's middle at the middle of the comb's span.
    """

    low: float
    high: float
    slant: tuple[float, float]
    contrast: float
    outside: float
    tilt: float
    middle: float

    def is_aslant(self, comb: Comb) -> bool:
        """Whether the tilt is more than chance makes of the thirds' middles."""
        return abs(self.tilt) * (comb.span[1] - comb.span[0]) > RULER.least_tilt


def core(comb: Comb) -> Core | None:
    """The rows of a comb's strip in which all its ticks stand, or None where they have no end."""
    rows = comb.strip.rows
    first, last = int(max(comb.span[0], 0)), int(min(comb.span[1], rows.shape[1] - 1))
    u = np.arange(first, last + 1, dtype=np.float64)
    part = rows[:, first : last + 1]
    detail = part - cv2.blur(part, (15, 1), borderType=cv2.BORDER_REFLECT)
    thirds = thirds_of(len(u))
    z = lock_in(detail, comb.number(u), thirds)
    whole = np.abs(z.mean(axis=1))
    amplitude = cv2.blur(whole[:, None], (1, 3))[:, 0]
    own = int(np.clip(round(comb.v + RULER.strip_half), 1, len(rows) - 2))
    top = float(amplitude[own - 1 : own + 2].max())
    if top < 1.0:
        return None
    inside = amplitude > 0.6 * top
    low, high = own, own
    while low > 0 and inside[low - 1]:
        low -= 1
    while high < len(rows) - 1 and inside[high + 1]:
        high += 1
    pitch = len(u) / max(comb.ticks, 1)
    reach = int(np.ceil(2.5 * pitch))
    sides = []
    for start, step in ((low - 2, -1), (high + 2, 1)):
        index = start + step * np.arange(reach)
        index = index[(index >= 0) & (index < len(rows))]
        if len(index) >= reach // 2:
            sides.append(float(amplitude[index].mean() / top))
    if not sides or high - low < 1:
        return None
    slant = _slant(z[low : high + 1], u, thirds, comb)
    half = RULER.strip_half
    tilt, middle = _tilt(np.abs(z), own, u, thirds)
    return Core(low - half, high - half, slant, 2 * top, min(sides), tilt, middle - half)


def _tilt(
    strength: NDArray[np.float64], own: int, u: Array, thirds: tuple[slice, ...]
) -> tuple[float, float]:
    """Slope and middle row of the line through the ticks' middles in the three thirds."""
    rows = np.arange(len(strength))
    near = np.abs(rows - own) <= RULER.strip_half // 2
    middles = []
    for i in range(len(thirds)):
        a = cv2.blur(strength[:, i : i + 1], (1, 3))[:, 0]
        weight = np.where(near, np.clip(a - 0.5 * a[near].max(), 0, None), 0)
        middles.append(float((weight * rows).sum() / max(float(weight.sum()), 1e-9)))
    slope = (middles[2] - middles[0]) / (u[thirds[2]].mean() - u[thirds[0]].mean())
    return float(slope), float(np.mean(middles))


def thirds_of(count: int) -> tuple[slice, ...]:
    """Three equal parts of so many samples."""
    cuts = [0, count // 3, 2 * count // 3, count]
    return tuple(slice(a, b) for a, b in zip(cuts, cuts[1:], strict=False))


def lock_in(
    detail: NDArray[np.float32], n: Array, thirds: tuple[slice, ...]
) -> NDArray[np.complex128]:
    """(V, 3) complex amplitude of the wave exp(2 pi i n) in each row and third of the columns."""
    angle = (2 * np.pi * n).astype(np.float32)
    waves = np.stack([np.cos(angle), -np.sin(angle)], axis=1)
    # one third at a time: small products, which the linear algebra library does not spread
    # over threads that would wait for each other
    parts = [detail[:, t] @ waves[t] / (t.stop - t.start) for t in thirds]
    return np.stack([p[:, 0] + 1j * p[:, 1] for p in parts], axis=1).astype(np.complex128)


def _slant(
    z: NDArray[np.complex128], u: Array, thirds: tuple[slice, ...], comb: Comb
) -> tuple[float, float]:
    """How ticks lean: from the turn of the phase from row to row, in each third of the span."""
    slopes, weights = [], []
    for i, third in enumerate(thirds):
        turn = np.sum(z[1:, i] * np.conj(z[:-1, i]))
        at = float(u[third].mean())
        pitch = float(comb.place(comb.number(np.array([at])) + 1)[0] - at)
        # a tick that lies further on in u has its phase turned back
        slopes.append(-np.angle(turn) / (2 * np.pi) * pitch)
        weights.append(abs(turn) + 1e-9)
    if len(u) < RULER.long_strip:
        return float(np.average(slopes, weights=weights)), 0.0
    places = np.array([u[t].mean() for t in thirds])
    s1, s0 = np.polyfit(places, slopes, 1, w=np.sqrt(weights))
    return float(s0), float(s1)
