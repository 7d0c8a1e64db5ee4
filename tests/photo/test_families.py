"""Which ways the threads run, by the votes of the picture's tiles."""

from __future__ import annotations

import numpy as np
import pytest

from settscan.photo.lines import Votes, find_families


def votes(families: dict[int, float]) -> Votes:
    """Tiles that all vote so much for lines of these degrees, with noise."""
    y, x = np.mgrid[-0.5:0.5:9j, -0.7:0.7:12j]
    counts = np.random.default_rng(4).normal(0, 0.05, (x.size, 180))
    at = np.arange(180)
    for degrees, strength in families.items():
        apart = np.abs((at - degrees + 90) % 180 - 90)
        counts += strength * np.clip(1 - apart / 4, 0, 1)
    return Votes(centres=np.c_[x.ravel(), y.ravel()], counts=counts)


def test_two_ways_that_cross_outvote_the_diagonals_of_a_bold_twill():
    found = find_families(votes({155: 0.2, 142: 0.18, 6: 0.12, 100: 0.12}))
    assert sorted(f.degrees for f in found if f) == pytest.approx([6, 100], abs=2)


def test_stripes_one_way_across_threads_that_are_not_seen():
    found, other = find_families(votes({20: 0.4}))
    assert found.degrees == pytest.approx(20, abs=2)
    assert other is None


def test_a_family_that_hardly_stands_out_tells_no_place_where_it_meets():
    one, two = find_families(votes({1: 0.5, 92: 0.1}))
    assert (one.degrees, two.degrees) == pytest.approx((1, 92), abs=3)
    assert two.meet == 0.0
