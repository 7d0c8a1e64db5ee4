"""Two photos of one cloth: the whole tells the layout, the close-up the exact counts.

The stripes of the close-up are looked for among those of the whole photo: the same yarns in the
same order, with counts that can be the same. Where they fit, the chances of both photos are
multiplied, and the partners of each stripe in the repeat share what was learned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from settscan.cloth.model import SequenceKind, Yarn
from settscan.doubts import Doubt, doubt
from settscan.measured import Measured
from settscan.photo.flat import Scale
from settscan.reading.colours import difference
from settscan.reading.counts import Count, settle_together
from settscan.reading.model import AxisRead, ClothRead, RepeatRead, StripeRead
from settscan.reading.repeats import Pattern, Seen, find_pattern, write_sequence
from settscan.settings import READ, ReadSettings

_MOST_DIFFERENT = 20.0  # CIEDE2000: two photos of one yarn in other light differ by some ten
_STRAY = 1e-4  # chance of a count that a reading gave no chance at all
_LEAST_FIT = 0.02  # geometric mean chance of a place's counts; chance places have a thousandth
_DENSITY_APART = 0.02  # relative; the error of two scales from rulers on cloth is about a percent

Table = dict[int, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the close-up may lie: the whole photo's stripe that its first one is, and a weight."""

    first: int
    weight: float


def joined(whole: ClothRead, close: ClothRead, scale: Scale) -> ClothRead:
    """The whole cloth's reading with what the close-up of it tells.

    Args:
        whole: read with the close-up's densities pinned, as far as it gave any.
        close: read by itself; both photos the same way up.
        scale: of the whole photo.
    """
    keys = matching_yarns(whole.yarns, close.yarns)
    sides = (
        ("columns", whole.columns, close.columns, scale.px_per_mm_x),
        ("rows", whole.rows, close.rows, scale.px_per_mm_y),
    )
    columns, rows = (
        _checked(joined_axis(axis, other, keys, name), axis, other, px_per_mm, name)
        for name, axis, other, px_per_mm in sides
    )
    return replace(whole, columns=columns, rows=rows)


def matching_yarns(whole: Sequence[Yarn], close: Sequence[Yarn]) -> dict[str, str]:
    """The whole photo's key of each yarn of the close-up: the pairs that differ least in all."""
    from scipy.optimize import linear_sum_assignment  # a part of scikit-image's own needs

    if not whole or not close:
        return {}
    labs = [np.array([y.lab or (0.0, 0.0, 0.0) for y in yarns]) for yarns in (close, whole)]
    apart = difference(labs[0][:, None], labs[1][None])
    pairs = zip(*linear_sum_assignment(np.minimum(apart, _MOST_DIFFERENT)), strict=True)
    return {close[i].key: whole[j].key for i, j in pairs if apart[i, j] < _MOST_DIFFERENT}


def joined_axis(whole: AxisRead, close: AxisRead, keys: dict[str, str], name: str) -> AxisRead:
    """One axis of the whole photo with the close-up's counts.

    Args:
        whole: of the whole photo.
        close: of the close-up.
        keys: see `matching_yarns`.
        name: "columns" or "rows", for the doubts.
    """
    if not close.stripes:
        return whole
    there = find_places(whole.stripes, close.stripes, keys)
    if not there:
        return replace(whole, doubts=(*whole.doubts, doubt("close-up-unmatched", axis=name)))
    counts = [Count.from_table(table_of(s)) for s in whole.stripes]
    differing = []
    for index, stripe in enumerate(whole.stripes):
        told = _told(index, close.stripes, there)
        if stripe.cut or told is None:
            continue
        likeliest = max(told, key=lambda n: told[n])
        if likeliest != stripe.threads and stripe.chance >= READ.doubtful:
            differing.append((index, stripe.threads, likeliest))
        own = table_of(stripe)
        counts[index] = Count.from_table(
            {n: own.get(n, _STRAY) * told.get(n, _STRAY) for n in set(own) | set(told)}
        )
    again = _decided(whole, tuple(counts), name)
    doubts = [
        doubt("close-up-differs", axis=name, stripe=i + 1, whole=a, close=b)
        for i, a, b in differing
    ]
    return replace(again, doubts=(*again.doubts, *doubts))


