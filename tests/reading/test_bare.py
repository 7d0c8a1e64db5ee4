"""Masks that are wider than the thing are drawn in to where the weave shows."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from settscan.reading.bare import without_bare
from settscan.reading.hidden import glance_at
from tests.reading.test_hidden import WOOD, cloth
from tests.reading.woven import flat

CYCLE = 4 * 5.0  # pixels of the wave of a 2/2 twill of 5 pixels a thread


def quad(left, top, right, bottom):
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], dtype=float)


def drawn_in(thing, outline, shows=0.0):
    """The outline after a thing (left, top, right, bottom) was laid on the cloth."""
    picture = cloth()
    height, width = picture.shape[:2]
    if thing is not None:
        left, top, right, bottom = thing
        part = picture[top:bottom, left:right]
        part[:] = (1 - shows) * WOOD + shows * part
    hidden = np.zeros((height, width), np.uint8)
    cv2.fillConvexPoly(hidden, np.round(outline).astype(np.int32), 1)
    seen = replace(flat(picture), mask=hidden == 0)
    (new,) = without_bare(seen, glance_at(seen), (outline,), (width, height))
    return new


@pytest.mark.parametrize(
    ("thing", "mask"),
    [
        ((100, 200, 560, 280), quad(100, 200, 560, 400)),  # too deep on one side
        ((100, 200, 560, 280), quad(60, 90, 600, 285)),  # on the other, and at both ends
        ((200, 60, 270, 600), quad(80, 60, 270, 600)),  # along the other threads
        ((100, 200, 560, 280), quad(100, 200, 560, 400)[::-1]),  # corners the other way round
    ],
)
@pytest.mark.parametrize("shows", [0.0, 0.25])
def test_a_mask_is_drawn_in_up_to_the_thing(thing, mask, shows):
    """Of wood, and of clear plastic through which the weave shows a little."""
    new = drawn_in(thing, mask, shows)
    low, high = new.min(axis=0), new.max(axis=0)
    assert (low <= np.array(thing[:2]) + 1).all()
    assert (high >= np.array(thing[2:]) - 1).all()
    # The wave is averaged over two cycles, and strips are one cycle wide.
    assert (low >= np.array(thing[:2]) - 2.5 * CYCLE).all()
    assert (high <= np.array(thing[2:]) + 2.5 * CYCLE).all()


def test_a_mask_that_fits_stays_as_it_is():
    mask = quad(100, 200, 560, 280)
    assert drawn_in((100, 200, 560, 280), mask) is mask


def test_ticks_that_wave_more_than_the_cloth_are_no_cloth():
    picture = cloth()
    height, width = picture.shape[:2]
    y, x = np.mgrid[200:400, 100:560]
    ticks = np.sign(np.sin(2 * np.pi * x / CYCLE) * np.sin(2 * np.pi * y / CYCLE))
    picture[200:400, 100:560] = WOOD
    picture[280:400, 100:560] += 0.9 * ticks[80:, :, None]
    mask = quad(100, 200, 560, 400)
    hidden = np.zeros((height, width), bool)
    hidden[200:400, 100:560] = True
    seen = replace(flat(picture), mask=~hidden)
    (new,) = without_bare(seen, glance_at(seen), (mask,), (width, height))
    assert new is mask


def test_a_mask_of_nothing_at_all_stays_as_it_is():
    """That a ruler was seen there is not for the weave to deny."""
    mask = quad(100, 200, 560, 280)
    assert drawn_in(None, mask) is mask


def test_stripes_that_the_mask_hides_from_end_to_end_are_told_by_what_it_hides():
    """The columns behind the mask show nowhere else."""
    mask = quad(100, -5, 300, 660)
    new = drawn_in((100, 0, 180, 650), mask)
    assert new[:, 0].min() <= 101
    assert 179 <= new[:, 0].max() <= 180 + 2.5 * CYCLE


def test_an_outline_of_many_corners_is_left_alone():
    mask = np.array([[100.0, 200], [300, 190], [560, 200], [560, 400], [100, 400]])
    assert drawn_in((100, 200, 560, 280), mask) is mask
