"""What tells a ruler from a comb of threads: ticks of a few lengths in a fixed order.

All ticks begin on one line, every fifth or second is longer, and of the longer ones again every
second: millimetres are told from inches by that order alone. Numerals need not be read.
"""

from __future__ import annotations

from dataclasses import dataclass

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
class Scheme:
    """An order of tick lengths: of the ticks, every `factors[0]`-th is longer, and so on."""

    unit: str
    tick_mm: float
    factors: tuple[int, ...]


SCHEMES = (
    Scheme("mm", 1.0, (5,)),
    Scheme("mm", 1.0, (5, 2)),
    Scheme("mm", 0.5, (2, 5)),
    Scheme("mm", 0.5, (2, 5, 2)),
    Scheme("inch", 25.4 / 8, (2, 2, 2)),
    Scheme("inch", 25.4 / 16, (2, 2, 2, 2)),
    Scheme("inch", 25.4 / 32, (2, 2, 2, 2, 2)),
)


@dataclass(frozen=True, slots=True)
class Fold:
    """A strip sampled tick by tick.

    Attributes:
        numbers: (N,) tick numbers.
        v: (V,) rows of the comb's strip, ticks standing along them.
        grey: (V, 8 N) grey values: sample 8 i + 4 + k is tick i + k / 8.
        pitch: (N,) spacing at each tick in strip samples.
        slant: lean of the ticks, as in `Core`.
    """

    numbers: Array
    v: Array
    grey: NDArray[np.float32]
    pitch: Array
    slant: tuple[float, float]


def fold(levels: tuple[Grey, ...], comb: Comb, found: Core) -> Fold:
    """The neighbourhood of a comb resampled by tick number, upright along the ticks.

    The lean of the ticks is first known from the short core; the longer ticks, which stand out
    of it, then make it sharper.
    """
    numbers = _numbers(comb)
    first = _sampled(levels, comb, found.slant, numbers)
    slant = _straighter(first, comb, found)
    return _sampled(levels, comb, slant, numbers)


def _numbers(comb: Comb) -> Array:
    """The whole tick numbers in the span; of very many those in the middle."""
    low, high = comb.number(np.array(comb.span))
    spare = max(0.0, (high - low - RULER.most_ticks) / 2)
    return np.arange(np.ceil(low + spare), np.floor(high - spare) + 1)


