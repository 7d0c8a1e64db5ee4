"""Weaves: threading, tie-up, treadling, heddles, floats, and which way a twill runs.

Drafts are for a rising shed, threading read left to right, the first pick at the bottom. With
the straight threading 1-2-3-4 and treadles that raise 1-2, 2-3, 3-4, 4-1 in that order, the twill
line rises to the right (Z); trodden backwards it rises to the left (S).
"""

from __future__ import annotations

import re
from typing import NamedTuple

from settscan.cloth.weaves import (
    COUNTED,
    HERRINGBONE_ENDS,
    LIFTPLAN,
    UNKNOWN,
    weave_name,
)
from settscan.errors import BadInput
from settscan.warping.model import Draft


class _Pattern(NamedTuple):
    """Threading, tie-up and treadling before they are counted for a warp."""

    name: str
    threading: tuple[int, ...]
    tie_up: tuple[tuple[int, ...], ...]
    treadling: tuple[int, ...]
    direction: str | None = None
    notes: tuple[str, ...] = ()


def _plain(shafts: int) -> _Pattern:
    if shafts >= 4:
        return _Pattern("plain", (1, 2, 3, 4), ((1, 3), (2, 4)), (1, 2))
    return _Pattern("plain", (1, 2), ((1,), (2,)), (1, 2))


def _twill(up: int, down: int, direction: str | None) -> _Pattern:
    """`up` shafts raised and `down` left, moving on by one at each pick."""
    shafts = up + down
    tie_up = tuple(
        tuple(sorted((first + step) % shafts + 1 for step in range(up))) for first in range(shafts)
    )
    forward = tuple(range(1, shafts + 1))
    treadling = forward if direction != "S" else forward[::-1]
    notes = () if direction else ("The direction was not known; it is drafted rising right (Z).",)
    name = f"{up}/{down} twill"
    return _Pattern(name, forward, tie_up, treadling, direction or "Z", notes)


def _herringbone(up: int, down: int, ends: int) -> _Pattern:
    """Twill whose threading turns every `ends` ends with a clean cut, opposite shafts meeting."""
    twill = _twill(up, down, "Z")
    shafts = up + down
    rising = tuple(place % shafts for place in range(ends))
    last = rising[-1]
    falling = tuple((last + up - place) % shafts for place in range(ends))
    threading = tuple(shaft + 1 for shaft in rising + falling)
    wide = "" if ends == HERRINGBONE_ENDS else f" {ends}"
    note = (
        f"The line turns every {ends} ends; for another width write it after the name, as in"
        f" {up}/{down} herringbone {ends + 4}."
    )
    return _Pattern(
        f"{up}/{down} herringbone{wide}", threading, twill.tie_up, twill.treadling, None, (note,)
    )


def _hopsack(ends: int, picks: int) -> _Pattern:
    """`ends` ends and `picks` picks together, as plain weave; ends spread over the shafts."""
    shafts = 2 * ends
    low = tuple(range(1, ends + 1))
    high = tuple(range(ends + 1, shafts + 1))
    treadling = (1,) * picks + (2,) * picks
    note = "Two picks in one shed: pass the second round a floating selvedge, or it slips back."
    return _Pattern(f"{ends}/{picks} hopsack", low + high, (low, high), treadling, None, (note,))


def _pattern(name: str, direction: str | None, shafts: int) -> _Pattern:
    if name == "plain":
        return _plain(shafts)
    if typed := LIFTPLAN.fullmatch(name):
        return _typed("typed liftplan", tuple(typed[1].split(",")), typed[2])
    counted = COUNTED.fullmatch(name)
    assert counted is not None  # `weave_name` has no others
    up, down = int(counted[1]), int(counted[2])
    if counted[3] == "twill":
        return _twill(up, down, direction)
    if counted[4]:
        return _herringbone(up, down, int(counted[5] or HERRINGBONE_ENDS))
    return _hopsack(up, down)


def draft_for(
    weave: str, ends: int, *, direction: str | None = None, shafts: int = 4
) -> Draft | None:
    """The draft of a weave for a warp of so many ends; None for the weave "unknown".

    Args:
        weave: as in the record: "plain", "2/2 twill", "herringbone" ...
        ends: in the whole warp, for the heddle count.
        direction: "Z", "S" or None, as the photo shows it.
        shafts: that the loom has; plain weave is spread over four if it can be.

    Raises:
        BadInput: for a weave without a draft here.
    """
    name = weave_name(weave)
    return None if name == UNKNOWN else _counted(_pattern(name, direction, shafts), ends)


