"""The whole cloth in another sett or size."""

from dataclasses import replace
from fractions import Fraction

import pytest

from settscan.cloth.model import StripeDoubt
from settscan.cloth.notation import format_sequence
from settscan.errors import BadInput
from settscan.quantities import parse_density
from settscan.warping.plan import plan_warp
from settscan.warping.resize import same_counts_in_sett, same_size_in_sett, scaled_size
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
