"""A photo without a ruler takes its scale from a close-up with one."""

from dataclasses import replace

import pytest

from settscan.measured import Measured, Origin
from settscan.photo.flat import Scale
from settscan.reading.closeup_scale import pitch_of, scale_from_close_up
from settscan.reading.model import BandSeen
from tests.reading.test_joining import NO_SCALE, SAME, axis, cloth, sett

HALF = [("A", 22), ("B", 4), ("A", 14), ("C", 8), ("A", 10), ("B", 12)]
RING = HALF + HALF[-2:0:-1]
CLOSE = sett(("A", 6), *HALF[1:5], ("B", 3))
DENSITY = Measured(0.945, 0.94, 0.95, Origin.READ)


def bands(pairs, pitch, uneven=0.0):
    """Bands of so many pixels per thread, every second a little wider."""
    found, at = [], -0.5
    for i, (yarn, threads) in enumerate(pairs):
        width = threads * pitch * (1 + uneven * (-1) ** i)
        found.append(BandSeen(yarn, at, at + width))
        at += width
    return tuple(found)


@pytest.mark.parametrize("uneven", [0.0, 0.04])
def test_widths_over_threads(uneven):
    seen = bands(RING * 3, 0.8, uneven)
    pitch = pitch_of(seen, axis(*CLOSE), *SAME)
    assert float(pitch.value) == pytest.approx(0.8, rel=0.02)
    assert pitch.low < 0.8 < pitch.high


def test_another_cloth_gives_no_scale():
    other = sett(("A", 6), ("B", 12), ("A", 3), ("C", 3), ("A", 30), ("B", 3))
    assert pitch_of(bands(RING * 3, 0.8), axis(*other), *SAME) is None
    assert pitch_of(bands(RING, 0.8), axis(*sett(("A", 6), ("B", 4), ("A", 9))), *SAME) is None
    assert pitch_of((), axis(*CLOSE), *SAME) is None


def test_places_that_disagree_give_no_scale():
    """The same stripes in two sizes: nothing tells which of them the close-up shows."""
    twice = [(yarn, 2 * threads) for yarn, threads in RING]
    assert pitch_of(bands(RING + twice, 2.0), axis(*CLOSE), *SAME) is None


def test_what_is_known_stays_known():
    whole = cloth(axis(), axis())
    whole = replace(
        whole,
        columns=replace(whole.columns, bands=bands(RING * 3, 0.8)),
        rows=replace(whole.rows, bands=bands(RING * 3, 0.75)),
    )
    close = cloth(axis(*CLOSE, density=DENSITY), axis(*CLOSE, density=DENSITY))
    found = scale_from_close_up(whole, close, NO_SCALE)
    assert found.source == "close-up"
    assert float(found.px_per_mm_x.value) == pytest.approx(0.8 * 0.945, rel=0.02)
    assert float(found.px_per_mm_y.value) == pytest.approx(0.75 * 0.945, rel=0.02)
    one = Measured(3.0, 2.9, 3.1, Origin.READ)
    full = Scale(px_per_mm_x=one, px_per_mm_y=one, source="ruler")
    assert scale_from_close_up(whole, close, full) is None
    assert scale_from_close_up(whole, cloth(axis(*CLOSE), axis(*CLOSE)), NO_SCALE) is None
