"""Which bouts are wound from one list: those whose steps are the same share a sheet."""

from __future__ import annotations

from dataclasses import dataclass

from settscan.winding.model import Bout, WindingPlan, WindingStep

MOST_TIMES = 12  # bouts on one sheet: more boxes than that cannot be told apart on a line
_ONE_OR_TWO = ("not at all", "once", "twice")
_NUMBERS = ("three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


@dataclass(frozen=True, slots=True)
class BoutSet:
    """Bouts that are wound from one sheet, in the order of their numbers."""

    bouts: tuple[Bout, ...]

    @property
    def pattern(self) -> Bout:
        """The bout whose steps are written out."""
        return self.bouts[0]

    @property
    def times(self) -> int:
        """How often the sheet is wound."""
        return len(self.bouts)

    @property
    def numbers(self) -> str:
        """The bouts by number: "Bout 3", "Bouts 3 to 7", "Bouts 2, 4"."""
        if self.times == 1:
            return f"Bout {self.pattern.number}"
        return f"Bouts {listed([bout.number for bout in self.bouts])}"


def bout_sets(winding: WindingPlan, most: int = MOST_TIMES) -> tuple[BoutSet, ...]:
    """All bouts, those with the same steps together, in the order of the first of each set.

    Args:
        winding: the plan.
        most: bouts in one set at most; more of a kind make another set.
    """
    alike: dict[object, list[Bout]] = {}
    for bout in winding.bouts:
        alike.setdefault(tuple(map(_wound, bout.steps)), []).append(bout)
    sets = [
        BoutSet(tuple(bouts[first : first + most]))
        for bouts in alike.values()
        for first in range(0, len(bouts), most)
    ]
    return tuple(sorted(sets, key=lambda each: each.pattern.number))


def times_in_words(times: int) -> str:
    """How often, in words up to twelve: "once", "twice", "three times"."""
    if times < len(_ONE_OR_TWO):
        return _ONE_OR_TWO[times]
    place = times - len(_ONE_OR_TWO)
    return f"{_NUMBERS[place] if place < len(_NUMBERS) else times} times"


def listed(numbers: list[int]) -> str:
    """Numbers with runs of three and more drawn together: "1, 3 to 6, 9"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return ", ".join(parts)


def _wound(step: WindingStep) -> tuple[object, ...]:
    """What the hand does in a step, wherever in the warp it lies."""
    return (
        step.yarn,
        step.ends,
        step.passes,
        step.in_hand,
        step.held,
        step.finishes_at,
        step.change,
        step.ties,
        step.stripe_ends,
        step.stripe_done,
    )
