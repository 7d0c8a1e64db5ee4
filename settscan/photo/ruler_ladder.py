"""What tells a ruler from a comb of threads: ticks of a few lengths in a fixed order.

All ticks begin on one line, every fifth or second is longer, and of the longer ones again every
second: millimetres are told from inches by that order alone. Numerals need not be read.

A single tick's length is uncertain in a small or noisy picture. So ticks that hold the same place
in the order (their number modulo its period) are laid over each other, and the mean tick of each
place is measured: an order is believed when each step from one class of ticks to the next is
large against the differences within the classes. Its unit is settled in `ruler_settle`.
"""

from __future__ import annotations

import numpy as np

from settscan.photo.ruler_fold import ROWS, Fold, depth
from settscan.photo.ruler_scheme import SCHEMES, Array, Ladder, Scheme, Whole
from settscan.photo.ruler_settle import halves_are_numbered, numerals_beyond, scatter, settled_order
from settscan.settings import RULER


def ladder(folded: Fold, orders: list[Ladder]) -> Ladder | None:
    """That of the plain orders, from `all_plain_orders`, whose unit is sure, or None."""
    inked = [(steps, numerals_beyond(steps, folded)) for steps in orders]
    inked = [(steps, ink) for steps, ink in inked if not halves_are_numbered(steps, ink)]
    for steps, ink in inked:
        longer = [other for other, _ in inked if goes_on(other, steps)]
        settled = settled_order(steps, folded, ink)
        if settled is not None and all(_are_its_inches(other, settled, ink) for other in longer):
            return settled
    return None


def all_plain_orders(folded: Fold) -> list[Ladder]:
    """The plain orders of dark ticks and of light ones, most evidence first; units are open."""
    found: list[Ladder] = []
    for light in (False, True):
        ticks = shown_ticks(folded, light)
        if ticks is not None:
            for side in (1, -1):
                found += _plain(_orders(folded, *ticks, side, light))
    return sorted(found, key=_evidence, reverse=True)


def plain_orders(folded: Fold, numbers: Array, level: Array) -> list[Ladder]:
    """The plain orders of dark ticks that were measured one by one, most evidence first.

    Args:
        folded: what lies about them.
        numbers: (N,) of the ticks that show.
        level: (N, V) on the fold's rows: 1 on a tick and 0 beside it.
    """
    found = [
        steps
        for side in (1, -1)
        for steps in _plain(_orders(folded, numbers, level, side, light=False))
    ]
    found = [steps for steps in found if not any(goes_on(other, steps) for other in found)]
    return sorted(found, key=_evidence, reverse=True)


def goes_on(other: Ladder, steps: Ladder) -> bool:
    """Whether an inch scale has still longer ticks: then these must tell which are the inches."""
    both = other.scheme.unit == steps.scheme.unit == "inch"
    same = (other.side, other.light) == (steps.side, steps.light)
    return both and same and other.scheme.period > steps.scheme.period


def _are_its_inches(other: Ladder, steps: Ladder, ink: Array) -> bool:
    """Whether the still longer ticks are those whose numerals told the inches of `steps`.

    A tick that runs into its numeral seems longer, and nothing is left of the numeral beyond it.
    """
    if not np.isclose(steps.scheme.tick_mm * other.scheme.period, 25.4, rtol=0.01):
        return False
    inch = other.whole % other.scheme.period == 0
    rest = (steps.whole % steps.scheme.period == 0) & ~inch
    if not inch.any() or not rest.any():
        return False
    return bool(np.median(ink[inch]) > RULER.numeral_ink * np.median(ink[rest]))


def _plain(orders: list[Ladder]) -> list[Ladder]:
    """The plain orders that explain as much as any order of another kind."""
    return [
        f
        for f in orders
        if f.step >= RULER.least_step
        and f.agree >= _least_agree(f)
        and not _is_by_chance(f)
        and not any(_explains_more(other, f) for other in orders)
    ]


def _is_by_chance(steps: Ladder) -> bool:
    """Whether chance may make the order: two lengths, and few ticks of the longer."""
    longest = (steps.whole % steps.scheme.period == 0).sum()
    return len(steps.classes) == 2 and bool(longest < RULER.least_longest)


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


