"""How long single ticks are, measured at full sharpness: they are thin beside their spacing."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_core import Core
from settscan.photo.ruler_fold import Fold, sampled
from settscan.photo.ruler_ladder import run_lengths
from settscan.photo.ruler_lines import Grey
from settscan.photo.ruler_rows import Row
from settscan.settings import RULER, SINGLE

Array = NDArray[np.float64]
Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Thin:
    """A row of single ticks and what lies about it.

    Attributes:
        core: the rows in which all its ticks show, and their lean.
        fold: the neighbourhood, tick by tick.
        numbers: (N,) of the ticks that show.
        level: (N, V) on the fold's rows: 1 on a tick, 0 beside it.
        feet: (2,) rows v at which the ticks begin at the first and the last of them.
        rough: rms distance of the ticks' feet from that line, in rows.
    """

    core: Core
    fold: Fold
    numbers: Array
    level: Array
    feet: tuple[float, float]
    rough: float


def thin_ticks(levels: tuple[Grey, ...], row: Row) -> Thin | None:
    """The ticks of a row with their darkness in all rows, or None where they have no end."""
    comb = row.comb
    numbers = np.arange(row.numbers.min() - 1, row.numbers.max() + 2)
    pitch = np.abs(comb.place(numbers + 0.5) - comb.place(numbers - 0.5))
    half = int(SINGLE.reach_ticks * float(pitch.max()))
    rows = np.arange(-half, half + 1, dtype=np.float64)
    ridge = _ridge(levels, row, half)
    best = _best_lean(ridge, row, half)
    dark = _laid(ridge, comb.place(numbers), rows, best, comb.strip.rows.shape[1])
    seen = np.isin(numbers, row.numbers)
    middle = len(rows) // 2
    own = dark[:, middle - 1 : middle + 2].mean(axis=1)
    usual = _usual(own, seen)
    seen &= own > 0.4 * usual
    if seen.sum() < SINGLE.least_ticks:
        return None
    level = np.clip(dark / np.maximum(usual, 1e-6)[:, None], -1.0, 2.0)
    low, high = _all_show(level[seen], middle)
    outside = _beyond(level[seen], low, high, float(np.median(pitch)))
    if high - low < 1 or outside > SINGLE.most_outside:
        return None
    contrast = float(np.median(own[seen]))
    core = Core(comb.v + rows[low], comb.v + rows[high], best, contrast, outside, 0.0, comb.v)
    folded = sampled(levels, comb, core, best, numbers)
    # the same rows, in spacings at each tick
    row_at = folded.rows[None, :] * pitch[:, None]
    laid = np.stack([np.interp(at, rows, own) for at, own in zip(row_at, level, strict=True)])
    laid = np.where(np.abs(row_at) <= half, laid, 0.0)
    feet, rough = _feet(level[seen], comb.place(numbers[seen]), middle)
    ends = (comb.v + feet[0], comb.v + feet[1])
    return Thin(core, folded, numbers[seen], laid[seen], ends, rough)


def _all_show(level: Array, middle: int) -> tuple[int, int]:
    """First and last row, about the middle one, in which most ticks (N, R) show."""
    plain = np.quantile(level, 0.25, axis=0) > 0.5
    low = high = middle
    while low > 0 and plain[low - 1]:
        low -= 1
    while high < len(plain) - 1 and plain[high + 1]:
        high += 1
    return low, high


def _beyond(level: Array, low: int, high: int, pitch: float) -> float:
    """Darkness beyond the rows in which all ticks (N, R) show, on that side that has less."""
    sides = []
    for start, step in ((low - 2, -1), (high + 2, 1)):
        at = start + step * np.arange(int(np.ceil(1.5 * pitch)))
        at = at[(at >= 0) & (at < level.shape[1])]
        sides.append(float(np.clip(level[:, at], 0, 1).mean()) if len(at) else 1.0)
    return min(sides)


def _feet(level: Array, u: Array, middle: int) -> tuple[tuple[float, float], float]:
    """Rows, from the middle one, of the feet of the first and last tick, and their rms error.

    The feet stand on a line; the other ends do not.
    """
    best: tuple[tuple[float, float], float] = ((0.0, 0.0), np.inf)
    for turn in (1, -1):
        ends = turn * run_lengths(level[:, middle::turn], RULER.gap_rows)
        use = np.ones(len(u), dtype=bool)
        for _ in range(3):
            slope, start = np.polyfit(u[use], ends[use], 1)
            away = np.abs(ends - slope * u - start)
            use = away <= max(2.5 * float(np.median(away)), 0.5)
        rough = float(np.sqrt((np.minimum(away, 4 * np.median(away) + 1) ** 2).mean()))
        if rough < best[1]:
            best = ((float(slope * u[0] + start), float(slope * u[-1] + start)), rough)
    return best


def _usual(own: Array, seen: NDArray[np.bool_]) -> Array:
    """Darkness of the ticks about each: glare changes slowly."""
    out = np.empty(len(own))
    index = np.flatnonzero(seen)
    for i in range(len(own)):
        near = index[np.argsort(np.abs(index - i))[:9]]
        out[i] = np.median(own[near])
    return out


def _ridge(levels: tuple[Grey, ...], row: Row, half: int) -> Floats:
    """(R, U) how much darker than either side each place about the row is."""
    strip, v = row.comb.strip, row.comb.v
    width = strip.rows.shape[1]
    scale = 2.0**-strip.level
    corner = (strip.photo(0.0, v - half) + 0.5) * scale - 0.5
    turn = np.column_stack([strip.along * scale, strip.across * scale, corner])
    grey = cv2.warpAffine(
        levels[strip.level], turn, (width, 2 * half + 1),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE,
    ).astype(np.float32)  # fmt: skip
    smooth = cv2.GaussianBlur(grey, (3, 3), 0.6)
    far = SINGLE.flank
    padded = np.pad(smooth, ((0, 0), (far, far)), mode="edge")
    sides = np.minimum(padded[:, : -2 * far], padded[:, 2 * far :])
    return np.asarray(sides - smooth, dtype=np.float32)


def _best_lean(ridge: Floats, row: Row, half: int) -> tuple[float, float]:
    """(s0, s1) the lean s0 + s1 u of the row's ticks at which they are plainest."""
    rows = np.arange(-half, half + 1, dtype=np.float64)
    ends = row.u[[0, -1]]
    best, top = (row.lean, 0.0), -1.0
    middle, span = ends.mean(), max(float(np.ptp(ends)), 1.0)
    for s in row.lean + np.linspace(-0.1, 0.1, 9):
        for change in (-0.08, 0.0, 0.08):
            s1 = change / span
            lean = (float(s - s1 * middle), float(s1))
            dark = _laid(ridge, row.u, rows, lean, ridge.shape[1])
            strength = float((np.clip(dark, 0, None) ** 2).sum())
            if strength > top:
                best, top = lean, strength
    return best


