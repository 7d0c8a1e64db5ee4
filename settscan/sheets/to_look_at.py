"""What to look at before winding, short enough to stand beside the figures of a plan.

The sheets ask about each uncertain stripe on a line of its own, to be ticked off. On a screen
twenty such lines would push all else out of sight, so there one sentence names all of them.
"""

from __future__ import annotations

from collections.abc import Sequence

from settscan.cloth.model import Cloth, StripeDoubt
from settscan.sheets import content
from settscan.warping.checks import questions
from settscan.warping.model import WarpPlan
from settscan.winding.wound import Wound

MOST_QUESTIONS = 2  # that are asked one by one on a screen


def short_warnings(plan: WarpPlan, winding: Wound | None = None) -> tuple[str, ...]:
    """All warnings, but questions about more stripes than two together."""
    found = content.warnings(plan, winding)
    asked = frozenset(questions(plan.cloth))
    if len(asked) <= MOST_QUESTIONS:
        return found
    # What is said of the whole warp stands before or after the questions, as it does in full.
    at = next(place for place, each in enumerate(found) if each in asked)
    others = [each for each in found if each not in asked]
    together = [told for side in _sides(plan.cloth) for told in _together(*side)]
    return (*others[:at], *together, *others[at:])


def _sides(cloth: Cloth) -> list[tuple[str, str, tuple[StripeDoubt, ...]]]:
    """Warp and weft, what their threads are called, and their doubts; both at once if alike."""
    warp, weft = cloth.warp, cloth.weft
    if warp.sequence == weft.sequence and warp.doubts == weft.doubts:
        return [("warp and weft", "threads", warp.doubts)]
    return [("warp", "ends", warp.doubts), ("weft", "picks", weft.doubts)]


def _together(axis: str, threads: str, doubts: Sequence[StripeDoubt]) -> list[str]:
    """The stripes that no hand has confirmed, by number."""
    unsure = [each for each in doubts if not each.is_cut]
    cut = [each for each in doubts if each.is_cut]
    told = []
    if unsure:
        told.append(
            f"The photo is not sure of the {threads} in {axis} {_stripes(unsure)}: count them on"
            " the cloth before winding."
        )
    if cut:
        told.append(
            f"The photo's edge cuts {axis} {_stripes(cut)}, so the counts there are the least that"
            " there may be: count them on the cloth before winding."
        )
    return told


def _stripes(doubts: Sequence[StripeDoubt]) -> str:
    """Their numbers: "stripe 4", "stripes 1, 3 to 9 and 12"."""
    runs: list[list[int]] = []
    for number in sorted(each.position + 1 for each in doubts):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts: list[str] = []
    for run in runs:
        parts += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else map(str, run)
    listed = " and ".join((", ".join(parts[:-1]), parts[-1])) if len(parts) > 1 else parts[0]
    return f"stripe{'s' * (len(doubts) > 1)} {listed}"
