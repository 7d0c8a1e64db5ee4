"""Warp and weft compared: most cloths have one sett both ways.

Where the stripes of both have one order of yarns and nearly all their counts, those few that
differ by a thread or two are more often an edge that fell a thread off than a designer's wish.
"""

from __future__ import annotations

from dataclasses import replace

from settscan.doubts import Doubt, doubt
from settscan.reading.model import AxisRead, ClothRead, StripeRead
from settscan.reading.repeats import reach_of
from settscan.settings import REPEATS, RepeatSettings

Pairs = list[tuple[int, int]]


def with_unlike_ways_doubted(read: ClothRead, settings: RepeatSettings = REPEATS) -> ClothRead:
    """The reading with the counts doubted in which warp and weft nearly agree, but do not."""
    pairs = _partners(read.columns.stripes, read.rows.stripes, settings)
    back = [(j, i) for i, j in pairs]
    return replace(
        read,
        columns=_doubted(read.columns, "columns", read.rows.stripes, pairs, settings),
        rows=_doubted(read.rows, "rows", read.columns.stripes, back, settings),
    )


def _partners(
    one: tuple[StripeRead, ...], other: tuple[StripeRead, ...], settings: RepeatSettings
) -> Pairs:
    """Stripes of both, seen whole, that are the same in the way they lie upon each other best.

    Forwards or backwards, as many as overlap; none if another yarn or count lies among them.
    """
    ways: list[Pairs] = []
    for order in (range(len(other)), range(len(other) - 1, -1, -1)):
        for shift in range(1 - len(other), len(one)):
            over = [(i, order[i - shift]) for i in range(len(one)) if 0 <= i - shift < len(other)]
            whole = [(i, j) for i, j in over if not (_cut(i, one) or _cut(j, other))]
            if len(whole) >= settings.least_both and all(
                one[i].yarn == other[j].yarn for i, j in over
            ):
                ways.append(whole)
    near = [way for way in ways if all(_near(one[i], other[j], settings) for i, j in way)]
    return max(near, key=lambda way: _alike(way, one, other), default=[])


def _cut(index: int, stripes: tuple[StripeRead, ...]) -> bool:
    """Whether a stripe may be trimmed: the outermost ones are."""
    return index in (0, len(stripes) - 1) or stripes[index].cut


def _near(one: StripeRead, other: StripeRead, settings: RepeatSettings) -> bool:
    most = max(one.threads, other.threads)
    return abs(one.threads - other.threads) <= reach_of(most, settings)


def _alike(way: Pairs, one: tuple[StripeRead, ...], other: tuple[StripeRead, ...]) -> int:
    return sum(one[i].threads == other[j].threads for i, j in way)


def _doubted(
    axis: AxisRead,
    name: str,
    others: tuple[StripeRead, ...],
    pairs: Pairs,
    settings: RepeatSettings,
) -> AxisRead:
    """An axis of which each stripe that differs may be as its partner, if that is as sure."""
    stripes, doubts = list(axis.stripes), list[Doubt](axis.doubts)
    for own, there in pairs:
        found, other = axis.stripes[own], others[there]
        if found.threads == other.threads or other.low < other.high:
            continue
        stripes[own] = replace(
            found,
            low=min(found.low, other.threads),
            high=max(found.high, other.threads),
            chance=min(found.chance, 1 - settings.slip),
        )
        said = {"found": found.threads, "other": other.threads}
        doubts.append(doubt("other-way-differs", axis=name, stripe=own + 1, **said))
    return replace(axis, stripes=tuple(stripes), doubts=tuple(doubts))
