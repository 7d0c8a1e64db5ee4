"""The second edge of a body is found where no line detector shows it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from settscan.photo.ruler_bodies import bodies
from settscan.photo.ruler_far_edge import far_edges
from settscan.photo.ruler_goes_on import gone_on
from settscan.photo.ruler_lines import Line
from tests.photo.drawn_rulers import cloth


def photo(near: float, far: float, seed: int) -> np.ndarray:
    """Cloth with a steady light band from y = 200 to y = 200 + near (left) or far (right)."""
    rng = np.random.default_rng(seed)
    light = np.asarray(cloth(500, 800, rng, pitch=3.0, sett=25, angle=0.02))
    grey = np.asarray(light if light.ndim == 2 else light.mean(axis=2), dtype=np.float64)
    grey = 60 + 120 * (grey - grey.min()) / np.ptp(grey)
    corners = np.array([[0, 200], [799, 200], [799, 200 + far], [0, 200 + near]])
    body = np.zeros(grey.shape, np.uint8)
    cv2.fillPoly(body, [np.rint(corners).astype(np.int32)], 1)
    steady = np.where(body > 0, 215 + rng.normal(0, 3, grey.shape), grey)
    return np.clip(steady, 0, 255).astype(np.uint8)


EDGE = Line(np.array([[10.0, 200.0], [790.0, 200.0]]), 780.0)
INTO = np.array([0.0, 1.0])


@pytest.mark.parametrize(("near", "far"), [(25, 25), (34, 28), (60, 66)])
@pytest.mark.parametrize("seed", range(3))
def test_the_far_edge_is_where_all_places_together_step(near, far, seed):
    found = far_edges(photo(near, far, seed), EDGE, INTO)
    assert 1 <= len(found) <= 3
    assert min(np.abs(np.array(ends) - [near, far]).max() for ends in found) < 2.5


def test_one_edge_is_enough_for_a_body():
    alone = bodies(photo(34, 28, 0), (EDGE,))
    assert any(abs(body.width - 31) < 2 for body in alone)


def test_a_body_that_the_frame_cuts_is_none_that_ends_aslant_within_it():
    """A shade ran aslant within it: what lay beyond, numerals too, was out of the body."""
    picture = photo(60, 60, 0)[:229]
    shade = np.array([[0, 231], [799, 218], [799, 229], [0, 229]])
    cv2.fillPoly(picture, [shade], 170)
    widths = [body.corners[2:, 1] - 200 for body in bodies(picture, (EDGE,))]
    assert any((np.abs(width - 28) < 1).all() for width in widths)


def test_nothing_is_said_where_the_frame_hides_all():
    line = Line(np.array([[10.0, 497.0], [790.0, 497.0]]), 780.0)
    assert far_edges(photo(30, 30, 0), line, INTO) == []


@pytest.mark.parametrize("end", [500, 640, 799])
def test_a_body_goes_on_beyond_its_lines_as_long_as_it_looks_alike(end):
    picture = photo(28, 28, 0)
    bare = photo(0, 0, 0)
    picture[:, end + 1 :] = bare[:, end + 1 :]
    picture[208:222, 250:256] = 40  # a numeral
    corners = np.array([[60.0, 200], [240, 200], [240, 228], [60, 228]])
    longer = gone_on(picture, corners)
    left, right = longer[[0, 3], 0], longer[[1, 2], 0]
    assert np.abs(right - end).max() < 8
    assert left.max() < 8  # to the frame
    assert np.abs(longer[:, 1] - corners[:, 1]).max() < 0.5
