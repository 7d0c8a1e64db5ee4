"""Where to divide the warp into bouts.

All allowed places get a cost, uneven bouts get a cost, and dynamic programming finds the division
with the least sum: exact, for the costs below. A pattern that repeats is also divided in step with
its repeat, so that one list serves many bouts; the cheaper of the two is taken, each list counted.
The costs are in points and are judgements of what bothers a weaver (common practice, no source);
the capacity of the pegs is not a cost but a limit.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from math import inf
from operator import add, sub
from typing import NamedTuple

from settscan.cloth.model import Stripe
from settscan.cloth.wishes import Frame
from settscan.winding.instep import divisions_in_step, ends_in_order

NARROW = 16  # a stripe with fewer ends is never divided
MARGIN = 8  # ends that a division leaves on each side within a stripe, or a quarter of it
AT_PIVOT = 0  # the two bouts then mirror each other
AT_BROAD_MIDDLE = 1
BESIDE_BROAD = 2  # between two stripes, one of them broad: its edge is easy to find again
WITHIN_BROAD = 3
BETWEEN_NARROW = 4
WITHIN_NARROW = 12  # only when the capacity is smaller than a narrow stripe
OFF_RADDLE = 4  # a raddle group that the weaver asked for is then shared by two bouts
OFF_GROUP = 1  # a counting group is, where no raddle was named
ODD_BOUT = 6  # with one end in hand: the bout finishes at the far end
EXTRA_BOUT = 8  # each bout beyond the fewest: a cross and its ties more
ANOTHER_LIST = 8  # each bout that is wound from a list of its own
MOST_MORE = 8  # bouts beyond the fewest that are tried
UNEVEN = 100  # times the square of the bout's share away from the mean: 10 % is 1 point


class Split(NamedTuple):
    """A place to divide: `at` ends lie to its left."""

    at: int
    points: int
    reason: str


def split_places(order: Sequence[Stripe], frame: Frame) -> tuple[Split, ...]:
    """All places where the warp may be divided, from left to right, with their costs."""
    places: list[Split] = []
    edges: dict[tuple[Stripe, Stripe], tuple[int, str]] = {}  # most of a warp repeats
    at = 0
    for index, stripe in enumerate(order):
        if at:
            pair = order[index - 1], stripe
            if pair not in edges:
                edges[pair] = _between(*pair)
            points, words = edges[pair]
            places.append(Split(at, points + _off_group(at, frame), words))
        places += _within(order, index, at, frame)
        at += stripe.threads
    return tuple(places)


def _between(left: Stripe, right: Stripe) -> tuple[int, str]:
    """What it costs to divide between these two stripes, the raddle aside, and its words."""
    broad = max(left.threads, right.threads) >= NARROW
    words = f"between {left.yarn} {left.threads} and {right.yarn} {right.threads}"
    return BESIDE_BROAD if broad else BETWEEN_NARROW, words


def _off_group(at: int, frame: Frame) -> int:
    """What it costs that a raddle group or a counting group is divided at this end."""
    if at % (frame.raddle_ends or frame.group_ends) == 0:
        return 0
    return OFF_GROUP if frame.raddle_ends is None else OFF_RADDLE


def _within(order: Sequence[Stripe], index: int, start: int, frame: Frame) -> list[Split]:
    """The places inside one stripe: its middle, and whole raddle groups."""
    stripe = order[index]
    small = frame.bout_ends < NARROW
    if stripe.threads < NARROW and not small:
        return []
    margin = 1 if small else min(MARGIN, stripe.threads // 4)
    raddle = frame.raddle_ends or frame.group_ends
    pivot = is_pivot(order, index)
    # Groups that are too large for a bout cannot guide the division.
    every = raddle if raddle + 2 * margin <= frame.bout_ends else (1 if small else 2)
    places = []
    for left in range(margin, stripe.threads - margin + 1):
        right = stripe.threads - left
        middle = right - left in (0, 1) or (right - left in (2, -2) and left % 2 == 0)
        if not middle and (start + left) % every:
            continue
        points = WITHIN_NARROW if stripe.threads < NARROW else WITHIN_BROAD
        where = f"in the {stripe.yarn} stripe of {stripe.threads}"
        if middle and stripe.threads >= NARROW:
            points = AT_PIVOT if pivot else AT_BROAD_MIDDLE
            where = f"in the middle of the {stripe.yarn} stripe of {stripe.threads}"
            where += ", a pivot" if pivot else ""
        points += _off_group(start + left, frame)
        places.append(Split(start + left, points, f"{where} ({left} + {right})"))
    return places


def is_pivot(order: Sequence[Stripe], index: int) -> bool:
    """Whether the stripes on both sides of this one mirror each other, two deep."""
    if not 2 <= index < len(order) - 2:
        return False
    return all(order[index - far] == order[index + far] for far in (1, 2))


def split_warp(order: Sequence[Stripe], frame: Frame) -> tuple[Split, ...]:
    """The divisions of the warp with the least cost, and its end as the last of them.

    A warp that fits the pegs is one bout. Otherwise the cheapest division of all is compared with
    those in step with the repeat, the different lists that the bouts need counted as well.
    """
    ends = sum(stripe.threads for stripe in order)
    last = Split(ends, 0, "the end of the warp")
    if ends <= frame.bout_ends:
        return (last,)
    places = (*split_places(order, frame), last)
    best, yarns = cheapest_division(places, frame), ends_in_order(order)
    least = whole_cost(yarns, best, frame)
    by_end = {place.at: place for place in places}
    points = {place.at: place.points for place in places}
    for bounds in dict.fromkeys(divisions_in_step(order, tuple(by_end), frame.bout_ends)):
        # With one list for all it would cost this; most need not be looked at more closely.
        if _cost_but_lists(bounds, points, frame) + ANOTHER_LIST * ends * ends >= least:
            continue
        division = tuple(by_end[at] for at in bounds)
        cost = whole_cost(yarns, division, frame)
        if cost < least:
            best, least = division, cost
    return best


def whole_cost(yarns: str, division: Sequence[Split], frame: Frame) -> int:
    """What a division costs, its lists and the number of its bouts counted.

    Args:
        yarns: a letter for the yarn of each end, from `ends_in_order`.
        division: the place where each bout ends.
        frame: its ends in hand decide what an odd bout costs.

    Returns:
        Points times the square of the ends in the warp.
    """
    points = {split.at: split.points for split in division}
    edges, ends = tuple(points), division[-1].at
    lists = {yarns[first:last] for first, last in zip((0, *edges), edges, strict=False)}
    return _cost_but_lists(edges, points, frame) + ANOTHER_LIST * len(lists) * ends * ends


def _cost_but_lists(edges: Sequence[int], points_at: Mapping[int, int], frame: Frame) -> int:
    """What a division costs apart from the lists that it needs, by where each bout ends."""
    ends, bouts = edges[-1], len(edges)
    points = EXTRA_BOUT * bouts + sum(map(points_at.__getitem__, edges))
    sizes = list(map(sub, edges, [0, *edges]))  # most bouts of a repeating warp are alike
    return points * ends * ends + sum(
        [sizes.count(size) * _bout_cost(size, ends, bouts, frame) for size in set(sizes)]
    )


def cheapest_division(places: Sequence[Split], frame: Frame) -> tuple[Split, ...]:
    """The division with the least cost, whatever its lists.

    The fewest bouts that the allowed places permit are tried, then one more and one more, until a
    further bout must cost more than the best division found, whatever its places, or `MOST_MORE`
    have been tried.

    Args:
        places: allowed places from left to right, the end of the warp as the last.
        frame: its capacity is the limit.
    """
    ends = places[-1].at
    fewest = fewest_bouts(places, frame.bout_ends)
    cheapest = sorted(place.points for place in places[:-1])
    # All costs are whole numbers over ends squared, so that they compare exactly.
    best, division = best_division(places, frame, fewest)
    for bouts in range(fewest + 1, min(fewest + MOST_MORE, len(places)) + 1):
        extra = (bouts - fewest) * EXTRA_BOUT * ends * ends
        if best <= extra + sum(cheapest[: bouts - 1]) * ends * ends:
            break
        cost, found = best_division(places, frame, bouts)
        if cost + extra < best:
            best, division = cost + extra, found
    return division


def fewest_bouts(places: Sequence[Split], capacity: int) -> int:
    """The fewest bouts that keep to the capacity: each as large as the places let it be.

    Args:
        places: allowed places from left to right, the end of the warp as the last; no two
            neighbours are further apart than the capacity.
        capacity: most ends in a bout.
    """
    at = [place.at for place in places]
    bouts = here = 0
    while here < at[-1]:
        here = at[bisect_right(at, here + capacity) - 1]
        bouts += 1
    return bouts


def best_division(
    places: Sequence[Split], frame: Frame, bouts: int
) -> tuple[int, tuple[Split, ...]]:
    """The cheapest division into exactly so many bouts, by dynamic programming.

    Args:
        places: allowed places from left to right, the end of the warp as the last.
        frame: its capacity is the limit.
        bouts: how many bouts.

    Returns:
        Its cost in points times the square of the ends in the warp, and the place where each
        bout ends.

    Raises:
        ValueError: if no division into so many bouts keeps to the capacity.
    """
    ends, capacity = places[-1].at, frame.bout_ends
    at = [0, *(place.at for place in places)]
    points = [0, *(place.points * ends * ends for place in places)]
    least, most = _sizes_worth_trying(places, frame, bouts)
    first = [bisect_left(at, here - most) for here in at]  # the first start within reach
    behind = [bisect_right(at, here - least) for here in at]  # what follows the last one
    by_size = [_bout_cost(size, ends, bouts, frame) for size in range(capacity + 1)]
    if len(at) == ends + 1:  # a place after every end: the sizes count down by one
        down = by_size[::-1]
        costs = [
            down[capacity - index + low : capacity - index + high]
            for index, (low, high) in enumerate(zip(first, behind, strict=True))
        ]
    else:
        costs = [
            [by_size[here - at[start]] for start in range(low, high)]
            for here, low, high in zip(at, first, behind, strict=True)
        ]
    layers: list[list[float]] = [[0, *[inf] * len(places)]]  # whole numbers, or inf: not reached
    lowest, beyond = 0, 1  # the starts that the layer before can have reached
    for number in range(1, bouts + 1):
        before, layer, left = layers[-1], [inf] * len(at), bouts - number
        low = bisect_left(at, max(number * least, ends - left * most))
        high = bisect_right(at, min(number * most, ends - left * least))
        for index in range(low, high):
            begin = max(first[index], lowest)
            reached = map(add, before[begin:beyond], costs[index][begin - first[index] :])
            layer[index] = min(reached, default=inf) + points[index]
        layers.append(layer)
        lowest, beyond = low, high
    if layers[-1][-1] == inf:
        raise ValueError(f"{ends} ends do not divide into {bouts} bouts of {capacity}")
    chosen = _trace(layers, first, costs, points)
    return int(layers[-1][-1]), tuple(places[index - 1] for index in chosen)


def _sizes_worth_trying(places: Sequence[Split], frame: Frame, bouts: int) -> tuple[int, int]:
    """The smallest and the largest bout that a cheapest division can have.

    One that costs more by itself than is left of the cost of a division already found, when the
    cheapest places are paid for, cannot be in a better one.
    """
    ends, capacity = places[-1].at, frame.bout_ends
    rough = _rough_division(places, capacity, bouts)
    if not rough:
        return 1, capacity
    found = _cost_but_lists(rough, {place.at: place.points for place in places}, frame)
    cheapest = sorted(place.points for place in places[:-1])[: bouts - 1]
    left = found - (EXTRA_BOUT * bouts + sum(cheapest)) * ends * ends
    sizes = [
        size for size in range(1, capacity + 1) if _bout_cost(size, ends, bouts, frame) <= left
    ]
    return sizes[0], sizes[-1]


def _rough_division(places: Sequence[Split], capacity: int, bouts: int) -> tuple[int, ...]:
    """Where each bout ends if each takes the best place near its share; () if that fails."""
    ends, at = places[-1].at, [place.at for place in places]
    edges = [0]
    for number in range(1, bouts):
        low = bisect_left(at, max(edges[-1] + 1, ends - (bouts - number) * capacity))
        high = bisect_right(at, edges[-1] + capacity)
        if low >= min(high, len(at) - 1):
            return ()
        off = [UNEVEN * (place * bouts - number * ends) ** 2 for place in at[low:high]]
        cost = [places[low + index].points * ends * ends + each for index, each in enumerate(off)]
        edges.append(at[low + cost.index(min(cost))])
    return (*edges[1:], ends) if edges[-1] < ends <= edges[-1] + capacity else ()


def _bout_cost(size: int, ends: int, bouts: int, frame: Frame) -> int:
    """What a bout of this size costs, in points times the square of the ends in the warp."""
    odd = ODD_BOUT if size % 2 and frame.ends_in_hand == 1 else 0
    return UNEVEN * (size * bouts - ends) ** 2 + odd * ends * ends


def _trace(
    layers: Sequence[Sequence[float]],
    first: Sequence[int],
    costs: Sequence[Sequence[int]],
    points: Sequence[int],
) -> list[int]:
    """Where each bout ends, walking back from the last layer over the starts that made its cost."""
    here = len(points) - 1
    found = [here]
    for number in range(len(layers) - 1, 1, -1):
        wanted = layers[number][here] - points[here]
        before = layers[number - 1]
        here = next(
            start
            for start, cost in enumerate(costs[here], first[here])
            if before[start] + cost == wanted
        )
        found.append(here)
    return found[::-1]
