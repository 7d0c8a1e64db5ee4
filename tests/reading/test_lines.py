"""Single threads told apart, on cloths drawn thread by thread."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from settscan.reading.carriers import Advance
from settscan.reading.lines import split_lines
from settscan.reading.read import read_cloth
from settscan.reading.single_threads import Axis
from settscan.reading.stripes import find_bands
from settscan.reading.threads import Lattice
from settscan.scan import ScanOptions, scan_photos
from settscan.settings import LineSettings
from tests.benchmark.rows import ROWS, draw
from tests.benchmark.score import score
from tests.reading.woven import drawdown, flat, threads_of, woven
from tests.render import scene as renderer

LIGHT = {
    "A": np.array([0.02, 0.06, 0.025]),  # bottle green
    "B": np.array([0.015, 0.015, 0.018]),  # black
    "C": np.array([0.84, 0.79, 0.79]),  # white
    "D": np.array([0.07, 0.02, 0.13]),  # purple
}
WARP = "B10 A6 B1 A6 B10 C2 D5 B1 A8 C2 B12 A6 B1 A6 B10 C2 D5 B1 A8 C2 B12"
WEFT = "B12 A6 B1 A6 B10 C2 D5 B1 A8 C2 B12 A12"


def whole(axis):
    """Stripes of an axis as (threads, colour) without the outermost."""
    return [s.threads for s in axis.stripes[1:-1]]


def counts(text):
    return [int(word[1:]) for word in text.split()[1:-1]]


@pytest.mark.parametrize("weave", ["2/2 twill Z", "plain"])
@pytest.mark.parametrize("seed", [1, 2])
def test_dark_lines_of_one_thread_are_seen_beside_white_ones(weave, seed):
    """Black on bottle green steps by a fortieth of what the white threads lend a row or not."""
    picture = woven(
        threads_of(WARP), threads_of(WEFT), weave, 8.0, light=LIGHT, noise=0.01, seed=seed
    )
    read = read_cloth(flat(picture))
    assert whole(read.columns) == counts(WARP)
    assert whole(read.rows) == counts(WEFT)
    assert len(read.yarns) == 4


def test_hue_that_runs_into_the_neighbours_makes_no_yarn():
    """JPEG keeps hue at half the detail: a line of one thread looks half like its neighbours."""
    picture = woven(
        threads_of(WARP), threads_of(WEFT), "2/2 twill Z", 7.0, light=LIGHT, noise=0.01, seed=3
    )
    grey = picture @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    hue = picture - grey[..., None]
    blurred = np.zeros_like(hue)
    for step in (-2, -1, 0, 1, 2):
        blurred += np.roll(hue, step, axis=1) / 5
    hue, blurred = blurred, np.zeros_like(hue)
    for step in (-2, -1, 0, 1, 2):
        blurred += np.roll(hue, step, axis=0) / 5
    read = read_cloth(flat(np.maximum(grey[..., None] + blurred, 0)))
    assert whole(read.columns) == counts(WARP)
    assert whole(read.rows) == counts(WEFT)
    assert len(read.yarns) == 4


def test_two_lines_side_by_side_are_no_mixed_yarn():
    warp = "A12 B1 C1 A12 D8 A12 C1 B1 A12 D8 A6 B6 A6 C4 A12"
    weft = "A12 D8 A12 B4 A8 C4 A12 D8 A12"
    light = LIGHT | {"A": np.array([0.3, 0.1, 0.1])}
    picture = woven(threads_of(warp), threads_of(weft), "plain", 6.0, light=light, noise=0.01)
    read = read_cloth(flat(picture))
    assert whole(read.columns) == counts(warp)
    assert len(read.yarns) == 4


@pytest.mark.parametrize("weave", ["2/2 twill Z", "plain"])
def test_a_yarn_that_single_threads_alone_have_is_found(weave):
    """Cream lines of one thread between yellow ones of two and brown: no band has their colour."""
    warp = "A18 E2 B1 C6 B1 E2 A18 D12 A18 E2 B1 C6 B1 E2 A18 D12 A10"
    weft = "A14 E2 B1 C6 B1 E2 A14 D12 A14"
    light = {
        "A": np.array([0.08, 0.026, 0.117]),
        "B": np.array([0.51, 0.49, 0.35]),
        "C": np.array([0.05, 0.03, 0.016]),
        "D": np.array([0.32, 0.063, 0.0125]),
        "E": np.array([0.78, 0.53, 0.065]),
    }
    picture = woven(threads_of(warp), threads_of(weft), weave, 6.0, light=light, noise=0.01)
    read = read_cloth(flat(picture))
    assert whole(read.columns) == counts(warp)
    assert whole(read.rows) == counts(weft)
    assert len(read.yarns) == 5


@pytest.mark.parametrize("weave", ["2/2 twill Z", "plain"])
def test_a_yarn_of_one_thread_along_each_axis_is_found(weave):
    """A yellow line in each middle: its level is known as well as what its neighbours lend it."""
    warp = "A14 B6 A15 E1 A15 B6 A14"
    weft = "A12 B6 A17 E1 A17 B6 A12"
    light = {
        "A": np.array([0.08, 0.026, 0.117]),
        "B": np.array([0.60, 0.55, 0.45]),
        "E": np.array([0.78, 0.53, 0.065]),
    }
    picture = woven(threads_of(warp), threads_of(weft), weave, 8.0, light=light, noise=0.01)
    read = read_cloth(flat(picture))
    assert whole(read.columns) == counts(warp)
    assert whole(read.rows) == counts(weft)
    assert len(read.yarns) == 3


def test_one_odd_thread_is_no_stripe():
    """A slub: one thread a fifth lighter than its yarn, not in another yarn's colour."""
    columns, rows = threads_of(WARP), threads_of(WEFT)
    odd = columns.copy()
    place = 10 + 3  # in the first A6
    odd[place] = "S"
    light = LIGHT | {"S": LIGHT["A"] * 1.2}
    read = read_cloth(flat(woven(odd, rows, "2/2 twill Z", 8.0, light=light, noise=0.01)))
    assert whole(read.columns) == counts(WARP)


