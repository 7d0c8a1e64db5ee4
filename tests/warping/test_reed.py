"""Reeds are ranked sensibly and the sley carries every end."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.quantities import INCH, parse_density, parse_reed
from settscan.warping.reed import (
    TOLERANCE,
    aligned_sley,
    awkwardness,
    describe,
    even_pattern,
    patterns_near,
    rank_reeds,
    sley_density,
    sley_dents,
    sley_order,
)

patterns = st.lists(st.integers(0, 6), min_size=1, max_size=10).filter(any).map(tuple)


def carried(runs):
    return sum(run.dents * run.ends_per_dent for run in runs)


@given(patterns, st.integers(1, 5000))
def test_the_sley_carries_all_ends(pattern, ends):
    dents = sley_dents(pattern, ends)
    assert sum(dents) == ends
    assert dents[-1] > 0
    assert carried(sley_order(pattern, ends)) == ends


@given(patterns, st.integers(60, 3000), st.integers(0, 24), st.booleans())
def test_selvedges_are_carried_too(pattern, ends, selvedge, floating):
    runs = sley_order(pattern, ends, selvedge=selvedge, floating=floating)
    assert carried(runs) == ends
    neighbours = zip(runs, runs[1:], strict=False)
    assert all(a.ends_per_dent != b.ends_per_dent for a, b in neighbours)


@given(st.lists(st.integers(1, 90), min_size=1, max_size=30).map(tuple), patterns)
def test_an_aligned_sley_carries_all_ends(stripes, pattern):
    assert carried(aligned_sley(stripes, pattern)) == sum(stripes)


@given(st.integers(0, 60), st.integers(1, 12))
def test_even_patterns_are_even(ends, dents):
    pattern = even_pattern(ends, dents)
    assert sum(pattern) == ends
    assert len(pattern) == dents
    assert max(pattern) - min(pattern) <= 1


@given(st.fractions(min_value=Fraction(1, 4), max_value=8, max_denominator=40))
def test_one_of_the_patterns_is_near(mean):
    best = min(abs(Fraction(sum(p), len(p)) - mean) for p in patterns_near(mean))
    assert best <= Fraction(1, 20)


def test_selvedges_mirror_each_other():
    dents = [(run.dents, run.ends_per_dent) for run in sley_order((2,), 50, selvedge=5)]
    assert dents == [(1, 4), (1, 1), (20, 2), (1, 1), (1, 4)]


def test_two_in_a_dent_is_the_least_awkward():
    others = [(1,), (3,), (4,), (5,), (1, 2), (2, 3), (0, 1), (1, 1, 1, 2)]
    assert awkwardness((2,)) == 0
    assert all(awkwardness(other) > 0 for other in others)
    assert awkwardness((1, 2)) < awkwardness((1, 2, 1, 2, 1, 2, 2))
    assert awkwardness((1,)) < awkwardness((3,)) + 1 < awkwardness((0, 1))
    assert awkwardness((4,)) + 3 < awkwardness((5,))


def test_lines_too_narrow_for_a_dent_are_sleyed_together():
    # By hand: 8 in four dents, six lines of one in three, 7 in four, the last of them half full.
    runs = aligned_sley((8, 1, 1, 1, 1, 1, 1, 7), (2,))
    assert [(run.dents, run.ends_per_dent) for run in runs] == [(10, 2), (1, 1)]


def test_an_exact_plain_sley_wins_over_a_crowded_one():
    owned = tuple(parse_reed(f"{dents} dpi") for dents in (4, 6, 8, 12))
    ranked = rank_reeds(owned, parse_density("24 epi"), 480)
    assert ranked[0].reed.label == "12 dpi"
    assert ranked[-1].reed.label == "4 dpi"
    assert "reed marks" in ranked[-1].note
    assert ranked[0].width_mm == 20 * INCH
    assert ranked[0].dents == 240


def test_without_reeds_common_ones_are_proposed_and_marked():
    ranked = rank_reeds((), parse_density("24 epi"), 480)
    assert ranked[0].reed.label == "12 dpi"
    assert not any(choice.owned for choice in ranked)
    metric = rank_reeds((), parse_density("100/10cm"), 480, "metric")
    assert metric[0].reed.label == "50/10cm"


def test_what_is_proposed_has_nothing_to_be_warned_of_if_the_error_is_small():
    # 8 dpi sleyed 2-2-3 would be nearer to 18.8 epi, but marks the cloth; 6 dpi by 3 is 18 epi.
    ranked = rank_reeds((), parse_density("18.8 epi"), 1170)
    assert (ranked[0].reed.label, ranked[0].pattern, ranked[0].note) == ("6 dpi", (3,), "")
    assert any(each.reed.label == "8 dpi" and each.pattern == (2, 2, 3) for each in ranked)
    # One's own reeds are ranked as they are: here an irregular sleying is the better one.
    owned = (parse_reed("8 dpi"), parse_reed("10 dpi"))
    assert rank_reeds(owned, parse_density("18.8 epi"), 1170)[0].pattern == (2, 2, 3)


@given(epi=st.fractions(min_value=4, max_value=80, max_denominator=10))
def test_a_proposal_with_a_warning_comes_only_where_none_without_is_close(epi):
    ranked = rank_reeds((), epi / INCH, 400)
    if ranked[0].note:
        assert not any(not each.note and abs(each.error) <= TOLERANCE for each in ranked)


def test_a_small_error_with_two_in_a_dent_beats_an_exact_irregular_sley():
    owned = (parse_reed("10 dpi"),)
    choice = rank_reeds(owned, parse_density("20.3 epi"), 400)[0]
    assert choice.pattern == (2,)
    assert choice.error < 0
    assert "more open than wanted" in describe(choice, "inch")


def test_the_description_of_an_exact_sley():
    choice = rank_reeds((parse_reed("12 dpi"),), parse_density("24 epi"), 480)[0]
    assert describe(choice, "inch") == "12 dpi sleyed 2 in each dent, 24 epi, exactly as wanted"


def test_density_of_a_sley():
    assert sley_density(parse_reed("8 dpi"), (2, 3)) == parse_density("20 epi")


def test_an_empty_pattern_is_a_programming_error():
    with pytest.raises(ValueError, match="carry"):
        sley_dents((0, 0), 10)
