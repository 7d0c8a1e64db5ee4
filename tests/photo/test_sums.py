"""Sums over large pictures against numpy's own, on pictures larger than a strip."""

import numpy as np
import pytest

from settscan.photo.sums import (
    Patches,
    along_difference,
    banded,
    counted,
    masked,
    outer_sum,
    strips,
    summed,
    tiled,
)

HEIGHT, WIDTH = 75, 40


@pytest.fixture
def picture():
    return np.random.default_rng(1).random((HEIGHT, WIDTH, 3), dtype=np.float32)


@pytest.fixture
def mask():
    return np.random.default_rng(2).random((HEIGHT, WIDTH)) > 0.3


@pytest.mark.parametrize("size", [1, 7, 60, 100])
def test_strips_cover_every_row_once_and_cut_no_tile(size):
    found = list(strips(HEIGHT, size))
    assert [row for strip in found for row in range(HEIGHT)[strip]] == list(range(HEIGHT))
    assert all((strip.stop - strip.start) % size == 0 for strip in found[:-1])


def test_sums_down_and_across_are_those_of_the_masked_picture(picture, mask):
    of_columns, of_rows = np.linspace(0.5, 2, WIDTH), np.linspace(2, 0.5, HEIGHT)
    columns, rows = summed(picture, mask, of_columns, of_rows)
    shown = picture.astype(float) * mask[..., None]
    assert columns == pytest.approx((shown * of_rows[:, None, None]).sum(axis=0), rel=1e-5)
    assert rows == pytest.approx((shown * of_columns[None, :, None]).sum(axis=1), rel=1e-5)


def test_a_part_of_a_picture_is_summed_as_a_picture_of_its_own(picture, mask):
    """Parts do not lie in one piece in memory."""
    box = np.s_[3:70, 5:31]
    ones = np.ones(26), np.ones(67)
    whole = summed(np.ascontiguousarray(picture[box]), np.ascontiguousarray(mask[box]), *ones)
    part = summed(picture[box], mask[box], *ones)
    assert part[0] == pytest.approx(whole[0])
    assert part[1] == pytest.approx(whole[1])


def test_masked_is_a_copy_without_what_is_hidden(picture, mask):
    before = picture.copy()
    assert (masked(picture, mask) == before * mask[..., None]).all()
    assert (picture == before).all()


def test_outer_sum_is_every_column_plus_every_row():
    rng = np.random.default_rng(3)
    columns, rows = rng.random((WIDTH, 3)), rng.random((HEIGHT, 3))
    strip = slice(10, 30)
    assert outer_sum(columns, rows, strip) == pytest.approx(
        columns[None] + rows[strip, None], rel=1e-6
    )


def test_along_difference_projects_each_pixel_on_column_less_row(picture):
    rng = np.random.default_rng(4)
    columns, rows = rng.random((WIDTH, 3)), rng.random((HEIGHT, 3))
    wanted = (picture * (columns[None] - rows[:, None])).sum(axis=2)
    assert along_difference(picture, columns, rows) == pytest.approx(wanted, abs=1e-5)


@pytest.mark.parametrize("size", [1, 4, 9])
def test_tiles_are_means_and_what_is_left_over_is_dropped(picture, size):
    h, w = HEIGHT // size, WIDTH // size
    cut = picture[: h * size, : w * size].reshape(h, size, w, size, 3)
    assert tiled(picture, size) == pytest.approx(cut.mean(axis=(1, 3)), rel=1e-5)


@pytest.mark.parametrize("size", [1, 3, 5])
def test_sums_by_patches_are_those_of_the_pixels(mask, size):
    """Of a mask that was made larger, of its edge, and of one without any likeness."""
    large = np.kron(mask, np.ones((size, size), bool))[3:HEIGHT, 2:WIDTH]
    height, width = large.shape
    rng = np.random.default_rng(5)
    of_rows, of_columns = rng.random((height, 3)), rng.random((width, 2))
    patches = Patches.of(large)
    assert patches.weight.shape == (-(-(height + 3) // size) - 3 // size, len(patches.wide))
    assert patches.down(of_rows) == pytest.approx(large.T.astype(float) @ of_rows)
    assert patches.across(of_columns) == pytest.approx(large.astype(float) @ of_columns)


def test_truths_of_a_part_of_a_mask_are_counted_down_and_across(mask):
    part = mask[3:70, 5:31]
    down, across = counted(part)
    assert (down == part.sum(axis=0)).all()
    assert (across == part.sum(axis=1)).all()


def test_patches_are_weighed_by_the_kinds_of_their_rows_and_columns(mask):
    rng = np.random.default_rng(6)
    of_x, of_y = np.sort(rng.integers(0, 3, WIDTH)), np.sort(rng.integers(0, 2, HEIGHT))
    weights = rng.random((2, 3))
    patches = Patches.within(mask, (of_x, of_y), weights)
    whole, values = weights[of_y][:, of_x] * mask, rng.random((WIDTH, 4))
    assert patches.across(values) == pytest.approx(whole @ values)
    assert patches.turned().down(values) == pytest.approx(whole @ values)


@pytest.mark.parametrize("bands", [1, 7, 75])
def test_bands_of_rows_are_summed_where_they_show(picture, mask, bands):
    part = np.s_[:, 5:31]  # does not lie in one piece in memory
    edges = np.linspace(0, HEIGHT, bands + 1).round().astype(int)
    total, count = banded(picture[part], mask[part], edges)
    shown = (picture * mask[..., None])[part]
    assert total == pytest.approx(np.add.reduceat(shown, edges[:-1], axis=0), rel=1e-5, abs=1e-6)
    assert (count == np.add.reduceat(mask[part].astype(int), edges[:-1], axis=0)).all()
