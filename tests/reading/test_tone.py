"""The camera's tone curve is found where warp and weft add up without it, and only there."""

from __future__ import annotations

import numpy as np
import pytest

from settscan.reading.colours import encode
from settscan.reading.tone import bent, find_tone

YARNS = np.array([(0.02, 0.03, 0.10), (0.55, 0.50, 0.33), (0.30, 0.05, 0.06)])


def check(seed: int = 5, both: bool = True) -> np.ndarray:
    """A check (480, 640, 3) that is an exact sum in linear light, with a little noise."""
    rng = np.random.default_rng(seed)
    warp = YARNS[rng.integers(0, 3, 40)].repeat(16, axis=0)
    weft = YARNS[rng.integers(0, 3, 30)].repeat(16, axis=0)
    if not both:
        weft = np.repeat(weft[:1], 480, axis=0)
    light = 0.5 * warp[None] + 0.5 * weft[:, None]
    return (light * (1 + rng.normal(0, 0.02, light.shape))).astype(np.float32)


def s_curve(light: np.ndarray, strength: float) -> np.ndarray:
    """Light whose encoded values a camera has bent to an S (smoothstep)."""
    code = encode(light)
    code = code + strength * (code * code * (3 - 2 * code) - code)
    lin = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return lin.astype(np.float32)


def unsum(picture: np.ndarray) -> float:
    """Share of the picture's variation that columns and rows do not explain."""
    means = picture.reshape(30, 16, 40, 16, 3).mean(axis=(1, 3))
    rest = means - means.mean(axis=0) - means.mean(axis=1, keepdims=True) + means.mean(axis=(0, 1))
    return float((rest**2).sum() / ((means - means.mean(axis=(0, 1))) ** 2).sum())


@pytest.mark.parametrize("strength", [0.25, 0.35])
def test_a_bent_picture_is_bent_back_to_a_sum(strength):
    true = check()
    seen = s_curve(true, strength)
    terms = find_tone(seen, np.ones(seen.shape[:2], bool), 16)
    back = bent(seen, terms)
    assert unsum(back) < 0.6 * unsum(seen)
    # The shape of the curve is found; how bright the whole is cannot be.
    ratio = np.log(back / true)
    before = np.log(seen / true)
    assert np.std(ratio[true > 0.05]) < 0.75 * np.std(before[true > 0.05])


def test_a_picture_that_is_a_sum_is_hardly_changed():
    true = check()
    back = bent(true, find_tone(true, np.ones(true.shape[:2], bool), 16))
    assert np.std(np.log(back / true)) < 0.02


def test_stripes_one_way_only_tell_nothing():
    seen = s_curve(check(both=False), 0.25)
    terms = find_tone(seen, np.ones(seen.shape[:2], bool), 16)
    assert terms == pytest.approx((0.0, 0.0), abs=0.05)


def test_a_picture_of_few_patches_is_left_alone():
    seen = s_curve(check(), 0.25)[:100, :100]
    assert find_tone(seen, np.ones(seen.shape[:2], bool), 16) == (0.0, 0.0)
    assert bent(seen, (0.0, 0.0)) is seen


def test_light_that_was_cut_off_has_no_vote():
    cut = np.minimum(2.0 * check(), 1.0).astype(np.float32)
    assert find_tone(cut, np.ones(cut.shape[:2], bool), 16)[0] == pytest.approx(0.0, abs=0.12)
