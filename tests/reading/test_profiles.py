"""Column and row effects: a picture that is a sum is taken apart again."""

import numpy as np
import pytest

from settscan.errors import Refusal
from settscan.reading.profiles import evened, readable, separate, separated

H, W = 240, 320


def effects(seed=1):
    """Known effects: (W, 3) columns, and (H, 3) rows with mean zero."""
    rng = np.random.default_rng(seed)
    columns = np.repeat(rng.uniform(0.1, 0.5, (W // 20, 3)), 20, axis=0)
    rows = np.repeat(rng.uniform(0.0, 0.4, (H // 20, 3)), 20, axis=0)
    return columns, rows - rows.mean(axis=0)


def summed(columns, rows):
    return (columns[None] + rows[:, None]).astype(np.float32)


def test_a_sum_is_taken_apart():
    columns, rows = effects()
    split = separate(summed(columns, rows), np.ones((H, W), bool))
    assert np.abs(split.columns - columns).max() < 1e-5
    assert np.abs(split.rows - rows).max() < 1e-5
    assert np.abs(split.residual).max() < 1e-5
    assert (split.x0, split.y0) == (0, 0)


def test_what_the_mask_hides_has_no_say():
    columns, rows = effects(2)
    picture = summed(columns, rows)
    mask = np.random.default_rng(3).random((H, W)) > 0.05
    mask[60:140, 100:190] = False  # a hand
    mask[:30, :250] = False  # a ruler along the top
    picture[~mask] = 5.0
    split = separate(picture, mask)
    again = split.columns[None] + split.rows[:, None]
    truth = picture[split.y0 : split.y0 + again.shape[0], split.x0 : split.x0 + again.shape[1]]
    seen = mask[split.y0 : split.y0 + again.shape[0], split.x0 : split.x0 + again.shape[1]]
    assert np.abs(again - truth)[seen].max() < 2e-3
    assert not split.residual[~split.mask].any()


def test_the_box_holds_only_columns_and_rows_with_cloth():
    columns, rows = effects()
    mask = np.zeros((H, W), bool)
    mask[40:220, 50:300] = True
    split = separate(summed(columns, rows), mask)
    assert (split.x0, split.y0) == (50, 40)
    assert split.residual.shape == (180, 250, 3)
    assert np.ptp(split.columns - columns[50:300], axis=0).max() < 1e-5


def test_a_strange_patch_is_left_out():
    columns, rows = effects(4)
    picture = summed(columns, rows)
    picture[100:148, 160:224] = (0.9, 0.6, 0.5)  # a finger
    split = separate(picture, np.ones((H, W), bool), patch_px=8)
    assert split.mask[100:148, 160:224].mean() < 0.02
    far = split.mask.copy()
    far[84:164, 144:240] = True  # its neighbourhood may go with it
    assert far.mean() > 0.98
    off = split.columns - columns
    assert np.abs(off - off.mean(axis=0)).max() < 3e-3
    with_it = separate(picture, np.ones((H, W), bool))
    harm = with_it.columns - columns
    assert np.abs(harm - harm.mean(axis=0)).max() > 0.006  # the yardstick sees the harm


def test_stripes_that_flicker_lend_the_rows_nothing():
    """Two white column threads that show or hide all at once, row by row, among dark ones."""
    columns, rows = effects(9)
    columns = columns * 0.1
    columns[40:44] = columns[200:204] = 0.8
    picture = summed(columns, rows * 0.1)
    up = (np.arange(H) // 8 % 2 == 0)[:, None, None]
    for white in (slice(40, 44), slice(200, 204)):
        picture[:, white] += np.where(up, 0.4, -0.4).astype(np.float32)
    split = separate(picture, np.ones((H, W), bool), patch_px=16)
    flicker = np.where(up[:, 0], 0.4, -0.4) * 8 / W
    off = split.rows - rows * 0.1
    assert np.abs(off - off.mean(axis=0)).max() < 0.1 * np.abs(flicker).max()


def test_a_bright_stripe_in_uneven_light_is_no_tape():
    """Light that is left over makes a white stripe vary more than the dark stripes across it."""
    columns, rows = effects(10)
    columns, rows = columns * 0.2, rows * 0.02
    columns[120:160] = 0.8
    light = 1 + 0.08 * np.sin(np.linspace(0, 9, H))[:, None, None]
    picture = (summed(columns, rows) * light).astype(np.float32)
    split = separate(picture, np.ones((H, W), bool), patch_px=16)
    assert split.mask[:, 120:160].mean() > 0.95


def test_an_ordinary_cloth_loses_nothing():
    columns, rows = effects(5)
    picture = summed(columns, rows)
    picture += 0.02 * np.random.default_rng(6).standard_normal(picture.shape).astype(np.float32)
    split = separate(picture, np.ones((H, W), bool), patch_px=8)
    assert split.mask.mean() > 0.99


def test_the_told_error_is_the_scatter():
    columns, rows = effects(7)
    noise = np.random.default_rng(8).normal(0, 0.05, (H, W, 3)).astype(np.float32)
    split = separate(summed(columns, rows) + noise, np.ones((H, W), bool))
    for found, truth, told in (
        (split.columns, columns, split.noise_columns),
        (split.rows, rows, split.noise_rows),
    ):
        ratio = (found - truth).std(axis=0) / told
        assert (ratio > 0.8).all() and (ratio < 1.2).all()


@pytest.mark.parametrize(
    "shown", [np.s_[0:0, 0:0], np.s_[0:20, 0:W], np.s_[0:H, 100:125], np.s_[0:30, 0:30]]
)
def test_too_little_cloth_is_refused(shown):
    mask = np.zeros((H, W), bool)
    mask[shown] = True
    with pytest.raises(Refusal, match="Too little"):
        separate(summed(*effects()), mask)


def test_falling_light_is_divided_out():
    columns, rows = effects(9)
    light = 1 + 0.25 * np.linspace(-1, 1, W)
    noise = np.random.default_rng(10).normal(0, 0.01, (H, W, 3))
    picture = (summed(columns, rows + 0.2) * light[None, :, None] + noise).astype(np.float32)
    again = evened(picture, readable(picture, np.ones((H, W), bool))) * light.mean()
    assert np.abs(again / summed(columns, rows + 0.2) - 1).mean() < 0.04
    assert np.abs(picture / summed(columns, rows + 0.2) - 1).mean() > 0.1


def test_a_picture_may_be_spoilt_to_the_same_effect():
    """What is written in the picture's own place is what would be written elsewhere."""
    columns, rows = effects(11)
    light = 1 + 0.25 * np.linspace(-1, 1, W)
    noise = np.random.default_rng(12).normal(0, 0.01, (H, W, 3))
    picture = (summed(columns, rows + 0.2) * light[None, :, None] + noise).astype(np.float32)
    mask = np.ones((H, W), bool)
    mask[60:140, 100:190] = mask[:, :9] = False
    cloth, before = readable(picture, mask), picture.copy()
    even, split = evened(picture, cloth), separated(picture, cloth)
    assert (picture == before).all()
    assert (evened(picture.copy(), cloth, spoil=True) == even).all()
    residual = separated(picture, cloth, spoil=True).residual
    assert (residual == split.residual).all()
    assert np.shares_memory(residual, picture)


def test_even_light_is_left_as_it_is():
    picture = summed(*effects(13)) + np.float32(0.2)
    assert evened(picture, readable(picture, np.ones((H, W), bool))) is None
