"""Where the weave is: what hides the cloth does not end it, and a table does."""

from __future__ import annotations

import numpy as np

from settscan.reading.cover import waves_of, woven_box
from settscan.reading.profiles import separate
from settscan.reading.threads import first_carriers

PITCH = 6


def plain_weave(width: int, height: int) -> np.ndarray:
    """A plain weave of two yarns, (height, width, 3) linear light, with some grain."""
    rng = np.random.default_rng(4)
    x, y = np.meshgrid(np.arange(width) // PITCH, np.arange(height) // PITCH)
    up = (x + y) % 2 == 0
    light = np.where(up[..., None], (0.5, 0.4, 0.3), (0.05, 0.06, 0.12))
    return (light * rng.normal(1, 0.05, (height, width, 1))).astype(np.float32)


def box_of(pixels: np.ndarray, mask: np.ndarray) -> tuple[int, int, int, int]:
    split = separate(pixels, mask)
    x0, x1, y0, y1 = woven_box(split, waves_of(split, first_carriers(split)[0]))
    return split.x0 + x0, split.x0 + x1, split.y0 + y0, split.y0 + y1


def test_cloth_goes_on_behind_a_ruler_that_is_masked():
    pixels = plain_weave(600, 420)
    mask = np.ones((420, 600), bool)
    pixels[:, 380:500], mask[:, 380:500] = 0.6, False
    assert box_of(pixels, mask) == (0, 600, 0, 420)


def test_a_table_beside_the_cloth_is_left_out():
    pixels = plain_weave(600, 420)
    rng = np.random.default_rng(5)
    pixels[:, 430:] = 0.4 * rng.normal(1, 0.05, (420, 170, 1))
    x0, x1, y0, y1 = box_of(pixels, np.ones((420, 600), bool))
    assert (x0, y0, y1) == (0, 0, 420)
    assert abs(x1 - 430) < 4 * PITCH
