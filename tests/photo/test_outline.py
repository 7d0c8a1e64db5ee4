"""How far the cloth goes in a flat picture, where a ruler or a table interrupts its stripes."""

import numpy as np
import pytest

from settscan.photo.outline import Extent, cloth_extent, fringe_of, refined_extent
from settscan.settings import FLATTEN

HEIGHT, WIDTH = 300, 480
BODY = Extent(left=240, top=50, right=400, bottom=250, seen=(False, False, False, False))


def cloth():
    """Stripes both ways, (HEIGHT, WIDTH, 3), and some grain."""
    rng = np.random.default_rng(2)
    down, across = (
        np.repeat(rng.uniform(0.1, 0.4, (-(-length // 15), 3)), 15, axis=0)[:length]
        for length in (HEIGHT, WIDTH)
    )
    picture = down[:, None] + across[None]
    return (picture + rng.normal(0, 0.01, picture.shape)).astype(np.float32)


def extent(picture):
    return refined_extent(picture, np.ones(picture.shape[:2], bool), BODY, FLATTEN)


@pytest.mark.parametrize("width", [30, 90, 150])
def test_cloth_goes_on_behind_what_lies_right_across_it(width):
    picture = cloth()
    picture[:, 60 : 60 + width] = (0.8, 0.7, 0.4)
    found = extent(picture)
    assert (found.left, found.top, found.right, found.bottom) == (0, 0, WIDTH, HEIGHT)
    assert found.seen == (False, False, False, False)


@pytest.mark.parametrize("width", [45, 120])
def test_a_table_beside_the_cloth_ends_it(width):
    picture = cloth()
    grain = np.random.default_rng(3).normal(0.5, 0.03, (HEIGHT, width, 1))
    picture[:, :width] = grain
    found = extent(picture)
    assert found.left == pytest.approx(width, abs=2 * FLATTEN.fine_strip_px)
    assert found.seen == (True, False, False, False)


def test_what_is_half_cloth_says_nothing_about_an_edge():
    """A ruler along the rim covers half of its length: cloth shows beside it."""
    picture = cloth()
    picture[: HEIGHT // 2, :60] = (0.8, 0.7, 0.4)
    assert not extent(picture).seen[0]


def test_a_part_that_no_stripe_crosses_says_nothing_about_an_edge():
    """A photo turned a little cuts the rim to a wedge, here within one wide stripe."""
    picture = cloth()
    picture[:130] = picture[0][None] + np.random.default_rng(4).normal(0, 0.01, (130, WIDTH, 3))
    usable = np.ones((HEIGHT, WIDTH), bool)
    usable[120:, :40] = False
    body = Extent(left=240, top=10, right=400, bottom=290, seen=(False, False, False, False))
    assert not refined_extent(picture, usable, body, FLATTEN).seen[0]


def test_a_stripe_whose_weave_hides_the_others_ends_no_cloth():
    """A bold twill, stronger than the stripes that cross it, down to the frame."""
    picture = cloth()
    y, x = np.mgrid[:HEIGHT, :WIDTH]
    twill = 0.25 * ((x + y) // 15 % 2)
    picture[-60:] += twill[-60:, :, None].astype(np.float32)
    found = extent(picture)
    assert found.bottom == HEIGHT
    assert not found.seen[3]


def test_what_a_ruler_hid_all_along_is_not_compared_beyond_its_end():
    """It covers most of the width, and ends before the cloth does."""
    picture = cloth()
    usable = np.ones((HEIGHT, WIDTH), bool)
    usable[:250, 60:400] = False
    body = Extent(left=10, top=20, right=470, bottom=200, seen=(False, False, False, False))
    found = refined_extent(picture, usable, body, FLATTEN)
    assert (found.bottom, found.seen[3]) == (HEIGHT, False)


def with_fringe(picture, length):
    """Strands of the warp's colours that stray beyond the last pick, over a floor."""
    rng = np.random.default_rng(5)
    out = picture.copy()
    out[-length:] = rng.normal(0.4, 0.02, (length, WIDTH, 1))
    colours = picture.mean(axis=0)
    for x in range(0, WIDTH, 12):
        slope = rng.normal(0, 0.5)
        for y in range(length):
            at = np.clip(np.arange(x, x + 12) + round(y * slope), 0, WIDTH - 1)
            out[HEIGHT - length + y, at] = colours[x : x + 12]
    return out


@pytest.mark.parametrize("length", [0, 24])
def test_a_fringe_is_no_cloth(length):
    picture = with_fringe(cloth(), length) if length else cloth()
    whole = Extent(left=0, top=0, right=WIDTH, bottom=HEIGHT, seen=(False,) * 4)
    usable = np.ones((HEIGHT, WIDTH), bool)
    found = fringe_of(picture, usable, whole, (True, True, True, True), FLATTEN)
    assert found[:3] == (0, 0, 0)
    assert found[3] == pytest.approx(length, abs=2 * FLATTEN.fine_strip_px)
    kept = fringe_of(picture, usable, whole, (True, True, True, False), FLATTEN)
    assert kept[3] == 0, "cloth that goes on beyond the picture has no fringe there"


def slubbed():
    """Bold stripes of the warp alone; uneven picks, a little askew, show between them."""
    rng = np.random.default_rng(6)
    picture = np.full((HEIGHT, WIDTH, 3), 0.4)
    y, x = np.mgrid[:HEIGHT, :WIDTH]
    picture += rng.normal(0, 0.012, 200)[((y + 0.08 * x) / 5).astype(int)][..., None]
    for start in (30, 105, 330, 405):
        picture[:, start : start + 45] = (0.7, 0.7, 0.65) + rng.normal(0, 0.06, (HEIGHT, 45, 1))
        picture[:, start + 15 : start + 30] -= 0.5
    return (picture + rng.normal(0, 0.004, picture.shape)).astype(np.float32)


def test_a_cloth_that_no_stripe_crosses_goes_on_as_far_as_its_stripes_do():
    found = cloth_extent(slubbed(), np.ones((HEIGHT, WIDTH), bool), FLATTEN)
    assert (found.left, found.right) == (0, WIDTH)
    assert (found.seen[0], found.seen[2]) == (False, False)
