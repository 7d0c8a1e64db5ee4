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


def lines_within(contrast: float, blurred: bool) -> Samples:
    """A wide stripe cut in two by a line of one thread, twice; blur may have made the line."""
    stripe, line = np.array([0.36, 0.26, 0.14]), np.array([0.36, 0.26, 0.14]) + contrast
    colours = np.stack([stripe, line, stripe, NAVY, stripe, line, stripe])
    thin = np.array([0, 1, 0, 0, 0, 1, 0], dtype=float)
    own = np.stack([np.diag((0.05 * np.maximum(c, 0.02)) ** 2) for c in colours])
    halo = thin[:, None] * contrast * np.ones(3)
    blur = 0.3**2 * halo[:, :, None] * halo[:, None]
    at = np.arange(7)
    clear = Samples(
        colours=colours, errors=own, trends=np.zeros((7, 3, 1)), spreads=np.array([0.3])
    )
    return Samples(
        colours=colours,
        errors=own + blur,
        trends=halo[:, :, None],
        spreads=np.array([0.3]),
        beside=np.stack([at - 1, np.where(at < 6, at + 1, -1)], axis=1) if blurred else None,
        clear=clear if blurred else None,
    )


def test_blur_makes_no_line_of_what_lies_on_both_its_sides():
    """What is mixed with its like is its like: a line within a stripe is a yarn of its own."""
    start = np.array([0, 1, 2, 3, 4, 5, 6])
    found = group(lines_within(0.25, blurred=True), start)
    assert found.of[1] == found.of[5] != found.of[0]
    assert len(found.colours) == 3
    assert len(group(lines_within(0.25, blurred=False), start).colours) == 2


def test_a_thread_a_little_lighter_than_its_stripe_is_of_its_yarn():
    found = group(lines_within(0.02, blurred=True), np.arange(7))
    assert len(found.colours) == 2


def test_neighbours_may_be_known_to_differ():
    given = lines_within(0.02, blurred=True)
    assert len(group(given, np.array([0, 1, 0, 2, 0, 1, 0]), neighbours_differ=True).colours) == 3
