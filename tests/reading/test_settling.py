"""Thread coordinates laid onto the weave, on cloths drawn thread by thread."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from settscan.reading.carriers import Advance
from settscan.reading.fold import Crossings, parts_of
from settscan.reading.look import look_closely
from settscan.reading.profiles import separate
from settscan.reading.settling import settled
from settscan.settings import READ
from tests.reading.woven import edges_of, threads_of, woven

LIGHT = {"A": np.array([0.66, 0.69, 0.63]), "B": np.array([0.22, 0.38, 0.51])}
# Where rows of B cross, few columns tell which thread is on top, and stripes end anywhere in the
# weave's cycle, now after an even and now after an odd number of threads.
WARP = " ".join(["B24 A1 B2 A1 B12 A1 B2 A1"] * 3) + " B24"
WEFT = "A8 B6 A8 B10 A5 B10 A8 B6 A8 B10 A5 B10 A8 B6 A8"
PX = 7.3


@cache
def looked_at(weave):
    picture = woven(threads_of(WARP), threads_of(WEFT), weave, PX, light=LIGHT, noise=0.02)
    split = separate(picture, np.ones(picture.shape[:2], bool), patch_px=round(4 * PX))
    look = look_closely(split, (None, None), READ)
    crossings = Crossings.of(split, look.columns, look.rows, look.palette, look.signals)
    return look, crossings, parts_of(split.mask.shape, look.diagonals)


def off(lattice, stripes):
    """Threads by which a lattice puts each inner edge of the stripes aside, their middle at 0."""
    edges = edges_of(stripes, PX)[1:-1]
    number = np.cumsum([int(stripe[1:]) for stripe in stripes.split()])[:-1]
    away = lattice.threads(edges) - number
    return away - np.median(away)


@pytest.mark.parametrize(
    "weave", ["hopsack", "plain", "2/2 twill Z", "3/1 twill S", "herringbone 12"]
)
def test_threads_are_where_they_were_drawn(weave):
    look, *_ = looked_at(weave)
    assert np.abs(off(look.column_lattice, WARP)).max() < 0.06
    assert np.abs(off(look.row_lattice, WEFT)).max() < 0.06


@pytest.mark.parametrize("weave", ["hopsack", "2/1 twill Z", "herringbone 12"])
def test_a_lattice_that_wavers_is_laid_straight(weave):
    look, crossings, parts = looked_at(weave)

    def wavering(lattice, threads):
        course = lattice.course
        at = np.linspace(0, course.at[-1], 60)
        waver = threads / lattice.multiple * np.sin(np.linspace(0, 12, len(at)))
        cycles = course.between(at) + waver
        return Advance(at=at, cycles=cycles - cycles[0], coherence=np.ones(len(at)))

    lattices = look.column_lattice, look.row_lattice
    put_out = wavering(lattices[0], 0.3), wavering(lattices[1], -0.3)
    found = settled(crossings, parts, put_out)
    for lattice, *courses, stripes in zip(lattices, put_out, found, (WARP, WEFT), strict=True):
        before, after = (off(replace(lattice, course=course), stripes) for course in courses)
        assert np.abs(before).max() > 0.2
        assert np.abs(after).max() < 0.08


def test_the_course_is_told_to_both_ends_of_the_picture():
    look, crossings, _ = looked_at("2/2 twill Z")
    height, width = crossings.seen.shape
    for lattice, length in ((look.column_lattice, width), (look.row_lattice, height)):
        assert lattice.course.at[0] == 0
        assert lattice.course.at[-1] == length - 1
        assert len(lattice.course.coherence) == len(lattice.course.at)


def test_both_ways_of_a_herringbone_fold_by_themselves():
    look, crossings, parts = looked_at("herringbone 12")
    assert len(parts) == 2
    one, two = (across[:, 0] for across, _ in parts)
    assert not (one * two).any()
    # Turns are known to a few threads; all else is of one part or the other.
    assert np.mean(one + two == 1) > 0.4
    assert np.mean(one + two > 0) > 0.95
    assert all((down == 1).all() for _, down in parts)
    assert len(parts_of(crossings.seen.shape, None)) == 1


def test_threads_of_a_yarn_that_is_not_known_mislead_nobody():
    """Beside the edges some single rows show the weave turned about, as of another yarn."""
    look, crossings, parts = looked_at("2/2 twill Z")
    seen = crossings.seen.copy()
    for edge in edges_of(WEFT, PX)[1:-1]:
        first = round(edge)
        seen[first : first + round(PX)] *= -1.5
    odd = replace(crossings, seen=seen)
    courses = look.column_lattice.course, look.row_lattice.course
    _, along_y = settled(odd, parts, courses)
    assert np.abs(off(replace(look.row_lattice, course=along_y), WEFT)).max() < 0.15
