"""The whole winding plan: every end once, in order, and everything tied."""

from collections import Counter
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from winding_samples import blanket, make_plan, stripes

from settscan.cloth.wishes import YARD, CrossEnd, Frame, FrameKind, OddWay
from settscan.errors import BadInput
from settscan.warping.parts import joined
from settscan.winding.model import FAR_END, START_END, TieKind
from settscan.winding.plan import plan_winding
from settscan.winding.sections import plan_sections


def lists_of_stripes(most_threads, most_stripes):
    pair = st.tuples(st.sampled_from("ABCD"), st.integers(1, most_threads))
    return st.lists(pair, min_size=1, max_size=most_stripes).map(lambda pairs: stripes(*pairs))


def by_turns():
    """Stripes with a stretch in which a few narrow ones come again and again."""
    return st.builds(
        lambda before, turn, times, after: (*before, *turn * times, *after),
        lists_of_stripes(12, 3),
        lists_of_stripes(2, 4),
        st.integers(1, 30),
        lists_of_stripes(3, 6),
    )


def without_equal_neighbours(order):
    """As a warp plan has its stripes: neighbours of one yarn are one stripe."""
    return joined(tuple(order))


# Broad stripes for bouts and groups, narrow ones for yarns that are carried over, and turns.
orders = st.one_of(lists_of_stripes(60, 14), lists_of_stripes(5, 30), by_turns()).map(
    without_equal_neighbours
)
frames = st.builds(
    Frame()._replace,
    kind=st.sampled_from([FrameKind.MILL, FrameKind.REEL, FrameKind.BOARD]),
    bout_ends=st.integers(1, 130),
    group_ends=st.integers(1, 40),
    ends_in_hand=st.integers(1, 12),
    cross=st.sampled_from(CrossEnd),
    odd_way=st.sampled_from(OddWay),
    carry_ends=st.integers(0, 12),
    raddle_ends=st.one_of(st.none(), st.integers(1, 30)),
)


def end_by_end(order):
    return [(index, s.yarn) for index, s in enumerate(order) for _ in range(s.threads)]


@settings(max_examples=150, deadline=None)
@given(order=orders, frame=frames)
def test_every_end_is_wound_once_in_the_order_of_the_warp(order, frame):
    plan = make_plan(order, frame=frame)
    winding = plan_winding(plan)
    wound = [yarn for step in winding.steps for yarn in step.yarn_of_each_end]
    assert wound == [yarn for _, yarn in end_by_end(order)]
    for step in winding.steps:
        assert len(step.yarn_of_each_end) == step.ends
        assert step.held == () or len(step.held) == step.in_hand and len(step.yarns) > 1
        first = step.warp_total - step.ends
        assert step.held or end_by_end(order)[first] == (step.stripe, step.yarn)
    assert all(step.passes * step.in_hand == step.ends for step in winding.steps)
    assert all(step.in_hand <= frame.ends_in_hand for step in winding.steps)


@settings(max_examples=150, deadline=None)
@given(order=orders, frame=frames)
def test_totals_are_sums(order, frame):
    winding = plan_winding(make_plan(order, frame=frame))
    warp_total, done_of_stripe = 0, Counter()
    for bout in winding.bouts:
        assert bout.first_end == warp_total + 1
        bout_total = 0
        for number, step in enumerate(bout.steps, start=1):
            bout_total, warp_total = bout_total + step.ends, warp_total + step.ends
            run = (step.stripe, bout.number if step.held else 0)
            done_of_stripe[run] += step.ends
            assert (step.bout, step.number) == (bout.number, number)
            assert (step.bout_total, step.warp_total) == (bout_total, warp_total)
            assert step.stripe_done == done_of_stripe[run] <= step.stripe_ends
        assert bout.ends == bout_total == bout.last_end - bout.first_end + 1
        assert bout.ends <= frame.bout_ends
        assert sum(bout.per_yarn.values()) == bout.ends
        assert bout.passes == sum(step.passes for step in bout.steps)
    assert warp_total == winding.plan.ends
    assert winding.passes == sum(bout.passes for bout in winding.bouts)
    assert winding.walking_mm == winding.passes * winding.path.length_mm


@settings(max_examples=150, deadline=None)
@given(order=orders, frame=frames)
def test_the_hand_is_where_the_passes_leave_it(order, frame):
    winding = plan_winding(make_plan(order, frame=frame))
    for bout in winding.bouts:
        hand = START_END
        for step in bout.steps:
            if "empty hand" in step.change:
                assert hand == FAR_END and frame.odd_way is OddWay.SINGLE
                hand = START_END
            assert step.begins_at == hand
            if step.passes % 2:
                hand = FAR_END if hand == START_END else START_END
            assert step.finishes_at == hand
        if frame.odd_way is OddWay.FALL:
            assert (hand == START_END) == (bout.passes % 2 == 0)


