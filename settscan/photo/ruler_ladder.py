"""What tells a ruler from a comb of threads: ticks of a few lengths in a fixed order.

All ticks begin on one line, every fifth or second is longer, and of the longer ones again every
second: millimetres are told from inches by that order alone. Numerals need not be read.

A single tick's length is uncertain in a small or noisy picture. So ticks that hold the same place
in the order (their number modulo its period) are laid over each other, and the mean tick of each
place is measured: an order is believed when each step from one class of ticks to the next is
large against the differences within the classes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_fold import PHASES, ROWS, Fold, depth
from settscan.settings import RULER

Array = NDArray[np.float64]
Whole = NDArray[np.int64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Scheme:
    """An order of tick lengths: of the ticks, every `factors[0]`-th is longer, and so on."""

    unit: str
    tick_mm: float
    factors: tuple[int, ...]

    @property
    def period(self) -> int:
        """Ticks from one of the longest to the next."""
        return int(np.prod(self.factors))

    @property
    def kind(self) -> tuple[str, float]:
        """Schemes of a kind go on from each other: one of them cannot rule another out."""
        return self.unit, 1.0 if self.unit == "inch" else self.tick_mm

    def classes(self, n: Whole) -> Whole:
        """Class of each tick number: how many of the successive factors divide it."""
        steps = np.cumprod(self.factors)
        return np.asarray((n[:, None] % steps == 0).sum(axis=1))


HALF_CM = 5.0
SCHEMES = (
    Scheme("mm", 1.0, (5, 2)),
    Scheme("mm", 1.0, (5,)),
    Scheme("mm", 0.5, (2, 5, 2)),
    Scheme("mm", 0.5, (2, 5)),
    Scheme("mm", HALF_CM, (2,)),
    Scheme("inch", 25.4 / 4, (2, 2)),
    Scheme("inch", 25.4 / 8, (2, 2, 2)),
    Scheme("inch", 25.4 / 16, (2, 2, 2, 2)),
    Scheme("inch", 25.4 / 32, (2, 2, 2, 2, 2)),
)


@dataclass(frozen=True, slots=True)
class Ladder:
    """Ticks with their lengths, and the order that these follow.

    Attributes:
        numbers: (N,) of the ticks that show, counted from the one that the comb calls 0.
        lengths: (N,) beyond the common core, in tick spacings.
        scheme: the order.
        phase: tick number, modulo the order's period, of its longest ticks.
        step: smallest step between classes, in standard deviations of such a step.
        share: of the spread of single lengths that the order explains.
        agree: share of single ticks nearer to the length of their own class than to the next.
        side: +1 when the ticks grow towards larger v.
        light: whether ticks are lighter than the body.
        classes: length of each class.
    """

    numbers: Array
    lengths: Array
    scheme: Scheme
    phase: int
    step: float
    share: float
    agree: float
    side: int
    light: bool
    classes: tuple[float, ...]


def ladder(folded: Fold) -> Ladder | None:
    """The order of lengths that explains the ticks, or None where none is plain."""
    found: list[Ladder] = []
    for light in (False, True):
        ticks = _ticks(folded, light)
        if ticks is not None:
            for side in (1, -1):
                found += _plain(_orders(folded, *ticks, side, light))
    found = [f for f in found if not _halves_are_numbered(f, folded)]
    for steps in sorted(found, key=_evidence, reverse=True):
        if any(_goes_on(other, steps) for other in found):
            continue
        settled = _settled(steps, folded)
        if settled is not None:
            return settled
    return None


def _goes_on(other: Ladder, steps: Ladder) -> bool:
    """Whether an inch scale has still longer ticks: then these must tell which are the inches."""
    both = other.scheme.unit == steps.scheme.unit == "inch"
    same = (other.side, other.light) == (steps.side, steps.light)
    return both and same and other.scheme.period > steps.scheme.period


def _plain(orders: list[Ladder]) -> list[Ladder]:
    """The plain orders that explain as much as any order of another kind."""
    return [
        f
        for f in orders
        if f.step >= RULER.least_step
        and f.agree >= _least_agree(f)
        and not any(_explains_more(other, f) for other in orders)
    ]


def _explains_more(other: Ladder, steps: Ladder) -> bool:
    """Whether an order of another kind explains more than chance lets each class more explain."""
    classes = max(len(other.classes) - len(steps.classes), 0)
    more = RULER.chance_share * classes / len(steps.numbers)
    return other.scheme.kind != steps.scheme.kind and other.share - more > steps.share


def _least_agree(steps: Ladder) -> float:
    """Share of ticks that must have the length of their class; of few, more, for chance."""
    return RULER.least_agree + RULER.agree_spread / float(np.sqrt(len(steps.numbers)))


def _evidence(steps: Ladder) -> float:
    """Each class more is evidence of its own."""
    return steps.agree * min(steps.step, RULER.plain_step) * len(steps.classes)


def _ticks(folded: Fold, light: bool) -> tuple[Array, Array] | None:
    """Numbers of the ticks that show in the core, and in each row their level there (N, V).

    The level is 1 on a tick and 0 beside it.
    """
    dark = depth(folded, light)
    core = dark[:, folded.in_core]
    own = core.mean(axis=1)
    more = max(folded.spare - 1, 0)  # the outermost have no depth
    spanned = own[more : len(own) - more]
    width = min(31, 2 * ((len(spanned) - 1) // 4) + 1)
    padded = np.pad(spanned, width // 2, mode="reflect")
    usual = np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1)
    floor = 0.35 * np.quantile(usual, 0.8)
    if floor <= 0.3:
        return None
    valid = (usual > floor) & (spanned > 0.4 * usual)
    if valid.sum() < max(RULER.least_ticks, RULER.least_seen * len(spanned)):
        return None
    usual = np.pad(usual, more, mode="edge")
    plain = (core > 0.4 * usual[:, None]).mean(axis=1) > RULER.plain_end
    valid = np.concatenate([
        np.logical_and.accumulate(plain[:more][::-1])[::-1],
        valid,
        np.logical_and.accumulate(plain[len(plain) - more :]),
    ])  # fmt: skip
    level = np.clip(dark[valid] / usual[valid, None], -1.0, 2.0)
    return folded.numbers[1:-1][valid], level


def _orders(folded: Fold, numbers: Array, level: Array, side: int, light: bool) -> list[Ladder]:
    """All orders that the ticks on one side of the core follow plainly."""
    low, high = folded.core
    order = np.flatnonzero(folded.rows > high) if side > 0 else np.flatnonzero(folded.rows < low)
    order = order if side > 0 else order[::-1]
    if len(order) < 3:
        return []
    beyond = level[:, order]
    gap = max(RULER.gap_rows, RULER.gap_px * folded.pixel * ROWS)
    single = _run_lengths(beyond, gap) / ROWS
    if np.abs(single - np.median(single)).mean() < RULER.least_spread:
        return []  # all alike, as threads are
    whole = numbers.astype(np.int64)
    found = []
    for scheme in SCHEMES:
        if np.ptp(whole) < RULER.least_periods * scheme.period:
            continue
        mean, count = _mean_ticks(whole % scheme.period, beyond, scheme.period)
        lengths = _run_lengths(mean, gap) / ROWS
        phase = _best_phase(lengths, count, scheme)
        kind = scheme.classes(whole - phase)
        step, classes = _steps(lengths, count, phase, scheme, folded.pixel, _errors(kind, single))
        share, agree = _share(kind, single), _agreement(kind, single, classes)
        found.append(
            Ladder(numbers, single, scheme, phase, step, share, agree, side, light, classes)
        )
    return found


def _mean_ticks(place: Whole, level: Array, period: int) -> tuple[Array, Array]:
    """(P, R) the mean tick at each place of the order, and how many it is made of."""
    member = (place[None, :] == np.arange(period)[:, None]).astype(np.float64)
    count = member.sum(axis=1)
    return member @ np.clip(level, 0.0, 1.0) / np.maximum(count, 1.0)[:, None], count


def _run_lengths(level: Array, gap: float) -> Array:
    """How many rows each tick goes on, from rows that are 1 on a tick and 0 beside it, noisy.

    The end is where the sum of (level - 1/2) is largest, which is the least-squares step; what
    lies beyond a plain gap of so many rows (a numeral) no longer counts.
    """
    total = np.cumsum(np.clip(level, 0.0, 1.0) - 0.5, axis=1)
    total = np.concatenate([np.zeros((len(level), 1)), total], axis=1)
    highest = np.maximum.accumulate(total, axis=1)
    ended = highest - total > gap / 2
    limit = np.where(ended.any(axis=1), ended.argmax(axis=1), total.shape[1])
    columns = np.arange(total.shape[1])
    end = np.where(columns < limit[:, None], total, -np.inf).argmax(axis=1)
    # between the last row on the tick and the first beyond it the level falls through 1/2
    index = np.arange(len(level))
    last = level[index, np.maximum(end - 1, 0)]
    after = level[index, np.minimum(end, level.shape[1] - 1)]
    share = np.clip((last - 0.5) / np.maximum(last - after, 1e-6), 0.0, 1.0)
    return np.where(end > 0, end + share - 0.5, 0.0)


def _best_phase(lengths: Array, count: Array, scheme: Scheme) -> int:
    """Phase at which rising class means explain most of the squared spread of lengths.

    A length beyond which hardly any tick goes counts no more: a numeral may have run into it.
    """
    period = scheme.period
    kind = scheme.classes(np.arange(period))
    turned = (np.arange(period)[None, :] - np.arange(period)[:, None]) % period
    held = np.minimum(lengths, 1.5 * np.sort(lengths)[-2] + 0.5)
    means, explained = np.full(period, -np.inf), np.zeros(period)
    for k in range(len(scheme.factors) + 1):
        member = (kind == k)[turned]  # (phase, place)
        number = np.maximum(member @ count, 1e-9)
        mean = member @ (held * count) / number
        explained = np.where(mean > means, explained + mean**2 * number, -np.inf)
        means = mean
    return int(explained.argmax())


def _errors(kind: Whole, single: Array) -> Array:
    """Error of the mean length of each class, as its single ticks scatter.

    The longest may run into numerals, and then hardly any is like another.
    """
    scatter, usual = [], _scatter(single[kind == 0])
    for k in np.unique(kind):
        members = single[kind == k]
        few = len(members) < RULER.few_ticks
        scatter.append((usual if few else _scatter(members)) / np.sqrt(len(members)))
    return np.array(scatter)


def _scatter(lengths: Array) -> float:
    """Standard deviation of most of the lengths."""
    return 1.4826 * float(np.median(np.abs(lengths - np.median(lengths))))


def _steps(
    lengths: Array, count: Array, phase: int, scheme: Scheme, pixel: float, scatter: Array
) -> tuple[float, tuple[float, ...]]:
    """The smallest step between classes in its own errors, and the classes' lengths.

    The step is 0 where classes overlap or one is hardly longer than the other.
    """
    kind = scheme.classes(np.arange(scheme.period) - phase)
    members = [lengths[(kind == k) & (count > 0)] for k in range(len(scheme.factors) + 1)]
    if any(len(m) == 0 for m in members) or len(scatter) != len(members):
        return 0.0, (0.0,) * len(members)
    means = np.array([float(np.median(m)) for m in members])
    classes = tuple(means.tolist())
    pairs = list(zip(members, members[1:], strict=False))
    rises = np.diff(means)
    if rises.min() < max(RULER.least_longer, RULER.least_longer_px * pixel):
        return 0.0, classes
    if any(longer.min() <= shorter.max() for shorter, longer in pairs):
        return 0.0, classes
    rest = np.concatenate([m - mean for m, mean in zip(members, means, strict=True)])
    free = max(len(rest) - len(members), 1)
    noise = float(np.hypot(np.sqrt((rest**2).sum() / free), RULER.length_noise))
    error = noise * np.sqrt([1 / len(a) + 1 / len(b) for a, b in pairs])
    error = np.hypot(error, np.hypot(scatter[1:], scatter[:-1]))
    return float((rises / error).min()), classes


def _share(kind: Whole, single: Array) -> float:
    """Share of the spread of lengths that the classes explain; numerals may lengthen some."""
    held = np.minimum(single, np.quantile(single, 0.9))
    spread = float(np.abs(held - np.median(held)).sum())
    members = (held[kind == k] for k in np.unique(kind))
    left = sum(float(np.abs(m - np.median(m)).sum()) for m in members)
    return 1 - left / max(spread, 1e-9)


def _agreement(kind: Whole, single: Array, classes: tuple[float, ...]) -> float:
    """Share of single ticks that are nearest in length to their own class, each class alike.

    It is 0 where most ticks of a class are not, or where the longest do not stand out of the
    second longest one by one: some ticks run into their numerals, and seem longer than others.
    """
    top, next_top = single[kind == kind.max()], single[kind == kind.max() - 1]
    if not len(next_top):
        return 0.0
    step = np.quantile(top, 0.25) - np.median(next_top)
    if (top[:, None] - next_top > step / 2).mean() < RULER.stand_out:
        return 0.0
    edges = np.convolve(classes, [0.5, 0.5], mode="valid")
    seen = np.searchsorted(edges, single)
    each = [float((seen[kind == k] == k).mean()) for k in np.unique(kind)]
    return float(np.mean(each)) if min(each) >= 0.5 else 0.0


def _settled(steps: Ladder, folded: Fold) -> Ladder | None:
    """The order with its unit settled, or None where that is in doubt or no ruler is like it."""
    if steps.scheme.unit == "inch":
        tick_mm = _inch_ticks(steps, folded)
        if tick_mm is None:
            return None
        steps = replace(steps, scheme=replace(steps.scheme, tick_mm=tick_mm))
    tall = folded.core[1] - folded.core[0]
    tick_mm = steps.scheme.tick_mm
    low, high = RULER.longest_tick_mm
    # the longest may have run into a numeral, so the next class must keep the upper limit
    longest, next_longest = (tall + steps.classes[k] for k in (-1, -2))
    if longest * tick_mm < low or next_longest * tick_mm > high:
        return None
    if tall * tick_mm < RULER.shortest_tick_mm:
        return None
    if tick_mm == HALF_CM and not _is_half_centimetres(steps, folded):
        return None
    return steps


def _inch_ticks(steps: Ladder, folded: Fold) -> float | None:
    """How far apart in mm the ticks of an inch scale are, or None where that is in doubt.

    The longest ticks are whole inches, or wholes and halves that look alike. Numerals tell: they
    stand beyond each whole inch and beyond no half. Where none is seen, the longest must at least
    be alike, and of more than eighths, whose order has few steps.
    """
    period = steps.scheme.period
    whole = steps.numbers.astype(np.int64) - steps.phase
    top = whole % period == 0
    odd = (whole // period) % 2 == 1
    groups = [top & odd, top & ~odd]
    if not all(group.any() for group in groups):
        return steps.scheme.tick_mm if period == SCHEMES[-1].period else None
    ink = _ink_beyond(steps, folded, _longest(steps))
    seen = [ink[group] for group in groups]
    bare = float(np.median(ink[whole % period == period // 2]))
    plain = max(float(np.median(s)) for s in seen)
    least = max(RULER.numeral_ink * bare, 0.3 * plain, RULER.least_ink)
    # A slender 1 may hide on its own tick.
    numbered = [float((s > least).mean()) > RULER.most_inked for s in seen]
    inked = [float(np.median(s)) > least for s in seen]
    if all(numbered):
        return 25.4 / period
    if any(inked):
        some, none = groups if numbered[0] else groups[::-1]
        sure = any(numbered) and least > ink[none].max() and none.sum() > 1
        sure = sure and steps.agree > RULER.sure_agree
        return 25.4 / (2 * period) if sure and _all_inches(some, ink, steps) else None
    one, other = (steps.lengths[group] for group in groups)
    return 25.4 / period if period > 8 and _alike(one, other, steps) else None


def _longest(steps: Ladder) -> float:
    """How long the longest ticks are, or the longer of them where every second is longer."""
    whole = steps.numbers.astype(np.int64) - steps.phase
    top, turn = whole % steps.scheme.period == 0, (whole // steps.scheme.period) % 2
    groups = (steps.lengths[top & (turn == k)] for k in (0, 1))
    return max((float(np.median(g)) for g in groups if len(g)), default=steps.classes[-1])


def _halves_are_numbered(steps: Ladder, folded: Fold) -> bool:
    """Whether numerals stand at the half inches of an order: then these are whole ones.

    An inch whose tick runs into its numeral seems longer than one where a gap shows.
    """
    if steps.scheme.unit != "inch":
        return False
    whole, half = steps.numbers.astype(np.int64) - steps.phase, steps.scheme.period // 2
    ink = _ink_beyond(steps, folded, _longest(steps))
    bare = float(np.median(ink[whole % half == half // 2]))
    least = max(RULER.numeral_ink * bare, RULER.least_ink)
    halves = ink[(whole % half == 0) & (whole // half % 2 == 1)]
    return bool((halves > least).mean() > RULER.most_inked)


def _all_inches(some: Mask, ink: Array, steps: Ladder) -> bool:
    """Whether ticks that show ink beyond them all show as much: numerals, not longer ticks."""
    turns = np.flatnonzero(some)
    whole = (steps.numbers[turns].astype(np.int64) - steps.phase) // steps.scheme.period
    second = (whole // 2) % 2 == 1
    if min(second.sum(), (~second).sum()) < 1:
        return False
    one, other = (float(np.median(ink[turns[half]])) for half in (second, ~second))
    if max(one, other) > RULER.ink_alike * min(one, other):
        return False
    # Those that run into a numeral have no length of their own.
    held = np.minimum(steps.lengths[turns], 1.5 * steps.classes[-2] + 0.5)
    return _alike(held[second], held[~second], steps)


def _alike(one: Array, other: Array, steps: Ladder) -> bool:
    """Whether two samples of the longest ticks do not differ plainly."""
    apart = abs(float(np.median(one) - np.median(other)))
    short = (steps.numbers.astype(np.int64) - steps.phase) % steps.scheme.factors[0] != 0
    usual = float(np.hypot(_scatter(steps.lengths[short]), RULER.length_noise))
    if min(len(one), len(other)) >= RULER.few_ticks:
        usual = max(usual, _scatter(one), _scatter(other))
    error = usual * float(np.sqrt(1 / len(one) + 1 / len(other)))
    return apart <= max(RULER.least_longer, 3 * error)


def _is_half_centimetres(steps: Ladder, folded: Fold) -> bool:
    """Whether ticks of two lengths that alternate are those of 5 and 10 mm.

    Nothing else on a ruler looks like it when the millimetres between them are too small to be
    seen: halves and wholes of an inch have quarters between them, which would then be seen.
    Numerals stand at each whole centimetre and at no half; without them every tick must show
    its length.
    """
    spacing = 1 / folded.pixel
    if not RULER.half_cm_px[0] < spacing < RULER.half_cm_px[1]:
        return False
    g = folded.grey[folded.in_core].mean(axis=0).reshape(-1, PHASES).astype(np.float64)
    mean = np.median(g - g.mean(axis=1, keepdims=True), axis=0)
    half = PHASES // 2
    between = (mean[half // 2] + mean[half + half // 2]) / 2
    if abs(mean[0] - between) > RULER.most_between * abs(mean[half] - between):
        return False
    whole = steps.numbers.astype(np.int64) - steps.phase
    for first in (0, 1):  # of an inch every second of either kind would be longer again
        one, other = (steps.lengths[whole % 4 == k] for k in (first, first + 2))
        if not _alike(one, other, steps):
            return False
    if steps.agree > RULER.sure_agree and steps.share > RULER.sure_share:
        return True
    ink = _ink_beyond(steps, folded, steps.classes[1])
    top = whole % 2 == 0
    bare = RULER.numeral_ink * float(np.median(ink[~top]))
    return float(np.median(ink[top])) > max(bare, RULER.least_ink)


def _ink_beyond(steps: Ladder, folded: Fold, longest: float) -> Array:
    """(N,) share of what lies about each tick, beyond the second longest, that is as dark as ticks.

    Numerals stand there, a quarter of an inch high at most, and the thin ends of the longest
    ticks, which may run into them: what is right on a tick counts beyond the longest alone.
    Looked at is an eighth of an inch to either side, where there is most. (Of light ticks, as
    light as they.)
    """
    period = steps.scheme.period
    start = folded.core[1] if steps.side > 0 else folded.core[0]
    beyond = (folded.rows - start) * steps.side - steps.classes[-2]
    inch = 25.4 / steps.scheme.tick_mm if steps.scheme.unit == "mm" else float(period)
    longer = min(longest - steps.classes[-2], 0.3 * inch)
    rows = (beyond > 0.3) & (beyond < 0.3 + longer + inch / 4)
    index = np.searchsorted(folded.numbers, steps.numbers)
    if not rows.any():
        return np.zeros(len(index))
    dark = _as_dark_as_ticks(steps, folded, rows, index)
    beside = np.abs(np.arange(PHASES) / PHASES - 0.5) > max(0.2, RULER.thin_px * folded.pixel)
    aside = dark[:, :, beside].mean(axis=2) if beside.any() else np.zeros(dark.shape[:2])
    whole = np.where((beyond[rows] > longer + 0.3)[:, None], dark.mean(axis=2), 0.0)
    share = np.maximum(aside, whole)
    # What is in a row all along, like ticks of the other edge, is no numeral.
    share = np.maximum(share - np.median(share[:, index], axis=1, keepdims=True), 0.0)
    tall = max(1, min(round(ROWS * inch / 8), len(share)))
    per_tick = cv2.blur(share, (1, tall), borderType=cv2.BORDER_CONSTANT).max(axis=0)
    width = 2 * (period // 8) + 1
    around = np.convolve(per_tick, np.ones(width) / width, mode="same")
    return np.asarray(around[index], dtype=np.float64)


def _as_dark_as_ticks(steps: Ladder, folded: Fold, rows: Mask, index: Whole) -> Array:
    """(rows, ticks, 8) 1 where the ruler is about as dark as on the ticks, else 0."""
    grey = folded.grey[rows]
    # glare and grain change slowly along the ruler
    width = PHASES * max(steps.scheme.period // 2, 2) + 1
    ground = cv2.blur(grey, (width, 1), borderType=cv2.BORDER_REFLECT)
    darker = (grey - ground) * (1.0 if steps.light else -1.0)
    own = depth(folded, steps.light)[:, folded.in_core].mean(axis=1)
    dark = darker > RULER.as_dark * float(np.median(own[index - 1]))
    return np.asarray(dark.reshape(len(grey), -1, PHASES), dtype=np.float64)
