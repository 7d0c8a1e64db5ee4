"""Light that falls off along one axis is told from the contrast of the other axis' stripes."""

import numpy as np
import pytest

from settscan.reading.gain import light_left

H, W = 200, 300


def cloth(along_x, along_y, *, noise=0.01, row_contrast=0.3, seed=0):
    """A lit picture of random stripes, and its mask."""
    rng = np.random.default_rng(seed)
    columns = np.repeat(rng.uniform(0.1, 0.5, (W // 10, 3)), 10, axis=0)
    rows = np.repeat(rng.uniform(0.0, row_contrast, (H // 10, 3)), 10, axis=0)
    picture = (columns[None] + rows[:, None]) * along_x[None, :, None] * along_y[:, None, None]
    picture = (picture + noise * rng.standard_normal(picture.shape)).astype(np.float32)
    return picture, np.ones((H, W), bool)


@pytest.mark.parametrize(
    "shape",
    [
        lambda t: 1 + 0.3 * t,
        lambda t: 1 - 0.2 * t,
        lambda t: 1 - 0.25 * (t**2 - 1 / 3),  # a vignette
    ],
)
def test_falling_light_is_found_along_either_axis(shape):
    x, y = shape(np.linspace(-1, 1, W)), shape(np.linspace(-1, 1, H))
    for along_x, along_y in ((x, np.ones(H)), (np.ones(W), y)):
        found = light_left(*cloth(along_x, along_y))
        for gain, truth in zip(found, (along_x, along_y), strict=True):
            assert np.abs(gain / gain.mean() - truth / truth.mean()).max() < 0.005


@pytest.mark.parametrize("seed", range(12))
def test_none_is_invented_on_even_light(seed):
    for gain in light_left(*cloth(np.ones(W), np.ones(H), noise=0.05, seed=seed)):
        assert np.ptp(gain) < 0.02


def test_without_stripes_across_nothing_is_told():
    picture, mask = cloth(1 + 0.3 * np.linspace(-1, 1, W), np.ones(H))
    level = picture.mean(axis=0, keepdims=True)
    noise = 0.01 * np.random.default_rng(1).standard_normal(picture.shape)
    plain = (np.repeat(level, H, axis=0) + noise).astype(np.float32)
    along_x, _ = light_left(plain, mask)
    assert np.ptp(along_x) < 0.02


def test_threads_of_one_yarn_across_tell_no_light():
    """A pick that shows more of itself shows less of the ends: the more, the less they are like it.

    Ends that grow brighter from left to right so seem to lie in less and less light.
    """
    rng = np.random.default_rng(2)
    ends = np.linspace(0.1, 0.6, W // 20).repeat(20)[:, None] * np.array([1.0, 0.8, 0.5])
    pick = np.array([0.5, 0.5, 0.45])
    own = (0.5 + 0.06 * rng.standard_normal(H // 5)).repeat(5)[:, None, None]
    picture = (1 - own) * ends[None] + own * pick + 0.01 * rng.standard_normal((H, W, 3))
    along_x, _ = light_left(picture.astype(np.float32), np.ones((H, W), bool))
    assert np.ptp(along_x) < 0.02


def test_what_the_mask_hides_has_no_say():
    truth = 1 + 0.2 * np.linspace(-1, 1, W)
    picture, mask = cloth(truth, np.ones(H))
    mask[50:120, 80:200] = False
    picture[~mask] = 3.0
    along_x, _ = light_left(picture, mask)
    assert np.abs(along_x / along_x.mean() - truth / truth.mean()).max() < 0.05


def test_stripes_that_show_the_others_more_or_less_are_no_light():
    """Yarns of other thickness, or a tone curve not quite straight: alike all along a stripe."""
    off = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        widths = rng.integers(10, 50, 80)
        show, rows = (
            np.repeat(drawn, widths, axis=0)[:600]
            for drawn in (1 + 0.08 * rng.standard_normal((80, 1)), rng.uniform(0, 0.3, (80, 3)))
        )
        columns = np.repeat(rng.uniform(0.1, 0.5, (W // 10, 3)), 10, axis=0)
        mean = columns.mean(axis=0)
        picture = mean + (columns - mean)[None] * show[:, None] + rows[:, None]
        picture = picture + 0.01 * rng.standard_normal(picture.shape)
        found = light_left(picture.astype(np.float32), np.ones(picture.shape[:2], bool))[1]
        off.append(np.abs(found - 1).max())
    assert np.median(off) < 0.02
    assert np.max(off) < 0.2
