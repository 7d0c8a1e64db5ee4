"""A new reading laid beside what a hand has corrected: what is certain stays, the rest is renewed.

Where the new reading shows the same stripes, it renews the counts that nobody has confirmed. Where
a hand has split or joined stripes, a count that nobody confirmed is told by its width and the
pitch of the new reading, and is doubted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from settscan.cloth.model import StripeDoubt
from settscan.page.laying import laid
from settscan.page.rebuilding import refilled
from settscan.page.work import Line, Shown, Side

_SURE = 0.9
_SAME = 0.8  # overlap, as a share of both stripes, from which they are one and the same
_BY_WIDTH = "told by its width"


@dataclass(frozen=True, slots=True)
class Seen:
    """One stripe of the new reading; `start` and `end` are shares of the picture's side."""

    yarn: str
    threads: int
    low: int
    high: int
    chance: float
    cut: bool
    start: float
    end: float

    @property
    def sure(self) -> bool:
        """Whether its count needs no second look."""
        return self.chance >= _SURE and self.low == self.high and not self.cut


def seen_of(axis: Mapping[str, Any], called: Mapping[str, str]) -> tuple[Seen, ...]:
    """The stripes of an axis as `reading.places` tells them, yarns called as in the project."""
    return tuple(
        Seen(
            yarn=called.get(one["yarn"], one["yarn"]),
            threads=one["threads"],
            low=one["low"],
            high=one["high"],
            chance=one["chance"],
            cut=one["cut"],
            start=one["start"],
            end=one["end"],
        )
        for one in axis.get("stripes", [])
    )


def looked_again(side: Side, seen: Sequence[Seen], pitch: float | None, same_picture: bool) -> Side:
    """The side after a second look.

    Args:
        side: as corrected by hand.
        seen: the stripes of the new reading, in picture order.
        pitch: share of the picture's side that one thread takes; None if not known.
        same_picture: whether places in the old and the new straightened picture agree.
    """
    if not seen:
        return side
    found = [(one.yarn, Shown(0, one.threads, one.start, one.end, one.cut)) for one in seen]
    fresh = replace(laid(side, found), exact=True)
    if fresh.shown:
        return _renewed(fresh, dict(enumerate(seen)))
    if not same_picture or not side.shown:
        return replace(side, shown=())
    partners = {
        place: one
        for place, shown in enumerate(side.shown)
        if (one := _partner(shown, seen)) is not None
    }
    side = _renewed(side, partners)
    return side if pitch is None else _by_width(side, set(partners), pitch)


def _partner(shown: Shown, seen: Sequence[Seen]) -> Seen | None:
    """The stripe of the new reading that is this one."""
    for one in seen:
        common = min(shown.end, one.end) - max(shown.start, one.start)
        if common >= _SAME * max(shown.end - shown.start, one.end - one.start):
            return one
    return None


def _renewed(side: Side, by_place: Mapping[int, Seen]) -> Side:
    """Counts that nobody confirmed, as the surest stripe of the new reading has them."""
    for index, line in enumerate(side.lines):
        places = [
            place for place, one in enumerate(side.shown) if one.of == index and place in by_place
        ]
        if line.certain or not places:
            continue
        best = max(places, key=lambda p: (not by_place[p].cut, by_place[p].chance))
        one = by_place[best]
        if one.cut and line.threads >= one.threads and line.doubt is None:
            continue
        threads = max(one.threads, line.threads) if one.cut else one.threads
        side = _put(side, index, Line(line.yarn, threads, False, _doubt(one, threads)))
    return side


def _doubt(one: Seen, threads: int) -> StripeDoubt | None:
    if one.sure:
        return None
    return StripeDoubt(
        position=0,
        low=min(one.low, threads),
        high=max(one.high, threads),
        chance=min(one.chance, 0.5) if one.cut else one.chance,
        note="cut by the edge of the photo" if one.cut else "",
    )


def _by_width(side: Side, known: set[int], pitch: float) -> Side:
    """Counts of stripes that only a hand knows of, from their width."""
    partnered = {side.shown[place].of for place in known if not side.shown[place].cut}
    for index, line in enumerate(side.lines):
        widths = [one.end - one.start for one in side.shown if one.of == index and not one.cut]
        if line.certain or index in partnered or not widths:
            continue
        exact = sum(widths) / len(widths) / pitch
        threads = max(1, round(exact))
        doubt = StripeDoubt(
            position=0,
            low=max(1, min(threads, int(exact))),
            high=max(threads, int(exact) + 1),
            chance=round(1 - abs(exact - threads), 2),
            note=_BY_WIDTH,
        )
        side = _put(side, index, Line(line.yarn, threads, False, doubt))
    return side


def _put(side: Side, index: int, line: Line) -> Side:
    lines = (*side.lines[:index], line, *side.lines[index + 1 :])
    return refilled(replace(side, lines=lines), index)
