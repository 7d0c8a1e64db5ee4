"""One axis of the cloth: bands and a thread lattice to counted stripes and a repeat."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.cloth.model import ColourSequence, SequenceKind
from settscan.doubts import Doubt, doubt
from settscan.measured import Measured, Origin
from settscan.reading.counts import Count, decode, settle_together
from settscan.reading.model import AxisRead, BandSeen, RepeatRead, StripeRead
from settscan.reading.own_edge import OwnEdge
from settscan.reading.repeats import (
    Pattern,
    Seen,
    find_pattern,
    in_usual_order,
    owning_slips,
    owning_unlike_partners,
    pattern_doubts,
    write_sequence,
)
from settscan.reading.runs import runs
from settscan.reading.stripes import Bands
from settscan.reading.threads import Lattice
from settscan.settings import CARRIERS, READ, ReadSettings

Floats = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisWork:
    """What is known of an axis before counting.

    Attributes:
        name: "columns" or "rows".
        bands: bands of even colour, pixels from the start of the readable box.
        yarns: key of the yarn of each band.
        lattice: thread coordinates; None where no thread could be followed.
        start_px: where the box begins in the flat picture.
        reaches: whether the cloth goes on beyond the first and the last band.
        px_per_mm: flat pixels per mm along the axis; None if unknown.
        pinned: density (threads per mm) that the person gave; None if not.
        blind: (N,) True for pixels of the axis that show too little cloth.
        shown: (N,) how many pixels of cloth show at each pixel of the axis.
        own: the cloth's own edges before the first band and after the last, as far as they can be
            told, in the flat picture.
    """

    name: str
    bands: Bands
    yarns: tuple[str, ...]
    lattice: Lattice | None
    start_px: float
    reaches: tuple[bool, bool]
    px_per_mm: Measured | None
    pinned: Measured | None
    blind: NDArray[np.bool_]
    shown: Floats
    own: tuple[OwnEdge | None, OwnEdge | None] = (None, None)


def read_axis(work: AxisWork, settings: ReadSettings = READ) -> AxisRead:
    """Count the threads of each stripe, let partners vote, and write the repeat.

    Without a lattice and without a pinned density and scale nothing can be counted; the answer
    then has no stripes and says so.
    """
    work = _up_to_own_edges(work, settings)
    known = _coordinates(work, settings)
    if known is None:
        return _uncounted(work)
    coordinates, edge_sd, drift_sd = known
    decoded = decode(coordinates, edge_sd, drift_sd)
    if work.lattice is not None:
        decoded = _weighed_by_width(decoded, work.bands.widths, known, settings)
    last = len(work.yarns) - 1
    cut = [(i == 0 and work.reaches[0]) or (i == last and work.reaches[1]) for i in range(last + 1)]
    seen = tuple(
        # The outermost stripes may have been trimmed, or be a border: they make no pivots.
        Seen(yarn=y, count=c, cut=i in (0, last))
        for i, (y, c) in enumerate(zip(work.yarns, decoded, strict=True))
    )
    pattern = in_usual_order(find_pattern(seen), seen)
    groups = tuple(
        tuple(g for g in group if not seen[g].cut and g not in pattern.breaks)
        for group in pattern.groups
    )
    settled = _with_other_multiple(settle_together(decoded, groups), work.lattice)
    hidden = _hidden_threads(work, coordinates)
    settled = tuple(_perhaps_two(c, h, settings) for c, h in zip(settled, hidden, strict=True))
    settled = owning_unlike_partners(owning_slips(settled, seen, pattern), seen, pattern)
    share = _share(work.lattice, settings)
    stripes = tuple(
        _stripe(work, i, count.interval(share), count, cut[i]) for i, count in enumerate(settled)
    )
    pitch = _pitch(work, coordinates)
    return AxisRead(
        bands=_bands(work),
        stripes=stripes,
        pitch_px=pitch,
        density=_density(work, pitch),
        repeat=_repeat(pattern, seen, settled),
        counted_by=work.lattice.found_by if work.lattice else "density",
        doubts=_doubts(work, pattern, seen, settled, hidden, settings),
    )


def _up_to_own_edges(work: AxisWork, settings: ReadSettings) -> AxisWork:
    """The axis with its outermost bands as wide as up to the cloth's own edges.

    An edge from which the bands end far away is forgotten: more may lie between than one band.
    """
    edges, own, reaches = work.bands.edges.copy(), list(work.own), list(work.reaches)
    for end in (0, -1):
        edge = own[end]
        if edge is None:
            continue
        beyond = edge.beyond * work.bands.cell
        at = edge.at - work.start_px + (beyond if end == 0 else -beyond)
        near = settings.near_own_edge * work.bands.cell + edge.wide
        if abs(at - edges[end]) > near:
            own[end] = None
        else:
            edges[end], reaches[end] = at, False
    return replace(
        work,
        bands=replace(work.bands, edges=edges),
        own=(own[0], own[1]),
        reaches=(reaches[0], reaches[1]),
    )


def _weighed_by_width(
    counts: tuple[Count, ...],
    widths: Floats,
    known: tuple[Floats, Floats, Floats],
    settings: ReadSettings,
) -> tuple[Count, ...]:
    """Counts weighed by how wide the stripes are, at the pitch that most of the axis has.

    Where the wave was lost within a stripe its phase may have slipped by a whole cycle, which
    the stripe's width gives away; the spacing wanders by less. `known` are the coordinates of the
    edges, their own errors and the drift along each stripe.
    """
    coordinates, edge_sd, drift_sd = known
    passed = np.diff(coordinates)
    sure = drift_sd <= max(float(np.median(drift_sd)), settings.steady_drift)
    pitch = float(widths[sure].sum() / max(float(passed[sure].sum()), 1e-9))
    expected = widths / pitch
    spread = np.hypot(settings.wander * expected, settings.width_spread)
    spread = np.hypot(spread, np.hypot(edge_sd[:-1], edge_sd[1:]))
    weighed = []
    for count, middle, sd in zip(counts, expected, spread, strict=True):
        numbers = np.array([n for n, _ in count.chances], dtype=float)
        say = np.exp(-0.5 * np.minimum(((numbers - middle) / sd) ** 2, settings.most_off))
        table = {n: c * float(w) for (n, c), w in zip(count.chances, say, strict=True)}
        weighed.append(Count.from_table(table))
    return tuple(weighed)


def _with_other_multiple(counts: tuple[Count, ...], lattice: Lattice | None) -> tuple[Count, ...]:
    """Counts that own up to the chance that the weave's cycle has another number of threads."""
    if lattice is None or lattice.other < 1 or lattice.chance > 0.9999:
        return counts
    factor = lattice.other / lattice.multiple
    # The runner-up is less likely than the best, however much chance the rest have together.
    other_chance = min(1 - lattice.chance, 0.99 * lattice.chance)
    mixed = []
    for count in counts:
        table = {n: chance * lattice.chance for n, chance in count.chances}
        for n, chance in count.chances:
            other = max(1, round(n * factor))
            table[other] = table.get(other, 0.0) + chance * other_chance
        mixed.append(Count.from_table(table))
    return tuple(mixed)