def shown_ticks(folded: Fold, light: bool) -> tuple[Array, Array] | None:
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
    valid &= usual > floor
    level = np.clip(dark[valid] / usual[valid, None], -1.0, 2.0)
    return folded.numbers[1:-1][valid], level


def _orders(folded: Fold, numbers: Array, level: Array, side: int, light: bool) -> list[Ladder]:
    """All orders of the ticks on one side of the core, if one of them has plain steps."""
    single = _lengths(folded, level, side)
    if single is None:
        return []
    outwards, gap = _outwards(folded, level, side), _gap(folded)
    if np.abs(single - np.median(single)).mean() < RULER.least_spread:
        return []  # all alike, as threads are
    whole = numbers.astype(np.int64)
    likely = []
    for scheme in SCHEMES:
        if np.ptp(whole) < RULER.least_periods * scheme.period:
            continue
        mean, count = _mean_ticks(whole % scheme.period, outwards, scheme.period)
        lengths = run_lengths(mean, gap) / ROWS - _inset(folded)
        phase = _best_phase(lengths, count, scheme)
        kind = scheme.classes(whole - phase)
        step, classes = _steps(lengths, count, phase, scheme, folded.pixel, kind, single)
        likely.append((scheme, phase, kind, step, classes))
    if all(step < RULER.least_step for *_, step, _ in likely):
        return []  # most rows of threads: nothing more need be known of them
    return [
        Ladder(
            numbers, single, scheme, phase, step, _share(kind, single),
            _agreement(kind, single, classes), side, light, classes,
        )
        for scheme, phase, kind, step, classes in likely
    ]  # fmt: skip


def _outwards(folded: Fold, level: Array, side: int) -> Array:
    """(N, R) the level of each tick (N, V) from a little within the core outwards, to one side.

    The shortest ticks end about the core's border: what ends just within has a length as well.
    """
    low, high = folded.core
    inset = _inset(folded)
    beyond = folded.rows > high - inset if side > 0 else folded.rows < low + inset
    order = np.flatnonzero(beyond)
    return level[:, order if side > 0 else order[::-1]]


def _inset(folded: Fold) -> float:
    """How far within the core's border lengths begin, in spacings."""
    return min(RULER.core_inset, (folded.core[1] - folded.core[0]) / 2)


def _gap(folded: Fold) -> float:
    """Rows without a tick after which what follows is none of it."""
    return max(RULER.gap_rows, RULER.gap_px * folded.pixel * ROWS)


def _lengths(folded: Fold, level: Array, side: int) -> Array | None:
    """(N,) how far each tick goes on beyond the core, in spacings; None where nothing is seen."""
    outwards = _outwards(folded, level, side)
    if outwards.shape[1] < 3:
        return None
    return run_lengths(outwards, _gap(folded)) / ROWS - _inset(folded)


def _mean_ticks(place: Whole, level: Array, period: int) -> tuple[Array, Array]:
    """(P, R) the mean tick at each place of the order, and how many it is made of."""
    member = (place[None, :] == np.arange(period)[:, None]).astype(np.float64)
    count = member.sum(axis=1)
    return member @ np.clip(level, 0.0, 1.0) / np.maximum(count, 1.0)[:, None], count


def run_lengths(level: Array, gap: float) -> Array:
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
    errors: list[float] = []
    shortest = single[kind == 0]
    usual = scatter(shortest) if len(shortest) else np.inf
    for k in np.unique(kind):
        members = single[kind == k]
        few = len(members) < RULER.few_ticks
        errors.append((usual if few else scatter(members)) / float(np.sqrt(len(members))))
    return np.array(errors)


def _steps(
    lengths: Array,
    count: Array,
    phase: int,
    scheme: Scheme,
    pixel: float,
    kinds: Whole,
    single: Array,
) -> tuple[float, tuple[float, ...]]:
    """The smallest step between classes in its own errors, and the classes' lengths.

    The step is 0 where classes overlap or one is hardly longer than the other.
    """
    kind = scheme.classes(np.arange(scheme.period) - phase)
    members = [lengths[(kind == k) & (count > 0)] for k in range(len(scheme.factors) + 1)]
    if any(len(m) == 0 for m in members) or len(np.unique(kinds)) != len(members):
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
    own = _errors(kinds, single)
    error = np.hypot(error, np.hypot(own[1:], own[:-1]))
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
