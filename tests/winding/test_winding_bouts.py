"""Where a warp is divided into bouts."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from winding_samples import blanket, stripes

from settscan.cloth.wishes import Frame
from settscan.winding import bouts as module
from settscan.winding.bouts import (
    best_division,
    cheapest_division,
    fewest_bouts,
    is_pivot,
    split_places,
    split_warp,
    whole_cost,
)
from settscan.winding.instep import ends_in_order, repeat_of
from settscan.winding.plan import plan_winding


def sizes(splits):
    ends = [0, *(split.at for split in splits)]
    return [after - before for before, after in zip(ends, ends[1:], strict=False)]


def test_a_warp_that_fits_is_one_bout():
    (only,) = split_warp(stripes(("A", 60), ("B", 60)), Frame(bout_ends=120))
    assert (only.at, only.reason) == (120, "the end of the warp")


def test_the_blanket_is_divided_in_its_pivots():
    winding = plan_winding(blanket(repeats=4))
    assert [bout.ends for bout in winding.bouts] == [108, 96, 96, 108]
    assert all("a pivot (12 + 12)" in bout.split_reason for bout in winding.bouts[:-1])


def test_pivots_are_known_by_their_mirrored_neighbours():
    order = stripes(("A", 4), ("B", 6), ("C", 9), ("B", 6), ("A", 4), ("D", 3))
    assert [is_pivot(order, index) for index in range(6)] == [False, False, True] + [False] * 3


def test_a_narrow_stripe_is_never_divided():
    order = stripes(*[("A", 14), ("B", 10), ("C", 6)] * 12)
    edges, at = set(), 0
    for stripe in order:
        at += stripe.threads
        edges.add(at)
    assert {place.at for place in split_places(order, Frame(bout_ends=40))} <= edges
    assert {split.at for split in split_warp(order, Frame(bout_ends=40))} <= edges


def test_even_bouts_on_raddle_groups_in_one_colour():
    assert sizes(split_warp(stripes(("A", 300)), Frame(bout_ends=120, raddle_ends=10))) == [100] * 3
    # 260 ends in groups of 12: three bouts near 86 2/3, each but the last in whole groups.
    divided = sizes(split_warp(stripes(("A", 260)), Frame(bout_ends=120, raddle_ends=12)))
    assert divided in ([84, 84, 92], [84, 92, 84], [92, 84, 84])


def test_a_raddle_that_was_named_leads_over_a_change_of_colour():
    # By hand: at 100 the colour changes (2), off groups of 8. At 88, a margin of 8 ends away from
    # it, the A stripe is divided (3), uneven by 2 x 100 x (24 / 200)^2 = 2.88. Off a raddle costs
    # 4 and makes 6 of the 2, off a counting group only 1.
    order = stripes(("A", 100), ("B", 100))
    assert sizes(split_warp(order, Frame(raddle_ends=8))) in ([88, 112], [112, 88])
    assert sizes(split_warp(order, Frame(group_ends=8))) == [100, 100]


def test_a_good_place_is_worth_a_little_unevenness_but_not_more():
    order = stripes(("A", 90), ("B", 4), ("C", 4), ("D", 102))
    assert sizes(split_warp(order, Frame(bout_ends=120, raddle_ends=2))) == [98, 102]


def test_one_bout_more_where_it_pays():
    # By hand: 43 + 41 are both odd (2 x 6), off the raddle groups of 4 (4) and between narrow
    # stripes (4), 17 points and a little for unevenness; 28 + 28 + 28 have two places between
    # narrow stripes (2 x 4) and a bout more (8), 16 points.
    order = stripes(*[("A", 15), ("B", 13)] * 3)
    assert sizes(split_warp(order, Frame(bout_ends=50, raddle_ends=4))) == [28, 28, 28]
    # In one colour there is nothing to win by a fourth bout.
    assert sizes(split_warp(stripes(("A", 360)), Frame(raddle_ends=10))) == [120] * 3


places_of = st.lists(st.tuples(st.sampled_from("ABC"), st.integers(1, 30)), min_size=1, max_size=9)


def cost_by_hand(cuts, ends):
    """Costs as sums over a division, written apart from the dynamic programme."""
    each = sizes(cuts)
    cost = sum(split.points for split in cuts) * ends**2
    cost += sum(module.UNEVEN * (size * len(cuts) - ends) ** 2 for size in each)
    return cost + sum(module.ODD_BOUT * ends**2 for size in each if size % 2)


def every_division(places, capacity, number):
    for chosen in combinations(places[:-1], number - 1):
        cuts = (*chosen, places[-1])
        if max(sizes(cuts)) <= capacity:
            yield cuts


@settings(max_examples=60, deadline=None)
@given(order=places_of, capacity=st.integers(8, 60), number=st.integers(1, 4))
def test_exact_by_trying_every_division(order, capacity, number):
    order = stripes(*order)
    frame = Frame(bout_ends=capacity, group_ends=6)
    ends = sum(stripe.threads for stripe in order)
    places = (*split_places(order, frame), module.Split(ends, 0, "end"))
    costs = [cost_by_hand(cuts, ends) for cuts in every_division(places, capacity, number)]
    if not costs:
        with pytest.raises(ValueError, match="do not divide"):
            best_division(places, frame, number)
        return
    cost, division = best_division(places, frame, number)
    assert cost == min(costs) == cost_by_hand(division, ends)
    assert len(division) == number >= fewest_bouts(places, capacity)


@settings(max_examples=40, deadline=None)
@given(
    order=st.lists(st.tuples(st.sampled_from("ABC"), st.integers(1, 15)), min_size=2, max_size=10),
    capacity=st.integers(16, 60),
)
def test_the_number_of_bouts_is_the_best_too(order, capacity):
    order = stripes(*order)
    ends = sum(stripe.threads for stripe in order)
    frame = Frame(bout_ends=max(capacity, -(-ends // 4)), group_ends=6)
    places = (*split_places(order, frame), module.Split(ends, 0, "end"))
    fewest = fewest_bouts(places, frame.bout_ends)

    def listless_cost(cuts):
        return cost_by_hand(cuts, ends) + (len(cuts) - fewest) * module.EXTRA_BOUT * ends**2

    if fewest > 1:
        every = (
            listless_cost(cuts)
            for number in range(fewest, len(places) + 1)
            for cuts in every_division(places, frame.bout_ends, number)
        )
        assert listless_cost(cheapest_division(places, frame)) == min(every)


def test_whole_repeats_in_each_bout_need_two_lists():
    # 25 repeats of 50 and a closing pivot of 24: twelve bouts of two repeats, and the rest.
    one = [("A", 24), ("B", 4), ("A", 8), ("C", 2), ("A", 8), ("B", 4)]
    order = stripes(*one * 25, ("A", 24))
    assert repeat_of(order, 480) == 50
    assert sizes(split_warp(order, Frame())) == [100] * 12 + [74]


def test_edges_are_wound_with_the_repeat_beside_them():
    # Eleven repeats of 106 and a closing pivot of 22, divided in the pivots: 22 = 10 + 12.
    half = [("A", 22), ("B", 6), ("C", 14), ("B", 4), ("C", 14), ("D", 2), ("E", 4)]
    order = stripes(*(half + half[-2:0:-1]) * 11, ("A", 22))
    assert sizes(split_warp(order, Frame())) == [116] + [106] * 9 + [118]


def test_a_repeat_longer_than_a_bout_is_divided_in_the_same_places_each_time():
    one = [("A", 40), ("B", 24), ("C", 30), ("D", 26), ("B", 36), ("C", 20)]
    divided = sizes(split_warp(stripes(*one * 6), Frame(bout_ends=100)))
    assert divided == divided[:2] * 6
    assert sum(divided[:2]) == 176


@settings(max_examples=60, deadline=None)
@given(
    one=st.lists(st.tuples(st.sampled_from("ABCD"), st.integers(2, 30)), min_size=2, max_size=6),
    times=st.integers(3, 12),
    edge=st.integers(0, 40),
    capacity=st.integers(20, 150),
)
def test_in_step_only_where_that_is_cheaper(one, times, edge, capacity):
    order = stripes(*([("E", edge)] if edge else []), *one * times)
    frame = Frame(bout_ends=capacity)
    ends = sum(stripe.threads for stripe in order)
    division = split_warp(order, frame)
    assert sum(sizes(division)) == ends
    assert max(sizes(division)) <= capacity
    if ends > capacity:
        places = (*split_places(order, frame), module.Split(ends, 0, "end"))
        assert {split.at for split in division} <= {place.at for place in places}
        plain = cheapest_division(places, frame)
        yarns = ends_in_order(order)
        assert whole_cost(yarns, division, frame) <= whole_cost(yarns, plain, frame)


@settings(max_examples=150, deadline=None)
@given(
    order=st.lists(
        st.tuples(st.sampled_from("ABCD"), st.integers(1, 200)), min_size=1, max_size=12
    ),
    capacity=st.integers(1, 150),
    raddle=st.one_of(st.none(), st.integers(1, 50)),
)
def test_no_bout_over_the_capacity(order, capacity, raddle):
    order = stripes(*order)
    splits = split_warp(order, Frame(bout_ends=capacity, raddle_ends=raddle))
    assert all(1 <= size <= capacity for size in sizes(splits))
    assert splits[-1].at == sum(stripe.threads for stripe in order)


@pytest.mark.parametrize("unit", [[("A", 2), ("B", 2)], [("A", 3000)], [("A", 2), ("B", 20)]])
def test_three_thousand_ends_are_divided_at_once(unit):
    from time import process_time

    each = sum(threads for _, threads in unit)
    order = stripes(*unit * (3000 // each))
    began = process_time()
    split_warp(order, Frame())
    assert process_time() - began < 1.0  # about 0.05 s; wide, because the machine may be busy