def draft_from_liftplan(name: str, lifts: tuple[str, ...], threading: str, ends: int) -> Draft:
    """A draft from a typed liftplan: shafts raised for each pick, "1-2", "2-3" ...

    Args:
        name: of the weave.
        lifts: for each pick, the raised shafts, separated by blanks, commas or hyphens.
        threading: shafts, left to right, separated in the same way.
        ends: in the whole warp.

    Raises:
        BadInput: for anything but shaft numbers, or a lift of a shaft without ends.
    """
    return _counted(_typed(name, lifts, threading), ends)


def _typed(name: str, lifts: tuple[str, ...], threading: str) -> _Pattern:
    shafts_used = _shafts(threading)
    picks = tuple(tuple(sorted(set(_shafts(lift)))) for lift in lifts)
    if not picks or any(set(pick) - set(shafts_used) for pick in picks):
        raise BadInput(
            "The liftplan raises a shaft that the threading does not use, or is empty.",
            "List the raised shafts of each pick, as 1-2, then 2-3.",
        )
    tie_up = tuple(dict.fromkeys(picks))
    treadling = tuple(tie_up.index(pick) + 1 for pick in picks)
    return _Pattern(name, shafts_used, tie_up, treadling)


def _shafts(text: str) -> tuple[int, ...]:
    numbers = re.split(r"[\s,\-]+", text.strip())
    if not all(
        number.isascii() and number.isdigit() and 0 < int(number) <= 32 for number in numbers
    ):
        raise BadInput(f"{text!r} is not a list of shafts.", "Write 1 2 3 4, counting from 1.")
    return tuple(int(number) for number in numbers)


def _counted(pattern: _Pattern, ends: int) -> Draft:
    shafts = max(pattern.threading)
    whole, rest = divmod(ends, len(pattern.threading))
    heddles = tuple(
        whole * pattern.threading.count(shaft) + pattern.threading[:rest].count(shaft)
        for shaft in range(1, shafts + 1)
    )
    draft = Draft(
        name=pattern.name,
        shafts=shafts,
        treadles=len(pattern.tie_up),
        threading=pattern.threading,
        tie_up=pattern.tie_up,
        treadling=pattern.treadling,
        heddles=heddles,
        longest_float=(0, 0),
        direction=pattern.direction,
        notes=pattern.notes,
    )
    return _with_floats(draft)


def _with_floats(draft: Draft) -> Draft:
    return draft._replace(longest_float=longest_floats(draft))


def longest_floats(draft: Draft) -> tuple[int, int]:
    """Longest warp float over picks, and weft float over ends, on either face, in threads."""
    picks, ends = len(draft.treadling), len(draft.threading)
    cloth = draft.drawdown(picks, ends)
    warp = max(_longest_run(tuple(row[end] for row in cloth)) for end in range(ends))
    weft = max(_longest_run(row) for row in cloth)
    return warp, weft


def _longest_run(cycle: tuple[bool, ...]) -> int:
    """Longest run of equal values in an endless repetition; its length if it never changes."""
    if len(set(cycle)) == 1:
        return len(cycle)
    longest = run = 1
    doubled = cycle + cycle
    for here, there in zip(doubled, doubled[1:], strict=False):
        run = run + 1 if here == there else 1
        longest = max(longest, run)
    return longest


def intersections(draft: Draft) -> tuple[int, int]:
    """Ends in the threading repeat, and how often a pick passes between faces in it (the most)."""
    picks, ends = len(draft.treadling), len(draft.threading)
    crossings = (
        sum(draft.warp_is_up(pick, end) != draft.warp_is_up(pick, end + 1) for end in range(ends))
        for pick in range(picks)
    )
    return ends, max(crossings)


def first_throw(draft: Draft, ends: int) -> str:
    """From which side to throw the first pick so that both edge ends weave in, with one shuttle.

    An edge end is caught where the shuttle turns round it: it must lie on different faces in the
    pick that comes to its edge and in the pick that leaves. Which turns fall on which edge depends
    on the side of the first throw.

    Returns:
        "left", "right", "either" or "neither".
    """
    from_left = _caught(draft, 0, odd=True) and _caught(draft, ends - 1, odd=False)
    from_right = _caught(draft, 0, odd=False) and _caught(draft, ends - 1, odd=True)
    if from_left and from_right:
        return "either"
    return "left" if from_left else "right" if from_right else "neither"


def _caught(draft: Draft, end: int, *, odd: bool) -> bool:
    """Whether an edge end is caught at least once in each round of the treadling.

    `odd`: its turns come after every second pick counting from 2; else from 1.
    """
    cycle = 2 * len(draft.treadling)
    turns = range(1 if odd else 0, cycle, 2)
    return any(draft.warp_is_up(pick, end) != draft.warp_is_up(pick + 1, end) for pick in turns)
