"""Repeat and pivots: which stripes are partners of each other.

A sequence of stripes may turn back at two pivots (symmetric), begin again (repeating), or show
neither within the frame (partial). Stripes match when their yarns are the same and their counts
can be: a stripe that the frame cuts matches any partner that is not smaller.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe
from settscan.doubts import Doubt, doubt
from settscan.reading.counts import Count
from settscan.settings import REPEATS, RepeatSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A stripe for matching: yarn, its count's chances, whether the frame cuts it."""

    yarn: str
    count: Count
    cut: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """How the stripes hang together.

    Attributes:
        kind: symmetric, repeating or partial.
        first, last: indices of the first and last written stripe (the two pivots if symmetric).
        groups: indices of stripes that are one stripe of the repeat, written stripes' order.
        breaks: indices whose count does not go with their partners.
        odds: log of how much likelier what matches is if it repeats than by chance.
        rim: indices of outermost stripes that follow no repeat, and are in no group.
    """

    kind: SequenceKind
    first: int
    last: int
    groups: tuple[tuple[int, ...], ...]
    breaks: tuple[int, ...]
    odds: float
    rim: tuple[int, ...] = ()


def find_pattern(stripes: tuple[Seen, ...], settings: RepeatSettings = REPEATS) -> Pattern:
    """The shortest repeat that explains all stripes, or all but a few outermost ones.

    The rim is what is read worst: where what lies within repeats so plainly that chance is out
    of the question, the rim is left out and does not stand against it.
    """
    found = _pattern_of(stripes, settings)
    n = len(stripes)
    if found.kind is not SequenceKind.PARTIAL:
        return found
    inner = [
        _within(stripes, first, n - left_out + first, settings)
        for left_out in range(1, min(settings.most_rim, n - 3) + 1)
        for first in range(left_out + 1)
    ]
    sure = [p for p in inner if p.odds >= (2 + len(p.rim)) * settings.least_odds]
    return min(sure, key=lambda p: _price(p, settings), default=found)


def _within(stripes: tuple[Seen, ...], first: int, stop: int, settings: RepeatSettings) -> Pattern:
    """The pattern of the stripes `first` to `stop`, the others left out as its rim."""
    found = _pattern_of(stripes[first:stop], settings)
    return replace(
        found,
        first=found.first + first,
        last=found.last + first,
        groups=tuple(tuple(i + first for i in group) for group in found.groups),
        breaks=tuple(i + first for i in found.breaks),
        rim=(*range(first), *range(stop, len(stripes))),
    )


def _pattern_of(stripes: tuple[Seen, ...], settings: RepeatSettings) -> Pattern:
    """The shortest repeat that explains all stripes; symmetric before repeating."""
    n = len(stripes)
    best: tuple[float, Pattern] | None = None
    pivots = _possible_pivots(tuple(s.yarn for s in stripes))
    pairs = [(last - first, first, last) for first in pivots for last in pivots if last > first]
    for length, first, last in sorted(pairs):
        if best is not None and length + 1 >= best[0]:
            break  # each written stripe has its price: longer ones cannot be cheaper
        pattern = _judge(stripes, SequenceKind.SYMMETRIC, first, last, settings, len(pivots))
        best = _better(best, pattern, settings)
    for length in range(2, n):
        if best is not None and length >= best[0]:
            break
        pattern = _judge(stripes, SequenceKind.REPEATING, 0, length - 1, settings)
        best = _better(best, pattern, settings)
    if best is None:
        return _partial(n)
    kind = best[1].kind
    if kind is SequenceKind.REPEATING:
        return _begin_whole(stripes, best[1], settings)
    return best[1]


def _possible_pivots(yarns: tuple[str, ...]) -> list[int]:
    """Indices round which the colours mirror as far as they are seen."""
    n = len(yarns)
    return [
        i
        for i in range(n)
        if all(yarns[i - d] == yarns[i + d] for d in range(1, min(i, n - 1 - i) + 1))
    ]


def _partial(n: int) -> Pattern:
    return Pattern(
        kind=SequenceKind.PARTIAL,
        first=0,
        last=n - 1,
        groups=tuple((i,) for i in range(n)),
        breaks=(),
        odds=0.0,
    )


def _better(
    best: tuple[float, Pattern] | None, found: Pattern | None, settings: RepeatSettings
) -> tuple[float, Pattern] | None:
    """Keep the cheaper."""
    if found is None:
        return best
    cost = _price(found, settings)
    return (cost, found) if best is None or cost < best[0] - 1e-9 else best


def _price(found: Pattern, settings: RepeatSettings) -> float:
    """Each written stripe, and each that breaks the repeat or stands outside it, has its price."""
    odd = len(found.breaks) + len(found.rim)
    repeating = 0.5 if found.kind is SequenceKind.REPEATING else 0.0
    return len(found.groups) + settings.break_price * odd + repeating