def _bands(work: AxisWork) -> tuple[BandSeen, ...]:
    """The bands in flat pixels."""
    edges = work.bands.edges + work.start_px
    return tuple(
        BandSeen(yarn, float(a), float(b))
        for yarn, a, b in zip(work.yarns, edges[:-1], edges[1:], strict=True)
    )


def _uncounted(work: AxisWork) -> AxisRead:
    """An axis on which no thread could be counted."""
    nothing = ColourSequence(SequenceKind.PARTIAL, ())
    repeat = RepeatRead(
        kind=SequenceKind.PARTIAL, sequence=nothing, threads=None, members=(), chance=0.0
    )
    return AxisRead(
        bands=_bands(work),
        stripes=(),
        pitch_px=None,
        density=work.pinned,
        repeat=repeat,
        counted_by="nothing",
    )


def _coordinates(work: AxisWork, settings: ReadSettings) -> tuple[Floats, Floats, Floats] | None:
    """Thread coordinates of the edges with their own errors and the drift along each stripe."""
    edges = work.bands.edges
    if work.lattice is not None:
        pitch = work.lattice.mean_pitch
        coordinates = work.lattice.threads(edges)
        coherence = np.clip(work.lattice.coherence_between(edges), 0.05, 1.0)
        drift = 0.03 + 0.12 * work.lattice.multiple / 4 * np.maximum(0.0, 0.8 - coherence) / 0.8
        # Where the wave was lost its phase may have slipped by a part of a cycle, by all of it, or
        # by more the longer it was.
        lost = coherence < CARRIERS.least_coherence
        slips = settings.lost_cycles * work.lattice.multiple
        drift = drift + lost * (slips + settings.lost_share * work.bands.widths / pitch)
        if work.lattice.bowed:
            drift = drift + settings.bow_slope * work.bands.widths / pitch
        return coordinates, _edge_sd(work, pitch, settings), drift
    if work.pinned is None or work.px_per_mm is None:
        return None
    pitch = float(work.px_per_mm.value) / float(work.pinned.value)
    coordinates = (edges - edges[0]) / pitch
    spread = np.hypot(_half(work.px_per_mm), _half(work.pinned)) / 1.645
    relative = np.hypot(spread, settings.pinned_spread)
    return coordinates, _edge_sd(work, pitch, settings), relative * np.diff(coordinates)


