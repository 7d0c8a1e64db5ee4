"""From batches of passes to the steps that a person follows, and the list of odd stripes."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence

from settscan.cloth.wishes import Frame, OddWay
from settscan.warping.model import Block, WarpPlan
from settscan.winding.changes import NO_CHANGE, Run, changes_of, runs_of
from settscan.winding.model import OddStripe, WindingStep
from settscan.winding.passes import Batch, Piece, hands_for

_MOST_HANDS = 6  # passes that are written out one by one


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
    runs = runs_of(batches)
    changes = changes_of(runs, _names(plan), frame)
    first_of_run = {id(run.batches[0]): n for n, run in enumerate(runs)}
    steps: list[WindingStep] = []
    group_start = 0
    for number, batch in enumerate(batches, start=1):
        ties: tuple[str, ...] = ()
        if batch.closes_group:
            ties = (counting_words(batch.bout_total, batch.bout_total - group_start),)
            group_start = batch.bout_total
        change = changes[first_of_run[id(batch)]] if id(batch) in first_of_run else NO_CHANGE
        done, piece = batch.bout_total, batch.piece
        steps.append(
            WindingStep(
                bout=bout,
                number=number,
                yarn=piece.yarn,
                colour_name=" and ".join(plan.cloth.yarn(key).name for key in piece.yarns),
                ends=batch.ends,
                passes=batch.passes,
                in_hand=batch.hand,
                held=batch.held if piece.unit else (),
                bout_total=done,
                warp_total=before + done,
                begins_at=batch.begins_at,
                finishes_at=batch.finishes_at,
                stripe=piece.stripe,
                stripe_ends=piece.ends if piece.unit else plan.order[piece.stripe].threads,
                stripe_done=piece.before + batch.done,
                change=change.text,
                change_short=change.short,
                knot=change.knot,
                broken_off=change.hand.broken,
                left_hanging=change.hand.left,
                taken_up=change.hand.again,
                tied_on=change.hand.tied_on,
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
    if not blocks or last <= blocks[0].first_end:
        return ""
    begin = max(bisect_right(blocks, first, key=lambda block: block.first_end) - 1, 0)
    end = bisect_left(blocks, last, key=lambda block: block.first_end) - 1
    name, other = blocks[begin].label, blocks[end].label
    return name if begin == end else f"{name} and {other}"


def _names(plan: WarpPlan) -> Mapping[str, str]:
    """Each yarn as it is called in a sentence: "A (navy)"."""
    return {yarn.key: f"{yarn.key} ({yarn.name})" for yarn in plan.cloth.yarns}


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
                yarn=run.batches[0].piece.yarn,
                ends=run.ends,
                done=_done(plan, frame, run, following),
                ways_out=_ways_out(plan, frame, runs, index),
            )
        )
    return tuple(found)


def _done(plan: WarpPlan, frame: Frame, run: Run, following: Run | None) -> str:
    names = _names(plan)
    name, many = " and ".join(names[key] for key in run.yarns), len(run.yarns) > 1
    passes = f"{run.passes} pass{'es' if run.passes > 1 else ''}"
    text = f"{name} {run.ends} take{'' if many else 's'} {passes} and finish{'' if many else 'es'}"
    text += f" at the {run.finishes_at}: "
    if following is None:
        return text + f"the bout is done; cut it and tie it to the {run.finishes_at} peg."
    if frame.odd_way is OddWay.SINGLE:
        return text + "it is cut there and the next colour begins at the start end."
    new = [names[key] for key in following.yarns if key not in run.yarns]
    if not new:
        on = " and ".join(names[key] for key in following.yarns)
        return text + f"it goes on from there with {on} alone."
    return text + f"{' and '.join(new)} {'are' if len(new) > 1 else 'is'} tied on there."


def _ways_out(plan: WarpPlan, frame: Frame, runs: Sequence[Run], index: int) -> tuple[str, ...]:
    """All ways out of an odd stripe, those that keep every count first."""
    run = runs[index]
    ways = [
        f"Change colour where the hand finishes, at the {run.finishes_at}.",
        "Wind the last end singly: cut it at the far end, tie it to the peg, and begin the next"
        " colour at the start end.",
    ]
    first = run.batches[0].piece
    if first.unit:
        return (*ways, _a_turn_more(plan, first, run))
    yarn = first.yarn
    if frame.ends_in_hand == 1 and run.ends > 2:
        hands = hands_for(run.ends, 2)
        ways.append(f"Wind it with two in hand: {_hands_in_words(hands)}, an even number.")
    beside = runs[index + 1] if index + 1 < len(runs) else None
    if run.ends == 1 and beside is not None and beside.ends == 1:
        ways.append(
            f"Hold one end of {yarn} and one of {beside.yarns[0]} together in one pass, and lay"
            " them into the cross one by one in the order of the list (ends_in_hand = 2)."
        )
    neighbour = _lender(runs, index)
    if neighbour is not None:
        ways.append(
            f"Borrow an end from its neighbour: {yarn} {run.ends} becomes {run.ends + 1} and"
            f" {neighbour.yarns[0]} {neighbour.ends} becomes {neighbour.ends - 1}; the warp keeps"
            f" {plan.ends} ends, the cloth changes by one."
        )
    ways.append(
        f"Make it even: {yarn} {run.ends} becomes {run.ends + 1}, and the warp {plan.ends + 1}"
        " ends."
    )
    return tuple(ways)


def _hands_in_words(hands: Sequence[int]) -> str:
    """Ends in the hand pass by pass; many passes as "17 passes of 2 and 3 of 1"."""
    if len(hands) <= _MOST_HANDS:
        return " + ".join(map(str, hands))
    twos = hands.count(2)
    return f"{twos} passes of 2 and {len(hands) - twos} of 1"


def _a_turn_more(plan: WarpPlan, piece: Piece, run: Run) -> str:
    """How ends that are wound together become an even number of passes."""
    one = len(piece.unit)
    return (
        f"Make it even: one turn more of {' '.join(piece.unit)}, {run.ends + one} ends in place of"
        f" {run.ends}, and the warp {plan.ends + one} ends."
    )


def _lender(runs: Sequence[Run], index: int) -> Run | None:
    """The neighbour to borrow an end from: an odd one first, then the wider; never below two."""
    near = [runs[i] for i in (index - 1, index + 1) if 0 <= i < len(runs)]
    near = [run for run in near if run.ends > 2 and len(run.yarns) == 1]
    return max(near, key=lambda run: (run.passes % 2, run.ends), default=None)
