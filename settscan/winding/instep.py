"""Divisions of a warp in step with its repeat, so that one list serves many bouts."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from math import ceil

from settscan.cloth.model import Stripe

_ALIKE = 3, 4  # so much of the warp must repeat for its repeat to lead
_LONGEST = 4  # repeats of more than so many bouts are not looked for
_SIZES = 4  # numbers of whole repeats in a bout that are tried, the most that fit first


def ends_in_order(order: Sequence[Stripe]) -> str:
    """One letter for the yarn of each end, left to right; text compares and hashes at once."""
    letters: dict[str, str] = {}
    for stripe in order:
        letters.setdefault(stripe.yarn, chr(len(letters) + 1))
    return "".join([letters[stripe.yarn] * stripe.threads for stripe in order])


def repeat_of(order: Sequence[Stripe], most: int) -> int | None:
    """Ends in the smallest repeat of which most of the warp consists, edges and borders aside.

    Args:
        order: stripes from left to right.
        most: ends in the longest repeat to look for.
    """
    stripes, share, whole = tuple(order), *_ALIKE
    ends = 0
    for away in range(1, len(stripes) // 2 + 1):
        ends += stripes[away].threads
        if ends - stripes[1].threads > most:
            return None
        pairs = zip(stripes, stripes[away:], strict=False)
        alike = sum(one == other for one, other in pairs)
        if whole * alike >= share * (len(stripes) - away):
            middle = (len(stripes) - away) // 2
            return sum(stripe.threads for stripe in stripes[middle : middle + away])
    return None


def divisions_in_step(
    order: Sequence[Stripe], places: Sequence[int], capacity: int
) -> Iterator[tuple[int, ...]]:
    """Where each bout ends, for the ways to divide the warp in step with its repeat.

    Whole repeats make a bout where they fit the pegs; a longer repeat is divided in the same
    places each time. What is left at the edges makes bouts of its own.

    Args:
        order: stripes from left to right.
        places: where a bout may end, the end of the warp as the last.
        capacity: most ends in a bout.

    Yields:
        Ends to the left of each bout's right edge.
    """
    repeat = repeat_of(order, _LONGEST * capacity)
    if repeat is None:
        return
    ends, allowed = ends_in_order(order), frozenset(places)
    fitting = max(1, capacity // repeat)
    for repeats in range(fitting, max(0, fitting - _SIZES), -1):
        alike = _alike(ends, repeats * repeat)
        for start in (0, *places[: bisect_right(places, capacity)]):
            unit = _unit(places, start, repeats * repeat, capacity)
            bounds = _chain(alike[start], allowed, start, unit) if unit else ()
            if bounds:
                yield _closed(bounds, places, capacity)
                # One unit fewer may leave an edge that makes one bout with it.
                yield _closed(bounds[: -len(unit)], places, capacity)


def _unit(places: Sequence[int], start: int, size: int, capacity: int) -> tuple[int, ...]:
    """Right edges of the bouts of one unit, from its start; () if no places allow it."""
    bouts = ceil(size / capacity)
    edges: list[int] = []
    at = 0
    for bout in range(1, bouts):
        low = max(at, size - (bouts - bout) * capacity)
        wanted = start + size * bout // bouts
        near = [place - start for place in places if low < place - start <= at + capacity]
        if not near:
            return ()
        at = min(near, key=lambda edge: abs(edge + start - wanted))
        edges.append(at)
    return (*edges, size)


def _alike(ends: str, size: int) -> list[int]:
    """How many ends from each one on are like those `size` further on, without a break."""
    found = [0] * (len(ends) + 1)
    for at in range(len(ends) - size - 1, -1, -1):
        if ends[at] == ends[at + size]:
            found[at] = found[at + 1] + 1
    return found


def _chain(alike: int, allowed: frozenset[int], start: int, unit: Sequence[int]) -> tuple[int, ...]:
    """Edges of like units from the start on, as far as they go; () for fewer than two.

    Args:
        alike: ends from the start on that are like those of the next unit.
        allowed: where a bout may end.
        start: ends to the left of the first unit.
        unit: right edges of the bouts of one unit, from its start.
    """
    size, bouts = unit[-1], len(unit)
    units = range(start, start + (alike // size + 1) * size, size)
    edges = [at + edge for at in units for edge in unit]
    if not allowed.issuperset(edges):
        good = next(place for place, edge in enumerate(edges) if edge not in allowed)
        del edges[good // bouts * bouts :]
    if len(edges) < 2 * bouts:
        return ()
    return (start, *edges) if start else tuple(edges)


def _closed(bounds: tuple[int, ...], places: Sequence[int], capacity: int) -> tuple[int, ...]:
    """The bounds with the rest of the warp in the fewest bouts."""
    found, last = list(bounds), places[-1]
    while found[-1] < last:
        found.append(places[bisect_right(places, found[-1] + capacity) - 1])
    return tuple(found)
