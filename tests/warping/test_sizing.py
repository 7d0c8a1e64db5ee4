"""New counts are the best there are: compared with trying every one."""

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from settscan.cloth.model import SequenceKind
from settscan.cloth.notation import format_sequence, parse_sequence
from settscan.errors import BadInput
from settscan.quantities import parse_density
from settscan.warping.sizing import Rules, choices, describe, same_counts, same_size, scaled
from tests.warping.samples import sequences


def best_by_trying(sequence, ideal, rules, total):
    """The least cost over every allowed set of counts: slow, and sure."""
    step = 2 if rules.even else 1
    ranges = []
    for stripe, wanted in zip(sequence.stripes, ideal, strict=True):
        least = rules.least if rules.even else min(rules.least, stripe.threads)
        top = int(max(wanted, least)) + 14
        ranges.append([n for n in range(least, top) if n % step == 0])
    count = len(sequence.stripes)
    doubled = sequence.kind is SequenceKind.SYMMETRIC and count > 2
    weights = [2 if doubled and 0 < place < count - 1 else 1 for place in range(count)]
    best = None
    for counts in product(*ranges):
        if total is not None and sum(w * c for w, c in zip(weights, counts, strict=True)) != total:
            continue
        errors = [abs(c - i) for c, i in zip(counts, ideal, strict=True)]
        power = 2 if rules.squared else 1
        cost = sum(w * error**power for w, error in zip(weights, errors, strict=True))
        best = cost if best is None else min(best, cost)
    return best


rules = st.builds(Rules, even=st.booleans(), squared=st.booleans())


@settings(max_examples=40, deadline=None)
@given(sequences(most=3), st.integers(1, 12), rules)
def test_no_counts_have_less_error(sequence, tenths, keep):
    factor = Fraction(tenths, 10)
    answer = scaled(sequence, factor, rules=keep)[0]
    assert answer.cost == best_by_trying(sequence, answer.ideal, keep, None)


@settings(max_examples=40, deadline=None)
@given(sequences(most=3), st.integers(3, 40), rules)
def test_no_counts_with_this_total_have_less_error(sequence, half, keep):
    total = 2 * half
    try:
        answers = scaled(sequence, Fraction(1), total=total, rules=keep)
    except BadInput:
        ideal = tuple(Fraction(s.threads * total, sequence.threads) for s in sequence.stripes)
        assert best_by_trying(sequence, ideal, keep, total) is None
        return
    for answer in answers:
        assert answer.threads == total
        assert answer.cost == best_by_trying(sequence, answer.ideal, keep, total)


@given(sequences(), st.fractions(min_value=Fraction(1, 5), max_value=3, max_denominator=30))
def test_evens_floor_and_yarns_are_kept(sequence, factor):
    for answer in scaled(sequence, factor):
        counts = [stripe.threads for stripe in answer.sequence.stripes]
        assert all(count % 2 == 0 and count >= 2 for count in counts)
        assert [s.yarn for s in answer.sequence.stripes] == [s.yarn for s in sequence.stripes]
        assert answer.threads == answer.sequence.threads
        assert sum(answer.errors) == sum(counts) - sum(answer.ideal)


@given(sequences(even=True))
def test_a_factor_of_one_changes_nothing(sequence):
    answers = scaled(sequence, Fraction(1))
    assert [answer.sequence for answer in answers] == [sequence]
    assert scaled(sequence, Fraction(1), total=sequence.threads)[0].sequence == sequence
    assert same_counts(sequence).sequence == sequence


def test_the_same_size_in_a_closer_sett():
    sequence = parse_sequence("A/24 B4 A8 C/2")
    answers = same_size(sequence, parse_density("24 epi"), parse_density("36 epi"))
    # 4 becomes 6, 8 becomes 12, 24 becomes 36; 2 would be 3, and 2 and 4 are equally near.
    assert {format_sequence(answer.sequence) for answer in answers} == {
        "A/36 B6 A12 C/2",
        "A/36 B6 A12 C/4",
    }


def test_narrow_lines_are_not_lost():
    sequence = parse_sequence("A/40 B2 A/20")
    assert scaled(sequence, Fraction(1, 10))[0].sequence.stripes[1].threads == 2


def test_a_line_of_one_stays_where_odd_counts_are_allowed():
    sequence = parse_sequence("A40 B1 A20 C3")
    odd = scaled(sequence, Fraction(1, 2), rules=Rules(even=False))[0]
    assert [stripe.threads for stripe in odd.sequence.stripes][:3] == [20, 1, 10]


def test_choices_are_different_and_the_best_comes_first():
    sequence = parse_sequence("A/24 B4 A8 C/2")
    offered = choices(sequence, Fraction(3, 5))
    assert len({answer.sequence for answer in offered}) == len(offered) > 1
    assert [answer.cost for answer in offered] == sorted(answer.cost for answer in offered)
    assert offered[0].cost == scaled(sequence, Fraction(3, 5))[0].cost


def test_every_error_is_shown():
    sequence = parse_sequence("A/24 B4 C/2")
    answer = scaled(sequence, Fraction(3, 5))[0]
    assert describe(answer, sequence)[0] == "A 24 -> 14 (ideal 14.4, -0.4)"


@pytest.mark.parametrize("total", [7, 2, 0, 10**9])
def test_impossible_totals_are_refused(total):
    with pytest.raises(BadInput):
        scaled(parse_sequence("A/24 B4 C/2"), Fraction(1), total=total)


def test_a_long_pattern_is_solved_in_time():
    stripes = " ".join(f"{'AB'[n % 2]}{2 + n % 17 * 2}" for n in range(120))
    sequence = parse_sequence(stripes)
    total = sequence.threads * 3 // 10 * 2
    assert scaled(sequence, Fraction(3, 5), total=total)[0].threads == total
