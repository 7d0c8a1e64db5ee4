"""Two photos of one cloth: the whole tells the layout, the close-up the exact counts.

The stripes of the close-up are looked for among those of the whole photo: the same colours in the
same order, with counts that can be the same. Where they fit, the chances of both photos are
multiplied, and the partners of each stripe in the repeat share what was learned.

Shading may have parted one yarn into two in either photo. For finding the place yarns that look
alike are therefore one, and neighbouring stripes of them are one run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from settscan.cloth.model import SequenceKind, Yarn
from settscan.doubts import Doubt, doubt
from settscan.measured import Measured
from settscan.photo.flat import Scale
from settscan.reading.colours import difference
from settscan.reading.counts import Count
from settscan.reading.model import AxisRead, ClothRead, RepeatRead, StripeRead
from settscan.reading.repeats import (
    Pattern,
    Seen,
    find_pattern,
    owning_slips,
    pattern_doubts,
    write_sequence,
)
from settscan.settings import COUNTS, READ, CountSettings, ReadSettings

_MOST_DIFFERENT = 20.0  # CIEDE2000: two photos of one yarn in other light differ by some ten
_MOST_SHOWN = 3  # differences; more of them are of one kind
_LEAST_RUNS = 3  # a run between two others is the least that shows a count
_STRAY = 1e-4  # chance of a count that a reading gave no chance at all
_LEAST_FIT = 0.02  # geometric mean chance of a place's counts; chance places have a thousandth
_DENSITY_APART = 0.02  # relative; the error of two scales from rulers on cloth is about a percent

Table = dict[int, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Neighbouring stripes of colours that look alike.

    Attributes:
        colour: number of the group of colours; None if it is in no group.
        table: chances of their threads together.
        cut: whether the frame cuts it.
        members: indices of its stripes.
    """

    colour: int | None
    table: Table
    cut: bool
    members: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the close-up may lie: the whole photo's run that its first one is, and a weight."""

    first: int
    weight: float


def joined(whole: ClothRead, close: ClothRead, scale: Scale) -> ClothRead:
    """The whole cloth's reading with what the close-up of it tells.

    Args:
        whole: read with the close-up's densities pinned, as far as it gave any.
        close: read by itself; both photos the same way up.
        scale: of the whole photo.
    """
    groups = groups_of(whole.yarns)
    same = {k: groups[v] for k, v in matching_yarns(whole.yarns, close.yarns).items()}
    sides = (
        ("columns", whole.columns, close.columns, scale.px_per_mm_x),
        ("rows", whole.rows, close.rows, scale.px_per_mm_y),
    )
    columns, rows = (
        _checked(joined_axis(axis, other, (groups, same), name), axis, other, px_per_mm, name)
        for name, axis, other, px_per_mm in sides
    )
    return replace(whole, columns=columns, rows=rows)


def is_another_cloth(read: ClothRead) -> bool:
    """Whether a reading joined with a close-up shows that this is of another cloth.

    None of its stripes was found, and its threads lie closer or wider than those that were seen.
    """
    axes = [{each.name for each in axis.doubts} for axis in (read.columns, read.rows)]
    unfound = all("close-up-unmatched" in names for names in axes)
    return unfound and any("pitch-disputed" in names for names in axes)


def matching_yarns(whole: Sequence[Yarn], close: Sequence[Yarn]) -> dict[str, str]:
    """The whole photo's key of each yarn of the close-up.

    First the pairs that differ least in all, then for what is left over the most alike yarn.
    """
    from scipy.optimize import linear_sum_assignment  # a part of scikit-image's own needs

    if not whole or not close:
        return {}
    apart = difference(_labs(close)[:, None], _labs(whole)[None])
    chosen = np.argmin(apart, axis=1)
    for i, j in zip(*linear_sum_assignment(np.minimum(apart, _MOST_DIFFERENT)), strict=True):
        if apart[i, j] < apart[i, chosen[i]] + READ.lookalikes:
            chosen[i] = j
    return {
        yarn.key: whole[j].key
        for i, (yarn, j) in enumerate(zip(close, chosen, strict=True))
        if apart[i, j] < _MOST_DIFFERENT
    }


def groups_of(yarns: Sequence[Yarn], settings: ReadSettings = READ) -> dict[str, int]:
    """Number of the group of each yarn; yarns that look alike share one, also by way of others."""
    if not yarns:
        return {}
    labs = _labs(yarns)
    alike = difference(labs[:, None], labs[None]) < settings.lookalikes
    group = np.arange(len(yarns))
    for _ in yarns:
        group = np.array([group[row].min() for row in alike])
    return {yarn.key: int(g) for yarn, g in zip(yarns, group, strict=True)}


def _labs(yarns: Sequence[Yarn]) -> NDArray[np.float64]:
    """(N, 3) CIELAB."""
    return np.array([yarn.lab or (0.0, 0.0, 0.0) for yarn in yarns], dtype=np.float64)


