"""Bands of even colour: the best cuts, and edges to a small part of a pixel."""

from itertools import combinations

import numpy as np
import pytest
from scipy.special import ndtr

from settscan.reading.colours import as_coded, as_light
from settscan.reading.stripes import (
    _partition,
    find_bands,
    fit_edges,
    without_blurs,
    without_mixtures,
)
from settscan.settings import STRIPES

NAVY, CREAM, RED, GREEN = (
    np.array(c) for c in ((0.03, 0.05, 0.2), (0.6, 0.5, 0.35), (0.4, 0.05, 0.06), (0.06, 0.2, 0.1))
)


def profile(edges, levels, *, blur=1.0, noise=0.0, melange=0.0, cell=1.0, seed=0):
    """A profile of bands blurred by a Gaussian: the area of each pixel, not its middle.

    `edges` are all n + 1 of them, the outer two being the ends. Threads of one `cell` are lighter
    and darker by `melange`, one standard deviation; `noise` is that of each pixel and channel.
    """
    length = round(edges[-1] - edges[0])
    x = np.arange(length) + edges[0] + 0.5
    fine = x[:, None] + (np.arange(9) - 4) / 9
    out = np.tile(np.asarray(levels[0], float), (length, 1))
    for edge, before, after in zip(edges[1:-1], levels[:-1], levels[1:], strict=True):
        out += ndtr((fine - edge) / blur).mean(axis=1)[:, None] * (after - before)
    rng = np.random.default_rng(seed)
    thread = (np.arange(length) / cell).astype(int)
    out *= (1 + melange * rng.standard_normal(thread[-1] + 1))[thread][:, None]
    return out + noise * rng.standard_normal(out.shape)


@pytest.mark.parametrize("cell", [3.0, 4.7, 8.0])
def test_edges_of_blurred_steps_are_found_to_a_small_part_of_a_pixel(cell):
    rng = np.random.default_rng(1)
    counts = np.array([8, 4, 12, 6, 3, 10, 5, 9])
    edges = -0.5 + cell * np.concatenate([[0], np.cumsum(counts)])
    edges[1:-1] += rng.uniform(-0.5, 0.5, len(counts) - 1)
    edges[-1] = np.floor(edges[-1]) + 0.5
    levels = [NAVY, CREAM, NAVY, RED, GREEN, CREAM, RED, NAVY]
    drawn = profile(edges, levels, blur=0.35 * cell, melange=0.01, cell=cell)
    bands = without_mixtures(drawn, find_bands(drawn, cell))
    assert len(bands.levels) == len(levels)
    assert bands.edges == pytest.approx(edges, abs=0.03 * cell)
    assert np.abs(bands.levels - levels).max() < 0.02
    assert bands.widths == pytest.approx(np.diff(edges), abs=0.06 * cell)


def test_an_even_profile_is_one_band():
    false = []
    for seed in range(20):
        drawn = profile([-0.5, 1199.5], [NAVY], melange=0.05, cell=4.0, noise=2e-4, seed=seed)
        bands = find_bands(drawn, 4.0)
        assert bands.edges[[0, -1]] == pytest.approx([-0.5, 1199.5])
        false.append(len(bands.levels) - 1)
    assert np.mean(false) < 0.3  # of 300 threads


@pytest.mark.parametrize("cell", [3.0, 4.0, 6.5])
def test_lines_of_one_thread_are_found(cell):
    counts = [12, 1, 12, 2, 12, 1, 10]
    edges = -0.5 + cell * np.concatenate([[0], np.cumsum(counts)])
    edges[-1] = np.floor(edges[-1]) + 0.5
    levels = [NAVY, CREAM, NAVY, RED, NAVY, GREEN, NAVY]
    drawn = profile(edges, levels, blur=0.25 * cell, melange=0.01, cell=cell)
    bands = without_mixtures(drawn, find_bands(drawn, cell))
    assert len(bands.levels) == len(levels)
    assert bands.edges == pytest.approx(edges, abs=0.35 * cell)
    # With the levels that the yarns give, narrow lines are freed of their blur.
    again = fit_edges(drawn, bands.edges, cell, levels=np.array(levels))
    assert again.edges == pytest.approx(edges, abs=0.08 * cell)