def _sampled(
    levels: tuple[Grey, ...],
    comb: Comb,
    slant: tuple[float, float],
    numbers: Array,
    reach: int = RULER.reach_ticks,
) -> Fold:
    pitch = np.abs(comb.place(numbers + 0.5) - comb.place(numbers - 0.5))
    middle = float(np.median(pitch))
    strip = comb.strip
    level = strip.level
    while level > 0 and middle * 2.0 ** (strip.level - level) < ROWS:
        level -= 1
    steps = reach * ROWS
    v = comb.v + np.arange(-steps, steps + 1) * middle / ROWS
    phase = (np.arange(PHASES) - PHASES // 2) / PHASES
    u = comb.place((numbers[:, None] + phase).ravel())
    scale = 2.0**-level
    lean = slant[0] + slant[1] * u
    maps = []
    for axis in (0, 1):
        start = (strip.origin[axis] + u * strip.along[axis] + 0.5) * scale - 0.5
        per_row = (lean * strip.along[axis] + strip.across[axis]) * scale
        shift = comb.v * strip.across[axis] * scale
        path = (start + shift).astype(np.float32)
        maps.append(path + np.outer(v - comb.v, per_row).astype(np.float32))
    grey = cv2.remap(
        levels[level], maps[0], maps[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return Fold(numbers, v, grey.astype(np.float32), pitch, slant)


def _straighter(folded: Fold, comb: Comb, found: Core) -> tuple[float, float]:
    """The lean corrected by the phases of all rows in which ticks are seen."""
    n = folded.numbers[:, None] + (np.arange(PHASES) - PHASES // 2) / PHASES
    detail = folded.grey - cv2.blur(folded.grey, (2 * PHASES + 1, 1))
    thirds = thirds_of(n.size)
    z = lock_in(detail, n.ravel(), thirds)
    strength = np.abs(z)
    own = int(np.abs(folded.v - comb.v).argmin())
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
        turn = np.unwrap(np.angle(z[rows, i])) / (2 * np.pi)
        at = float(np.mean(comb.place(n.ravel()[third])))
        pitch = float(np.mean(folded.pitch))
        weight = strength[rows, i]
        if len(rows) >= 4:
            dv = folded.v[rows] - comb.v
            slopes.append(-np.polyfit(dv, turn, 1, w=weight)[0] * pitch)
            weights.append(weight.sum() * np.ptp(dv))
            places.append(at)
    if not slopes:
        return folded.slant
    if len(slopes) < 3:
        return folded.slant[0] + float(np.average(slopes, weights=weights)), folded.slant[1]
    s1, s0 = np.polyfit(places, slopes, 1, w=weights)
    return folded.slant[0] + float(s0), folded.slant[1] + float(s1)


@dataclass(frozen=True, slots=True)
class Ladder:
    """Ticks with their lengths, and the order that these follow.

    Attributes:
        numbers: (N,) of the ticks, counted from the one that the comb calls 0 (half numbers for
            light ticks).
        lengths: (N,) beyond the common core, in tick spacings.
        scheme: the order.
        phase: tick number, modulo the order's period, of its longest ticks.
        share: of the spread of lengths that the order explains, 0 to 1.
        rival: the same for the best order of the other unit.
        side: +1 when the ticks grow towards larger v.
        light: whether ticks are lighter than the body.
    """

    numbers: Array
    lengths: Array
    scheme: Scheme
    phase: int
    share: float
    rival: float
    side: int
    light: bool
    classes: tuple[float, ...]


def ladder(folded: Fold, comb: Comb, found: Core) -> Ladder | None:
    """The order of lengths that explains the ticks best, or None where none is plain."""
    best: Ladder | None = None
    for light in (False, True):
        for side in (1, -1):
            lengths = _lengths(folded, comb, found, side, light)
            if lengths is None:
                continue
            numbers, y = lengths
            seen = _ordered(numbers, y, side, light)
            if seen is not None and (best is None or seen.share > best.share):
                best = seen
    return best


def is_plausible(steps: Ladder, folded: Fold, found: Core) -> bool:
    """Whether the longest ticks are as long as on rulers and really are the unit's own.

    A scale of inches whose halves are as long as its wholes would pass for one of twice the
    size; there the numerals, or the lengths of every second long tick, tell.
    """
    middle = float(np.median(folded.pitch))
    longest = (found.high - found.low) / middle + steps.classes[-1]
    low, high = RULER.longest_tick_mm
    if not low <= longest * steps.scheme.tick_mm <= high:
        return False
    if steps.scheme.unit != "inch":
        return True
    return _numerals_agree(steps, folded, found)


def _numerals_agree(steps: Ladder, folded: Fold, found: Core) -> bool:
    """Whether numerals stand at the longest ticks only, and at all of them alike."""
    period = int(np.prod(steps.scheme.factors))
    whole = steps.numbers.astype(np.int64) - steps.phase
    top = whole % period == 0
    odd = (whole // period) % 2 == 1
    numerals = _ink_beyond(steps, folded, found, steps.classes[-1])
    if any(_differ(f[top & odd], f[top & ~odd]) for f in (steps.lengths, numerals)):
        return False
    ink = _ink_beyond(steps, folded, found, steps.classes[-2])
    halves = float(np.median(ink[whole % period == period // 2]))
    quarters = float(np.median(ink[whole % (period // 2) == period // 4]))
    if halves > RULER.numeral_ink * quarters:
        return False
    # of eighths the order has few steps, so each inch must show a numeral
    return period > 8 or float(np.quantile(ink[top], 0.2)) > RULER.numeral_ink * halves


def _differ(one: Array, other: Array) -> bool:
    """Whether two samples differ plainly (Welch's test, and by a quarter of their size)."""
    if min(len(one), len(other)) < 2:
        return False
    apart = abs(float(one.mean() - other.mean()))
    noise = float(np.sqrt(one.var(ddof=1) / len(one) + other.var(ddof=1) / len(other)))
    return apart > 4 * noise and apart > 0.25 * max(float(one.mean()), float(other.mean()))


def _ink_beyond(steps: Ladder, folded: Fold, found: Core, length: float) -> Array:
    """(N,) how uneven it is about each tick beyond ticks of some length (in spacings).

    Numerals stand there, a quarter of an inch high at most; looked at is an eighth of an inch to
    either side.
    """
    period = int(np.prod(steps.scheme.factors))
    middle = float(np.median(folded.pitch))
    start = found.high if steps.side > 0 else found.low
    beyond = (folded.v - start) * steps.side / middle - length
    rows = (beyond > 0.3) & (beyond < 0.3 + period / 4)
    if not rows.any():
        return np.zeros(len(steps.numbers))
    grey = folded.grey[rows]
    # glare and grain change slowly along the ruler
    ground = cv2.blur(grey, (PHASES * period // 4 + 1, 1), borderType=cv2.BORDER_REFLECT)
    uneven = (np.abs(grey - ground) / (ground + 1)).mean(axis=0)
    per_tick = uneven.reshape(-1, PHASES).mean(axis=1)
    width = 2 * (period // 8) + 1
    around = np.convolve(per_tick, np.ones(width) / width, mode="same")
    index = np.searchsorted(folded.numbers, steps.numbers)
    return np.asarray(around[index], dtype=np.float64)


def _depth(folded: Fold, light: bool) -> Array:
    """(N, V) how much darker (lighter) than its neighbourhood each tick is in each row."""
    g = folded.grey
    if light:
        g = -np.roll(g, -PHASES // 2, axis=1)
    g = g.reshape(len(folded.v), -1, PHASES)
    half = PHASES // 2
    centre = 0.5 * g[:, :, half] + 0.25 * (g[:, :, half - 1] + g[:, :, half + 1])
    before = (g[:, :, 0] + g[:, :, 1]) / 2
    after = np.roll(before, -1, axis=1)
    return np.asarray((np.minimum(before, after) - centre).T, dtype=np.float64)


def _lengths(
    folded: Fold, comb: Comb, found: Core, side: int, light: bool
) -> tuple[Array, Array] | None:
    """Numbers of the ticks that show, and their lengths beyond the core in tick spacings."""
    depth = _depth(folded, light)[1:-1]
    inside = _core_rows(folded.v, comb, found)
    own = depth[:, inside].mean(axis=1)
    width = min(31, 2 * ((len(own) - 1) // 4) + 1)
    padded = np.pad(own, width // 2, mode="reflect")
    usual = np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1)
    floor = 0.35 * np.quantile(usual, 0.8)
    if floor <= 0.3:
        return None
    valid = (usual > floor) & (own > 0.4 * usual)
    if valid.sum() < RULER.least_ticks:
        return None
    level = depth[valid] / usual[valid, None]
    order = (
        np.flatnonzero(folded.v > found.high)
        if side > 0
        else np.flatnonzero(folded.v < found.low)[::-1]
    )
    if len(order) < 3:
        return None
    step = folded.v[1] - folded.v[0]
    pixel = 2.0**-comb.strip.level if comb.strip.level else 1.0
    run = _run_lengths(level[:, order], max(RULER.gap_rows, RULER.gap_px * pixel / step))
    numbers = folded.numbers[1:-1][valid]
    return numbers, run * step / folded.pitch[1:-1][valid]


def _run_lengths(level: Array, gap: float) -> Array:
    """How many rows each tick goes on, from rows that are 1 on a tick and 0 beside it, noisy.

    The end is where the sum of (level - 1/2) is largest, which is the least-squares step; what
    lies beyond a plain gap of so many rows (a numeral) no longer counts.
    """
    total = np.cumsum(level - 0.5, axis=1)
    total = np.concatenate([np.zeros((len(level), 1)), total], axis=1)
    highest = np.maximum.accumulate(total, axis=1)
    ended = highest - total > gap / 2
    limit = np.where(ended.any(axis=1), ended.argmax(axis=1), total.shape[1])
    columns = np.arange(total.shape[1])
    return np.asarray(np.where(columns < limit[:, None], total, -np.inf).argmax(axis=1), float)


def _ordered(numbers: Array, y: Array, side: int, light: bool) -> Ladder | None:
    """The best of all schemes and phases."""
    whole = numbers.astype(np.int64)
    spread = float(np.abs(y - np.median(y)).sum())
    if spread < 0.05 * len(y):
        return None
    found: dict[str, tuple[float, Scheme, int, tuple[float, ...]]] = {}
    for scheme in SCHEMES:
        period = int(np.prod(scheme.factors))
        periods = RULER.least_inches if scheme.unit == "inch" else RULER.least_fives
        if whole[-1] - whole[0] < periods * period:
            continue
        phase = _best_phase(whole, y, scheme.factors)
        share, classes = _explained(whole - phase, y, scheme.factors, spread)
        if share > found.get(scheme.unit, (0.0,))[0]:
            found[scheme.unit] = (share, scheme, phase, classes)
    if not found:
        return None
    unit = max(found, key=lambda key: found[key][0])
    share, scheme, phase, classes = found[unit]
    rival = max((f[0] for key, f in found.items() if key != unit), default=0.0)
    return Ladder(numbers, y, scheme, phase, share, rival, side, light, classes)


def _classes(n: NDArray[np.int64], factors: tuple[int, ...]) -> NDArray[np.int64]:
    """Class of each tick number: how many of the successive factors divide it."""
    steps = np.cumprod(factors)
    return np.asarray((n[:, None] % steps == 0).sum(axis=1))


def _best_phase(n: NDArray[np.int64], y: Array, factors: tuple[int, ...]) -> int:
    """Phase at which rising class means explain most of the squared spread of lengths."""
    period = int(np.prod(factors))
    count = np.bincount(n % period, minlength=period).astype(float)
    total = np.bincount(n % period, weights=np.minimum(y, np.quantile(y, 0.97)), minlength=period)
    kind = _classes(np.arange(period), factors)
    turned = (np.arange(period)[None, :] - np.arange(period)[:, None]) % period
    means, explained = np.full(period, -np.inf), np.zeros(period)
    for k in range(len(factors) + 1):
        member = (kind == k)[turned]  # (phase, residue)
        number = np.maximum(member @ count, 1e-9)
        mean = member @ total / number
        explained = np.where(mean > means, explained + mean**2 * number, -np.inf)
        means = mean
    return int(explained.argmax())


def _explained(
    n: NDArray[np.int64], y: Array, factors: tuple[int, ...], spread: float
) -> tuple[float, tuple[float, ...]]:
    """Share of the spread of lengths that the classes explain, and the classes' lengths.

    0 unless lengths rise plainly from class to class.
    """
    kind = _classes(n, factors)
    left, lengths, below = 0.0, [], -np.inf
    for k in range(len(factors) + 1):
        members = y[kind == k]
        if len(members) < 2:
            return 0.0, ()
        if np.quantile(members, 0.25) <= below:  # classes must not overlap
            return 0.0, ()
        below = float(np.quantile(members, 0.75))
        lengths.append(float(np.median(members)))
        left += float(np.abs(members - lengths[-1]).sum())
    rises = np.diff(lengths)
    if rises.min() < max(RULER.least_longer, RULER.least_rise * float(np.median(rises))):
        return 0.0, ()
    return 1 - left / spread, tuple(lengths)


def tick_places(
    levels: tuple[Grey, ...], comb: Comb, found: Core, folded: Fold, steps: Ladder
) -> tuple[Array, Array]:
    """Numbers of all ticks that show in the core, and their places u in strip samples.

    A tick's place is the phase of the fundamental wave in the three spacings about it.
    """
    low, high = comb.number(np.array(comb.span))
    numbers = np.arange(np.ceil(low) - 2, np.floor(high) + 3)
    whole = _sampled(levels, comb, folded.slant, numbers, reach=6)
    inside = _core_rows(whole.v, comb, found)
    g = whole.grey[inside].mean(axis=0).astype(np.float64)
    if steps.light:
        g = -np.roll(g, -PHASES // 2)
    wave = np.exp(-2j * np.pi * np.arange(3 * PHASES) / PHASES) * np.hanning(3 * PHASES + 2)[1:-1]
    pieces = np.lib.stride_tricks.sliding_window_view(g, 3 * PHASES)[::PHASES]
    z = -(pieces - pieces.mean(axis=1, keepdims=True)) @ wave
    # sample PHASES / 2 of a tick is its middle, half a turn on
    centre = np.angle(-z) / (2 * np.pi)
    dark = _depth(whole, steps.light)[1:-1][:, inside].mean(axis=1)
    seen = dark > 0.4 * np.median(dark[2:-2])
    seen &= _in_company(seen)
    numbers = whole.numbers[1:-1]
    return numbers[seen], comb.place((numbers + (0.5 if steps.light else 0.0) + centre)[seen])


def _in_company(seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Ticks that lie between seen ones, or beside two: a lone one may be something else."""
    padded = np.concatenate([[False] * 3, seen, [False] * 3])
    before = [padded[i : i + len(seen)] for i in range(3)]
    after = [padded[i + 4 : i + 4 + len(seen)] for i in range(3)]
    left, right = np.sum(before, axis=0), np.sum(after, axis=0)
    return np.asarray(((left >= 1) & (right >= 1)) | (left >= 2) | (right >= 2))


def _core_rows(v: Array, comb: Comb, found: Core) -> NDArray[np.bool_]:
    """The sampled rows within the core, or the one nearest to the comb's own."""
    inside = (v >= found.low) & (v <= found.high)
    if not inside.any():
        inside = np.abs(v - comb.v) <= np.abs(v - comb.v).min()
    return np.asarray(inside)
