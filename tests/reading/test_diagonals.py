"""Twills, and those whose lines turn back, are told by their diagonals place by place."""

import cv2
import numpy as np
import pytest

from settscan.reading.carriers import Advance
from settscan.reading.diagonals import Diagonals, ends_between_turns
from settscan.reading.read import read_cloth
from tests.reading.woven import drawdown, flat, threads_of, woven

LIGHT = {
    "A": np.array([0.05, 0.08, 0.25]),
    "B": np.array([0.55, 0.45, 0.28]),
    "C": np.array([0.30, 0.05, 0.06]),
}
WARP = "A13 B20 A9 C6 A16 B22 A10 C6 A14 B19 A12 C7 A15 B17 A11 C8 B18 A13"
WEFT = "B12 A18 C6 A10 B21 A17 C6 A9 B14 C5 A16 B20 A8 C7 B13 A15 C6 B12"


def read(weave, px=6.0, hand=None, noise=0.01, blur=0.7, **known):
    picture = woven(threads_of(WARP), threads_of(WEFT), weave, px, light=LIGHT, noise=noise)
    picture = cv2.GaussianBlur(picture, (0, 0), blur)  # as any lens does
    if hand is not None:
        picture = cv2.filter2D(picture, -1, hand)
    return read_cloth(flat(picture), **known)


def whole(axis):
    return [s.threads for s in axis.stripes[1:-1]]


def counts(text):
    return [int(word[1:]) for word in text.split()[1:-1]]


def test_the_drawn_herringbone_turns_with_opposite_ends_side_by_side():
    drawing = drawdown("herringbone 12")
    assert drawing.shape == (4, 24)
    beside = drawing == np.roll(drawing, -1, axis=1)
    assert [int(k) for k in np.flatnonzero(~beside.any(axis=0))] == [11, 23]


@pytest.mark.parametrize(("ends", "px"), [(12, 4.0), (12, 3.0), (16, 4.0)])
def test_a_herringbone_is_named_with_the_ends_between_its_turns(ends, px):
    found = read(f"herringbone {ends}", px)
    assert found.weave.name == f"herringbone {ends}"
    assert found.weave.twill_direction is None
    assert whole(found.columns) == counts(WARP)
    assert whole(found.rows) == counts(WEFT)


@pytest.mark.parametrize("px", [6.0, 3.0])
def test_short_lines_that_beat_with_the_wave_mislead_neither_name_nor_counts(px):
    """Lines of two cycles: the wave itself is put out by its turns, and two beside it show."""
    found = read("herringbone 8", px)
    assert found.weave.name in ("herringbone 8", "unknown")
    assert whole(found.columns) == counts(WARP)
    assert whole(found.rows) == counts(WEFT)


def test_lines_that_the_picks_turn_have_no_number_of_ends():
    assert read("herringbone 12", 4.0, warp_is_columns=False).weave.name == "herringbone"


@pytest.mark.parametrize(
    ("weave", "name", "direction"),
    [
        ("2/2 twill Z", "2/2 twill", "Z"),
        ("2/1 twill S", "2/1 twill", "S"),
        ("hopsack", "hopsack", None),
        ("plain", "plain", None),
    ],
)
def test_other_weaves_are_no_herringbone(weave, name, direction):
    found = read(weave)
    assert (found.weave.name, found.weave.twill_direction) == (name, direction)


def test_a_twill_that_stripes_of_the_wefts_yarn_hide_does_not_turn_back():
    """In them the wave is lost in noise: the lean is faint there, and never the other way."""
    at = np.arange(40.0)
    along_x = np.where(at // 8 % 2 == 0, 0.94, 0.15)
    twill = Diagonals(at=(at, at), lean=(along_x, np.full(40, 0.91)))
    assert twill.single() and twill.turning() is None
    turned = Diagonals(at=(at, at), lean=(np.full(40, 0.02), np.where(at // 8 % 2, 0.9, -0.9)))
    assert turned.turning() == 1


def test_turns_that_lie_unevenly_give_no_number():
    assert ends_between_turns(np.array([0.0, 12.1, 23.9, 36.0, 59.8, 72.1])) == 12
    assert ends_between_turns(np.array([0.0, 5.0, 25.0, 31.0, 55.0])) is None
    assert ends_between_turns(np.array([7.0])) is None


def smear(length):
    """What a hand does to a point that moves so many pixels down one diagonal."""
    finer, reach = 20, 3
    spots = np.zeros(((2 * reach + 1) * finer,) * 2, np.float32)
    way = np.linspace(-length / 2, length / 2, 200) / np.sqrt(2)
    at = np.floor((way + reach + 0.5) * finer).astype(int)
    spots[at, at] = 1
    spot = cv2.resize(spots, (2 * reach + 1,) * 2, interpolation=cv2.INTER_AREA)
    return spot / spot.sum()


@pytest.mark.parametrize("noise", [0.03, 0.05])
def test_a_hand_that_moved_does_not_make_a_twill_of_a_plain_weave(noise):
    """Two pixels a thread: a smear of two pixels takes one of the two diagonals."""
    found = read("plain", 2.2, hand=smear(2.0), noise=noise, blur=0.9)
    for axis, true in ((found.columns, counts(WARP)), (found.rows, counts(WEFT))):
        stripes = axis.stripes[1:-1]
        assert len(stripes) == len(true)
        for stripe, threads in zip(stripes, true, strict=True):
            assert stripe.low <= threads <= stripe.high


def test_a_smear_is_as_long_as_what_it_leaves_of_a_wave_tells():
    """A wave of 0.35 cycles to a pixel, smeared by 2 px: sinc(0.7) of it is left."""
    left = float(np.sinc(0.7))
    lean = np.full(5, (1 - left**2) / (1 + left**2))
    rate = 0.35 / np.sqrt(2)
    at = np.arange(5.0)
    one = Advance(at=at, cycles=rate * at, coherence=np.ones(4))
    found = Diagonals(at=(at, at), lean=(lean, lean))
    assert found.smear((one, one)) == pytest.approx(2.0, rel=0.01)
