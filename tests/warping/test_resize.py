"""The whole cloth in another sett or size."""

from dataclasses import replace
from fractions import Fraction

import pytest

from settscan.cloth.model import StripeDoubt
from settscan.cloth.notation import format_sequence
from settscan.errors import BadInput
from settscan.quantities import parse_density, parse_yarn
from settscan.warping.plan import plan_warp
from settscan.warping.resize import (
    in_another_yarn,
    same_counts_in_sett,
    same_size_in_sett,
    scaled_size,
    with_repeat,
)
from settscan.warping.sizing import Rules
from tests.warping.samples import cloth, wishes

CLOSER = parse_density("36 epi")


def test_same_counts_make_a_smaller_repeat():
    made = same_counts_in_sett(cloth(), CLOSER, CLOSER).cloth
    assert made.warp.sequence == cloth().warp.sequence
    assert made.warp.density.value == CLOSER


def test_same_size_needs_other_counts():
    best = same_size_in_sett(cloth(), CLOSER, CLOSER)[0]
    assert format_sequence(best.cloth.warp.sequence) == "A/36 B6 A12 C/18"
    assert best.cloth.weft.sequence == best.cloth.warp.sequence
    old = cloth().warp.sequence.threads / cloth().warp.density.value
    assert best.warp.threads / best.cloth.warp.density.value == old
    assert best.lines[0] == "warp A 24 -> 36 (ideal 36.0, +0.0)"


def test_another_beat_gives_the_weft_its_own_counts():
    best = same_size_in_sett(cloth(), CLOSER, parse_density("24 epi"))[0]
    assert best.weft.sequence == cloth().weft.sequence
    assert any(line.startswith("weft") for line in best.lines)


def test_several_sound_answers_are_offered():
    offered = scaled_size(cloth(), Fraction(3, 5))
    sequences = [choice.cloth.warp.sequence for choice in offered]
    assert len(set(sequences)) == len(sequences) > 1
    assert all(choice.cloth.warp.density == cloth().warp.density for choice in offered)


def test_every_answer_can_be_planned():
    for choice in scaled_size(cloth(), Fraction(3, 5)):
        plan = plan_warp(choice.cloth, wishes())
        assert all(count % 2 == 0 for count in plan.ends_per_yarn.values())


def test_a_size_without_a_density_is_refused_but_a_factor_is_not():
    with pytest.raises(BadInput, match="warp density"):
        same_size_in_sett(cloth(epi=None), CLOSER, CLOSER)
    assert scaled_size(cloth(epi=None), Fraction(1, 2))[0].cloth.warp.density is None


def test_a_doubtful_reading_stays_doubtful():
    doubts = (StripeDoubt(position=0, low=22, high=26, chance=0.6),)
    unsure = replace(cloth(), warp=replace(cloth().warp, doubts=doubts))
    assert same_counts_in_sett(unsure, CLOSER, CLOSER).cloth.warp.doubts == doubts
    made = scaled_size(unsure, Fraction(1, 2))[0].cloth
    assert made.warp.doubts == ()
    assert "not certain" in made.notes[-1]


def test_a_repeat_of_so_many_ends():
    # By hand: 40 ends of A/24 B4 A8 C/12 (60 in a repeat) are two thirds: 16, 2.7, 5.3, 8.
    (first, *_) = with_repeat(cloth(), 40)
    assert first.warp.threads == first.weft.threads == 40
    assert format_sequence(first.cloth.warp.sequence) == "A/16 B2 A6 C/8"
    assert first.warp.ideal_threads == 40 and first.warp.repeat_error == 0


def test_a_weft_of_its_own_follows_in_proportion():
    (first, *_) = with_repeat(cloth("A/24 B4 A8 C/12", "A12 B6"), 120)
    assert format_sequence(first.cloth.weft.sequence) == "A24 B12"


def test_another_yarn_as_firm():
    # By hand: the length by weight of 2/12 is 12/8 of that of 2/8, and the root of 1.5 is 1.225.
    assert in_another_yarn(cloth(), wishes(), parse_yarn("2/12 worsted")) == Fraction(1225, 1000)
    bare = cloth()
    bare = replace(bare, yarns=tuple(replace(yarn, size=None) for yarn in bare.yarns))
    with pytest.raises(BadInput, match="size of yarn A is not known"):
        in_another_yarn(bare, wishes(), parse_yarn("2/12 worsted"))


def test_odd_counts_are_kept_odd_where_that_is_allowed():
    log_cabin = cloth("A1 B1 A1 B1 A7", epi="24 epi")
    (first, *_) = scaled_size(log_cabin, Fraction(1), Rules(even=False))
    assert first.cloth.warp.sequence == log_cabin.warp.sequence
    (even, *_) = scaled_size(log_cabin, Fraction(1))
    assert [stripe.threads for stripe in even.cloth.warp.sequence.stripes][:4] == [2, 2, 2, 2]


def test_of_equal_errors_the_truer_repeat_comes_first():
    # By hand: 24 x 17/24 is 17, as far from 16 as from 18; 35.4 is nearer to 36 than to 34.
    first, second, *_ = scaled_size(cloth("A/24 B4 A8 C/2"), Fraction(17, 24))
    assert first.warp.cost == second.warp.cost
    assert [choice.warp.threads for choice in (first, second)] == [36, 34]
