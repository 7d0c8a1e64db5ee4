"""Lines in which the stripes across do not show: a tape along a row, and none in a cloth."""

import numpy as np
import pytest

from settscan.reading.uncrossed import uncrossed
from tests.reading.test_profiles import H, W, effects, summed

TILE = 8


def seen(picture, columns, rows, mask=None):
    mask = np.ones((H, W), bool) if mask is None else mask
    return uncrossed(picture.astype(np.float32), mask, (columns, rows), TILE)


@pytest.mark.parametrize("seed", range(6))
def test_every_line_of_a_cloth_shows_what_crosses_it(seed):
    """In light that falls off by a third, with noise, and with lines of a yarn of their own."""
    columns, rows = effects(seed)
    rng = np.random.default_rng(seed)
    rows[100:103], columns[200:203] = 0.9, 0.0
    fall = 1 - 0.33 * np.linspace(0, 1, W)[None] * np.linspace(0.4, 1, H)[:, None]
    picture = summed(columns, rows) * fall[..., None]
    picture += rng.normal(0, 0.02, picture.shape)
    assert not any(lines.any() for lines in seen(picture, columns, rows))


@pytest.mark.parametrize(("start", "thick"), [(80, 12), (83, 9), (121, 8), (30, 24)])
@pytest.mark.parametrize("light", [0.02, 0.5, 1.0])
def test_a_tape_along_a_row_is_told_wherever_it_lies(start, thick, light):
    columns, rows = effects(3)
    picture = summed(columns, rows)
    picture[start : start + thick, 20:300] = light
    strange = seen(picture, columns, rows)
    assert not strange[0].any()
    lines = np.flatnonzero(strange[1])
    # A line that the tape covers in part may pass for cloth.
    assert set(range(start + 3, start + thick - 3)) <= set(lines)
    assert len(lines) <= thick + TILE


def test_a_tape_along_a_column_is_told_too():
    columns, rows = effects(5)
    picture = summed(columns, rows)
    picture[10:230, 150:162] = (0.9, 0.8, 0.1)
    strange = seen(picture, columns, rows)
    assert not strange[1].any()
    assert strange[0][153:159].all()


def test_what_shows_in_a_few_places_alone_tells_nothing():
    columns, rows = effects(3)
    picture = summed(columns, rows)
    picture[80:92] = 0.5
    mask = np.ones((H, W), bool)
    mask[80:92, 11 * TILE :] = False
    assert not seen(picture, columns, rows, mask)[1][80:92].any()


def test_a_stripe_of_the_yarn_that_alone_crosses_is_cloth():
    """Picks of one yarn show by how much more of one than of the next is seen; here by none."""
    rng = np.random.default_rng(3)
    columns, _ = effects(1)
    pick = columns[120:160].mean(axis=0)
    columns[120:160] = pick
    own = np.repeat(0.06 * rng.standard_normal(H // 6 + 1), 6)[:H, None, None]
    picture = columns[None] + own * (pick - columns)[None] + rng.normal(0, 0.01, (H, W, 3))
    rows = picture.mean(axis=1) - picture.mean(axis=(0, 1))
    assert not any(lines.any() for lines in seen(picture, columns, rows))


def test_without_stripes_across_nothing_is_told():
    _, rows = effects(3)
    columns = np.full((W, 3), 0.3)
    rng = np.random.default_rng(1)
    picture = summed(columns, rows) + rng.normal(0, 0.02, (H, W, 3))
    assert not seen(picture, columns, rows)[1].any()


@pytest.mark.parametrize("tile", [7, 60, 500])
def test_each_line_has_its_answer_whatever_the_tile(tile):
    columns, rows = effects(1)
    found = uncrossed(summed(columns, rows), np.ones((H, W), bool), (columns, rows), tile)
    assert [len(lines) for lines in found] == [W, H]
