"""The ties, in the order in which they are made.

By default the warp is endless: a plain loop at the start end, the cross at the far end, so that
no loose ends lie in the cross. While winding, a counting cord goes between the groups. When the
bout is wound its count is checked first; then come the cross ties, the choke ties and the ties of
the plain loop (common practice, no source; four ties round a cross, on its arms and never at its
waist: also Osterkamp's tip on ties, and laurasloom, January 2012).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from settscan.cloth.wishes import YARD, CrossEnd, Frame
from settscan.quantities import format_length
from settscan.winding.model import Bout, Path, Tie, TieKind, WindingStep

BOW = "wrap the string two or three times, pull it tight and finish with a bow, never a hard knot"


def ties_of_bout(bout: Bout, path: Path, frame: Frame, units: str = "inch") -> tuple[Tie, ...]:
    """All ties of one bout: counting ties as it is wound, the others before it is taken off."""
    return (*counting_ties(bout.number, bout.steps), *take_off_ties(bout, path, frame, units))


def counting_ties(bout: int, steps: Sequence[WindingStep]) -> tuple[Tie, ...]:
    """One tie for each group; the last closes what is left of the bout."""
    return tuple(
        Tie(
            kind=TieKind.COUNTING,
            bout=bout,
            number=1,
            text=text,
            after_end=step.bout_total,
        )
        for step in steps
        for text in step.ties
    )


def choke_places(path_mm: Fraction, every_mm: Fraction, cross: CrossEnd) -> tuple[Fraction, ...]:
    """Distances of the choke ties from the start peg, in the order from the cross on.

    One at each full `every_mm` from the cross, as long as at least half of it is left to the
    loop; a warp too short for that gets one in its middle.
    """
    number = int((path_mm - every_mm / 2) // every_mm)
    away = [every_mm * (k + 1) for k in range(number)] or [path_mm / 2]
    if cross is CrossEnd.FAR:
        return tuple(path_mm - distance for distance in away)
    return tuple(away)


def take_off_ties(bout: Bout, path: Path, frame: Frame, units: str) -> tuple[Tie, ...]:
    """Cross ties, choke ties and loop ties of a bout."""
    loop = loop_end(frame)
    chokes = choke_places(path.length_mm, frame.choke_mm, frame.cross)
    return (
        Tie(kind=TieKind.CROSS, bout=bout.number, number=frame.cross_ties, text=_cross_text(frame)),
        Tie(
            kind=TieKind.CHOKE,
            bout=bout.number,
            number=len(chokes),
            text=_choke_text(chokes, path, frame, units),
            places_mm=chokes,
        ),
        Tie(
            kind=TieKind.LOOP_END,
            bout=bout.number,
            number=2,
            text=f"2 ties at the plain loop at the {loop}, one on each side of the peg, so that the"
            f" place to cut is known after beaming: {BOW}.",
        ),
    )


def loop_end(frame: Frame) -> str:
    """The end of the frame with the plain loop: the one without the cross."""
    return CrossEnd.START.value if frame.cross is CrossEnd.FAR else CrossEnd.FAR.value


def _cross_text(frame: Frame) -> str:
    fifth = ", and one through the cross itself" if frame.cross_ties == 5 else ""
    return (
        f"{frame.cross_ties} ties at the cross at the {frame.cross.value}, one on each side of each"
        f" cross peg{fifth}: {BOW}, so that no scissors come near the warp."
    )


def _said(length: Fraction, units: str) -> str:
    """A distance as it is said: whole yards in yards."""
    if units == "inch" and length % YARD == 0:
        return f"{length // YARD} yd"
    return format_length(length, units)


def _choke_text(chokes: Sequence[Fraction], path: Path, frame: Frame, units: str) -> str:
    how = "each as tight as it will go, in a bow"
    if path.length_mm < frame.choke_mm * Fraction(3, 2):
        return f"1 choke tie in the middle of the warp, {how}."
    every = _said(frame.choke_mm, units)
    if len(chokes) == 1:
        return f"1 choke tie, {every} from the cross peg, {how}."
    return f"{len(chokes)} choke ties, one at each {every} from the cross on, {how}."