def joined_axis(
    whole: AxisRead, close: AxisRead, groups: tuple[dict[str, int], dict[str, int]], name: str
) -> AxisRead:
    """One axis of the whole photo with the close-up's counts.

    Args:
        whole: of the whole photo.
        close: of the close-up.
        groups: numbers of the colours in the whole photo and in the close-up.
        name: "columns" or "rows", for the doubts.
    """
    if not close.stripes:
        return whole
    runs, shown = runs_of(whole.stripes, groups[0]), runs_of(close.stripes, groups[1])
    there = find_places(runs, shown)
    if not there:
        return replace(whole, doubts=(*whole.doubts, doubt("close-up-unmatched", axis=name)))
    counts = [
        # What breaks the repeat was told the count of its partners, which is not its own.
        Count(((s.threads, 1.0),)) if i in whole.repeat.breaks else Count.from_table(table_of(s))
        for i, s in enumerate(whole.stripes)
    ]
    pattern = find_pattern(_as_seen(whole.stripes, counts))
    alone = [run.members[0] if len(run.members) == 1 and not run.cut else None for run in runs]
    differing = []
    for group in pattern.groups:
        members = [i for i in group if not whole.stripes[i].cut and i not in pattern.breaks]
        places = {i: {alone.index(i)} for i in members if i in alone}
        of_group = _told({p for own in places.values() for p in own}, shown, there)
        for index in members:
            told = _told(places.get(index, set()), shown, there) or of_group
            if told is None:
                continue
            stripe, likeliest = whole.stripes[index], max(told[0], key=lambda n: told[0][n])
            if likeliest != stripe.threads and stripe.chance >= READ.doubtful:
                differing.append((index, stripe.threads, likeliest))
            counts[index] = _updated(counts[index], *told)
    again = _decided(whole, tuple(counts), name)
    doubts = [
        doubt("close-up-differs", axis=name, stripe=i + 1, whole=a, close=b)
        for i, a, b in differing[:_MOST_SHOWN]
    ]
    return replace(again, doubts=(*again.doubts, *doubts))


def _updated(count: Count, told: Table, trust: float, settings: CountSettings = COUNTS) -> Count:
    """Chances of both photos together, as far as the close-up shows this stripe or its like."""
    own = dict(count.chances)
    keep = trust * (1 - settings.break_chance)
    return Count.from_table(
        {
            n: own.get(n, _STRAY) * (keep * told.get(n, _STRAY) + (1 - keep) * own.get(n, _STRAY))
            for n in set(own) | set(told)
        }
    )


def _as_seen(stripes: Sequence[StripeRead], counts: Sequence[Count]) -> tuple[Seen, ...]:
    return tuple(
        Seen(yarn=s.yarn, count=c, cut=s.cut) for s, c in zip(stripes, counts, strict=True)
    )


def table_of(stripe: StripeRead) -> Table:
    """Chances of its counts; what was not listed is spread over its interval and one beyond."""
    table = {stripe.threads: stripe.chance, **dict(stripe.others)}
    near = [n for n in range(max(1, stripe.low - 1), stripe.high + 2) if n not in table]
    left = max(0.0, 1 - sum(table.values()))
    for number in near:
        table[number] = max(left / len(near), _STRAY)
    return table


def runs_of(stripes: Sequence[StripeRead], groups: dict[str, int]) -> tuple[Run, ...]:
    """The stripes with neighbours of one group joined."""
    found: list[Run] = []
    for index, stripe in enumerate(stripes):
        colour, table = groups.get(stripe.yarn), table_of(stripe)
        if found and colour is not None and found[-1].colour == colour:
            last = found.pop()
            both: Table = {}
            for (a, chance_a), (b, chance_b) in product(last.table.items(), table.items()):
                both[a + b] = both.get(a + b, 0.0) + chance_a * chance_b
            cut, members = last.cut or stripe.cut, (*last.members, index)
            found.append(Run(colour=colour, table=both, cut=cut, members=members))
        else:
            found.append(Run(colour=colour, table=table, cut=stripe.cut, members=(index,)))
    return tuple(found)


def find_places(whole: Sequence[Run], close: Sequence[Run]) -> tuple[Place, ...]:
    """Where the close-up may lie in the whole photo; () where nowhere.

    All of it must lie within the whole, with the same order of colours. In a cloth that repeats
    there are several places; their weights add up to one.
    """
    if all(run.cut for run in close) or len(close) < _LEAST_RUNS:
        return ()
    wanted = [run.colour for run in close]
    found: list[tuple[int, float]] = []
    for first in range(len(whole) - len(close) + 1):
        part = whole[first : first + len(close)]
        if None in wanted or [run.colour for run in part] != wanted:
            continue
        last = len(close) - 1
        fits = [
            _fit(a, b, k in (0, last)) for k, (a, b) in enumerate(zip(part, close, strict=True))
        ]
        if float(np.mean(fits[1:last])) > np.log(_LEAST_FIT):  # the ends fit almost anything
            found.append((first, float(np.sum(fits))))
    best = max((fit for _, fit in found), default=0.0)
    weights = [float(np.exp(fit - best)) for _, fit in found]
    return tuple(
        Place(first=first, weight=weight / sum(weights))
        for (first, _), weight in zip(found, weights, strict=True)
    )