@settings(max_examples=150, deadline=None)
@given(order=orders, frame=frames)
def test_each_group_has_its_tie_and_a_colour_its_thread(order, frame):
    winding = plan_winding(make_plan(order, frame=frame))
    for bout in winding.bouts:
        tied = [
            tie.after_end
            for tie in winding.ties
            if tie.bout == bout.number and tie.kind is TieKind.COUNTING
        ]
        assert tied == [step.bout_total for step in bout.steps if step.ties]
        assert tied[-1] == bout.ends  # the last group is closed, however small
        # Each full group is tied by the first pass that reaches it: at most a handful too many.
        for full in range(frame.group_ends, bout.ends + 1, frame.group_ends):
            assert any(full <= after < full + frame.ends_in_hand for after in tied)
        hanging, hand, place = {}, set(), START_END
        for step in bout.steps:
            if set(step.yarns) == hand and not step.change:
                place = step.finishes_at
                continue
            assert step.change and all(f"{yarn} (" in step.change for yarn in step.yarns)
            for yarn in step.left_hanging:
                hanging[yarn] = place
            for yarn in step.taken_up:
                assert hanging.pop(yarn) == step.begins_at
            assert not set(step.tied_on) & hanging.keys()
            hand -= {*step.left_hanging, *step.broken_off}
            hand |= {*step.taken_up, *step.tied_on}
            assert hand == set(step.yarns)
            place = step.finishes_at
        assert not hanging  # nothing is left hanging that is never taken up again


@settings(max_examples=80, deadline=None)
@given(
    order=orders,
    epi=st.fractions(min_value=2, max_value=60, max_denominator=4),
    inches=st.integers(1, 3),
)
def test_every_end_once_on_a_sectional_beam(order, epi, inches):
    frame = Frame(section_mm=inches * Fraction(254, 10))
    plan = make_plan(order, epi=epi, frame=frame)
    beam = plan_sections(plan)
    wound = [s.yarn for section in beam.sections for s in section.order for _ in range(s.threads)]
    assert wound == [yarn for _, yarn in end_by_end(order)]
    assert [section.first_end for section in beam.sections] == [
        1, *(section.last_end + 1 for section in beam.sections[:-1])
    ]  # fmt: skip
    assert all(abs(s.ends - epi * inches) < 1 for s in beam.sections[:-1])
    assert beam.total_mm == plan.ends * beam.each_section_mm
    for yarn, ends in plan.ends_per_yarn.items():
        served = sum(lot.spools * lot.sections for lot in beam.lots if lot.yarn == yarn)
        assert served == ends


def test_even_counts_bring_every_bout_home():
    winding = plan_winding(blanket(repeats=6))
    assert all(step.begins_at == START_END for step in winding.steps if step.change)
    assert all(bout.steps[-1].finishes_at == START_END for bout in winding.bouts)
    assert winding.odd_stripes == () and winding.warnings == ()


def test_repeats_are_written_out_and_named():
    winding = plan_winding(blanket(repeats=2))
    names = list(dict.fromkeys(step.repeat_label for step in winding.steps))
    assert names == ["repeat 1", "repeat 2", "closing pivot"]


def test_a_step_over_two_repeats_names_both():
    plan = blanket(repeats=1, frame=Frame(group_ends=200))
    joined = make_plan(
        stripes(("A", 8), ("B", 4), ("A", 20), ("B", 4)),
        blocks=(plan.blocks[0].__class__(label="repeat 1", first_end=0, ends=24),
                plan.blocks[0].__class__(label="repeat 2", first_end=24, ends=12)),
        frame=Frame(group_ends=200),
    )  # fmt: skip
    steps = plan_winding(joined).steps
    assert [step.repeat_label for step in steps] == [
        "repeat 1", "repeat 1", "repeat 1 and repeat 2", "repeat 2"
    ]  # fmt: skip


def test_time_grows_with_the_seconds_of_a_pass():
    quick = plan_winding(blanket(frame=Frame(seconds_per_pass=Fraction(10)))).minutes
    slow = plan_winding(blanket(frame=Frame(seconds_per_pass=Fraction(30)))).minutes
    assert slow.value - quick.value == Fraction(408 * 20, 60)
    assert quick.low < quick.value < quick.high


def test_turns_and_yarn_through_the_hand():
    winding = plan_winding(blanket(length_mm=11 * YARD))
    assert winding.turns_in_all == 408 * Fraction(11, 2)
    assert winding.walking_mm == 408 * winding.path.length_mm


def test_a_warp_without_ends_is_refused():
    with pytest.raises(BadInput, match="no ends"):
        plan_winding(make_plan(()))
