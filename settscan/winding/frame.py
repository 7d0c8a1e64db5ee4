"""The frame: what one turn measures, how many turns the warp needs, how to lay the guide cord.

A thread on a mill or reel climbs (or falls) by the pitch while it goes once round, so one turn
takes sqrt(circumference^2 + pitch^2) of yarn. A warp can end at any upright, so part turns go in
steps of one upright and the path is never shorter than what is wanted. On a board the turn is one
way out and back between the pegs, measured along the yarn, and a warp can end on either side.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor, isqrt

from settscan.cloth.wishes import CrossEnd, Frame, FrameKind
from settscan.errors import BadInput
from settscan.quantities import format_length
from settscan.winding.model import Path

# Cord for the two end loops of the guide cord (common practice, no source).
CORD_FOR_LOOPS_MM = Fraction(300)
# Lengths are cut off at a micrometre, downwards: the real path is never shorter than the figure.
_PARTS_OF_A_MM = 1000


def check_frame(frame: Frame) -> None:
    """Refuse a frame on which nothing can be wound.

    Raises:
        BadInput: naming the measure that is wrong.
    """
    positive: dict[str, Fraction | int] = {
        "circumference": frame.circumference_mm,
        "number of turns": frame.most_turns,
        "number of pegs in a turn": frame.pegs_around,
        "largest bout": frame.bout_ends,
        "counting group": frame.group_ends,
        "number of ends in hand": frame.ends_in_hand,
        "distance between choke ties": frame.choke_mm,
    }
    if frame.raddle_ends is not None:
        positive["raddle group"] = frame.raddle_ends
    for name, value in positive.items():
        if value <= 0:
            raise BadInput(
                f"The {name} of the {frame.kind.value} is {value}, which cannot be wound on.",
                "Give a number above nought in the frame part of the project.",
            )
    if frame.pitch_mm < 0 or frame.carry_ends < 0:
        raise BadInput(
            "The pitch of the frame and the ends to carry over cannot be negative.",
            "Give nought or more.",
        )
    if frame.cross_ties not in (4, 5):
        raise BadInput(
            f"A cross takes four ties, or five with one through it, not {frame.cross_ties}.",
            "Give 4 or 5.",
        )


def turn_length(frame: Frame) -> Fraction:
    """Yarn in one turn, in mm (board: one way out and back)."""
    if frame.kind is FrameKind.BOARD or frame.pitch_mm == 0:
        return frame.circumference_mm
    square = (frame.circumference_mm**2 + frame.pitch_mm**2) * _PARTS_OF_A_MM**2
    return Fraction(isqrt(floor(square)), _PARTS_OF_A_MM)


def places_in_turn(frame: Frame) -> int:
    """Places in one turn where a warp can end: uprights, or the two sides of a board."""
    return 2 if frame.kind is FrameKind.BOARD else frame.pegs_around


def turns_for(frame: Frame, wanted_mm: Fraction) -> Fraction:
    """Whole and part turns for a warp of this length: to the next place, never short.

    Raises:
        BadInput: if the length is not above nought.
    """
    if wanted_mm <= 0:
        raise BadInput("The warp has no length.", "Give the length of the piece.")
    places = places_in_turn(frame)
    return Fraction(ceil(wanted_mm / turn_length(frame) * places), places)


def turns_text(turns: Fraction) -> str:
    """Turns as they are said: "5 1/2", "3/4", "6"."""
    whole, part = divmod(turns, 1)
    return " ".join(str(number) for number in (whole, part) if number) or "0"


def find_path(frame: Frame, wanted_mm: Fraction, ends: int, units: str = "inch") -> Path:
    """The path of every end, with the whole-turn alternative and how to lay the guide cord.

    Args:
        frame: what the warp is wound on.
        wanted_mm: warp length.
        ends: ends in the warp, for what a longer path costs in yarn.
        units: "inch" or "metric", for the sentences.

    Raises:
        BadInput: if the frame or the length makes no sense.
    """
    check_frame(frame)
    wanted = Fraction(wanted_mm)
    turn = turn_length(frame)
    turns = turns_for(frame, wanted)
    whole = ceil(turns)
    cord = turns * turn + CORD_FOR_LOOPS_MM
    return Path(
        turns=turns,
        turn_mm=turn,
        length_mm=turns * turn,
        wanted_mm=wanted,
        waste_mm=turns * turn - wanted,
        steps=_laying(frame, turns, turns * turn, cord, units),
        guide_cord_mm=cord,
        whole_turns=whole,
        whole_turn_extra_mm=(whole - turns) * turn * ends,
        whole_turn_note=_whole_turn_note(frame, wanted, turns, ends, units),
    )


def frame_warnings(frame: Frame, path: Path, units: str = "inch") -> tuple[str, ...]:
    """What the frame cannot hold, as sentences."""
    if path.turns <= frame.most_turns:
        return ()
    longest = format_length(frame.most_turns * path.turn_mm, units)
    return (
        f"The path needs {turns_text(path.turns)} {turn_word(frame)} but the {frame.kind.value}"
        f" holds {frame.most_turns}, which is {longest}: wind a shorter warp, lay the turns"
        " closer together if there is room, or use a larger frame.",
    )


def turn_word(frame: Frame) -> str:
    """What a turn is called on this frame."""
    return "ways out and back" if frame.kind is FrameKind.BOARD else "turns"


def _whole_turn_note(frame: Frame, wanted: Fraction, turns: Fraction, ends: int, units: str) -> str:
    """The nearest whole-turn lengths above and below, and what each costs."""
    turn, whole = turn_length(frame), ceil(turns)
    if turns == whole:
        return f"{whole} whole {turn_word(frame)}: both end pegs are at the same place in a turn."
    extra = (whole - turns) * turn
    text = (
        f"{whole} whole {turn_word(frame)} would put both end pegs at the same place in a turn"
        f" and take {format_length(extra, units)} more for each end,"
        f" {format_length(extra * ends, units)} of yarn for {ends} ends"
    )
    below = floor(turns)
    if below:
        text += f"; {below} would be {format_length(wanted - below * turn, units)} short"
    return text + "."


def _laying(
    frame: Frame, turns: Fraction, length: Fraction, cord: Fraction, units: str
) -> tuple[str, ...]:
    """How to lay the guide cord, in order."""
    far = f"Set the far end peg where the cord ends, {_far_place(frame, turns)}"
    return (
        f"Cut a guide cord of {format_length(cord, units)}, in a colour that the warp does not"
        f" have, and knot a loop at each end: {format_length(length, units)} from loop to loop.",
        "Put one loop on the start peg.",
        _round_and_round(frame, turns, units),
        f"{far}, and put the other loop on it.",
        f"Set the two cross pegs next to the {frame.cross.value} peg, about a hand apart: the hand"
        " goes over one and under the other on its way out, and the other way round on its way"
        f" back.{_loop_and_cross(frame)}",
        "Without a cord: set the same pegs and count the turns. The pegs alone decide the length.",
    )


def _loop_and_cross(frame: Frame) -> str:
    """Why the cross lies where it lies (common practice, no source)."""
    if frame.cross is not CrossEnd.FAR:
        return " The yarns are tied on at that end too: keep their loose ends out of the cross."
    return (
        " The warp is endless: the start end has a plain loop, where yarns are tied on and broken"
        " off: with even counts no loose ends lie in the cross."
    )


def _far_place(frame: Frame, turns: Fraction) -> str:
    """Where the far end peg sits, seen from the start peg."""
    places = places_in_turn(frame)
    onwards = (turns % 1) * places
    if frame.kind is FrameKind.BOARD:
        return "on the side of the start peg" if onwards == 0 else "on the side opposite it"
    if onwards == 0:
        return "on the upright of the start peg"
    part = turns_text(turns % 1)
    return f"{part} of a turn ({onwards} of {places} uprights) past that of the start peg"


def _round_and_round(frame: Frame, turns: Fraction, units: str) -> str:
    if frame.kind is FrameKind.BOARD:
        return f"Take it from side to side over the pegs, {turns * 2} crossings, with no slack."
    pitch = format_length(frame.pitch_mm, units)
    way = "lower" if frame.kind is FrameKind.MILL else "further along"
    return (
        f"Turn the {frame.kind.value} and lay the cord in an even spiral, each turn {pitch} {way}:"
        f" {turns_text(turns)} turns."
    )
