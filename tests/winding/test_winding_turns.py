"""Ends of several colours wound together: one and one, two and one, by turns."""

import pytest
from winding_samples import make_plan, stripes

from settscan.cloth.wishes import Frame, OddWay
from settscan.winding.model import FAR_END, START_END
from settscan.winding.plan import plan_winding


def wound(order, **frame):
    return plan_winding(make_plan(order, frame=Frame(**frame)))


def test_one_and_one_is_wound_as_a_pair():
    # By hand: 40 ends, two in each pass, are 20 passes, so the hand comes home.
    winding = wound(stripes(*[("A", 1), ("B", 1)] * 20), ends_in_hand=2, group_ends=40)
    (step,) = winding.steps
    assert (step.ends, step.passes, step.in_hand) == (40, 20, 2)
    assert step.held == step.yarns == ("A", "B")
    assert step.colour_name == "dark green and cream"
    assert step.finishes_at == START_END
    assert winding.odd_stripes == ()
    assert step.change == "Tie A (dark green) and B (cream) to the start peg with a slip knot."
    assert step.yarn_of_each_end == ("A", "B") * 20
    assert winding.bouts[0].per_yarn == {"A": 20, "B": 20}


def test_with_one_in_hand_the_way_out_is_named():
    winding = wound(stripes(*[("A", 1), ("B", 1)] * 4))
    assert winding.passes == 8
    assert any("ends_in_hand = 2" in way for way in winding.odd_stripes[0].ways_out)


def test_four_in_hand_hold_two_turns():
    winding = wound(stripes(*[("A", 1), ("B", 1)] * 20), ends_in_hand=4, group_ends=40)
    assert [(step.passes, step.held) for step in winding.steps] == [(10, ("A", "B", "A", "B"))]


@pytest.mark.parametrize(
    ("turn", "in_hand", "held"),
    [
        ([("A", 1), ("B", 1), ("C", 1)], 3, ("A", "B", "C")),
        ([("A", 2), ("B", 1)], 3, ("A", "A", "B")),
        ([("A", 2), ("B", 2)], 4, ("A", "A", "B", "B")),
    ],
)
def test_other_turns(turn, in_hand, held):
    winding = wound(stripes(*turn * 8), ends_in_hand=in_hand, group_ends=100)
    assert [step.held for step in winding.steps] == [held]
    assert winding.passes == 8


def test_a_turn_that_the_hand_cannot_hold_is_wound_stripe_by_stripe():
    winding = wound(stripes(*[("A", 2), ("B", 2)] * 8), ends_in_hand=3, group_ends=100)
    assert all(step.held == () for step in winding.steps)


def test_a_tartan_stripe_that_comes_twice_is_no_turn():
    order = stripes(("A", 8), ("B", 2), ("C", 2), ("B", 2), ("C", 2), ("A", 8))
    assert all(step.held == () for step in wound(order, ends_in_hand=4).steps)


def test_the_yarn_that_goes_on_stays_in_the_hand():
    order = stripes(("A", 8), *[("B", 1), ("A", 1)] * 4, ("C", 4))
    steps = wound(order, ends_in_hand=2).steps
    assert [(step.ends, step.held) for step in steps] == [
        (8, ()), (8, ("B", "A")), (4, ()),
    ]  # fmt: skip
    assert steps[1].change == (
        "Keep A (dark green) in the hand, tie on B (cream) with a slip knot at the start end."
    )
    assert steps[1].change_short == "At the start end: keep A, tie on B"
    assert (steps[1].tied_on, steps[1].broken_off) == (("B",), ())
    assert steps[2].change == (
        "Break off B (cream) and A (dark green) at the start end and tuck each end under, tie on"
        " C (rust) with a slip knot at the start end."
    )


def test_the_last_single_end_goes_on_alone():
    winding = wound(stripes(*[("A", 1), ("B", 1)] * 6, ("A", 1)), ends_in_hand=2, group_ends=50)
    assert [(step.ends, step.held) for step in winding.steps] == [(12, ("A", "B")), (1, ())]
    assert winding.steps[1].change_short == "At the start end: break off B, go on with A"
    assert winding.knots == 0
    assert [odd.ends for odd in winding.odd_stripes] == [1]


def test_an_odd_number_of_turns_is_told_with_its_ways_out():
    order = stripes(*[("A", 1), ("B", 1)] * 7, ("C", 4))
    winding = wound(order, ends_in_hand=2, group_ends=50)
    (odd,) = winding.odd_stripes
    assert odd.done == (
        "A (dark green) and B (cream) 14 take 7 passes and finish at the far end: C (rust) is tied"
        " on there."
    )
    assert odd.ways_out[-1] == (
        "Make it even: one turn more of A B, 16 ends in place of 14, and the warp 20 ends."
    )
    single = wound(order, ends_in_hand=2, group_ends=50, odd_way=OddWay.SINGLE)
    assert winding.steps[1].begins_at == FAR_END and single.steps[1].begins_at == START_END
    assert single.steps[1].change.startswith(
        "Break off A (dark green) and B (cream) at the far end, tie them to the peg there"
    )


def test_a_counting_tie_falls_between_two_turns():
    steps = wound(stripes(*[("A", 1), ("B", 1)] * 15), ends_in_hand=2, group_ends=10).steps
    assert [step.bout_total for step in steps if step.ties] == [10, 20, 30]
    assert [(step.stripe_done, step.stripe_ends) for step in steps] == [
        (10, 30),
        (20, 30),
        (30, 30),
    ]


def test_choices_for_the_hand_know_of_turns():
    winding = wound(stripes(*[("A", 1), ("B", 1)] * 10))
    # By hand: 20 passes, each a colour of its own; 10 with one of each; 10; 6 with 4 and 2.
    assert [(choice.passes, choice.odd) for choice in winding.hand_choices] == [
        (20, 20), (10, 0), (10, 0), (6, 0),
    ]  # fmt: skip
