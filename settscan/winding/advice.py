"""What to check before taking off, how to find a lost count again, and cautions.

Common practice, no source, as far as no other is named. For anybody in pain or with an old
injury the advice of a physiotherapist or doctor goes before anything said here.
"""

from __future__ import annotations

from settscan.cloth.wishes import Frame, FrameKind
from settscan.winding.model import Bout, Tie, TieKind
from settscan.winding.ties import loop_end


def before_taking_off(frame: Frame, bouts: tuple[Bout, ...]) -> tuple[str, ...]:
    """The checks between the last pass of a bout and its chain, in order."""
    full = f"groups of {frame.group_ends} and the last one"
    return (
        f"Count before tying: the {full} must add up to the number on the tag.",
        "Look along the cross: the ends lie one over, one under, in the order of the list.",
        "Compare the colours with the list from left to right, above all the last stripe.",
        "Tie the cross, then the choke ties, then the plain loop; bows only.",
        "Count the ties again, and fix the tag to the cross end.",
        "Only now take out the pegs.",
        f"Chain the bout off from the {loop_end(frame)} towards the cross at the"
        f" {frame.cross.value}, keeping it under a light, even pull.",
        *(_several(bouts) if len(bouts) > 1 else ()),
    )


def _several(bouts: tuple[Bout, ...]) -> tuple[str, ...]:
    return (
        f"Lay the {len(bouts)} chains side by side in the order of their numbers, all the same way"
        " round, with the first end of each on the left.",
    )


def recover(frame: Frame) -> tuple[str, ...]:
    """How to find the place again when the count is lost."""
    return (
        "Stop at once and keep the yarn taut: hang the cone or tie the yarn round the peg.",
        "See at which end of the frame the hand is: after an even number of passes it is at the"
        " start end, after an odd number at the far end.",
        f"Count at the cross, where the ends lie one by one: full groups of {frame.group_ends} up"
        " to the last counting tie, then the ends after it.",
        "Find that number in the running total of the list; the colour that was wound last must"
        " agree with it.",
        "If the two disagree, unwind to the last counting tie, which was checked, and go on from"
        " there. Wind the yarn back on its cone as you go.",
        "An end too many or too few that is found later: do not cut at the frame. Note it on the"
        " tag and leave it out, or add it singly at the back of the loom.",
    )


def cautions(frame: Frame) -> tuple[str, ...]:
    """Usual cautions for the body and for the warp."""
    reach = (
        "set the mill so that the start and far pegs are"
        if frame.kind is FrameKind.MILL
        else f"hang or set the {frame.kind.value} so that most of the work is"
    )
    return (
        f"Winding is one movement many hundred times: {reach} between shoulder and hip, stand"
        " with both feet firm, and change sides or hands where the frame allows it.",
        "Take a break at every page or every quarter of an hour, and loosen the hand and shoulder.",
        "Stop on pain, numbness or tingling, and ask a physiotherapist or doctor before going on.",
        "Keep blades away from the warp: tie in bows, and open every bow by pulling. Break or cut"
        " yarn at a colour change at the peg, with the other hand between blade and warp.",
        "Keep long hair, sleeves and small children clear of a turning frame.",
        "Wind a bout at one sitting if you can, and keep the same light pull: slack ends and tight"
        " ones stay so on the loom.",
    )


def number_of_ties(ties: tuple[Tie, ...], kind: TieKind) -> int:
    """Strings of one kind in a list of ties."""
    return sum(tie.number for tie in ties if tie.kind is kind)
