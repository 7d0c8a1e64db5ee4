"""Bands of a picture are laid onto what they have in common."""

import numpy as np
import pytest

from settscan.photo.register import band_shifts
from settscan.settings import FLATTEN

HEIGHT, WIDTH = 320, 400
WARP = np.array([[0.9, 0.6, 0.7], [0.25, 0.15, 0.1]])
WEFT = np.array([[0.25, 0.15, 0.1], [0.95, 0.9, 0.6], [0.8, 0.5, 0.6]])


def striped_cloth(moved: np.ndarray) -> np.ndarray:
    """Stripes that run down, (H, W, 3), at x + moved[y]; broad ones cross them at some levels."""
    fine = (np.arange(8 * WIDTH) + 0.5) / 8 - 0.5
    stripe = np.digitize(fine[None] + moved[:, None], [40, 120, 170, 290, 330]) % 3
    seen = WEFT[stripe].reshape(HEIGHT, WIDTH, 8, 3).mean(axis=2)
    cross = (np.arange(HEIGHT) // 90) % 2
    light = (seen + WARP[cross][:, None]) / 2
    noise = np.random.default_rng(5).normal(0, 0.003, light.shape)
    return np.sqrt(np.clip(light + noise, 0, 1)).astype(np.float32)


@pytest.mark.parametrize("blur", [5.0, 2.5, 1.2])
def test_a_thing_that_hides_a_stripe_does_not_move_the_cloth_beside_it(blur):
    usable = np.ones((HEIGHT, WIDTH), dtype=bool)
    usable[70:250, 100:176] = False  # all of one stripe, and the edges on both its sides
    _, _, shift, weight = band_shifts(striped_cloth(np.zeros(HEIGHT)), usable, 1.0, blur, FLATTEN)
    told = weight > 1.0  # within one pixel
    assert told.any()
    assert np.abs(shift[told]).max() < 0.15


@pytest.mark.parametrize("blur", [2.5, 1.2])
def test_a_lean_is_seen_whether_or_not_a_part_is_hidden(blur):
    lean = np.linspace(-1.0, 1.0, HEIGHT)
    usable = np.ones((HEIGHT, WIDTH), dtype=bool)
    usable[70:250, 100:176] = False
    at, middle, shift, weight = band_shifts(striped_cloth(lean), usable, 1.0, blur, FLATTEN)
    sure = weight > 100.0
    assert sure.sum() > 20
    expected = np.broadcast_to(-np.interp(middle, np.arange(HEIGHT), lean)[:, None], shift.shape)
    assert np.abs(shift - expected)[sure].max() < 0.3
