"""Reading to cloth: what the eye saw, as the record that people edit."""

from __future__ import annotations

from dataclasses import replace

from settscan.cloth.model import (
    Cloth,
    ColourSequence,
    SequenceKind,
    Stripe,
    StripeDoubt,
    ThreadSet,
)
from settscan.measured import Origin
from settscan.reading.model import AxisRead, ClothRead
from settscan.settings import READ, ReadSettings


def cloth_of(
    read: ClothRead,
    name: str,
    *,
    warp_is_columns: bool,
    weave_told: bool = False,
    settings: ReadSettings = READ,
) -> Cloth | None:
    """The cloth as a record; None where neither warp nor weft could be counted.

    Where only one of them was counted, the other takes the same sequence if its colours are the
    same and a single stripe of its first yarn if not; a note says so either way.
    """
    warp, weft = (read.columns, read.rows) if warp_is_columns else (read.rows, read.columns)
    if not warp.stripes and not weft.stripes:
        return None
    notes: list[str] = []
    sets = []
    for axis, other, which in ((warp, weft, "warp"), (weft, warp, "weft")):
        if axis.stripes:
            sets.append(_thread_set(axis, settings))
        else:
            sets.append(_borrowed(other, axis))
            notes.append(
                f"The {which} could not be counted; its sequence is copied from the other set of"
                " threads and has to be checked on the cloth."
            )
    if not warp_is_columns:
        # Turned so that the photo's top is the warp's left, its right is the weft's top.
        sets[1] = _turned(sets[1])
    used = {s.yarn for half in sets for s in half.sequence.stripes}
    return Cloth(
        name=name,
        yarns=tuple(y for y in read.yarns if y.key in used),
        warp=sets[0],
        weft=sets[1],
        weave=read.weave.name,
        weave_told=weave_told,
        twill_direction=_as_woven(read.weave.twill_direction, warp_is_columns),
        notes=tuple(notes),
    )


def _thread_set(axis: AxisRead, settings: ReadSettings) -> ThreadSet:
    """The warp or weft as read, with the stripes that need a second look."""
    doubts = []
    for position, stripe in enumerate(axis.repeat.sequence.stripes):
        index = _best_seen(axis, position)
        seen = axis.stripes[index]
        sure = seen.chance >= settings.doubtful and seen.low == seen.high and not seen.cut
        if not sure:
            low, high = min(seen.low, stripe.threads), max(seen.high, stripe.threads)
            note = "cut by the edge of the photo" if seen.cut else ""
            doubts.append(
                StripeDoubt(
                    position=position,
                    low=low,
                    high=high,
                    chance=round(min(seen.chance, 0.5) if seen.cut else seen.chance, 2),
                    note=note,
                )
            )
    return ThreadSet(
        sequence=axis.repeat.sequence,
        density=axis.density,
        origin=Origin.READ,
        doubts=tuple(doubts),
    )


def doubted_positions(axis: AxisRead, settings: ReadSettings = READ) -> tuple[int, ...]:
    """Places in `axis.repeat.sequence` whose count needs a second look."""
    return tuple(each.position for each in _thread_set(axis, settings).doubts)


def _as_woven(direction: str | None, warp_is_columns: bool) -> str | None:
    """The twill's direction with the warp upright: a quarter turn makes a Z an S."""
    if warp_is_columns or direction is None:
        return direction
    return "S" if direction == "Z" else "Z"


def _turned(half: ThreadSet) -> ThreadSet:
    """The sequence read from the other end, as after a quarter turn of the cloth."""
    sequence = half.sequence
    stripes = sequence.stripes[::-1]
    last = len(stripes) - 1
    doubts = tuple(replace(d, position=last - d.position) for d in half.doubts)
    if sequence.kind is SequenceKind.SYMMETRIC:
        return half
    return replace(
        half,
        sequence=ColourSequence(sequence.kind, stripes),
        doubts=tuple(sorted(doubts, key=lambda d: d.position)),
    )


def _best_seen(axis: AxisRead, position: int) -> int:
    """The stripe of the photo that tells most about a written stripe."""
    members = axis.repeat.members[position]
    return max(members, key=lambda i: (not axis.stripes[i].cut, axis.stripes[i].chance))


def _borrowed(other: AxisRead, axis: AxisRead) -> ThreadSet:
    """A sequence for an axis that could not be counted."""
    own = {band.yarn for band in axis.bands}
    if own >= {s.yarn for s in other.repeat.sequence.stripes} or not axis.bands:
        return ThreadSet(sequence=other.repeat.sequence, density=None, origin=Origin.ASSUMED)
    widest = max(axis.bands, key=lambda band: band.end_px - band.start_px)
    longest = max(other.repeat.sequence.stripes, key=lambda s: s.threads)
    single = ColourSequence(SequenceKind.PARTIAL, (Stripe(widest.yarn, longest.threads),))
    return ThreadSet(sequence=single, density=None, origin=Origin.ASSUMED)
