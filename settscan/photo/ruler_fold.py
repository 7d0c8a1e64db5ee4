"""A ruler's neighbourhood resampled tick by tick, and the places of its ticks."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_core import Core, lock_in, thirds_of
from settscan.photo.ruler_lines import Grey
from settscan.photo.ruler_strip import Comb
from settscan.settings import RULER

Array = NDArray[np.float64]
PHASES = 8  # samples per tick of a folded strip, along the ruler
ROWS = 8  # and across it


@dataclass(frozen=True, slots=True)
class Fold:
    """A strip sampled tick by tick.

    Attributes:
        numbers: (N,) tick numbers.
        rows: (V,) distance from the comb's own row in tick spacings, growing with v.
        grey: (V, 8 N) grey values: sample 8 i + 4 + k is tick i + k / 8.
        pitch: (N,) spacing at each tick in strip samples.
        slant: lean of the ticks, as in `Core`.
        core: (first, last) of the core's rows, in spacings like `rows`.
        pixel: photo pixel in spacings.
        spare: so many ticks at either end lie beyond the comb's span and may be none.
    """

    numbers: Array
    rows: Array
    grey: NDArray[np.float32]
    pitch: Array
    slant: tuple[float, float]
    core: tuple[float, float]
    pixel: float
    spare: int = 0

    @property
    def in_core(self) -> NDArray[np.bool_]:
        """(V,) the rows within the core, or the one nearest to the comb's own."""
        inside = (self.rows >= self.core[0]) & (self.rows <= self.core[1])
        return np.asarray(inside if inside.any() else np.abs(self.rows) < 0.5 / ROWS)


def fold(levels: tuple[Grey, ...], comb: Comb, found: Core) -> Fold:
    """The neighbourhood of a comb resampled by tick number, upright along the ticks.

    The lean of the ticks is first known from the short core; the longer ticks, which stand out
    of it, then make it sharper.
    """
    numbers = _numbers(comb)
    first = sampled(levels, comb, found, found.slant, numbers)
    spare = RULER.spare_ticks
    wider = np.arange(numbers[0] - spare, numbers[-1] + spare + 1)
    whole = sampled(levels, comb, found, _straighter(first, comb), wider)
    return replace(whole, spare=spare)


def _numbers(comb: Comb) -> Array:
    """The whole tick numbers in the span; of very many those in the middle."""
    low, high = comb.number(np.array(comb.span))
    spare = max(0.0, (high - low - RULER.most_ticks) / 2)
    return np.arange(np.ceil(low + spare), np.floor(high - spare) + 1)