def _written_index(kind: SequenceKind, position: int, first: int, last: int) -> int:
    """Which written stripe the stripe at `position` is, counted from `first`."""
    length = last - first + 1
    if kind is SequenceKind.REPEATING:
        return (position - first) % length
    period = 2 * (length - 1)
    within = (position - first) % period
    return within if within < length else period - within


def _judge(
    stripes: tuple[Seen, ...],
    kind: SequenceKind,
    first: int,
    last: int,
    settings: RepeatSettings,
    pivots: int = 1,
) -> Pattern | None:
    """The pattern with these written stripes, or None if the stripes contradict it.

    Of so many `pivots` that might be tried: the more, the sooner chance finds a mirror.
    """
    length = last - first + 1
    groups: list[list[int]] = [[] for _ in range(length)]
    for position in range(len(stripes)):
        groups[_written_index(kind, position, first, last)].append(position)
    breaks: list[int] = []
    most = settings.most_breaks * sum(not s.cut for s in stripes)
    for group in groups:
        if len({stripes[g].yarn for g in group}) > 1:
            return None
        if kind is SequenceKind.SYMMETRIC and all(stripes[g].cut for g in group):
            return None
        odd = _odd_ones(stripes, group, settings)
        breaks.extend(odd)
        if len(breaks) > most:
            return None
    odds = _odds(stripes, groups, breaks, settings) - float(np.log(pivots))
    if odds < settings.least_odds:
        return None
    return Pattern(
        kind=kind,
        first=first,
        last=last,
        groups=tuple(tuple(g) for g in groups),
        breaks=tuple(breaks),
        odds=odds,
    )


def _odds(
    stripes: tuple[Seen, ...],
    groups: list[list[int]],
    breaks: list[int],
    settings: RepeatSettings,
) -> float:
    """Log of how much likelier the likeness of partners is if they are some than by chance.

    By chance a stripe is of any yarn but its neighbour's, has now and then the count of another
    of its yarn, and as often as not is no smaller than one that the frame cuts.
    """
    yarns = len({stripe.yarn for stripe in stripes})
    odds = 0.0
    for group in groups:
        whole = sum(not stripes[g].cut for g in group)
        alike = whole - sum(g in breaks for g in group)
        odds += (len(group) - 1) * float(np.log(max(yarns - 1, 1)))
        odds -= max(alike - 1, 0) * float(np.log(settings.chance_count))
        odds -= (len(group) - whole if whole else 0) * float(np.log(settings.chance_cut))
    return odds


def _odd_ones(stripes: tuple[Seen, ...], group: list[int], settings: RepeatSettings) -> list[int]:
    """Members whose count is unlikely to be that of the others."""
    whole = [g for g in group if not stripes[g].cut]
    cut = [g for g in group if stripes[g].cut]
    if not whole:
        return []
    votes: dict[int, float] = {}
    for number in {n for g in whole for n, _ in stripes[g].count.chances}:
        votes[number] = sum(
            float(np.log(max(dict(stripes[g].count.chances).get(number, 0.0), 1e-4))) for g in whole
        )
    agreed = max(votes, key=lambda number: votes[number])
    odd = [
        g for g in whole if dict(stripes[g].count.chances).get(agreed, 0.0) < settings.least_chance
    ]
    odd += [g for g in cut if stripes[g].count.interval(0.98)[0] > agreed]
    return odd


def _begin_whole(stripes: tuple[Seen, ...], found: Pattern, settings: RepeatSettings) -> Pattern:
    """A repeating pattern written from its first stripe that is seen whole."""
    length = len(found.groups)
    for first in range(min(length, len(stripes) - length + 1)):
        if not stripes[first].cut:
            again = _judge(stripes, SequenceKind.REPEATING, first, first + length - 1, settings)
            if again is not None:
                return again
    return found


def in_usual_order(pattern: Pattern, stripes: tuple[Seen, ...]) -> Pattern:
    """The same pattern written so that warp and weft of one sett read alike.

    A symmetric sequence begins at its wider pivot, so that a cloth that closes on its first
    pivot closes on the wide one; a repeating one begins at its widest stripe (at the first of
    several, told apart by what follows).
    """
    if pattern.kind is SequenceKind.PARTIAL:
        return pattern
    sizes = [
        max((stripes[g].count.threads for g in group if not stripes[g].cut), default=0)
        for group in pattern.groups
    ]
    groups = pattern.groups
    if pattern.kind is SequenceKind.SYMMETRIC:
        if sizes[::-1] > sizes:
            groups = groups[::-1]
    else:
        turns = range(len(groups))
        first = max(turns, key=lambda k: (sizes[k:] + sizes[:k], -k))
        groups = groups[first:] + groups[:first]
    return replace(pattern, groups=groups)


