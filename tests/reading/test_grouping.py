"""Colours are grouped by their errors, whatever light is left on them."""

from __future__ import annotations

import numpy as np
import pytest

from settscan.reading.grouping import Samples, group

NAVY, CREAM, TEAL = (0.02, 0.03, 0.10), (0.60, 0.50, 0.33), (0.02, 0.12, 0.13)


def samples(yarns, at, spread: float, slope: float, seed: int = 3) -> Samples:
    """Bands of the yarns at places -1..1 under light that rises by `slope`, with noise."""
    rng = np.random.default_rng(seed)
    true = np.array(yarns)
    noise = rng.normal(0, spread, true.shape) * np.maximum(true, 0.02)
    colours = true * (1 + slope * np.array(at))[:, None] + noise
    errors = np.array([np.diag((spread * np.maximum(c, 0.02)) ** 2) for c in true])
    trends = (true * np.array(at)[:, None])[:, :, None]
    return Samples(colours=colours, errors=errors, trends=trends, spreads=np.array([0.2]))


def test_bands_of_one_yarn_are_one_group_and_the_light_on_them_is_found():
    yarns = [NAVY, CREAM] * 8
    at = np.linspace(-1, 1, 16)
    found = group(samples(yarns, at, 0.03, slope=0.25), np.arange(16))
    assert len(found.colours) == 2
    assert found.of[0] != found.of[1]
    assert (found.of[::2] == found.of[0]).all()
    assert found.trends[0] == pytest.approx(0.25, abs=0.05)
    assert found.colours[found.of[0]] == pytest.approx(NAVY, rel=0.1)


def test_dark_yarns_that_differ_by_more_than_their_errors_stay_apart():
    yarns = [NAVY, TEAL, NAVY, TEAL, NAVY, TEAL]
    found = group(samples(yarns, np.linspace(-1, 1, 6), 0.05, slope=0.0), np.arange(6))
    assert len(found.colours) == 2


def test_dark_yarns_whose_errors_are_larger_than_their_difference_are_one():
    one = samples([NAVY, TEAL, NAVY, TEAL], np.linspace(-1, 1, 4), 0.05, slope=0.0)
    unsure = Samples(
        colours=one.colours,
        errors=np.repeat(np.eye(3)[None] * 0.1**2, 4, axis=0),
        trends=one.trends,
        spreads=one.spreads,
    )
    assert len(group(unsure, np.arange(4)).colours) == 1


def test_the_order_of_the_samples_does_not_matter():
    yarns = [NAVY, CREAM, TEAL] * 4
    given = samples(yarns, np.linspace(-1, 1, 12), 0.03, slope=0.1)
    order = np.random.default_rng(8).permutation(12)
    shuffled = Samples(
        colours=given.colours[order],
        errors=given.errors[order],
        trends=given.trends[order],
        spreads=given.spreads,
    )
    one, two = group(given, np.arange(12)), group(shuffled, np.arange(12))
    same = one.of[:, None] == one.of[None]
    other = np.empty(12, int)
    other[order] = two.of
    assert (same == (other[:, None] == other[None])).all()


def test_groups_to_begin_with_are_kept_together():
    given = samples([NAVY, CREAM, NAVY, CREAM], np.linspace(-1, 1, 4), 0.03, slope=0.0)
    found = group(given, np.array([0, 1, 0, 1]))
    assert found.of.tolist() in ([0, 1, 0, 1], [1, 0, 1, 0])