def sampled(
    levels: tuple[Grey, ...],
    comb: Comb,
    found: Core,
    slant: tuple[float, float],
    numbers: Array,
    reach: int = RULER.reach_ticks,
) -> Fold:
    """The neighbourhood of the given ticks; rows are spaced by the spacing at each tick."""
    pitch = np.abs(comb.place(numbers + 0.5) - comb.place(numbers - 0.5))
    middle = float(np.median(pitch))
    strip = comb.strip
    level = strip.level
    while level > 0 and middle * 2.0 ** (strip.level - level) < ROWS:
        level -= 1
    rows = np.arange(-reach * ROWS, reach * ROWS + 1) / ROWS
    phase = (np.arange(PHASES) - PHASES // 2) / PHASES
    u = comb.place((numbers[:, None] + phase).ravel())
    scale = 2.0**-level
    lean, tall = slant[0] + slant[1] * u, np.repeat(pitch, PHASES)
    row = comb.v + (found.tilt * (u - np.mean(comb.span)) if found.is_aslant(comb) else 0.0)
    maps = []
    for axis in (0, 1):
        start = strip.origin[axis] + u * strip.along[axis] + row * strip.across[axis]
        per_row = (lean * strip.along[axis] + strip.across[axis]) * tall
        path = ((start + 0.5) * scale - 0.5).astype(np.float32)
        maps.append(path + np.outer(rows, per_row * scale).astype(np.float32))
    grey = cv2.remap(
        levels[level], maps[0], maps[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    ).astype(np.float32)
    core = ((found.low - comb.v) / middle, (found.high - comb.v) / middle)
    return Fold(numbers, rows, grey, pitch, slant, core, 2.0**-strip.level / middle)


def _straighter(folded: Fold, comb: Comb) -> tuple[float, float]:
    """The lean corrected by the phases of all rows in which ticks are seen."""
    n = folded.numbers[:, None] + (np.arange(PHASES) - PHASES // 2) / PHASES
    detail = folded.grey - cv2.blur(folded.grey, (2 * PHASES + 1, 1))
    thirds = thirds_of(n.size)
    z = lock_in(detail, n.ravel(), thirds)
    strength = np.abs(z)
    own = int(np.abs(folded.rows).argmin())
    slopes, weights, places = [], [], []
    for i, third in enumerate(thirds):
        # noise as on most rows, which hold no ticks
        seen = strength[:, i] > 3 * np.median(strength[:, i])
        low, high = own, own
        while low > 0 and seen[low - 1]:
            low -= 1
        while high < len(seen) - 1 and seen[high + 1]:
            high += 1
        rows = np.arange(low, high + 1)
        if len(rows) >= 4:
            turn = np.unwrap(np.angle(z[rows, i])) / (2 * np.pi)
            weight = strength[rows, i]
            # turns per spacing across are spacings along per spacing across
            slopes.append(-np.polyfit(folded.rows[rows], turn, 1, w=weight)[0])
            weights.append(weight.sum() * np.ptp(folded.rows[rows]))
            places.append(float(np.mean(comb.place(n.ravel()[third]))))
    if not slopes:
        return folded.slant
    if len(slopes) < 3:
        return folded.slant[0] + float(np.average(slopes, weights=weights)), folded.slant[1]
    s1, s0 = np.polyfit(places, slopes, 1, w=weights)
    return folded.slant[0] + float(s0), folded.slant[1] + float(s1)


def depth(folded: Fold, light: bool) -> Array:
    """(N - 2, V) how much darker (lighter) than its neighbourhood each inner tick is."""
    g = folded.grey
    if light:
        g = -np.roll(g, -PHASES // 2, axis=1)
    g = g.reshape(len(folded.rows), -1, PHASES)
    half = PHASES // 2
    centre = 0.5 * g[:, :, half] + 0.25 * (g[:, :, half - 1] + g[:, :, half + 1])
    before = (g[:, :, 0] + g[:, :, 1]) / 2
    after = np.roll(before, -1, axis=1)
    return np.asarray((np.minimum(before, after) - centre).T[1:-1], dtype=np.float64)


def tick_places(
    levels: tuple[Grey, ...], comb: Comb, found: Core, folded: Fold, light: bool
) -> tuple[Array, Array]:
    """Numbers of all ticks that show in the core, and their places u in strip samples.

    A tick's place is the phase of the fundamental wave in the three spacings about it.
    """
    low, high = comb.number(np.array(comb.span))
    numbers = np.arange(np.ceil(low) - 2, np.floor(high) + 3)
    whole = sampled(levels, comb, found, folded.slant, numbers, reach=6)
    inside = whole.in_core
    g = whole.grey[inside].mean(axis=0).astype(np.float64)
    if light:
        g = -np.roll(g, -PHASES // 2)
    wave = np.exp(-2j * np.pi * np.arange(3 * PHASES) / PHASES) * np.hanning(3 * PHASES + 2)[1:-1]
    pieces = np.lib.stride_tricks.sliding_window_view(g, 3 * PHASES)[::PHASES]
    z = -(pieces - pieces.mean(axis=1, keepdims=True)) @ wave
    # sample PHASES / 2 of a tick is its middle, half a turn on
    centre = np.angle(-z) / (2 * np.pi)
    dark = depth(whole, light)[:, inside].mean(axis=1)
    seen = dark > 0.4 * np.median(dark[2:-2])
    seen &= _in_company(seen)
    numbers = whole.numbers[1:-1]
    return numbers[seen], comb.place((numbers + (0.5 if light else 0.0) + centre)[seen])


def _in_company(seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Ticks that lie between seen ones, or beside two: a lone one may be something else."""
    padded = np.concatenate([[False] * 3, seen, [False] * 3])
    before = [padded[i : i + len(seen)] for i in range(3)]
    after = [padded[i + 4 : i + 4 + len(seen)] for i in range(3)]
    left, right = np.sum(before, axis=0), np.sum(after, axis=0)
    return np.asarray(((left >= 1) & (right >= 1)) | (left >= 2) | (right >= 2))
