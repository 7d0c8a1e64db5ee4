"""From batches of passes to the steps that a person follows, and the list of odd stripes."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from settscan.cloth.wishes import Frame, OddWay
from settscan.warping.model import Block, WarpPlan
from settscan.winding.model import OddStripe, WindingStep
from settscan.winding.passes import Batch, hands_for


@dataclass(frozen=True, slots=True)
class Run:
    """Batches in a row with one yarn: from one colour change to the next."""

    yarn: str
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


def runs_of(batches: Sequence[Batch]) -> tuple[Run, ...]:
    """The runs of one bout."""
    runs: list[list[Batch]] = []
    for batch in batches:
        if runs and runs[-1][0].piece.yarn == batch.piece.yarn:
            runs[-1].append(batch)
        else:
            runs.append([batch])
    return tuple(Run(run[0].piece.yarn, tuple(run)) for run in runs)


def steps_of_bout(
    plan: WarpPlan, frame: Frame, batches: Sequence[Batch], bout: int, before: int
) -> tuple[WindingStep, ...]:
    """The steps of one bout.

    Args:
        plan: the warp.
        frame: for carrying and group sizes.
        batches: the bout's passes.
        bout: its number, from 1.
        before: ends of the warp in earlier bouts.
    """
    changes = _changes(plan, frame, runs_of(batches))
    first_of_run = {id(run.batches[0]): n for n, run in enumerate(runs_of(batches))}
    steps: list[WindingStep] = []
    group_start = 0
    for number, batch in enumerate(batches, start=1):
        ties: tuple[str, ...] = ()
        if batch.closes_group:
            ties = (counting_words(batch.bout_total, batch.bout_total - group_start),)
            group_start = batch.bout_total
        change = changes[first_of_run[id(batch)]] if id(batch) in first_of_run else _NO_CHANGE
        done, piece = batch.bout_total, batch.piece
        steps.append(
            WindingStep(
                bout=bout,
                number=number,
                yarn=piece.yarn,
                colour_name=plan.cloth.yarn(piece.yarn).name,
                ends=batch.ends,
                passes=batch.passes,
                in_hand=batch.hand,
                bout_total=done,
                warp_total=before + done,
                begins_at=batch.begins_at,
                finishes_at=batch.finishes_at,
                stripe=piece.stripe,
                stripe_ends=plan.order[piece.stripe].threads,
                stripe_done=piece.before + batch.done,
                change=change.text,
                change_short=change.short,
                knot=change.knot,
                ties=ties,
                repeat_label=block_label(plan.blocks, before + done - batch.ends, before + done),
            )
        )
    return tuple(steps)


def counting_words(after: int, group: int) -> str:
    """The sentence of a counting tie."""
    return (
        f"Counting tie after end {after} of the bout: count this group ({group}), then cross the"
        " two ends of the counting cord."
    )


def block_label(blocks: Sequence[Block], first: int, last: int) -> str:
    """The names of the blocks that hold ends `first` up to, not including, `last` (0-based)."""
    starts = [block.first_end for block in blocks]
    index = max(bisect_right(starts, first) - 1, 0)
    names = [block.label for block in blocks[index:] if block.first_end < last]
    if not names:
        return ""
    return names[0] if len(names) == 1 else f"{names[0]} and {names[-1]}"


def _named(plan: WarpPlan, key: str) -> str:
    return f"{key} ({plan.cloth.yarn(key).name})"


@dataclass(frozen=True, slots=True)
class _Change:
    """What to do before a run: as a sentence, in a few words, and whether a yarn is tied on."""

    text: str
    short: str
    knot: bool


_NO_CHANGE = _Change("", "", False)


def _changes(plan: WarpPlan, frame: Frame, runs: Sequence[Run]) -> list[_Change]:
    """What to do before each run, and whether it ties on a yarn after the bout's first."""
    hanging: set[str] = set()
    found: list[_Change] = []
    for index, run in enumerate(runs):
        name = _named(plan, run.yarn)
        if index == 0:
            text = f"Tie {name} to the start peg with a slip knot."
            found.append(_Change(text, f"At the {run.begins_at}: tie on {run.yarn}", False))
            continue
        previous, returns = runs[index - 1], _returns(runs, index - 1, frame)
        leave = _leave(plan, previous, returns)
        again = run.yarn in hanging
        if again:
            hanging.discard(run.yarn)
            take = f"take up {name} again, which hangs at the {run.begins_at}"
        else:
            take = f"tie on {name} with a slip knot at the {run.begins_at}"
        short = _in_short(previous, run, returns, again)
        found.append(_Change(f"{leave}, {take}.", short, not again))
        if returns:
            hanging.add(previous.yarn)
    return found


