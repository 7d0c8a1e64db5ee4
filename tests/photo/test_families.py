"""Which ways the threads run, by the votes of the picture's tiles."""

from __future__ import annotations

import numpy as np
import pytest

from settscan.photo.lines import Votes, find_families, tile_votes
from settscan.photo.source import reduced
from settscan.settings import FLATTEN
from tests.photo.flat_truth import photo_of
from tests.render.scene import CameraSpec, ClothSpec, Scene, render


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


@pytest.mark.parametrize(
    ("weave", "px_per_mm"),
    [("plain", 4.5), ("2/2 twill Z", 5.0), ("3/1 twill Z", 2.4), ("herringbone", 4.5)],
)
def test_ends_and_picks_of_stripes_one_way_outvote_the_diagonals(weave, px_per_mm):
    """A white weft on dark stripes shows nothing so strongly as the diagonals of its weave."""
    warp = (("A", 22), ("B", 6), ("A", 6), ("B", 14), ("C", 3))
    picture = render(
        Scene(
            cloth=ClothSpec(warp=warp, weft=(("C", 10),), weave=weave),
            camera=CameraSpec(width=900, height=700, px_per_mm=px_per_mm, samples=2, roll_deg=9.0),
        ),
        9,
    )
    small = reduced(photo_of(picture), FLATTEN.vote_pixels)
    tile, step = FLATTEN.vote_tile_px, FLATTEN.vote_step_px
    found = find_families(tile_votes(small.picture, small.usable, tile, step))
    assert sorted(f.degrees for f in found if f) == pytest.approx([9, 99], abs=2)
