"""The nouns of winding: path, step, tie, bout, odd stripe, and the plan that holds them.

Lengths are exact millimetres, counts whole ends. Texts are plain English sentences, ready to be
read at the mill; every figure inside them also stands in a field of its own.
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from settscan.cloth.wishes import Frame
from settscan.measured import Measured

if TYPE_CHECKING:
    from settscan.warping.model import Step, WarpPlan, YarnNeed

START_END = "start end"
FAR_END = "far end"


class TieKind(StrEnum):
    """What a tie is for, in the order in which the ties are made."""

    COUNTING = "counting"
    CROSS = "cross"
    CHOKE = "choke"
    LOOP_END = "loop end"


class Tie(NamedTuple):
    """One kind of tie at one place: `number` strings, and the sentence that says how."""

    kind: TieKind
    bout: int
    number: int
    text: str
    after_end: int | None = None  # a counting tie: ends of the bout wound when it is made
    places_mm: tuple[Fraction, ...] = ()  # choke ties: distances from the start peg

    def __str__(self) -> str:
        return self.text


class WindingStep(NamedTuple):
    """One action at the mill: so many ends of one yarn, never past a counting tie.

    A stripe that a counting tie or the edge of a bout divides becomes several steps;
    `stripe_done` of `stripe_ends` then says how far it has come. Narrow stripes that come by
    turns may be wound together: `held` then names the yarn of each end in the hand, and `stripe`,
    `stripe_ends` and `stripe_done` speak of the whole run of them.
    """

    bout: int  # 1-based
    number: int  # 1-based within the bout
    yarn: str  # of several wound together, that of the first end in the hand
    colour_name: str  # "navy"; of several wound together "navy and cream"
    ends: int
    passes: int
    in_hand: int  # ends in each pass of this step: ends = passes x in_hand
    bout_total: int  # ends in the bout when this step is done
    warp_total: int  # ends in the warp when this step is done
    begins_at: str  # START_END or FAR_END
    finishes_at: str
    stripe: int  # 0-based index in WarpPlan.order
    stripe_ends: int  # the stripe's whole count
    stripe_done: int  # ends of the stripe wound when this step is done
    change: str = ""  # what to do before it: "Tie on B (red) at the start end."
    change_short: str = ""  # the same in one line: "At the start end: break off A, tie on B"
    knot: bool = False  # whether that ties on a yarn, after the bout's first
    broken_off: tuple[str, ...] = ()  # yarn by yarn, the same: broken off (or cut singly)
    left_hanging: tuple[str, ...] = ()  # left at the peg, unbroken
    taken_up: tuple[str, ...] = ()  # taken up where they hang
    tied_on: tuple[str, ...] = ()  # tied on
    ties: tuple[str, ...] = ()  # due when this step is done
    repeat_label: str = ""  # "repeat 2", "before the first repeat", "after the last repeat"
    held: tuple[str, ...] = ()  # several yarns in the hand: that of each end, in warp order

    @property
    def yarns(self) -> tuple[str, ...]:
        """The different yarns in the hand, in the order of the warp."""
        return tuple(dict.fromkeys(self.held)) or (self.yarn,)

    @property
    def yarn_of_each_end(self) -> tuple[str, ...]:
        """The yarn of each end that the step winds, in the order of the warp."""
        return (self.held or (self.yarn,) * self.in_hand) * self.passes


class Bout(NamedTuple):
    """What is wound, tied and taken off as one chain."""

    number: int  # 1-based, in the order of the warp
    ends: int
    passes: int
    first_end: int  # 1-based, in the whole warp
    last_end: int
    steps: tuple[WindingStep, ...]
    split_reason: str  # why it ends where it does
    per_yarn: dict[str, int]
    tag: str


class Path(NamedTuple):
    """The way of every end over the frame."""

    turns: Fraction  # whole and part turns (board: out-and-backs)
    turn_mm: Fraction  # yarn in one turn
    length_mm: Fraction
    wanted_mm: Fraction
    waste_mm: Fraction  # length - wanted, never negative
    steps: tuple[str, ...]  # how to lay it
    guide_cord_mm: Fraction  # cord to cut, its loops included
    whole_turns: int  # the next number of whole turns that is not short
    whole_turn_extra_mm: Fraction  # yarn that it costs, over all ends, beyond `turns`
    whole_turn_note: str = ""


class OddStripe(NamedTuple):
    """A stripe whose passes come out odd: the hand finishes at the other end of the frame."""

    bout: int
    stripe: int  # 0-based index in WarpPlan.order
    yarn: str
    ends: int  # of the stripe, as far as it lies in this bout
    done: str  # what the plan does about it
    ways_out: tuple[str, ...]

    def __str__(self) -> str:
        return self.done


class HandChoice(NamedTuple):
    """What winding with up to so many ends in the hand would mean for the same bouts."""

    in_hand: int
    passes: int
    odd: int  # colour runs that finish at the other end than they began
    uneven: int  # stripes in which the number of ends in the hand changes


class WindingPlan(NamedTuple):
    """Everything that is needed to wind the warp, pass by pass."""

    plan: WarpPlan
    frame: Frame
    path: Path
    bouts: tuple[Bout, ...]
    ties: tuple[Tie, ...]  # all bouts, in the order in which they are made
    before_taking_off: tuple[str, ...]
    recover: tuple[str, ...]
    cautions: tuple[str, ...]
    odd_stripes: tuple[OddStripe, ...]
    passes: int
    knots: int  # yarns tied on after the first of each bout
    turns_in_all: Fraction  # passes x turns
    walking_mm: Fraction  # passes x path: yarn that runs through the hand
    yarns: tuple[YarnNeed, ...]  # to buy, for the length that is wound for each end
    yarn_step: Step  # how that length comes about
    minutes: Measured | None = None
    hand_choices: tuple[HandChoice, ...] = ()  # 1, 2, 3 ... ends in hand, to choose from
    warnings: tuple[str, ...] = ()

    @property
    def steps(self) -> tuple[WindingStep, ...]:
        """All steps of all bouts, in the order of the warp."""
        return tuple(step for bout in self.bouts for step in bout.steps)