def _in_short(previous: Run, run: Run, returns: bool, again: bool) -> str:
    """A change in one line: "At the start end: break off A, tie on C"."""
    take = f"take up {run.yarn}" if again else f"tie on {run.yarn}"
    if previous.batches[-1].cut_singly:
        return f"Cut {previous.yarn} at the far end, go back empty; at the start end: {take}"
    leave = f"leave {previous.yarn}" if returns else f"break off {previous.yarn}"
    return f"At the {run.begins_at}: {leave}, {take}"


def _returns(runs: Sequence[Run], index: int, frame: Frame) -> bool:
    """Whether the yarn of this run is wanted again soon, in this bout, where it was left."""
    run, gap = runs[index], 0
    if run.batches[-1].cut_singly:
        return False
    for later in runs[index + 1 :]:
        if later.yarn == run.yarn:
            return later.begins_at == run.finishes_at
        gap += later.ends
        if gap > frame.carry_ends:
            return False
    return False


def _leave(plan: WarpPlan, run: Run, returns: bool) -> str:
    """What happens to the yarn that was wound last."""
    name = _named(plan, run.yarn)
    if run.batches[-1].cut_singly:
        return (
            f"Break off {name} at the far end, tie it to the peg there and go back to the start"
            " end with an empty hand"
        )
    if returns:
        return f"Leave {name} hanging at the {run.finishes_at}"
    return f"Break off {name} at the {run.finishes_at} and tuck its end under"


def odd_stripes(
    plan: WarpPlan, frame: Frame, batches: Sequence[Batch], bout: int
) -> tuple[OddStripe, ...]:
    """The runs of a bout with an odd number of passes, what is done and the ways out."""
    runs = runs_of(batches)
    found = []
    for index, run in enumerate(runs):
        if run.passes % 2 == 0:
            continue
        following = runs[index + 1] if index + 1 < len(runs) else None
        found.append(
            OddStripe(
                bout=bout,
                stripe=run.batches[0].piece.stripe,
                yarn=run.yarn,
                ends=run.ends,
                done=_done(plan, frame, run, following),
                ways_out=_ways_out(plan, frame, run, runs, index),
            )
        )
    return tuple(found)


def _done(plan: WarpPlan, frame: Frame, run: Run, following: Run | None) -> str:
    name, passes = _named(plan, run.yarn), f"{run.passes} pass{'es' if run.passes > 1 else ''}"
    text = f"{name} {run.ends} takes {passes} and finishes at the {run.finishes_at}: "
    if following is None:
        return text + f"the bout is done; cut it and tie it to the {run.finishes_at} peg."
    if frame.odd_way is OddWay.SINGLE:
        return text + "it is cut there and the next colour begins at the start end."
    return text + f"{_named(plan, following.yarn)} is tied on there."


def _ways_out(
    plan: WarpPlan, frame: Frame, run: Run, runs: Sequence[Run], index: int
) -> tuple[str, ...]:
    """All ways out of an odd stripe, those that keep every count first."""
    ways = [
        f"Change colour where the hand finishes, at the {run.finishes_at}.",
        "Wind the last end singly: cut it at the far end, tie it to the peg, and begin the next"
        " colour at the start end.",
    ]
    if frame.ends_in_hand == 1 and run.ends > 2:
        hands = hands_for(run.ends, 2)
        ways.append(f"Wind it with two in hand: {' + '.join(map(str, hands))}, an even number.")
    beside = runs[index + 1] if index + 1 < len(runs) else None
    if run.ends == 1 and beside is not None and beside.ends == 1:
        ways.append(
            f"Hold one end of {run.yarn} and one of {beside.yarn} together in one pass, and lay"
            " them into the cross one by one in the order of the list."
        )
    neighbour = _lender(runs, index)
    if neighbour is not None:
        ways.append(
            f"Borrow an end from its neighbour: {run.yarn} {run.ends} becomes {run.ends + 1} and"
            f" {neighbour.yarn} {neighbour.ends} becomes {neighbour.ends - 1}; the warp keeps"
            f" {plan.ends} ends, the cloth changes by one."
        )
    ways.append(
        f"Make it even: {run.yarn} {run.ends} becomes {run.ends + 1}, and the warp"
        f" {plan.ends + 1} ends."
    )
    return tuple(ways)


def _lender(runs: Sequence[Run], index: int) -> Run | None:
    """The neighbour to borrow an end from: an odd one first, then the wider; never below two."""
    near = [runs[i] for i in (index - 1, index + 1) if 0 <= i < len(runs)]
    near = [run for run in near if run.ends > 2]
    return max(near, key=lambda run: (run.passes % 2, run.ends), default=None)
