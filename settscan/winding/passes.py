"""The passes: how many, where the hand finishes, where each colour change falls.

A pass is one way over the whole path, with one end or with several in the hand. After an even
number of passes the hand is back at the start end, after an odd number it is at the far end.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from settscan.cloth.model import Stripe
from settscan.cloth.wishes import Frame, OddWay
from settscan.winding.model import FAR_END, START_END, HandChoice


@dataclass(frozen=True, slots=True)
class Piece:
    """The part of one stripe that lies in a bout, after `before` ends in earlier bouts."""

    stripe: int  # index in the warp's order
    yarn: str
    ends: int
    before: int = 0


@dataclass(frozen=True, slots=True)
class Batch:
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


def pieces_between(order: Sequence[Stripe], first: int, last: int) -> tuple[Piece, ...]:
    """The pieces of the order from end `first` up to, not including, `last` (0-based)."""
    pieces: list[Piece] = []
    at = 0
    for index, stripe in enumerate(order):
        low, high = max(at, first), min(at + stripe.threads, last)
        if low < high:
            pieces.append(Piece(index, stripe.yarn, high - low, low - at))
        at += stripe.threads
    return tuple(pieces)


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
    batches: list[Batch] = []
    place, wound = START_END, 0
    for index, piece in enumerate(pieces):
        following = pieces[index + 1].yarn if index + 1 < len(pieces) else None
        done = 0
        for hand, passes in _runs(piece, wound, frame):
            begins = place
            place = other_end(place) if passes % 2 else place
            done, wound = done + hand * passes, wound + hand * passes
            leaves = done == piece.ends and following not in (None, piece.yarn)
            single = leaves and place == FAR_END and frame.odd_way is OddWay.SINGLE
            closes = wound == total or _group(wound, frame) > _group(wound - hand, frame)
            batch = Batch(piece, hand, passes, done, wound, closes, begins, place, single)
            batches.append(batch)
            place = START_END if single else place
    return tuple(batches)


def hand_choices(bouts: Sequence[Sequence[Piece]], most: int) -> tuple[HandChoice, ...]:
    """What 1, 2, ... up to `most` ends in the hand would mean for these bouts."""
    found = []
    for in_hand in range(1, most + 1):
        passes = odd = uneven = 0
        for bout in bouts:
            for _, run in groupby(bout, key=lambda piece: piece.yarn):
                hands = [hands_for(piece.ends, in_hand) for piece in run]
                taken = sum(len(each) for each in hands)
                passes, odd = passes + taken, odd + taken % 2
                uneven += sum(len(set(each)) > 1 for each in hands)
        found.append(HandChoice(in_hand=in_hand, passes=passes, odd=odd, uneven=uneven))
    return tuple(found)


def _group(wound: int, frame: Frame) -> int:
    """Counting groups that are full after so many ends of the bout."""
    return wound // frame.group_ends


def _runs(piece: Piece, wound: int, frame: Frame) -> Iterator[tuple[int, int]]:
    """Runs (hand, passes) of a piece, broken where a counting group fills."""
    marked: list[tuple[int, int]] = []
    for hand in hands_for(piece.ends, frame.ends_in_hand):
        marked.append((hand, _group(wound, frame)))
        wound += hand
    for (hand, _), run in groupby(marked):
        yield hand, sum(1 for _ in run)
