"""How long the winding takes, as an honest range."""

from __future__ import annotations

from fractions import Fraction

from settscan.cloth.wishes import Frame
from settscan.measured import Measured, Origin
from settscan.winding.model import Path

# Seconds as (usual, quick, slow): assumptions to be edited by `seconds_per_pass`, no source.
TURN_S = (3, 2, 5)  # one turn of the frame
CROSS_S = (4, 2, 8)  # the two end pegs and the cross in one pass
CHANGE_S = (40, 20, 90)  # breaking off one yarn and tying on the next
COUNTING_TIE_S = (20, 10, 40)  # the group counted again, the cord crossed
TIE_S = (30, 15, 60)  # one string tied in a bow
BOUT_S = (600, 300, 1200)  # pegs out, chain, tag, pegs in


def minutes_for(
    frame: Frame, path: Path, *, passes: int, changes: int, counting: int, ties: int, bouts: int
) -> Measured:
    """Minutes for the whole warp, with a range.

    A typed `seconds_per_pass` replaces the guess for the passes; the rest stays an assumption.

    Args:
        frame: for its seconds in one pass.
        path: turns in one pass.
        passes: passes in the warp.
        changes: yarns tied on.
        counting: counting ties.
        ties: all other ties.
        bouts: bouts.
    """
    found = []
    for case in range(3):
        one = path.turns * TURN_S[case] + CROSS_S[case]
        if frame.seconds_per_pass is not None:
            one = Fraction(frame.seconds_per_pass)
        seconds = passes * one + changes * CHANGE_S[case] + counting * COUNTING_TIE_S[case]
        found.append((seconds + ties * TIE_S[case] + bouts * BOUT_S[case]) / 60)
    return Measured(found[0], found[1], found[2], Origin.ASSUMED)