def _fit(whole: Run, close: Run, at_end: bool) -> float:
    """Log of the chance that both are one run; at the end of the close-up it may be cut."""
    if whole.cut and close.cut:
        return 0.0
    if close.cut or at_end:
        return 0.0 if min(close.table) <= max(whole.table) or whole.cut else float(np.log(_STRAY))
    if whole.cut:
        return 0.0 if min(whole.table) <= max(close.table) else float(np.log(_STRAY))
    same = sum(chance * close.table.get(n, 0.0) for n, chance in whole.table.items())
    return float(np.log(max(same, _STRAY)))


def _told(
    runs: set[int], close: Sequence[Run], there: Sequence[Place]
) -> tuple[Table, float] | None:
    """The close-up's chances for runs of the whole photo, and how far they can be trusted.

    Where a cloth repeats, each place that fits as well as the best shows the same stripe of the
    repeat; one that fits worse is trusted as much less. None if no place shows any of the runs
    whole: the outermost runs of the close-up are not asked, since the frame cuts them, even where
    nothing says so.

    Args:
        runs: indices of runs that are one stripe of the repeat.
        close: runs of the close-up.
        there: where the close-up may lie.
    """
    table: Table = {}
    best = max(place.weight for place in there)
    trusts = [0.0]
    for place in there:
        inside = [r - place.first for r in runs if 0 < r - place.first < len(close) - 1]
        for k in inside:
            if close[k].cut:
                continue
            trusts.append(place.weight / best)
            for number, chance in close[k].table.items():
                table[number] = table.get(number, 0.0) + trusts[-1] * chance
    if not table:
        return None
    return {n: chance / sum(trusts) for n, chance in table.items()}, max(trusts)


def _decided(whole: AxisRead, counts: tuple[Count, ...], name: str) -> AxisRead:
    """The axis with new counts, its repeat written anew."""
    seen = _as_seen(whole.stripes, counts)
    pattern = find_pattern(seen)
    owned = owning_slips(counts, seen, pattern)
    stripes = tuple(_recounted(s, c) for s, c in zip(whole.stripes, owned, strict=True))
    sequence = write_sequence(pattern, seen, tuple(s.threads for s in stripes))
    partial = pattern.kind is SequenceKind.PARTIAL
    sure = [
        max((stripes[g].chance for g in group if not seen[g].cut), default=0.5)
        for group in pattern.groups
    ]
    repeat = RepeatRead(
        kind=pattern.kind,
        sequence=sequence,
        threads=None if partial else sequence.threads,
        members=pattern.groups,
        chance=float(np.prod(sure)),
        breaks=pattern.breaks,
    )
    doubts = _fresh_doubts(whole, stripes, pattern, name)
    return replace(whole, stripes=stripes, repeat=repeat, doubts=doubts)


def _recounted(stripe: StripeRead, count: Count) -> StripeRead:
    """The stripe with another count; one that the frame cuts stays as it was seen."""
    if stripe.cut:
        return stripe
    low, high = count.interval()
    return replace(
        stripe,
        threads=count.threads,
        low=low,
        high=high,
        chance=min(count.chance, 0.999),
        others=count.chances[1:4],
    )


def _fresh_doubts(
    whole: AxisRead,
    stripes: tuple[StripeRead, ...],
    pattern: Pattern,
    name: str,
    settings: ReadSettings = READ,
) -> tuple[Doubt, ...]:
    """The doubts that remain, and those about counts and repeat as they are now."""
    counted = (
        "uncertain-counts", "partial-repeat", "repeat-unsure", "rim-unlike", "breaks-repeat"
    )  # fmt: skip
    found = [d for d in whole.doubts if d.name not in counted]
    unsure = sum(s.chance < settings.doubtful for s in stripes if not s.cut)
    if unsure:
        found.append(doubt("uncertain-counts", axis=name, number=unsure))
    found.extend(pattern_doubts(pattern, name))
    for index in pattern.breaks:
        group = next(g for g in pattern.groups if index in g)
        partners = [stripes[g].threads for g in group if g != index and not stripes[g].cut]
        if partners and not stripes[index].cut:
            said = {"found": stripes[index].threads, "expected": partners[0]}
            found.append(doubt("breaks-repeat", axis=name, stripe=index + 1, **said))
    return tuple(found)


def _checked(
    read: AxisRead, whole: AxisRead, close: AxisRead, px_per_mm: Measured | None, name: str
) -> AxisRead:
    """Say so where the threads seen in the whole photo lie at another density than the close-up's.

    Only threads that were followed in the whole photo itself can object.
    """
    if whole.counted_by not in ("weave", "ripple") or whole.pitch_px is None:
        return read
    if px_per_mm is None or close.density is None:
        return read
    own = float(px_per_mm.value) / float(whole.pitch_px.value)
    other = float(close.density.value)
    slack = sum(float((m.high - m.low) / 2 / m.value) for m in (px_per_mm, close.density))
    if abs(np.log(own / other)) <= max(slack, _DENSITY_APART):
        return read
    disputed = doubt("pitch-disputed", axis=name, first=10 * own, second=10 * other)
    return replace(read, doubts=(*read.doubts, disputed))
