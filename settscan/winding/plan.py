"""Warp plan and frame to winding plan: the pieces put together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from fractions import Fraction

from settscan.cloth.wishes import Frame, FrameKind
from settscan.errors import BadInput
from settscan.quantities import format_length
from settscan.warping.model import Step, WarpPlan
from settscan.warping.yarn import by_key, yarns_as_wound
from settscan.winding import advice
from settscan.winding.bouts import Split, split_warp
from settscan.winding.effort import minutes_for
from settscan.winding.frame import find_path, frame_warnings, turn_word, turns_text
from settscan.winding.model import START_END, Bout, OddStripe, Path, Tie, TieKind, WindingPlan
from settscan.winding.passes import Piece, hand_choices, pieces_between, right_edges, wind
from settscan.winding.steps import odd_stripes, steps_of_bout
from settscan.winding.ties import ties_of_bout

MOST_HANDS_SHOWN = 4  # the choices listed for ends in the hand, unless more are in use


def plan_winding(plan: WarpPlan) -> WindingPlan:
    """The winding of a warp on the weaver's frame (`plan.wishes.frame`).

    Every end of `plan.order` is wound exactly once, in its order, whatever the bouts and the
    ends in hand; no count is changed.

    Raises:
        BadInput: if the warp has no ends or no length, or the frame makes no sense.
    """
    frame, units = plan.wishes.frame, plan.wishes.units
    if frame.kind is FrameKind.SECTIONS:
        raise BadInput(
            "A sectional beam is wound in sections, not in bouts.",
            'Write kind = "mill", "reel" or "board" for the frame.',
        )
    if not plan.order:
        raise BadInput("The warp has no ends.", "Give a warp sequence with at least one stripe.")
    path = find_path(frame, Fraction(plan.warp_length_mm.value), plan.ends, units)
    bouts, odd, pieces = _all_bouts(plan, frame, path)
    ties = tuple(tie for bout in bouts for tie in ties_of_bout(bout, path, frame, units))
    passes = sum(bout.passes for bout in bouts)
    knots = sum(len(step.tied_on) for bout in bouts for step in bout.steps if step.knot)
    return WindingPlan(
        plan=plan,
        frame=frame,
        path=path,
        bouts=bouts,
        ties=ties,
        before_taking_off=advice.before_taking_off(frame, bouts),
        recover=advice.recover(frame),
        cautions=advice.cautions(frame),
        odd_stripes=odd,
        passes=passes,
        knots=knots,
        turns_in_all=passes * path.turns,
        walking_mm=passes * path.length_mm,
        yarns=yarns_as_wound(plan, path.length_mm),
        yarn_step=_yarn_step(path, frame, units),
        minutes=minutes_for(
            frame,
            path,
            passes=passes,
            changes=knots + len(bouts),
            counting=advice.number_of_ties(ties, TieKind.COUNTING),
            ties=_strings(ties),
            bouts=len(bouts),
        ),
        hand_choices=hand_choices(pieces, max(MOST_HANDS_SHOWN, frame.ends_in_hand)),
        warnings=frame_warnings(frame, path, units) + _bout_warnings(frame, bouts),
    )


def _yarn_step(path: Path, frame: Frame, units: str) -> Step:
    """What one end takes on the frame, and how much of it the warp does not need."""
    length = format_length(path.length_mm, units)
    text = f"{length} = {turns_text(path.turns)} {turn_word(frame)} on the {frame.kind.value}"
    if path.waste_mm:
        text += f", {format_length(path.waste_mm, units)} more than the warp needs"
    return Step("Wound for each end", text)


def _all_bouts(
    plan: WarpPlan, frame: Frame, path: Path
) -> tuple[tuple[Bout, ...], tuple[OddStripe, ...], list[tuple[Piece, ...]]]:
    """The bouts with their steps, the odd stripes of all of them, and the pieces of each."""
    bouts: list[Bout] = []
    pieces: list[tuple[Piece, ...]] = []
    odd: list[OddStripe] = []
    before = 0
    splits, right = split_warp(plan.order, frame), right_edges(plan.order)
    for number, split in enumerate(splits, start=1):
        pieces.append(pieces_between(plan.order, right, before, split.at))
        batches = wind(pieces[-1], frame)
        steps = steps_of_bout(plan, frame, batches, number, before)
        per_yarn: Counter[str] = Counter()
        for step in steps:
            for key in step.held or (step.yarn,) * step.in_hand:
                per_yarn[key] += step.passes
        bouts.append(
            Bout(
                number=number,
                ends=split.at - before,
                passes=sum(step.passes for step in steps),
                first_end=before + 1,
                last_end=split.at,
                steps=steps,
                split_reason=split.reason,
                per_yarn=by_key(per_yarn),
                tag=_tag(plan, path, splits, number, before, by_key(per_yarn)),
            )
        )
        odd += odd_stripes(plan, frame, batches, number)
        before = split.at
    return tuple(bouts), tuple(odd), pieces


def _tag(
    plan: WarpPlan,
    path: Path,
    splits: Sequence[Split],
    number: int,
    before: int,
    per_yarn: Mapping[str, int],
) -> str:
    """The text of a chain's tag: warp, bout, ends, colours, length."""
    end = splits[number - 1].at
    colours = ", ".join(
        f"{key} ({plan.cloth.yarn(key).name}) {ends}" for key, ends in per_yarn.items()
    )
    length = format_length(path.length_mm, plan.wishes.units)
    return (
        f"{plan.cloth.name.replace('_', ' ')}: bout {number} of {len(splits)}, {end - before} ends"
        f" ({before + 1} to {end} from the left): {colours}; {length} long;"
        f" cross at the {plan.wishes.frame.cross.value}."
    )


def _strings(ties: Sequence[Tie]) -> int:
    """Strings tied before taking off, in all bouts."""
    return sum(tie.number for tie in ties if tie.kind is not TieKind.COUNTING)


def _bout_warnings(frame: Frame, bouts: Sequence[Bout]) -> tuple[str, ...]:
    """What a weaver should know about the bouts before beginning."""
    found = []
    away = [str(bout.number) for bout in bouts if bout.steps[-1].finishes_at != START_END]
    if away:
        found.append(
            f"Bout{'s' if len(away) > 1 else ''} {', '.join(away)}: an odd number of passes, so the"
            " last end is cut at the far end and tied to the peg there."
        )
    inside = sum(
        step.knot and step.begins_at == frame.cross.value for bout in bouts for step in bout.steps
    )
    if inside:
        found.append(
            f"{inside} colour change{'s fall' if inside > 1 else ' falls'} at the"
            f" {frame.cross.value}, where the cross is: keep the loose ends outside it, behind the"
            " end peg."
        )
    if frame.ends_in_hand > 1:
        found.append(
            f"With up to {frame.ends_in_hand} ends in hand the cross must still be one by one:"
            " lead them through a paddle or a small reed and pick the cross in each pass."
        )
    return tuple(found)