def test_what_is_hidden_keeps_its_doubt():
    """A ruler from top to bottom hides a line: the stripe it lies in is not stated as certain."""
    warp = "B10 A20 D1 A20 C4 B10 A41 C4 B10 A20 D1 A20 C4 B10"
    picture = woven(threads_of(warp), threads_of(WEFT), "2/2 twill Z", 6.0, light=LIGHT, noise=0.01)
    mask = np.ones(picture.shape[:2], bool)
    hidden = slice(round(6.0 * 26), round(6.0 * 36))
    mask[:, hidden] = False
    read = read_cloth(flat(picture, mask=mask))
    over = [s for s in read.columns.stripes if s.start_px < 6 * 31 < s.end_px]
    assert len(over) == 1
    assert over[0].chance < 0.9
    assert over[0].low < over[0].threads


def axis_of(levels, yarns, px=6.0):
    """An axis of bands of twelve threads each, drawn plain."""
    light = np.repeat(levels[yarns], round(12 * px), axis=0)
    edges = np.arange(len(yarns) + 1) * 12 * px - 0.5
    at = np.linspace(-0.5, edges[-1], 50)
    course = Advance(at=at, cycles=(at + 0.5) / px / 4, coherence=np.ones(49))
    return Axis(
        profile=light,
        cover=np.ones(len(light)),
        bands=find_bands(light, px),
        yarns=yarns,
        levels=levels,
        lattice=Lattice(course=course, multiple=4, found_by="weave"),
    )


def test_a_line_that_the_bands_missed_is_put_in_and_the_work_is_bounded():
    levels = np.array([[0.1, 0.3, 0.1], [0.4, 0.05, 0.05], [0.02, 0.02, 0.1]])
    axis = axis_of(levels, np.array([0, 1, 2, 0, 1, 2]))
    axis.profile[round(6 * 6.0) : round(7 * 6.0)] = levels[2]
    found, _ = split_lines((axis, axis))
    assert found.yarns.tolist() == [0, 2, 0, 1, 2, 0, 1, 2]
    assert np.diff(found.bands.edges)[1] == pytest.approx(6.0, abs=1.5)
    kept, _ = split_lines((axis, axis), LineSettings(most_cases=72 * 27 - 1))
    assert kept is axis


def test_the_drawing_has_the_lines():
    """The yardstick: what the tests above ask for is there to be read."""
    assert WARP.count(" B1 ") == 4
    assert drawdown("2/2 twill Z").shape == (4, 4)


@pytest.mark.parametrize("width", [0.1, 0.3, 0.45])
def test_what_is_narrower_than_half_a_thread_is_an_edge(width):
    """Blur makes such a thing of two yarns where a third lies between them in colour."""
    levels = np.array([[0.1, 0.3, 0.1], [0.5, 0.1, 0.1], [0.3, 0.2, 0.1]])
    plain = axis_of(levels, np.array([0, 1, 2, 0, 1, 2]))
    edges = np.insert(plain.bands.edges, 1, plain.bands.edges[1] - width * 6.0)
    bands = replace(
        plain.bands, edges=edges, levels=levels[[0, 2, 1, 2, 0, 1, 2]], edge_errors=np.zeros(8)
    )
    axis = replace(plain, bands=bands, yarns=np.array([0, 2, 1, 2, 0, 1, 2]))
    found, _ = split_lines((axis, axis))
    assert found.yarns.tolist() == [0, 1, 2, 0, 1, 2]
    assert found.bands.edges == pytest.approx(plain.bands.edges, abs=0.3)


def test_lines_side_by_side_whose_neighbours_were_misjudged_at_first():
    """Tan, sky and tan within red: what the bands took for red told a blur that is none."""
    light = {
        "A": np.array([0.04, 0.11, 0.29]),
        "B": np.array([0.52, 0.155, 0.017]),
        "C": np.array([0.32, 0.01, 0.025]),
        "D": np.array([0.22, 0.38, 0.53]),
    }
    warp = "C8 B8 A4 B1 A10 B1 A4 B8 C8 A1 D1 A1 C8 B8 A4 B1 A10 B1 A4 B8 C8"
    weft = "B9 C3 B1 D1 B1 C3 B9 A3 B5 D5 B5 A3 B9 C3 B1 D1 B1 C3 B9 A3 B5"
    picture = woven(
        threads_of(warp), threads_of(weft), "2/2 twill Z", 6.0, light=light, noise=0.02, seed=1
    )
    read = read_cloth(flat(cv2.GaussianBlur(picture, None, 1.0)))
    assert whole(read.columns) == counts(warp)
    assert whole(read.rows) == counts(weft)
    assert len(read.yarns) == 4


def test_lines_that_frame_every_stripe_of_a_yarn_are_a_yarn(tmp_path):
    """Green of one thread on both sides of black: together they had passed for a dark green."""
    row = next(r for r in ROWS if r.name == "6 px, 2/2 twill Z")
    made = renderer.render(*draw(row, 1070, 0))
    (tmp_path / "photo.jpg").write_bytes(made.jpeg)
    options = ScanOptions(warp_runs=made.truth["warp"]["runs"])
    scan = scan_photos((tmp_path / "photo.jpg",), options, lambda _: None)
    found = score(scan.reading_json, made.truth)
    assert found.yarns
    lines = [s for s in found.stripes if s.threads == 1 and s.inside]
    assert len(lines) == 12
    assert all(s.exact for s in lines)