def best_by_trial(lab, say, cuts, cell, spread, price):
    """The cheapest subset of cuts: every one of them is tried."""

    def cost(chosen):
        bounds = [0, *chosen, len(lab)]
        misfit = sum(
            (
                say[a:b, None]
                * ((lab[a:b] - np.average(lab[a:b], axis=0, weights=say[a:b])) / spread) ** 2
            ).sum()
            for a, b in zip(bounds[:-1], bounds[1:], strict=True)
        )
        return misfit / cell + price * len(chosen)

    every = (c for n in range(len(cuts) + 1) for c in combinations(cuts, n))
    return min(every, key=cost)


@pytest.mark.parametrize("seed", range(12))
def test_the_partition_is_the_best_of_all(seed):
    rng = np.random.default_rng(seed)
    cuts = np.sort(rng.choice(np.arange(4, 116), 9, replace=False))
    steps = np.cumsum(rng.normal(0, 4, (10, 3)) * (rng.random(10) < 0.5)[:, None], axis=0)
    lab = np.repeat(steps, np.diff([0, *cuts, 120]), axis=0) + rng.normal(0, 2, (120, 3))
    spread = np.array([1.0, 1.5, 2.0])
    say = rng.uniform(0.2, 1.0, 120)
    found = _partition(lab, say, cuts, 4.0, spread, STRIPES)
    assert tuple(found) == best_by_trial(lab, say, cuts, 4.0, spread, STRIPES.cut_price)


def test_edges_reach_the_bound_and_tell_their_error():
    """No edge can be known better than its blur, contrast and noise allow.

    An edge of a Gaussian blur s, with the contrast d in each of three channels and the noise n in
    each pixel, has a variance of at least 2 sqrt(pi) s / sum (d / n)^2: the inverse of the Fisher
    information, the integral of the squared slope of the blurred step over n^2 (Cramer and Rao).
    """
    cell, blur, noise = 4.0, 2.0, 0.02
    contrast = CREAM - NAVY
    bound = np.sqrt(2 * np.sqrt(np.pi) * blur / ((contrast / noise) ** 2).sum())
    off, told = [], []
    for seed in range(300):
        edge = 49.5 + np.random.default_rng(seed + 1000).uniform(-0.5, 0.5)
        drawn = profile([-0.5, edge, 99.5], [NAVY, CREAM], blur=blur, noise=noise, seed=seed)
        bands = fit_edges(drawn, np.array([-0.5, 49.0, 99.5]), cell)
        off.append(bands.edges[1] - edge)
        told.append(bands.edge_errors[1])
    # The scatter of 300 trials is itself known to 4 %.
    assert 0.9 < np.std(off) / bound < 1.6
    assert abs(np.mean(off)) < 4 * np.std(off) / np.sqrt(300)
    assert 0.6 < np.std(off) / np.mean(told) < 1.7


def test_the_ripple_of_threads_moves_no_edge():
    cell = 5.0
    edges = np.array([-0.5, 59.5, 99.5, 159.5])
    drawn = profile(edges, [NAVY, CREAM, NAVY], blur=1.5)
    ripple = 1 + 0.25 * np.cos(2 * np.pi * (np.arange(160) + 0.5) / cell)
    bands = find_bands(drawn * ripple[:, None], cell)
    assert bands.edges == pytest.approx(edges, abs=0.25)


def test_a_blurred_edge_is_no_stripe():
    edges = [-0.5, 60.3, 119.5]
    drawn = profile(edges, [NAVY, CREAM], blur=1.5)
    # Cut as if the blur were a line of its own.
    cut = fit_edges(drawn, np.array([-0.5, 58.5, 62.1, 119.5]), 4.0)
    cleaned = without_mixtures(drawn, cut)
    assert len(cleaned.levels) == 2
    assert cleaned.edges[1] == pytest.approx(60.3, abs=0.05)


@pytest.mark.parametrize("blur", [0.7, 1.5])
def test_one_thread_far_wider_than_the_blur_is_a_line_though_it_mixes_its_neighbours(blur):
    """Pale blue between blue and white: of eight pixels, of which no blur makes more than five."""
    edges = [-0.5, 59.5, 67.5, 119.5]
    drawn = profile(edges, [NAVY, (NAVY + CREAM) / 2, CREAM], blur=blur)
    cut = fit_edges(drawn, np.array(edges), 8.0)
    assert len(without_mixtures(drawn, cut).levels) == 3


def test_a_line_of_its_own_colour_is_kept():
    edges = [-0.5, 59.5, 63.5, 119.5]
    drawn = profile(edges, [NAVY, RED, CREAM], blur=1.0)
    cut = fit_edges(drawn, np.array(edges), 4.0)
    assert len(without_mixtures(drawn, cut).levels) == 3