def _edge_sd(work: AxisWork, pitch: float, settings: ReadSettings) -> Floats:
    """Standard deviation of each edge in threads; an edge that nobody sees is anywhere there.

    Threads wander from place to place, which an edge that shows over little of its length does not
    average out. The cloth's own edge was sought in strips of some pixels, unless its very place
    was told.
    """
    near = np.clip(np.rint(work.bands.edges).astype(int), 0, len(work.shown) - 1)
    share = np.clip(work.shown[near] / max(float(np.median(work.shown)), 1.0), 1e-3, 1.0)
    errors = (work.bands.edge_errors / pitch + 0.05) / np.sqrt(share)
    for start, stop in runs(work.blind):
        inside = (work.bands.edges > start - pitch) & (work.bands.edges < stop + pitch)
        inside[[0, -1]] = False
        errors = np.where(inside, errors + (stop - start) / pitch / np.sqrt(12), errors)
    for end in (0, -1):
        edge = work.own[end]
        if edge is not None:
            errors[end] = np.hypot(edge.error / pitch, edge.beyond_sd)
        elif not work.reaches[end]:
            errors[end] = np.hypot(errors[end], settings.own_edge_px / pitch)
    return np.asarray(errors)


def _hidden_threads(work: AxisWork, coordinates: Floats) -> Floats:
    """(n,) threads of each stripe that something lies over, from end to end of them."""
    before = np.concatenate([[0], np.cumsum(work.blind)])
    at = np.clip(work.bands.edges + 0.5, 0, len(work.blind))
    covered = np.diff(np.interp(at, np.arange(len(before)), before))
    return np.asarray(covered * np.diff(coordinates) / np.maximum(work.bands.widths, 1e-9))


def _perhaps_two(count: Count, hidden: float, settings: ReadSettings) -> Count:
    """A count that owns up to what lies hidden in its stripe: another stripe, perhaps."""
    most = min(round(hidden), count.threads - 1)
    if hidden < settings.least_hidden or most < 1:
        return count
    table = {n: chance * (1 - settings.other_hidden) for n, chance in count.chances}
    for fewer in range(1, most + 1):
        n = count.threads - fewer
        table[n] = table.get(n, 0.0) + settings.other_hidden / most
    return Count.from_table(table)