def _laid(ridge: Floats, u: Array, rows: Array, lean: tuple[float, float], width: int) -> Array:
    """(N, R) darkness along the ticks at u."""
    at = (u[:, None] + (lean[0] + lean[1] * u[:, None]) * rows).astype(np.float32)
    down = np.broadcast_to((rows - rows[0]).astype(np.float32), at.shape)
    return np.asarray(
        cv2.remap(ridge, at, np.ascontiguousarray(down), cv2.INTER_LINEAR), dtype=np.float64
    )


def exact_places(levels: tuple[Grey, ...], row: Row, thin: Thin) -> Array:
    """(N,) where the seen ticks cross the row's own, to a fraction of a photo pixel.

    Each is the middle of what is darker than half of its darkest, over all rows of the core.
    """
    comb, core = row.comb, thin.core
    u0 = comb.place(thin.numbers)
    pitch = np.abs(comb.place(thin.numbers + 0.5) - comb.place(thin.numbers - 0.5))
    offset = np.linspace(-0.25, 0.25, _FINE + 1)
    rows = np.linspace(core.low, core.high, _FINE // 4 + 1) - comb.v
    strip = comb.strip
    level = strip.level
    while level > 0 and float(np.median(pitch)) * 2.0 ** (strip.level - level) < _FINE:
        level -= 1
    lean = (core.slant[0] + core.slant[1] * u0)[:, None, None] * rows[:, None]
    u = u0[:, None, None] + pitch[:, None, None] * offset + lean
    v = np.broadcast_to((comb.v + rows)[:, None], u.shape)
    at = strip.origin + u[..., None] * strip.along + v[..., None] * strip.across
    px = ((at + 0.5) * 2.0**-level - 0.5).astype(np.float32).reshape(-1, len(offset), 2)
    grey = cv2.remap(
        levels[level], np.ascontiguousarray(px[..., 0]), np.ascontiguousarray(px[..., 1]),
        cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
    ).reshape(u.shape).astype(np.float64)  # fmt: skip
    profile = -grey.mean(axis=1)
    profile -= np.median(profile, axis=1, keepdims=True)
    top = profile.max(axis=1, keepdims=True)
    weight = np.where(np.abs(offset) < 0.2, np.clip(profile - top / 2, 0, None), 0.0) + 1e-9
    return np.asarray(u0 + pitch * (weight @ offset) / weight.sum(axis=1))


_FINE = 40  # places across half a spacing
