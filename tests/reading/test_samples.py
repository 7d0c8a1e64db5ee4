"""What errors the colours of bands have."""

from dataclasses import replace

import numpy as np
import pytest

from settscan.reading.profiles import separate
from settscan.reading.samples import samples_of
from settscan.reading.stripes import find_bands
from tests.reading.woven import threads_of, woven

LIGHT = {
    "A": np.array([0.02, 0.02, 0.06]),
    "B": np.array([0.70, 0.62, 0.42]),
}
WARP = "B9 A8 B10 A1 B10 A8 B12 A8 B9"
WEFT = "B8 A8 B12 A8 B10 A8 B9"
PX = 6.0


def seen(patches=0.0, change=None):
    """Samples of a check under patches of light, the columns' bands changed by `change`."""
    picture = woven(threads_of(WARP), threads_of(WEFT), "plain", PX, light=LIGHT, noise=0.01)
    y, x = np.mgrid[: picture.shape[0], : picture.shape[1]] / 220.0
    light = 1 + patches * np.sin(2 * np.pi * x) * np.sin(2 * np.pi * y + 1)
    picture = (picture * light[..., None]).astype(np.float32)
    split = separate(picture, np.ones(picture.shape[:2], bool))
    base = split.columns.mean(axis=0)
    columns, rows = find_bands(split.columns, PX), find_bands(split.rows + base, PX)
    assert len(columns.widths) == 9
    rows = replace(rows, levels=rows.levels - base)
    return samples_of(split, columns if change is None else change(columns), rows, 0.5, np.zeros(3))


def test_patches_of_light_leave_the_hue_of_a_band_better_known_than_its_light():
    plain, patchy = (seen(patches=p).errors[1] for p in (0.0, 0.2))
    grey, hue = np.ones(3) / np.sqrt(3), np.array([1, 0, -1]) / np.sqrt(2)
    more = patchy - plain
    assert grey @ more @ grey > 1e-4
    assert abs(hue @ more @ hue) < 0.1 * (grey @ more @ grey)


def test_a_level_below_black_is_an_error_of_all_channels():
    def darker(bands):
        levels = bands.levels.copy()
        levels[3] = -0.05  # twice as much in the yarn's colour, at an even share
        return replace(bands, levels=levels)

    found = seen(change=darker)
    assert found.colours[3] == pytest.approx([-0.1] * 3)
    assert np.linalg.eigvalsh(found.errors[3])[0] > 0.1**2


def test_a_band_of_one_thread_is_known_the_less_the_more_the_picture_is_blurred():
    sharp, soft = (
        seen(patches=0.2, change=lambda bands, b=blur: replace(bands, blur=b)).errors
        for blur in (1.0, 6.0)
    )
    more = soft - sharp
    assert np.trace(more[3]) > 0.02
    assert np.trace(more[2]) < 0.02 * np.trace(more[3])
