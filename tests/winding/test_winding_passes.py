"""Passes, parity, hands and colour changes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from winding_samples import make_plan, stripes

from settscan.cloth.wishes import Frame, OddWay
from settscan.winding.model import FAR_END, START_END
from settscan.winding.passes import hands_for, pieces_between, right_edges, wind
from settscan.winding.plan import plan_winding


def batches(order, **frame):
    pieces = pieces_between(order, right_edges(order), 0, sum(stripe.threads for stripe in order))
    return wind(pieces, Frame(**frame))


def test_even_comes_home_and_odd_does_not():
    # Common practice, no source.
    even = batches(stripes(("A", 8)))
    odd = batches(stripes(("A", 7)))
    assert even[-1].finishes_at == START_END
    assert odd[-1].finishes_at == FAR_END


@pytest.mark.parametrize(
    ("ends", "in_hand", "hands"),
    [
        (7, 1, (1,) * 7),
        (24, 4, (4,) * 6),
        (12, 4, (3,) * 4),  # three passes of four would finish at the far end
        (6, 4, (3, 3)),
        (5, 4, (3, 2)),
        (4, 4, (2, 2)),
        (1, 4, (1,)),
        (10, 4, (3, 3, 2, 2)),
    ],
)
def test_hands_worked_by_hand(ends, in_hand, hands):
    assert hands_for(ends, in_hand) == hands


@given(ends=st.integers(1, 500), in_hand=st.integers(1, 12))
def test_hands_hold_the_stripe_and_come_home(ends, in_hand):
    hands = hands_for(ends, in_hand)
    assert sum(hands) == ends
    assert max(hands) <= in_hand and min(hands) >= 1
    assert max(hands) - min(hands) <= 1
    if in_hand > 1 and ends > 1:
        assert len(hands) % 2 == 0
    assert len(hands) <= -(-ends // in_hand) + 1


def test_a_colour_changes_where_the_hand_finishes():
    plan = make_plan(stripes(("A", 7), ("B", 4), ("A", 5), ("C", 6)))
    winding = plan_winding(plan)
    assert [step.begins_at for step in winding.steps if step.change] == [
        START_END,
        FAR_END,
        FAR_END,
        START_END,
    ]
    assert winding.steps[1].change == (
        "Leave A (dark green) hanging at the far end, tie on B (cream) with a slip knot at the"
        " far end."
    )
    assert winding.steps[2].change.endswith("take up A (dark green) again, which hangs at the far"
                                            " end.")  # fmt: skip
    assert winding.knots == 2
    assert winding.warnings[0].startswith(
        "1 colour change falls at the far end, where the cross is"
    )


def test_wound_singly_all_changes_stay_at_the_start_end():
    frame = Frame(odd_way=OddWay.SINGLE)
    winding = plan_winding(make_plan(stripes(("A", 7), ("B", 4), ("A", 5), ("C", 6)), frame=frame))
    assert all(step.begins_at == START_END for step in winding.steps if step.change)
    cut = [step for step in winding.steps if "empty hand" in step.change]
    assert cut[0].change_short == (
        "Cut A at the far end, go back empty; at the start end: tie on B"
    )
    assert [step.yarn for step in cut] == ["B", "C"]  # after the sevens and the five of A
    assert not any("where the cross is" in text for text in winding.warnings)


def test_a_yarn_wanted_much_later_is_broken_off():
    order = stripes(("A", 4), ("B", 4), ("A", 4), ("C", 8), ("A", 4))
    changes = [step.change for step in plan_winding(make_plan(order)).steps if step.change]
    assert changes[1].startswith("Leave A (dark green) hanging at the start end")
    assert changes[3] == (
        "Break off A (dark green) at the start end and tuck its end under, tie on C (rust) with a"
        " slip knot at the start end."
    )
    assert changes[4].endswith("tie on A (dark green) with a slip knot at the start end.")
    steps = plan_winding(make_plan(order)).steps
    assert [step.change_short for step in steps if step.change] == [
        "At the start end: tie on A",
        "At the start end: leave A, tie on B",
        "At the start end: break off B, take up A",
        "At the start end: break off A, tie on C",
        "At the start end: break off C, tie on A",
    ]


def test_odd_stripes_are_listed_with_ways_out():
    order = stripes(("A", 8), ("B", 7), ("C", 9), ("A", 8))
    winding = plan_winding(make_plan(order))
    assert [(odd.stripe, odd.yarn, odd.ends) for odd in winding.odd_stripes] == [
        (1, "B", 7),
        (2, "C", 9),
    ]
    first = winding.odd_stripes[0]
    assert "C (rust) is tied on there" in first.done
    text = " ".join(first.ways_out)
    assert "Wind it with two in hand: 2 + 2 + 2 + 1" in text
    # The odd neighbour lends, so that both become even.
    assert "B 7 becomes 8 and C 9 becomes 8; the warp keeps 32 ends" in text
    assert "Make it even: B 7 becomes 8, and the warp 33 ends." in text


def test_even_counts_have_nothing_odd():
    winding = plan_winding(make_plan(stripes(("A", 8), ("B", 4), ("A", 20))))
    assert winding.odd_stripes == ()
    assert winding.warnings == ()


def test_single_ends_in_turn_can_be_held_together():
    winding = plan_winding(make_plan(stripes(*[("A", 1), ("B", 1)] * 4)))
    assert any("one of B together" in way for way in winding.odd_stripes[0].ways_out)


def test_choices_for_the_hand():
    winding = plan_winding(make_plan(stripes(("A", 12), ("B", 7))))
    table = [(c.in_hand, c.passes, c.odd, c.uneven) for c in winding.hand_choices]
    # By hand: 12 + 7; 6 + 4 (2 2 2 1); 4 + 4 (2 2 2 1); 4 + 2 (4 3).
    assert table == [(1, 19, 1, 0), (2, 10, 0, 1), (3, 8, 0, 1), (4, 6, 0, 1)]