def write_sequence(
    pattern: Pattern, stripes: tuple[Seen, ...], counts: tuple[int, ...]
) -> ColourSequence:
    """The written sequence: each written stripe with the count that its whole members agree on.

    Args:
        pattern: what `find_pattern` found.
        stripes: the stripes it was found in.
        counts: the settled count of each stripe.
    """
    written = []
    for group in pattern.groups:
        whole = [g for g in group if not stripes[g].cut and g not in pattern.breaks]
        members = whole or [g for g in group if not stripes[g].cut]
        if members:
            values = [counts[g] for g in members]
            threads = max(set(values), key=lambda v: (values.count(v), v))
        else:
            threads = max(counts[g] for g in group)
        written.append(Stripe(stripes[group[0]].yarn, threads))
    return ColourSequence(pattern.kind, tuple(written))


def owning_slips(
    counts: tuple[Count, ...],
    stripes: tuple[Seen, ...],
    pattern: Pattern,
    settings: RepeatSettings = REPEATS,
) -> tuple[Count, ...]:
    """Counts of which those that break the repeat have a chance to be what it wants.

    A weaver slips seldom, and so does the eye: which of the two it was is for a glass to say. Of
    two partners that differ, and have no third, neither is the one that is right.
    """
    owned = list(counts)
    for group in pattern.groups:
        whole = [g for g in group if not stripes[g].cut]
        odd = [g for g in whole if g in pattern.breaks]
        agreed = [g for g in whole if g not in pattern.breaks]
        if not odd or not agreed:
            continue
        for g in odd:
            owned[g] = _perhaps(counts[g], counts[agreed[0]].threads, settings)
        if len(agreed) == 1:
            owned[agreed[0]] = _perhaps(counts[agreed[0]], counts[odd[0]].threads, settings)
    return tuple(owned)


def owning_unlike_partners(
    counts: tuple[Count, ...],
    stripes: tuple[Seen, ...],
    pattern: Pattern,
    settings: RepeatSettings = REPEATS,
) -> tuple[Count, ...]:
    """Counts of which those that nearly repeat have a chance to be what their partners are.

    Where all stripes repeat, or repeat sooner, but for a thread or two in some of them, it is less
    often the designer who wished it so than the eye that slipped.
    """
    near = tuple(replace(s, count=_blurred(s.count, settings)) for s in stripes)
    found = find_pattern(near, replace(settings, chance_count=settings.chance_near))
    sooner = len(found.groups) < len(pattern.groups)
    if found.kind is SequenceKind.PARTIAL or found.odds < settings.sure_odds or not sooner:
        return counts
    owned = list(counts)
    for group in found.groups:
        whole = [g for g in group if not stripes[g].cut]
        told = [counts[g].threads for g in whole]
        for g in whole:
            others = [n for n in told if n != counts[g].threads]
            if others:
                owned[g] = _perhaps(counts[g], max(set(others), key=others.count), settings)
    return tuple(owned)


def reach_of(threads: int, settings: RepeatSettings = REPEATS) -> int:
    """By how many threads counts may differ that are nearly alike: some per cent, at least one."""
    return max(1, round(settings.near * threads))


def _blurred(count: Count, settings: RepeatSettings) -> Count:
    """A count that may be off by some per cent, at least by one."""
    reach = reach_of(count.threads, settings)
    table: dict[int, float] = {}
    for number, chance in count.chances:
        for off in range(-min(reach, number - 1), reach + 1):
            table[number + off] = table.get(number + off, 0.0) + chance / (2 * reach + 1)
    return Count.from_table(table)


def _perhaps(count: Count, other: int, settings: RepeatSettings) -> Count:
    """A count that may after all be another; one that is in doubt already says enough."""
    table = dict(count.chances)
    given = max(0.0, count.chance - (1 - settings.slip))
    table[count.threads] -= given
    table[other] = table.get(other, 0.0) + given
    return Count.from_table(table)


def pattern_doubts(pattern: Pattern, name: str, settings: RepeatSettings = REPEATS) -> list[Doubt]:
    """Doubts about how the stripes of an axis, "columns" or "rows", hang together."""
    found: list[Doubt] = []
    if pattern.kind is SequenceKind.PARTIAL:
        if len(pattern.groups) > 1:
            found.append(doubt("partial-repeat", axis=name))
        return found
    if pattern.odds < settings.sure_odds:
        found.append(doubt("repeat-unsure", axis=name))
    if pattern.rim:
        shown = ", ".join(str(index + 1) for index in pattern.rim)
        found.append(doubt("rim-unlike", axis=name, stripes=shown))
    return found