def _half(measured: Measured) -> float:
    """Half the relative width of the interval."""
    return float((measured.high - measured.low) / 2 / measured.value)


def _share(lattice: Lattice | None, settings: ReadSettings) -> float:
    """Of the chance that an interval holds.

    Where the weave's cycle may have another number of threads all counts are wrong together, so
    that every interval names both until one of them is as good as certain.
    """
    unsure = lattice is not None and lattice.chance < settings.surely_single
    return settings.surely_single if unsure else settings.held


def _stripe(
    work: AxisWork, index: int, interval: tuple[int, int], count: Count, cut: bool
) -> StripeRead:
    """The stripe as the reading tells it."""
    low, high = interval
    return StripeRead(
        yarn=work.yarns[index],
        threads=count.threads,
        low=low,
        high=high,
        chance=min(count.chance, 0.999),
        others=count.chances[1:4],
        cut=cut,
        start_px=float(work.bands.edges[index] + work.start_px),
        end_px=float(work.bands.edges[index + 1] + work.start_px),
    )


def _pitch(work: AxisWork, coordinates: Floats) -> Measured:
    """Pixels per thread, mean over the axis; known to a fifth of a thread over its length."""
    edges = work.bands.edges
    total = float(coordinates[-1] - coordinates[0])
    value = float(edges[-1] - edges[0]) / total
    spread = value * 0.33 / total
    return Measured(value, value - spread, value + spread, Origin.READ)


def _density(work: AxisWork, pitch: Measured) -> Measured | None:
    """Threads per mm of finished cloth; what the person pinned stays."""
    if work.pinned is not None:
        return work.pinned
    if work.px_per_mm is None:
        return None
    value = float(work.px_per_mm.value) / float(pitch.value)
    spread = value * float(np.hypot(_half(pitch), _half(work.px_per_mm)))
    return Measured(value, value - spread, value + spread, Origin.READ)


def _repeat(pattern: Pattern, seen: tuple[Seen, ...], settled: tuple[Count, ...]) -> RepeatRead:
    """The written sequence and how likely all of it is right."""
    sequence = write_sequence(pattern, seen, tuple(c.threads for c in settled))
    chance = 1.0
    for group in pattern.groups:
        whole = [settled[g].chance for g in group if not seen[g].cut]
        chance *= max(whole, default=0.5)
    partial = pattern.kind is SequenceKind.PARTIAL
    return RepeatRead(
        kind=pattern.kind,
        sequence=sequence,
        threads=None if partial else sequence.threads,
        members=pattern.groups,
        chance=chance,
        breaks=pattern.breaks,
    )


def _doubts(
    work: AxisWork,
    pattern: Pattern,
    seen: tuple[Seen, ...],
    settled: tuple[Count, ...],
    hidden: Floats,
    settings: ReadSettings,
) -> tuple[Doubt, ...]:
    """Doubts about this axis; its name is filled in by the caller as warp or weft."""
    found: list[Doubt] = []
    under = np.flatnonzero(hidden >= settings.least_hidden)
    if len(under):
        found.append(
            doubt(
                "hidden-stripes", axis=work.name, first=int(under[0]) + 1, last=int(under[-1]) + 1
            )
        )
    unsure = sum(
        c.chance < settings.doubtful for c, s in zip(settled, seen, strict=True) if not s.cut
    )
    if unsure:
        found.append(doubt("uncertain-counts", axis=work.name, number=unsure))
    found.extend(pattern_doubts(pattern, work.name))
    for index in pattern.breaks:
        group = next(g for g in pattern.groups if index in g)
        partners = [settled[g].threads for g in group if g != index and not seen[g].cut]
        if partners and not seen[index].cut and index not in under:
            found.append(
                doubt(
                    "breaks-repeat",
                    axis=work.name,
                    stripe=index + 1,
                    found=settled[index].threads,
                    expected=partners[0],
                )
            )
    return tuple(found)
