"""Counts from thread coordinates: the chances that are told must come true."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from settscan.reading.counts import Count, decode, settle_together


def simulated(rng, stripes, edge_sd, drift_share=0.0, drift_sd=0.0):
    """True counts of a cloth and what a reader would measure of its edges."""
    truth = rng.choice([1, 2, 3, 4, 6, 8, 12, 16, 24, 30], stripes)
    drift = np.hypot(drift_share * truth, drift_sd)
    offset = rng.uniform(0, 1) + np.concatenate(
        [[0], np.cumsum(drift * rng.standard_normal(stripes))]
    )
    edges = np.concatenate([[0], np.cumsum(truth)]) + offset
    seen = edges + edge_sd * rng.standard_normal(stripes + 1)
    return truth, seen, np.full(stripes + 1, edge_sd), drift


# Of an edge on its own, of the drift as a share of the stripe, of the drift beside it: threads.
CASES = {
    "soft edges": (0.2, 0.0, 0.15),
    "a weave that is hard to follow": (0.15, 0.0, 0.25),
    "a pinned density": (0.15, 0.05, 0.0),
}


@pytest.mark.parametrize("case", CASES)
def test_told_intervals_and_chances_come_true(case):
    held, right, told = outcomes(np.random.default_rng(11), 85, *CASES[case])
    assert len(held) > 2000
    # Whole numbers hold a little more than the nine tenths that are asked for.
    assert 0.88 <= held.mean() <= 0.99
    assert told.mean() == pytest.approx(right.mean(), abs=0.025)
    for low, high in ((0.3, 0.6), (0.6, 0.8), (0.8, 0.95), (0.95, 1.0)):
        these = (told >= low) & (told < high)
        if these.sum() >= 150:
            wanted = told[these].mean()
            allowed = 3 * np.sqrt(wanted * (1 - wanted) / these.sum()) + 0.03
            assert right[these].mean() == pytest.approx(wanted, abs=allowed)


def outcomes(rng, cloths, edge_sd, share, drift):
    """Of each stripe: whether its interval held, whether its count was right, the chance told."""
    found = []
    for _ in range(cloths):
        truth, *seen = simulated(rng, 24, edge_sd, share, drift)
        for number, count in zip(truth, decode(*seen), strict=True):
            low, high = count.interval()
            found.append((low <= number <= high, count.threads == number, count.chance))
    return np.array(found).T


def test_chances_come_true_where_an_edge_errs_by_half_a_thread():
    _, right, told = outcomes(np.random.default_rng(13), 30, 0.45, 0.0, 0.05)
    assert told.mean() == pytest.approx(right.mean(), abs=0.06)


def test_exact_edges_give_sure_counts():
    rng = np.random.default_rng(12)
    truth, seen, edge_sd, drift = simulated(rng, 40, 0.02, 0.0, 0.0)
    counts = decode(seen, edge_sd, drift)
    assert [c.threads for c in counts] == list(truth)
    assert min(c.chance for c in counts) > 0.98


def test_an_edge_that_lies_badly_is_doubted_with_both_its_stripes():
    truth = np.array([8, 6, 8, 6, 8, 6])
    seen = np.concatenate([[0], np.cumsum(truth)]) + 0.3
    seen[3] += 0.5
    counts = decode(seen, np.full(7, 0.1), np.full(6, 0.03))
    sure = [c.chance > 0.95 for c in counts]
    assert sure == [True, True, False, False, True, True]
    assert {n for n, p in counts[2].chances if p > 0.2} == {8, 9}
    assert {n for n, p in counts[3].chances if p > 0.2} == {5, 6}


def test_wide_stripes_of_a_pinned_density_are_doubted_and_narrow_ones_not():
    truth = np.array([2, 40, 2, 40, 2])
    seen = np.concatenate([[0], np.cumsum(truth)]).astype(float)
    counts = decode(seen, np.full(6, 0.05), 0.05 * truth)
    assert [c.threads for c in counts][::2] == [2, 2, 2]
    assert all(c.chance > 0.9 for c in counts[::2])
    for wide in counts[1::2]:
        low, high = wide.interval()
        # 1.645 standard deviations of 2 threads on either side.
        assert 5 <= high - low <= 8
        assert wide.threads == 40


@settings(max_examples=50)
@given(
    st.lists(st.floats(0.05, 20), min_size=1, max_size=12),
    st.floats(0, 0.6),
    st.floats(0, 3),
    st.floats(-5, 5),
)
def test_counts_are_whole_threads_and_chances_a_share_of_one(widths, edge_sd, drift_sd, start):
    at = start + np.concatenate([[0], np.cumsum(widths)])
    counts = decode(at, np.full(len(at), edge_sd), np.full(len(widths), drift_sd))
    assert len(counts) == len(widths)
    for count in counts:
        numbers, chances = zip(*count.chances, strict=True)
        assert min(numbers) >= 1
        assert len(set(numbers)) == len(numbers)
        assert list(chances) == sorted(chances, reverse=True)
        assert sum(chances) == pytest.approx(1, abs=1e-3)
        low, high = count.interval()
        assert 1 <= low <= count.threads <= high


@given(st.dictionaries(st.integers(1, 30), st.floats(0.001, 1), min_size=1, max_size=8))
def test_an_interval_holds_its_share_and_no_number_too_many(table):
    count = Count.from_table(table)
    chances = dict(count.chances)
    low, high = count.interval(0.9)
    held = sum(chances.get(n, 0) for n in range(low, high + 1))
    assert held >= 0.9 - 1e-9
    if high > low:  # without its last number it held too little
        inner = min(
            held - (chances[low] if low < count.threads else 1),
            held - (chances[high] if high > count.threads else 1),
        )
        assert inner < 0.9


def test_an_interval_by_hand():
    count = Count(((12, 0.5), (11, 0.3), (13, 0.15), (10, 0.05)))
    assert (count.threads, count.chance) == (12, 0.5)
    assert count.interval(0.5) == (12, 12)
    assert count.interval(0.8) == (11, 12)
    assert count.interval(0.9) == (11, 13)
    assert count.interval(0.99) == (10, 13)


def test_partners_vote():
    sure = Count(((8, 0.98), (7, 0.02)))
    unsure = Count(((7, 0.55), (8, 0.45)))
    settled = settle_together((sure, unsure, sure), ((0, 1, 2),))
    assert [c.threads for c in settled] == [8, 8, 8]
    # Bayes by hand: 0.45 v8 against 0.55 v7, votes 0.98^2 and 0.02^2 less the chance of a break.
    votes = {8: 0.98**2, 7: 0.02**2}
    weights = {n: p * (0.99 * votes[n] / sum(votes.values()) + 0.01) for n, p in unsure.chances}
    assert settled[1].chance == pytest.approx(weights[8] / sum(weights.values()), abs=1e-6)


def test_a_sure_break_is_not_outvoted():
    eight, seven = Count(((8, 0.999), (7, 0.001))), Count(((7, 0.9999), (8, 0.0001)))
    settled = settle_together((eight, seven, eight, eight), ((0, 1, 2, 3),))
    assert [c.threads for c in settled] == [8, 7, 8, 8]


def test_stripes_without_partners_stay():
    counts = (Count(((5, 0.7), (6, 0.3))), Count(((9, 1.0),)))
    assert settle_together(counts, ((0,), (1,))) == counts


def test_an_interval_reaches_a_far_runner_up():
    """Plain weave or hopsack: 32 or 64 threads, nothing between."""
    count = Count.from_table({64: 0.62, 32: 0.38})
    assert count.interval() == (32, 64)
    assert count.interval(0.6) == (64, 64)
    assert Count.from_table({64: 0.93, 32: 0.07}).interval() == (64, 64)
    assert Count.from_table({12: 0.7, 11: 0.2, 13: 0.1}).interval() == (11, 12)
