"""The cloth's own edges, drawn to a part of a pixel, on a table and with a fringe."""

from functools import cache

import cv2
import numpy as np
import pytest

from settscan.reading.own_edge import own_edges, step
from settscan.reading.profiles import separate
from settscan.reading.read import read_cloth
from tests.reading.woven import flat, threads_of, woven

LIGHT = {"A": (0.05, 0.08, 0.25), "B": (0.5, 0.4, 0.25), "C": (0.3, 0.05, 0.06)}
COLUMNS = "A13 B8 C12 B24 A16 C10 A16 B8 C12 B8 A7"
ROWS = "C9 B8 C12 A24 B16 C10 A16 B12 C6"
PX = 3.0
MARGIN = 40
START = (31.3, 28.6)  # pixels from the picture's left and top to the cloth: within the margin
TABLE = np.array((0.35, 0.2, 0.1))


@cache
def cloth():
    """(H, W, 3) without anything around it."""
    return woven(threads_of(COLUMNS), threads_of(ROWS), "2/2 twill Z", PX, light=LIGHT, noise=0.02)


def on_table(strands=0):
    """The cloth on a table that its shadow darkens, with strands of its columns above and below."""
    picture = cloth()
    height, width = picture.shape[:2]
    size = (width + 2 * MARGIN, height + 2 * MARGIN)
    move = np.array([[1.0, 0, START[0]], [0, 1.0, START[1]]])
    lying = cv2.warpAffine(picture, move, size, borderMode=cv2.BORDER_REPLICATE)
    whole = np.pad(np.ones((height, width), np.float32), 1)
    shift = move - [[0, 0, 1], [0, 0, 1]]
    shown = cv2.warpAffine(whole, shift, size)[..., None]
    away = cv2.distanceTransform((shown[..., 0] == 0).astype(np.uint8), cv2.DIST_L2, 5)
    table = TABLE * (1 - 0.6 * np.exp(-away / 5))[..., None]
    table = table + 0.01 * np.random.default_rng(3).standard_normal(table.shape)
    if strands:
        ends = np.array([LIGHT[k] for k in threads_of(COLUMNS)])
        at = np.clip(((np.arange(size[0]) - START[0]) / PX).astype(int), 0, len(ends) - 1)
        # Of six ends the outer two lie farther and farther behind the others.
        apart = np.abs((at % 6) - 2.5)
        far = np.where(shown[:, MARGIN + 20, 0] > 0, 0, away[:, MARGIN + 20])
        seen = (far[:, None] < strands) & (apart[None] < 3 - far[:, None] / strands)
        inside = (np.arange(size[0]) > START[0]) & (np.arange(size[0]) < START[0] + width)
        table = np.where((seen & inside)[..., None], ends[at][None], table)
    return (shown * lying + (1 - shown) * table).astype(np.float32)


def straightened(picture, off):
    """The picture with all masked but what lies so many pixels within the edges, or beyond."""
    height, width = picture.shape[:2]
    left, top = (round(start) for start in START)
    right, bottom = (2 * MARGIN - round(start) for start in START)
    margin = left + off, top + off, right + off, bottom + off
    mask = np.zeros((height, width), bool)
    mask[margin[1] : height - margin[3], margin[0] : width - margin[2]] = True
    sides = (False, False, False, False)
    return flat(picture, mask=mask, margin=margin, reaches_edge=sides)


def counts(axis):
    return [(s.threads, s.cut) for s in axis.stripes]


def drawn(text):
    return [(int(word[1:]), False) for word in text.split()]


@pytest.mark.parametrize("off", [-10, 0, 10])
def test_edges_are_found_to_a_part_of_a_pixel_however_dark_the_shadow_beside_them(off):
    seen = straightened(on_table(), off)
    edges = own_edges(seen, separate(seen.pixels, seen.mask))
    height, width = cloth().shape[:2]
    left, top = (start - 0.5 for start in START)
    for edge, place in zip(edges, (left, top, left + width, top + height), strict=True):
        assert edge is not None
        assert edge.at == pytest.approx(place, abs=0.5)


def test_an_edge_is_found_where_the_photo_ends_beside_it_aslant():
    picture = on_table()
    height, width = picture.shape[:2]
    y, x = np.mgrid[:height, :width]
    picture[y > height - 22 + 14 * x / width] = 0  # beyond the photo
    seen = straightened(picture, 10)
    bottom = own_edges(seen, separate(seen.pixels, seen.mask))[3]
    assert bottom is not None
    assert bottom.at == pytest.approx(START[1] - 0.5 + cloth().shape[0], abs=0.5)


def test_an_edge_that_is_not_in_view_is_not_sought():
    picture = cloth()
    assert own_edges(flat(picture), separate(picture, np.ones(picture.shape[:2], bool))) == (
        (None,) * 4
    )


def test_what_begins_nowhere_or_does_not_end_has_no_edge():
    rng = np.random.default_rng(0)
    noise = rng.normal(0, 0.05, 80)
    even = np.ones(80)
    assert step(noise, even, least=0.5) is None
    assert step(1 + noise, even, least=0.5) is None
    half = np.r_[np.full(40, 0.5), np.ones(40)] + noise
    assert step(half, even, least=0.5) is None, "a fringe carries on half of the stripes"
    found = step(np.r_[np.zeros(39), 0.3, np.ones(40)] + noise, even, least=0.5)
    assert found is not None
    assert found.at == pytest.approx(39.7, abs=0.4)


@pytest.mark.parametrize("off", [-6, 0, 20])
def test_the_outermost_stripes_are_counted_up_to_the_edge(off):
    """The photo half may cut off some threads, or leave some of the table."""
    read = read_cloth(straightened(on_table(), off))
    assert counts(read.columns) == drawn(COLUMNS)
    assert counts(read.rows) == drawn(ROWS)


@pytest.mark.parametrize("off", [-20, -6, 0, 20])
def test_a_fringe_ends_where_the_weave_does(off):
    """Its strands carry the stripes on, so that a part of it may pass for a stripe or two."""
    read = read_cloth(straightened(on_table(strands=24), off))
    assert [y.name for y in read.yarns if y.key in {s.yarn for s in read.rows.stripes}]
    assert len(read.yarns) == len(LIGHT)
    found, whole = [s.threads for s in read.rows.stripes], [n for n, _ in drawn(ROWS)]
    assert found[1:-1] == whole[1:-1]
    for stripe, threads in zip((read.rows.stripes[0], read.rows.stripes[-1]), (9, 6), strict=True):
        assert stripe.threads == pytest.approx(threads, abs=1)
        assert stripe.low <= threads <= stripe.high
    assert counts(read.columns) == drawn(COLUMNS)
