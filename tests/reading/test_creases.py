"""Light that changes within a stripe, as at a fold, and yarns of one hue, which are none."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from settscan.reading.creases import evenly_lit
from settscan.reading.profiles import readable, separate
from settscan.reading.read import read_cloth
from settscan.settings import SEPARATE
from tests.reading.woven import edges_of, flat, threads_of, woven

LIGHT = {"A": (0.05, 0.08, 0.25), "B": (0.5, 0.4, 0.25), "C": (0.3, 0.05, 0.06)}
COLUMNS = "A13 B8 C12 B24 A16 C10 A16 B8 C12 B8 A7"
ROWS = "C9 B8 C12 A24 B16 C10 A16 B12 C20 B6 A18"
PX = 3.5
CELLS = (PX, PX)


@cache
def cloth():
    return woven(threads_of(COLUMNS), threads_of(ROWS), "2/2 twill Z", PX, light=LIGHT, noise=0.02)


def folded(picture, at, strength, fades_px):
    """Darker up to a row and brighter after it, less and less so away from it."""
    away = np.arange(len(picture)) - at
    light = 1 + strength * np.sign(away) * np.exp(-np.abs(away) / fades_px)
    return (picture * light[:, None, None]).astype(np.float32)


def split_of(picture):
    return separate(picture, np.ones(picture.shape[:2], bool))


def threads(axis):
    return [s.threads for s in axis.stripes]


def drawn(text):
    return [int(word[1:]) for word in text.split()]


@pytest.mark.parametrize("stripe", [3, 8])
@pytest.mark.parametrize("lying", [False, True])
def test_a_fold_within_a_stripe_makes_no_stripes(stripe, lying):
    edges = edges_of(ROWS, PX)
    picture = folded(cloth(), edges[stripe : stripe + 2].mean(), 0.25, 40)
    read = read_cloth(flat(picture.swapaxes(0, 1) if lying else picture))
    columns, rows = (read.rows, read.columns) if lying else (read.columns, read.rows)
    assert len(read.yarns) == len(LIGHT)
    assert threads(rows) == drawn(ROWS)
    assert threads(columns) == drawn(COLUMNS)


ASLANT = "A9 B4 A8 B6 A28 B6 A8 B4 A24 B4 A8 B6 A28 B6 A8 B4 A7"
FELL = "A6 B6 A8 B4 A24 B4 A8 B6 A28 B6 A8 B4 A24 B4 A8"


@pytest.mark.parametrize("lying", [False, True])
def test_a_fold_that_crosses_a_narrow_stripe_aslant_hides_it_not(lying):
    """Dark where it comes in and bright where it leaves: the stripe was no sum of two effects."""
    light = {"A": (0.30, 0.42, 0.58), "B": (0.36, 0.24, 0.14)}
    picture = woven(
        threads_of(ASLANT), threads_of(FELL), "2/2 twill Z", 7.0, light=light, noise=0.02
    )
    y, x = np.mgrid[: picture.shape[0], : picture.shape[1]]
    middle = edges_of(ASLANT, 7.0)[9:11].mean()
    away = ((x - middle) - 0.18 * (y - picture.shape[0] / 2)) / 90
    picture = (picture * (1 + 0.7 * away * np.exp(-(away**2)))[..., None]).astype(np.float32)
    read = read_cloth(flat(picture.swapaxes(0, 1) if lying else picture))
    columns, rows = (read.rows, read.columns) if lying else (read.columns, read.rows)
    assert threads(columns) == drawn(ASLANT)
    assert threads(rows) == drawn(FELL)


@pytest.mark.parametrize("line", [(0.05, 0.08, 0.25), (0.6, 0.2, 0.2)])
def test_a_single_thread_beside_a_fold_stays(line):
    """Of another hue, and of the same one but brighter than that light makes any thread."""
    rows = ROWS.replace("C20", "C13 D1 C6").replace("C10", "C5 D1 C4")
    light = LIGHT | {"D": line}
    even = woven(threads_of(COLUMNS), threads_of(rows), "2/2 twill Z", PX, light=light, noise=0.02)
    read = read_cloth(flat(folded(even, edges_of(rows, PX)[10] + 6 * PX, 0.25, 40)))
    assert threads(read.rows) == drawn(rows)


def test_a_cloth_in_even_light_stays_as_it_is():
    before = split_of(cloth())
    residual = before.residual.copy()
    after = evenly_lit(before, CELLS)
    assert np.allclose(after.rows, before.rows)
    assert np.allclose(after.columns, before.columns)
    assert np.array_equal(after.residual, residual)


@pytest.mark.parametrize("brighter", [1.3, 1.8])
def test_a_yarn_of_the_same_hue_is_no_light(brighter):
    """The stripes that cross it show in it as they do in the darker one."""
    light = LIGHT | {"D": tuple(brighter * v for v in LIGHT["C"])}
    rows = ROWS.replace("C20", "C8 D12")
    picture = woven(
        threads_of(COLUMNS), threads_of(rows), "2/2 twill Z", PX, light=light, noise=0.02
    )
    before = split_of(picture)
    after = evenly_lit(before, CELLS)
    assert np.allclose(after.rows, before.rows)
    if brighter > 1.5:  # less is one yarn in two shades to the reader
        read = read_cloth(flat(picture))
        assert threads(read.rows) == drawn(rows)
        assert len(read.yarns) == len(light)


def test_light_is_taken_out_of_the_weave_too():
    """The contrast of the threads in a bright part is that of all others afterwards."""
    edges = edges_of(ROWS, PX)
    middle = edges[8:10].mean()
    after = evenly_lit(split_of(folded(cloth(), middle, 0.3, 1000)), CELLS)
    inside = np.arange(len(cloth()))
    parts = [
        (inside > middle + 6) & (inside < edges[9] - 4),
        (inside > edges[8] + 4) & (inside < middle - 6),
    ]
    bright, dark = (after.residual[part].std() for part in parts)
    assert bright == pytest.approx(dark, rel=0.1)


@pytest.mark.parametrize("lying", [False, True])
def test_lines_in_another_light_are_not_left_out(lying):
    """All along they are off by one share: the stripes that cross them show in them as well."""
    light = LIGHT | {"B": (0.8, 0.75, 0.7)}
    bold = woven(threads_of(COLUMNS), threads_of(ROWS), "2/2 twill Z", PX, light=light, noise=0.02)
    picture = folded(bold, edges_of(ROWS, PX)[8] + 20, 0.4, 40)
    picture = picture.swapaxes(0, 1).copy() if lying else picture
    whole = np.ones(picture.shape[:2], bool)
    assert readable(picture, whole, patch_px=14).mask.all()
    settings = replace(SEPARATE, most_light=0.0)
    assert not readable(picture, whole, patch_px=14, settings=settings).mask.all(), "nothing to do"