DARK, BRIGHT = np.array([0.01, 0.02, 0.05]), np.array([0.26, 0.07, 0.01])


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_a_line_of_the_light_of_both_its_neighbours_is_their_edge(share):
    levels = np.array([DARK, (1 - share) * DARK + share * BRIGHT, BRIGHT])
    edges, kept = without_blurs(np.array([0.0, 40.0, 42.0, 90.0]), levels, 2.0)
    assert kept.tolist() == [0, 2]
    # The two together give as much light as the three.
    assert edges.tolist() == pytest.approx([0, 42 - 2 * share, 90])


@pytest.mark.parametrize(
    ("line", "width"),
    [
        ((DARK + BRIGHT) / 2, 6.0),  # three threads wide
        (DARK + [0, 0.1, 0], 2.0),  # a colour of its own
        (2 * BRIGHT - DARK, 2.0),  # brighter than both
    ],
)
def test_a_line_that_no_blur_makes_stays(line, width):
    levels = np.array([DARK, line, BRIGHT])
    edges, kept = without_blurs(np.array([0.0, 40.0, 40.0 + width, 90.0]), levels, 2.0)
    assert kept.tolist() == [0, 1, 2]
    assert len(edges) == 4


def test_a_line_within_one_stripe_stays():
    levels = np.array([DARK, (DARK + BRIGHT) / 2, DARK])
    assert without_blurs(np.array([0.0, 40.0, 42.0, 90.0]), levels, 2.0)[1].tolist() == [0, 1, 2]


RUST = np.array([0.32, 0.08, 0.02])


def rust_with_hue_of_navy(share):
    """Rust's luma, a share of its chroma navy's."""
    luma, hue = zip(*(as_coded(c) for c in (RUST, NAVY)), strict=True)
    return as_light(luma[0], (1 - share) * hue[0] + share * hue[1])


@pytest.mark.parametrize("flip", [1, -1])
def test_the_rim_of_a_stripe_where_the_others_hue_runs_in_is_no_stripe(flip):
    """JPEG keeps hue at half the detail: a rim as bright as rust, its hue half navy's."""
    levels = np.array([NAVY, rust_with_hue_of_navy(0.4), RUST])[::flip]
    edges = np.array([-0.5, 39.5, 43.5, 79.5]) if flip > 0 else np.array([-0.5, 35.5, 39.5, 79.5])
    cuts, kept = without_blurs(edges, levels, 2.0)
    assert kept.tolist() == [0, 2]
    assert cuts[1] == pytest.approx(39.5)


@pytest.mark.parametrize("flip", [1, -1])
def test_a_narrow_stripe_whose_hue_is_more_that_of_the_next_one_stays(flip):
    """Hue runs over an edge to both sides alike: no rim has more of the next stripe's than half."""
    levels = np.array([NAVY, rust_with_hue_of_navy(0.65), RUST])[::flip]
    assert without_blurs(np.array([-0.5, 39.5, 43.5, 79.5]), levels, 2.0)[1].tolist() == [0, 1, 2]


def test_a_narrow_stripe_of_its_own_brightness_stays():
    brown = 0.5 * RUST + 0.02
    _, kept = without_blurs(np.array([-0.5, 39.5, 43.5, 79.5]), np.array([NAVY, brown, RUST]), 2.0)
    assert kept.tolist() == [0, 1, 2]


def test_where_little_of_the_cloth_shows_chance_makes_no_band_and_a_plain_line_still_does():
    cell, length = 4.0, 600
    shown = np.full(length, 900.0)
    shown[400:] = 50  # beside a ruler that hides the rest
    drawn = np.where(np.arange(length)[:, None] < 300, CREAM, NAVY)
    drawn[500:504] = CREAM
    rng = np.random.default_rng(4)
    threads = rng.standard_normal(length // 4).repeat(4)
    drawn = drawn * (1 + 0.02 * threads * np.sqrt(900 / shown))[:, None]
    assert len(find_bands(drawn, cell).levels) > 4  # as if all showed as much
    bands = find_bands(drawn, cell, shown)
    assert len(bands.levels) == 4
    assert bands.edges[1:4] == pytest.approx([299.5, 499.5, 503.5], abs=1.0)


def test_a_made_up_element_has_no_say():
    drawn = np.tile(NAVY, (400, 1))
    drawn[180:220] = CREAM
    shown = np.full(400, 900.0)
    shown[180:220] = 0
    assert len(find_bands(drawn, 4.0).levels) == 3
    assert len(find_bands(drawn, 4.0, shown).levels) == 1
