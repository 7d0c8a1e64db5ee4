"""Repeat and pivots: which stripes are partners of each other.

A sequence of stripes may turn back at two pivots (symmetric), begin again (repeating), or show
neither within the frame (partial). Stripes match when their yarns are the same and their counts
can be: a stripe that the frame cuts matches any partner that is not smaller.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe
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
        matches: comparisons of counts that support it.
    """

    kind: SequenceKind
    first: int
    last: int
    groups: tuple[tuple[int, ...], ...]
    breaks: tuple[int, ...]
    matches: int


def find_pattern(stripes: tuple[Seen, ...], settings: RepeatSettings = REPEATS) -> Pattern:
    """The shortest repeat that explains all stripes; symmetric before repeating."""
    n = len(stripes)
    best: tuple[float, Pattern] | None = None
    pivots = _possible_pivots(tuple(s.yarn for s in stripes))
    pairs = [(last - first, first, last) for first in pivots for last in pivots if last > first]
    for length, first, last in sorted(pairs):
        if best is not None and length + 1 >= best[0]:
            break  # each written stripe has its price: longer ones cannot be cheaper
        pattern = _judge(stripes, SequenceKind.SYMMETRIC, first, last, settings)
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
        matches=0,
    )


def _better(
    best: tuple[float, Pattern] | None, found: Pattern | None, settings: RepeatSettings
) -> tuple[float, Pattern] | None:
    """Keep the cheaper: each written stripe and each break has its price."""
    if found is None:
        return best
    cost = len(found.groups) + settings.break_price * len(found.breaks)
    if found.kind is SequenceKind.REPEATING:
        cost += 0.5
    return (cost, found) if best is None or cost < best[0] - 1e-9 else best


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
) -> Pattern | None:
    """The pattern with these written stripes, or None if the stripes contradict it."""
    length = last - first + 1
    groups: list[list[int]] = [[] for _ in range(length)]
    for position in range(len(stripes)):
        groups[_written_index(kind, position, first, last)].append(position)
    breaks: list[int] = []
    matches = 0
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
        matches += len(group) - 1 - len(odd)
    if not _enough(stripes, groups, matches, kind, settings):
        return None
    return Pattern(
        kind=kind,
        first=first,
        last=last,
        groups=tuple(tuple(g) for g in groups),
        breaks=tuple(breaks),
        matches=matches,
    )


def _enough(
    stripes: tuple[Seen, ...],
    groups: list[list[int]],
    matches: int,
    kind: SequenceKind,
    settings: RepeatSettings,
) -> bool:
    """Whether enough whole stripes were compared for a chance likeness to be unlikely."""
    whole = sum(max(0, sum(not stripes[g].cut for g in group) - 1) for group in groups)
    needed = settings.least_matches if len(groups) > 2 else 1
    if kind is SequenceKind.REPEATING:
        needed = max(needed, min(len(groups), settings.least_matches))
    return matches > 0 and whole >= needed


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
