"""The passes: how many, where the hand finishes, where each colour change falls.

A pass is one way over the whole path, with one end or with several in the hand. After an even
number of passes the hand is back at the start end, after an odd number it is at the far end.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import accumulate, groupby
from typing import NamedTuple

from settscan.cloth.model import Stripe
from settscan.cloth.wishes import Frame, OddWay
from settscan.winding.model import FAR_END, START_END, HandChoice


class Piece(NamedTuple):
    """The part of one stripe that lies in a bout, after `before` ends in earlier bouts.

    Narrow stripes that come by turns again and again may be wound together. They make one piece
    of all their ends, and `unit` is the yarn of each end of one turn, in the order of the warp.
    """

    stripe: int  # index in the warp's order; of several wound together, that of the first
    yarn: str  # of several wound together, that of the first end
    ends: int
    before: int = 0
    unit: tuple[str, ...] = ()

    @property
    def yarns(self) -> tuple[str, ...]:
        """The different yarns in it, in the order of their first ends."""
        return tuple(dict.fromkeys(self.unit)) or (self.yarn,)


class Batch(NamedTuple):
    """Passes in a row with the same yarn and hand: what becomes one step."""

    piece: Piece
    hand: int
    passes: int
    done: int  # ends of the piece wound after it
    bout_total: int
    closes_group: bool  # a counting tie is due after it
    begins_at: str
    finishes_at: str
    cut_singly: bool  # the yarn is cut at the far end and the hand goes back without it

    @property
    def ends(self) -> int:
        """Ends wound in it."""
        return self.hand * self.passes

    @property
    def held(self) -> tuple[str, ...]:
        """Yarns in the hand, one for each end, in the order of the warp."""
        unit = self.piece.unit or (self.piece.yarn,)
        return unit * (self.hand // len(unit))


def hands_for(ends: int, in_hand: int) -> tuple[int, ...]:
    """Ends in the hand in each pass of a stripe, at most `in_hand`.

    The fewest passes, plus one if that makes them even (a stripe then ends where it began), and
    the ends spread over them as evenly as they go: 12 ends with up to 4 in hand are 4 passes of
    3, because 3 passes of 4 would finish at the far end. With one in hand the parity is the
    count's own.
    """
    passes = -(-ends // in_hand)
    if passes % 2 and passes < ends:
        passes += 1
    each, over = divmod(ends, passes)
    return (each + 1,) * over + (each,) * (passes - over)


def right_edges(order: Sequence[Stripe]) -> tuple[int, ...]:
    """Ends from the left of the warp to the right edge of each stripe."""
    return tuple(accumulate(stripe.threads for stripe in order))


def pieces_between(
    order: Sequence[Stripe], right: Sequence[int], first: int, last: int
) -> tuple[Piece, ...]:
    """The pieces of the order from end `first` up to, not including, `last` (0-based).

    Args:
        order: stripes from left to right.
        right: their `right_edges`, made once for all bouts.
        first: the first end.
        last: the end behind the last.
    """
    pieces: list[Piece] = []
    at = first
    for index in range(bisect_right(right, first), len(order)):
        if at >= last:
            break
        stripe, high = order[index], min(right[index], last)
        if at < high:
            pieces.append(Piece(index, stripe.yarn, high - at, at - right[index] + stripe.threads))
        at = high
    return tuple(pieces)


_MOST_STRIPES = 12  # in one turn of stripes that are wound together
_TURNS_OF_SINGLES = 2  # so often single ends must come by turns to be wound together
_TURNS = 4  # and wider stripes, for which the hand must be made ready each time


def by_turns(pieces: Sequence[Piece], in_hand: int) -> tuple[Piece, ...]:
    """The pieces with narrow stripes that come by turns joined, as far as the hand holds a turn.

    One and one of A and B is wound with one end of each in the hand. What is left at the end of
    such a run, and all that does not come by turns, stays as it is.

    Args:
        pieces: of one bout, in the order of the warp.
        in_hand: most ends in the hand.
    """
    found: list[Piece] = []
    at = 0
    while at < len(pieces):
        stripes, times = _turns_from(pieces, at, in_hand)
        if not times:
            found.append(pieces[at])
            at += 1
            continue
        turn = pieces[at : at + stripes]
        unit = tuple(piece.yarn for piece in turn for _ in range(piece.ends))
        first = pieces[at]
        found.append(Piece(first.stripe, first.yarn, len(unit) * times, unit=unit))
        at += stripes * times
    return tuple(found)


def _turns_from(pieces: Sequence[Piece], at: int, in_hand: int) -> tuple[int, int]:
    """Stripes in the shortest turn that begins here, and how often it comes; (0, 0) for none."""
    ends = pieces[at].ends
    if ends >= in_hand:
        return 0, 0
    looks = [(piece.yarn, piece.ends) for piece in pieces[at : at + _MOST_STRIPES]]
    for stripes in range(2, len(looks) + 1):
        ends += looks[stripes - 1][1]
        if ends > in_hand:
            return 0, 0
        turn, times, place = looks[:stripes], 0, at
        while [(each.yarn, each.ends) for each in pieces[place : place + stripes]] == turn:
            times, place = times + 1, place + stripes
        if times >= (_TURNS_OF_SINGLES if ends == stripes else _TURNS):
            return stripes, times
    return 0, 0


def hands_of(piece: Piece, in_hand: int) -> tuple[int, ...]:
    """Ends in the hand in each pass of a piece; whole turns of stripes wound together."""
    if not piece.unit:
        return hands_for(piece.ends, in_hand)
    one = len(piece.unit)
    return tuple(one * turns for turns in hands_for(piece.ends // one, in_hand // one))


def other_end(place: str) -> str:
    """The end of the frame that is not this one."""
    return FAR_END if place == START_END else START_END


def wind(pieces: Sequence[Piece], frame: Frame) -> tuple[Batch, ...]:
    """All passes of one bout, gathered into batches, beginning at the start end.

    A batch ends where the stripe ends, where the hand changes, and where the bout's count
    reaches the next multiple of the counting group (with several ends in hand: at the first
    pass that reaches it). The last end of the bout closes its last group.
    """
    total = sum(piece.ends for piece in pieces)
    pieces = by_turns(pieces, frame.ends_in_hand)
    batches: list[Batch] = []
    place, wound = START_END, 0
    for index, piece in enumerate(pieces):
        following = pieces[index + 1].yarns if index + 1 < len(pieces) else None
        done = 0
        for hand, passes in _runs(piece, wound, frame):
            begins = place
            place = other_end(place) if passes % 2 else place
            done, wound = done + hand * passes, wound + hand * passes
            leaves = done == piece.ends and following not in (None, piece.yarns)
            single = leaves and place == FAR_END and frame.odd_way is OddWay.SINGLE
            closes = wound == total or _group(wound, frame) > _group(wound - hand, frame)
            batch = Batch(piece, hand, passes, done, wound, closes, begins, place, single)
            batches.append(batch)
            place = START_END if single else place
    return tuple(batches)


def hand_choices(bouts: Sequence[Sequence[Piece]], most: int) -> tuple[HandChoice, ...]:
    """What 1, 2, ... up to `most` ends in the hand would mean for these bouts."""
    found = []
    # Most bouts of a warp that repeats are alike.
    alike = Counter(tuple(Piece(0, piece.yarn, piece.ends) for piece in bout) for bout in bouts)
    for in_hand in range(1, most + 1):
        passes = odd = uneven = 0
        for bout, times in alike.items():
            for _, run in groupby(by_turns(bout, in_hand), key=lambda piece: piece.yarns):
                hands = [hands_of(piece, in_hand) for piece in run]
                taken = sum(len(each) for each in hands)
                passes, odd = passes + times * taken, odd + times * (taken % 2)
                uneven += times * sum(len(set(each)) > 1 for each in hands)
        found.append(HandChoice(in_hand=in_hand, passes=passes, odd=odd, uneven=uneven))
    return tuple(found)


def _group(wound: int, frame: Frame) -> int:
    """Counting groups that are full after so many ends of the bout."""
    return wound // frame.group_ends


def _runs(piece: Piece, wound: int, frame: Frame) -> Iterator[tuple[int, int]]:
    """Runs (hand, passes) of a piece, broken where a counting group fills."""
    for hand, alike in groupby(hands_of(piece, frame.ends_in_hand)):
        left = len(tuple(alike))
        while left:
            to_fill = frame.group_ends - wound % frame.group_ends
            passes = min(left, -(-to_fill // hand))
            yield hand, passes
            left, wound = left - passes, wound + passes * hand
