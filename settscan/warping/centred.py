"""A pattern centred in the width: on a pivot with whole repeats, or cut to an exact width.

The endless pattern is a cycle of threads. A warp is a window on it, and the middle of one chosen
stripe lies in the middle of the window.
"""

from __future__ import annotations

from fractions import Fraction

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe
from settscan.cloth.wishes import Edges, Piece
from settscan.errors import BadInput
from settscan.warping.parts import Part, joined, part_of

_NARROW = Fraction(1, 4)  # an edge stripe cut to less than this of its width looks like a mistake


def window(sequence: ColourSequence, first: int, threads: int) -> tuple[Part, ...]:
    """So many threads of the endless pattern from place `first` on, as parts.

    Place 0 is the first thread of the first written stripe; places may be negative. Parts are
    whole repeats and, at the edges, what is left of one.
    """
    repeat = sequence.threads
    parts: list[Part] = []
    place, number = first, 0
    while place < first + threads:
        start = place - place % repeat
        stop = min(start + repeat, first + threads)
        if stop - place == repeat:
            number += 1
            label = f"repeat {number}"
        else:
            label = "left part" if place == first else "right part"
        parts.append(part_of(label, _cut(sequence, place - start, stop - start)))
        place = stop
    return tuple(parts)


def _cut(sequence: ColourSequence, start: int, stop: int) -> tuple[Stripe, ...]:
    """Threads `start` to `stop` of one repeat."""
    found, place = [], 0
    for stripe in sequence.one_repeat():
        inside = min(stop, place + stripe.threads) - max(start, place)
        if inside > 0:
            found.append(Stripe(stripe.yarn, inside))
        place += stripe.threads
    return tuple(found)


def centred_window(
    sequence: ColourSequence, centre_stripe: int, wanted: Fraction
) -> tuple[tuple[Part, ...], tuple[str, ...]]:
    """The pattern cut to a width with one stripe in the middle, and what to know about it.

    Args:
        sequence: symmetric or repeating.
        centre_stripe: written stripe, from 1.
        wanted: threads across; the nearest number that leaves the stripe exactly in the middle
            is taken.

    Raises:
        BadInput: for a stripe that is not there.
    """
    stripe = _centre(sequence, centre_stripe)
    before = sum(each.threads for each in sequence.stripes[: centre_stripe - 1])
    odd = stripe.threads % 2
    threads = max(2 - odd, round((wanted - odd) / 2) * 2 + odd)
    first = before - (threads - stripe.threads) // 2
    parts = window(sequence, first, threads)
    return parts, _edge_notes(sequence, parts, centre_stripe)


def _centre(sequence: ColourSequence, centre_stripe: int) -> Stripe:
    if not 1 <= centre_stripe <= len(sequence.stripes):
        raise BadInput(
            f"There is no warp stripe {centre_stripe} to lie in the middle.",
            f"Give a number from 1 to {len(sequence.stripes)}.",
        )
    return sequence.stripes[centre_stripe - 1]


def _edge_notes(
    sequence: ColourSequence, parts: tuple[Part, ...], centre_stripe: int
) -> tuple[str, ...]:
    notes = []
    order = joined(tuple(stripe for part in parts for stripe in part.stripes))
    if order[0] != order[-1]:
        notes.append(
            f"The edges differ, because the pattern is not the same on both sides of stripe"
            f" {centre_stripe}."
        )
    whole = max(s.threads for s in sequence.stripes if s.yarn == order[0].yarn)
    if order[0].threads < _NARROW * whole:
        notes.append(
            f"The width cuts the edge stripe to {order[0].threads} threads: a few threads more or"
            " less would leave a whole stripe at the edge."
        )
    return tuple(notes)


def is_pivot(sequence: ColourSequence, stripe: int) -> bool:
    """Whether the written stripe, from 1, is a pivot."""
    return sequence.kind is SequenceKind.SYMMETRIC and stripe in (1, len(sequence.stripes))


def edges_around(sequence: ColourSequence, piece: Piece, repeats: int) -> Edges:
    """The edges with which so many whole, closed repeats have the chosen pivot in the middle.

    An even number of repeats has in the middle the pivot that it begins with, an odd number the
    other one.

    Raises:
        BadInput: if whole repeats cannot be centred on that stripe.
    """
    if not is_pivot(sequence, piece.centre_stripe) or not piece.close_on_pivot:
        raise BadInput(
            f"Whole repeats cannot be centred on warp stripe {piece.centre_stripe}, only on a"
            " pivot of a symmetric sequence that is closed.",
            "Choose the first or last stripe, or set exact_width to true to cut the pattern.",
        )
    begin_with_it = repeats % 2 == 0
    return Edges.FIRST if (piece.centre_stripe == 1) == begin_with_it else Edges.LAST
