"""What lies on the cloth, and the cloth straightened without it."""

from dataclasses import replace
from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from settscan.photo.flat import RulerFound
from settscan.things import Things, straightened_best
from tests.reading.test_bare import quad
from tests.reading.test_hidden import WOOD, cloth
from tests.reading.woven import flat


def ruler(outline):
    return RulerFound(
        origin_px=np.zeros(2), direction=np.array([1.0, 0.0]), a=5.0, c=0.0, length_mm=80.0,
        tick_mm=1.0, relative_error=0.001, unit="mm", outline_px=outline, ticks_px=np.zeros((2, 2)),
        ticks_mm=np.zeros(2),
    )  # fmt: skip


@pytest.fixture
def laid():
    """A cloth with a wooden thing from (100, 200) to (560, 280), and how it is straightened."""
    picture = cloth()
    picture[200:280, 100:560] = WOOD

    def straightened(things):
        hidden = np.zeros(picture.shape[:2], np.uint8)
        for outline in things.outlines:
            cv2.fillPoly(hidden, [np.round(outline).astype(np.int32)], 1)
        return replace(flat(picture), mask=hidden == 0)

    height, width = picture.shape[:2]
    return SimpleNamespace(width=width, height=height), straightened


def masked(seen):
    """First and last row in which anything is masked."""
    rows = np.flatnonzero(~seen.mask.all(axis=1))
    return rows[0], rows[-1]


def test_a_ruler_masked_too_wide_is_drawn_in_before_the_cloth_is_read(laid):
    photo, straightened = laid
    things = Things(rulers=(ruler(quad(100, 200, 560, 420)),))
    found, seen, glance = straightened_best(photo, things, straightened)
    assert masked(straightened(things)) == (200, 420)
    assert masked(seen)[0] == 200
    assert 280 <= masked(seen)[1] < 340
    assert found.rulers[0].outline_px[:, 1].max() < 340
    assert found.rulers[0].a == things.rulers[0].a
    assert not glance.hidden.any()


def test_what_is_masked_rightly_stays(laid):
    photo, straightened = laid
    things = Things(rulers=(ruler(quad(100, 200, 560, 280)),))
    found, seen, _ = straightened_best(photo, things, straightened)
    assert found is things
    assert masked(seen) == (200, 280)
