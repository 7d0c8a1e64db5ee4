"""What lies on the cloth, told by the weave that is missing there."""

from functools import cache

import numpy as np
import pytest

from settscan.reading.cover import waves_of
from settscan.reading.hidden import glance_at, hidden_part, things_on
from settscan.reading.profiles import separate
from settscan.reading.read import read_cloth
from settscan.reading.threads import first_carriers
from tests.reading.woven import edges_of, flat, threads_of, woven

LIGHT = {"A": (0.05, 0.08, 0.25), "B": (0.5, 0.4, 0.25), "C": (0.3, 0.05, 0.06)}
TEXT = "A16 B8 C12 B8 A16 C10 A16 B8 C12 B8 A16"
PX = 5.0
WOOD = np.array((0.45, 0.3, 0.12), np.float32)


def cloth():
    return _cloth().copy()


@cache
def _cloth():
    keys = threads_of(TEXT)
    return woven(keys, keys, "2/2 twill Z", PX, light=LIGHT, noise=0.02, round_=0.6)


def ruler(picture, rows, columns):
    """Where a thing between these rows and columns lies."""
    place = np.zeros(picture.shape[:2], bool)
    place[slice(*rows), slice(*columns)] = True
    return place


def found(picture):
    """(H, W) what is said to be hidden."""
    split = separate(picture, np.ones(picture.shape[:2], bool))
    carrier = first_carriers(split)[0]
    assert split.mask.shape == picture.shape[:2]
    return hidden_part(split, carrier, waves_of(split, carrier))


@pytest.mark.parametrize(
    ("rows", "columns"),
    [
        ((120, 220), (80, 500)),
        ((100, 560), (60, 140)),
        ((0, 650), (0, 90)),
        ((0, 650), (0, 140)),
        ((330, 430), (300, 420)),
    ],
)
@pytest.mark.parametrize("shows", [0.0, 0.25])
def test_a_ruler_is_found_by_the_weave_that_it_hides(rows, columns, shows):
    """Of wood, and of clear plastic; along either threads, over all of them, and a short one."""
    picture = cloth()
    place = ruler(picture, rows, columns)
    picture[place] = (1 - shows) * WOOD + shows * picture[place]
    hidden = found(picture)
    assert hidden[place].mean() > 0.9
    beside = np.zeros_like(place)
    room = 30  # the wave is averaged over two of its cycles, 40 pixels
    beside[
        max(rows[0] - room, 0) : rows[1] + room, max(columns[0] - room, 0) : columns[1] + room
    ] = 1
    assert not hidden[~beside].any()


def test_where_hardly_any_cloth_shows_nothing_is_said_to_be_hidden():
    picture = cloth()
    mask = np.zeros(picture.shape[:2], bool)
    mask[::3, ::3] = True
    split = separate(picture, mask)
    carrier = first_carriers(separate(picture, np.ones_like(mask)))[0]
    assert not hidden_part(split, carrier, waves_of(split, carrier)).any()


def test_nothing_lies_on_a_bare_cloth():
    assert not found(cloth()).any()


def test_yarns_that_show_little_of_the_weave_hide_nothing():
    """All squares in which two yarns cross are even, as no thing would make them."""
    picture, cuts = cloth(), np.round(edges_of(TEXT, PX) + 0.5).astype(int)
    words = TEXT.split()
    for i, down in enumerate(words):
        for j, across in enumerate(words):
            if {down[0], across[0]} == {"B", "C"}:
                square = picture[cuts[i] : cuts[i + 1], cuts[j] : cuts[j + 1]]
                square[:] = square.mean(axis=(0, 1))
    assert not found(picture).any()


def test_the_stripes_beside_a_ruler_are_read_as_without_it():
    picture = cloth()
    bare = read_cloth(flat(picture))
    picture[ruler(picture, (60, 420), (30, 150))] = WOOD
    read = read_cloth(flat(picture))
    assert len(read.yarns) == len(bare.yarns) == 3
    for axis, was in ((read.columns, bare.columns), (read.rows, bare.rows)):
        assert [(s.yarn, s.threads) for s in axis.stripes][1:-1] == [
            (s.yarn, s.threads) for s in was.stripes
        ][1:-1]


def test_a_thing_is_outlined_with_a_rim_and_beyond_the_picture_that_cuts_it():
    picture = cloth()
    picture[ruler(picture, (0, 300), (200, 320))] = WOOD
    cloth_seen = flat(picture)
    glance = glance_at(cloth_seen)
    ((near,), (far,)) = (things_on(cloth_seen, glance, beyond) for beyond in (0.25, 1.0))
    assert near[:, 0].min() == pytest.approx(far[:, 0].min())
    assert near[:, 1].max() == pytest.approx(far[:, 1].max())
    assert near[:, 0].min() < 200 < 320 < near[:, 0].max()
    assert near[:, 1].max() > 300
    assert near[:, 1].min() == pytest.approx(-0.25 * 300, abs=40)
    assert far[:, 1].min() == pytest.approx(-300, abs=40)
    bare = flat(cloth())
    assert things_on(bare, glance_at(bare), 1.0) == ()
