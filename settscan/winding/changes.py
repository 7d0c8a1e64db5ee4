"""What to do where the yarn in the hand changes: break off or leave, tie on or take up.

By default a yarn is broken off, its end tucked under, and the new one slip-knotted on, where the
hand is. One that is wanted again soon and there is left hanging at the peg instead (common
practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from settscan.cloth.wishes import Frame
from settscan.winding.passes import Batch


class Run(NamedTuple):
    """Batches in a row with the same yarns: from one change to the next."""

    yarns: tuple[str, ...]
    batches: tuple[Batch, ...]

    @property
    def ends(self) -> int:
        """Ends of the run."""
        return sum(batch.ends for batch in self.batches)

    @property
    def passes(self) -> int:
        """Passes of the run."""
        return sum(batch.passes for batch in self.batches)

    @property
    def begins_at(self) -> str:
        """Where its first pass begins."""
        return self.batches[0].begins_at

    @property
    def finishes_at(self) -> str:
        """Where its last pass finishes."""
        return self.batches[-1].finishes_at

    @property
    def cut_singly(self) -> bool:
        """Whether it is cut at the far end and the hand goes back without it."""
        return self.batches[-1].cut_singly


def runs_of(batches: Sequence[Batch]) -> tuple[Run, ...]:
    """The runs of one bout."""
    runs: list[list[Batch]] = []
    for batch in batches:
        if runs and runs[-1][0].piece.yarns == batch.piece.yarns:
            runs[-1].append(batch)
        else:
            runs.append([batch])
    return tuple(Run(run[0].piece.yarns, tuple(run)) for run in runs)


class Hand(NamedTuple):
    """The yarns of a change by what becomes of them."""

    kept: tuple[str, ...] = ()
    left: tuple[str, ...] = ()  # hanging at the peg, unbroken
    broken: tuple[str, ...] = ()
    again: tuple[str, ...] = ()  # taken up where they hang
    tied_on: tuple[str, ...] = ()


class Change(NamedTuple):
    """What to do before a run: as a sentence, in a few words, and yarn by yarn."""

    text: str
    short: str
    knot: bool  # whether a yarn is tied on after the bout's first
    hand: Hand


NO_CHANGE = Change("", "", False, Hand())


def changes_of(runs: Sequence[Run], names: Mapping[str, str], frame: Frame) -> list[Change]:
    """What to do before each run of a bout.

    Args:
        runs: of one bout, in order.
        names: each yarn as it is called in a sentence, "A (navy)".
        frame: over how many ends a yarn is carried.
    """
    first = runs[0]
    text = f"Tie {_all(names, first.yarns)} to the start peg with a slip knot."
    short = f"At the {first.begins_at}: tie on {_letters(first.yarns)}"
    found = [Change(text, short, False, Hand(tied_on=first.yarns))]
    hanging: set[str] = set()
    for index, run in enumerate(runs[1:], start=1):
        before = runs[index - 1]
        hand = _sorted(runs, index, hanging, frame)
        hanging = (hanging - set(hand.again)) | set(hand.left)
        text = _sentence(before, run, hand, names)
        found.append(Change(text, _in_short(before, run, hand), bool(hand.tied_on), hand))
    return found


def _sorted(runs: Sequence[Run], index: int, hanging: set[str], frame: Frame) -> Hand:
    """What becomes of each yarn between run `index` and the one before it."""
    before, run = runs[index - 1], runs[index]
    kept = () if before.cut_singly else tuple(y for y in run.yarns if y in before.yarns)
    gone = tuple(y for y in before.yarns if y not in kept)
    left = tuple(y for y in gone if _returns(runs, index - 1, y, frame))
    again = tuple(y for y in run.yarns if y in hanging and y not in kept)
    return Hand(
        kept=kept,
        left=left,
        broken=tuple(y for y in gone if y not in left),
        again=again,
        tied_on=tuple(y for y in run.yarns if y not in (*kept, *again)),
    )


def _returns(runs: Sequence[Run], index: int, yarn: str, frame: Frame) -> bool:
    """Whether this yarn of a run is wanted again soon, in this bout, where it was left."""
    run, gap = runs[index], 0
    if run.cut_singly:
        return False
    for later in runs[index + 1 :]:
        if yarn in later.yarns:
            return later.begins_at == run.finishes_at
        gap += later.ends
        if gap > frame.carry_ends:
            return False
    return False


def _sentence(before: Run, run: Run, hand: Hand, names: Mapping[str, str]) -> str:
    """A change in a sentence, in the order of the hand: leave, keep, take up, tie on."""
    parts = []
    if before.cut_singly:
        them = "them" if len(hand.broken) > 1 else "it"
        parts.append(
            f"break off {_all(names, hand.broken)} at the far end, tie {them} to the peg there and"
            " go back to the start end with an empty hand"
        )
    elif hand.broken:
        each = "each end" if len(hand.broken) > 1 else "its end"
        off = _all(names, hand.broken)
        parts.append(f"break off {off} at the {before.finishes_at} and tuck {each} under")
    if hand.left:
        parts.append(f"leave {_all(names, hand.left)} hanging at the {before.finishes_at}")
    if hand.kept:
        alone = not (hand.again or hand.tied_on)
        parts.append(f"{'go on with' if alone else 'keep'} {_all(names, hand.kept)} in the hand")
    if hand.again:
        hang = "hang" if len(hand.again) > 1 else "hangs"
        again = _all(names, hand.again)
        parts.append(f"take up {again} again, which {hang} at the {run.begins_at}")
    if hand.tied_on:
        on = _all(names, hand.tied_on)
        parts.append(f"tie on {on} with a slip knot at the {run.begins_at}")
    sentence = ", ".join(parts)
    return f"{sentence[0].upper()}{sentence[1:]}."


def _in_short(before: Run, run: Run, hand: Hand) -> str:
    """A change in one line: "At the start end: break off A, tie on C"."""
    said = (
        ("break off", () if before.cut_singly else hand.broken),
        ("leave", hand.left),
        ("keep" if hand.again or hand.tied_on else "go on with", hand.kept),
        ("take up", hand.again),
        ("tie on", hand.tied_on),
    )
    do = ", ".join(f"{word} {_letters(yarns)}" for word, yarns in said if yarns)
    if before.cut_singly:
        cut = _letters(hand.broken)
        return f"Cut {cut} at the far end, go back empty; at the start end: {do}"
    return f"At the {run.begins_at}: {do}"


def _all(names: Mapping[str, str], yarns: Iterable[str]) -> str:
    return " and ".join(names[yarn] for yarn in yarns)


def _letters(yarns: Iterable[str]) -> str:
    return " and ".join(yarns)
