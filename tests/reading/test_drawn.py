"""Whole readings of small drawn cloths: every weave, a finger, lines of one thread."""

import cv2
import numpy as np
import pytest

from settscan.cloth.model import SequenceKind
from settscan.reading.colours import difference, to_lab
from settscan.reading.read import read_cloth
from tests.reading.woven import drawdown, flat, threads_of, woven

LIGHT = {"A": (0.05, 0.1, 0.3), "B": (0.5, 0.4, 0.2), "C": (0.3, 0.04, 0.05)}
TEXT = "A12 B4 A12 C6 A12 B4 A12 C6 A12 B4 A12"
INNER = TEXT.split()[1:-1]


def taken(weave, px, *, text=TEXT, weft=None, seed=0):
    """A cloth as a good camera takes it: a little soft, threads and pixels of uneven light."""
    picture = woven(threads_of(text), threads_of(weft or text), weave, px, light=LIGHT)
    picture = cv2.GaussianBlur(picture, (0, 0), 0.8)
    rng = np.random.default_rng(seed)
    picture *= 1 + 0.06 * rng.standard_normal(picture.shape[:2])[:, :, None]
    return (picture + 0.01 * rng.standard_normal(picture.shape)).astype(np.float32)


def whole(read, axis):
    """Stripes that the frame does not cut, in the letters of this test."""
    truth = to_lab(np.array(list(LIGHT.values())) * 0.83)
    lab = {y.key: np.array(y.lab) for y in read.yarns}
    letter = {k: "ABC"[int(np.argmin(difference(v[None], truth)))] for k, v in lab.items()}
    return [f"{letter[s.yarn]}{s.threads}" for s in axis.stripes[1:-1]]


@pytest.mark.parametrize(
    ("weave", "px"),
    [
        ("plain", 5.0),
        ("plain", 3.4),
        ("plain", 6.2),
        ("hopsack", 5.0),
        ("hopsack", 6.2),
        ("2/2 twill Z", 3.4),
        ("2/1 twill S", 4.4),
        ("2/1 twill S", 5.0),
        ("3/1 twill Z", 4.4),
    ],
)
def test_every_weave_is_counted(weave, px):
    read = read_cloth(flat(taken(weave, px)))
    assert whole(read, read.columns) == INNER
    assert whole(read, read.rows) == INNER
    assert len(read.yarns) == 3
    name, _, direction = weave.rpartition(" ")
    told = (name, direction) if name else (weave, None)
    assert (read.weave.name, read.weave.twill_direction) == told
    assert read.column_share == pytest.approx(drawdown(weave).mean(), abs=0.05)
    assert read.columns.repeat.kind is SequenceKind.SYMMETRIC
    assert read.columns.pitch_px.value == pytest.approx(px, rel=0.005)


def test_a_finger_makes_no_stripe():
    picture = taken("2/2 twill Z", 5.0)
    picture[200:270, 240:340] = (0.6, 0.4, 0.3)
    read = read_cloth(flat(picture))
    assert len(read.yarns) == 3
    assert whole(read, read.columns) == INNER
    assert whole(read, read.rows) == INNER


def test_lines_of_one_and_two_threads_are_counted():
    text = "A14 C1 A14 B2 A14 C1 A14 B2 A14 C1 A14"
    read = read_cloth(flat(taken("2/2 twill S", 5.0, text=text)))
    for axis in (read.columns, read.rows):
        assert whole(read, axis) == text.split()[1:-1]


def test_warp_and_weft_of_different_setts():
    weft = "A9 C14 A5 C14 A9 C14 A5 C14 A9"
    read = read_cloth(flat(taken("2/2 twill Z", 4.6, weft=weft)))
    assert whole(read, read.columns) == INNER
    assert whole(read, read.rows) == weft.split()[1:-1]


@pytest.mark.parametrize("change", [(0.5, 0.5, 0.5), (1.2, 1.0, 0.8)])
def test_exposure_and_cast_change_no_count(change):
    read = read_cloth(flat(taken("2/2 twill Z", 4.6) * np.array(change, np.float32)))
    for axis in (read.columns, read.rows):
        assert [s.threads for s in axis.stripes[1:-1]] == [int(w[1:]) for w in INNER]