def table_of(stripe: StripeRead) -> Table:
    """Chances of its counts; what was not listed is spread over its interval and one beyond."""
    table = {stripe.threads: stripe.chance, **dict(stripe.others)}
    near = [n for n in range(max(1, stripe.low - 1), stripe.high + 2) if n not in table]
    left = max(0.0, 1 - sum(table.values()))
    for number in near:
        table[number] = max(left / len(near), _STRAY)
    return table


def find_places(
    whole: Sequence[StripeRead], close: Sequence[StripeRead], keys: dict[str, str]
) -> tuple[Place, ...]:
    """Where the close-up may lie among the whole photo's stripes; () where nowhere.

    All of its stripes must lie within the whole, in the same order of yarns. In a cloth that
    repeats there are several places; their weights add up to one.
    """
    wanted = [keys.get(s.yarn) for s in close]
    found: list[tuple[int, float]] = []
    for first in range(len(whole) - len(close) + 1):
        part = whole[first : first + len(close)]
        if [s.yarn for s in part] != wanted:
            continue
        fits = [_fit(a, b) for a, b in zip(part, close, strict=True)]
        if float(np.mean(fits)) > np.log(_LEAST_FIT):
            found.append((first, float(np.sum(fits))))
    if not found or sum(not s.cut for s in close) == 0:
        return ()
    best = max(fit for _, fit in found)
    weights = [float(np.exp(fit - best)) for _, fit in found]
    return tuple(
        Place(first=first, weight=weight / sum(weights))
        for (first, _), weight in zip(found, weights, strict=True)
    )


def _fit(whole: StripeRead, close: StripeRead) -> float:
    """Log of the chance that both are one stripe."""
    if whole.cut and close.cut:
        return 0.0
    if close.cut:
        return 0.0 if close.low <= whole.high else float(np.log(_STRAY))
    if whole.cut:
        return 0.0 if whole.low <= close.high else float(np.log(_STRAY))
    one, other = table_of(whole), table_of(close)
    same = sum(chance * other.get(n, 0.0) for n, chance in one.items())
    return float(np.log(max(same, _STRAY)))


def _told(index: int, close: Sequence[StripeRead], there: Sequence[Place]) -> Table | None:
    """The close-up's chances for one stripe of the whole photo; None if it does not show it."""
    table: Table = {}
    shown = 0.0
    for place in there:
        at = index - place.first
        if not 0 <= at < len(close) or close[at].cut:
            continue
        shown += place.weight
        for number, chance in table_of(close[at]).items():
            table[number] = table.get(number, 0.0) + place.weight * chance
    if shown < 0.5:
        return None
    return {n: chance / shown for n, chance in table.items()}


def _decided(whole: AxisRead, counts: tuple[Count, ...], name: str) -> AxisRead:
    """The axis with new counts: partners vote again, and the repeat is written anew."""
    seen = tuple(
        Seen(yarn=s.yarn, count=c, cut=s.cut) for s, c in zip(whole.stripes, counts, strict=True)
    )
    pattern = find_pattern(seen)
    odd = set(pattern.breaks)
    voters = tuple(
        tuple(g for g in group if not seen[g].cut and g not in odd) for group in pattern.groups
    )
    settled = settle_together(counts, voters)
    stripes = tuple(_recounted(s, c) for s, c in zip(whole.stripes, settled, strict=True))
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
    counted = ("uncertain-counts", "partial-repeat", "breaks-repeat")
    found = [d for d in whole.doubts if d.name not in counted]
    unsure = sum(s.chance < settings.doubtful for s in stripes if not s.cut)
    if unsure:
        found.append(doubt("uncertain-counts", number=unsure))
    if pattern.kind is SequenceKind.PARTIAL and len(stripes) > 1:
        found.append(doubt("partial-repeat", axis=name))
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
