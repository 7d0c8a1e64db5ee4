"""Yarns made of nothing but another's boldest threads are none; true ones are, however alike."""

import numpy as np
import pytest

from settscan.reading.chance import without_chance_yarns
from settscan.reading.palette import Palette
from settscan.reading.stripes import Bands

PX = 2.0
SCATTER = 0.08  # of single threads: about the most that yarn and uneven spacing give
STRIPES = [26, 46, 60, 46, 26] * 2
YELLOW, PURPLE = np.array([0.58, 0.40, 0.04]), np.array([0.16, 0.11, 0.19])


def axis(threads, yarns, share):
    """The profile of threads (N, 3) of a colour each, and the bands of their yarns (N,)."""
    profile = share * np.repeat(threads, int(PX), axis=0)
    cuts = np.concatenate([[0], np.flatnonzero(np.diff(yarns)) + 1, [len(yarns)]])
    levels = [share * threads[a:b].mean(axis=0) for a, b in zip(cuts[:-1], cuts[1:], strict=True)]
    bands = Bands(
        edges=PX * cuts - 0.5,
        levels=np.array(levels),
        edge_errors=np.zeros(len(cuts)),
        blur=0.8,
        cell=PX,
        spread=np.ones(3),
    )
    return profile, bands, yarns[cuts[:-1]]


def judged(axes, colours):
    (columns, a, of_columns), (rows, b, of_rows) = axes
    palette = Palette(
        colours=np.array(colours),
        of_columns=of_columns,
        of_rows=of_rows,
        column_share=0.5,
        offset=np.zeros(3),
        closest=None,
        shared=True,
        shift=np.zeros(3),
        sides=0.0,
        base=np.zeros(3),
        stretch=0.0,
        pivot=np.zeros(3),
        strange_ends=(False,) * 4,
    )
    return without_chance_yarns(palette, (columns, rows), (a, b))


def check(rng):
    """Threads (N, 3) and yarns (N,): 0 yellow, 1 purple, in stripes of a check."""
    yarns = np.concatenate([np.full(n, k) for n, k in zip(STRIPES, [0, 1] * 5, strict=True)])
    lights = np.stack([YELLOW, PURPLE])[yarns]
    return lights * (1 + SCATTER * rng.standard_normal((len(yarns), 1))), yarns


def boldest(threads, yarns):
    """Yarns with the dark runs of yellow threads as a yarn of their own: as chance picks them."""
    light = threads[:, 1]
    low = (yarns == 0) & (light < YELLOW[1] * (1 - SCATTER))
    return np.where(low, 2, yarns)


@pytest.mark.parametrize("seed", range(12))
def test_the_boldest_threads_of_a_yarn_are_no_yarn(seed):
    rng = np.random.default_rng(seed)
    axes = []
    for _ in range(2):
        threads, yarns = check(rng)
        picked = boldest(threads, yarns)
        assert (picked == 2).sum() > 5
        axes.append(axis(threads, picked, 0.5))
    found = judged(axes, [YELLOW, PURPLE, YELLOW * (1 - 1.5 * SCATTER)])
    assert len(found.colours) == 2
    assert set(found.of_columns) | set(found.of_rows) == {0, 1}


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("wide", [2, 8])
def test_a_yarn_of_a_like_colour_in_its_own_stripes_is_kept(seed, wide):
    """A third darker (10 CIEDE2000), in the middle of the yellow stripes."""
    rng = np.random.default_rng(seed)
    axes = []
    for _ in range(2):
        threads, yarns = check(rng)
        for start in (85, 290):
            threads[start : start + wide] *= 0.66
            yarns[start : start + wide] = 2
        axes.append(axis(threads, yarns, 0.5))
    found = judged(axes, [YELLOW, PURPLE, YELLOW * 0.66])
    assert len(found.colours) == 3


def test_a_yarn_with_a_place_of_its_own_is_kept():
    """Picked out of the other are only stripes in its midst: not those between two more yarns."""
    rng = np.random.default_rng(1)
    axes = []
    for _ in range(2):
        threads, yarns = check(rng)
        own = slice(26 + 46, 26 + 46 + 60)
        threads[own] *= 0.88
        yarns[own] = 2
        axes.append(axis(threads, yarns, 0.5))
    assert len(judged(axes, [YELLOW, PURPLE, YELLOW * 0.88]).colours) == 3
