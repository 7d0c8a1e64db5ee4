"""Losses divide, compound and carry their ranges."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth.wishes import INCH, Losses, SampleRecord
from settscan.errors import BadInput
from settscan.measured import Measured, Origin
from settscan.quantities import parse_density
from settscan.warping.losses import (
    after,
    before,
    compound,
    crimp,
    crimp_from_take_up,
    length_loss,
    losses_from_sample,
    on_loom_density,
    on_loom_length,
    take_up,
    take_up_from_crimp,
    width_loss,
)
from settscan.warping.plan import plan_warp
from tests.warping.samples import cloth, wishes

shares = st.fractions(min_value=0, max_value=Fraction(9, 10), max_denominator=1000)
sizes = st.fractions(min_value=1, max_value=10**5, max_denominator=1000)


@given(sizes, shares)
def test_a_loss_divides_and_comes_back(size, loss):
    assert after(before(size, loss), loss) == size


@given(sizes, shares, shares)
def test_losses_in_a_row_compound(size, first, second):
    assert after(after(size, first), second) == after(size, compound(first, second))
    assert compound(first, second) == compound(second, first)


@given(shares)
def test_crimp_and_take_up_come_back(share):
    assert crimp_from_take_up(take_up_from_crimp(share)) == share


@given(sizes, st.fractions(min_value=1, max_value=2, max_denominator=100))
def test_crimp_and_take_up_of_one_thread_belong_together(in_cloth, ratio):
    yarn = in_cloth * ratio
    assert take_up_from_crimp(crimp(in_cloth, yarn)) == take_up(in_cloth, yarn)


def test_ranges_are_carried():
    losses = Losses()
    loss = width_loss(losses)
    assert loss.low < loss.value < loss.high
    assert loss.origin is Origin.ASSUMED
    density = on_loom_density(Measured(Fraction(24), Fraction(23), Fraction(25)), loss)
    assert density.value == 24 * (1 - loss.value)
    assert density.low == 23 * (1 - loss.high)
    assert density.high == 25 * (1 - loss.low)
    assert density.origin is Origin.ASSUMED
    length = on_loom_length(Measured.exact(Fraction(100)), length_loss(losses))
    assert length.low < length.value < length.high


def test_a_sample_becomes_the_losses_that_explain_it():
    sample = SampleRecord(
        width_in_reed_mm=Fraction(20),
        width_off_loom_mm=Fraction(19),
        width_washed_mm=Fraction(17),
        length_on_loom_mm=Fraction(40),
        length_off_loom_mm=Fraction(37),
        length_washed_mm=Fraction(33),
    )
    losses = losses_from_sample(sample)
    assert after(Fraction(20), Fraction(width_loss(losses).value)) == 17
    assert after(Fraction(40), Fraction(length_loss(losses).value)) == 33
    assert losses.draw_in.is_certain


@pytest.mark.parametrize("loss", [Fraction(1), Fraction(3, 2), Fraction(-1, 10)])
def test_impossible_losses_are_refused(loss):
    with pytest.raises(BadInput, match="cannot be"):
        before(Fraction(10), loss)


def test_a_sample_that_grew_is_refused():
    sample = SampleRecord(
        width_in_reed_mm=Fraction(20),
        width_off_loom_mm=Fraction(21),
        width_washed_mm=Fraction(17),
        length_on_loom_mm=Fraction(40),
        length_off_loom_mm=Fraction(37),
        length_washed_mm=Fraction(33),
    )
    with pytest.raises(BadInput, match="width off the loom"):
        losses_from_sample(sample)


def test_a_thread_shorter_than_its_cloth_is_refused():
    with pytest.raises(BadInput, match="straightened"):
        crimp(Fraction(10), Fraction(9))


def test_a_sample_in_the_wishes_leads_over_the_assumptions():
    # 10 in the reed, 9 off the loom, 8.1 washed: 10 % and 10 %, together 19 %.
    sample = SampleRecord(
        width_in_reed_mm=10 * INCH, width_off_loom_mm=9 * INCH, width_washed_mm=INCH * 81 / 10
    )
    plan = plan_warp(cloth(), wishes()._replace(sample=sample))
    assert plan.loom_density.value == parse_density("24 epi") * Fraction(81, 100)
    assert plan.loom_density.is_certain
    (step,) = (step for step in plan.steps if step.label == "Width of the sample")
    assert "10 in on the loom, 9 in off the loom, 8.1 in washed" in step.text
    assert "draw-in 10 %, shrinkage 10 %" in step.text
    # Along the cloth nothing was measured, so the assumption stays.
    assert plan.wishes.losses.take_up == Losses().take_up


def test_two_measures_of_three_are_too_few():
    sample = SampleRecord(width_in_reed_mm=10 * INCH, width_washed_mm=8 * INCH)
    with pytest.raises(BadInput, match="no width off the loom"):
        plan_warp(cloth(), wishes()._replace(sample=sample))
