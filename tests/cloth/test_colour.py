"""Colours against a reference library and a published value."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.color import rgb2lab

from settscan.cloth.colour import difference, lab_of


def test_white_and_black():
    # By definition of CIELAB (CIE 015:2018): the white has L* = 100, a* = b* = 0.
    assert lab_of("#ffffff") == pytest.approx((100, 0, 0), abs=0.01)
    assert lab_of("#000000") == pytest.approx((0, 0, 0), abs=1e-9)
    assert difference("#ffffff", "#000000") == pytest.approx(100, abs=0.01)


@given(st.integers(0, 0xFFFFFF))
def test_as_the_reference_library(number):
    colour = f"#{number:06x}"
    rgb = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    wanted = rgb2lab(rgb.reshape(1, 1, 3), illuminant="D65", observer="2")[0, 0]
    assert lab_of(colour) == pytest.approx(wanted, abs=0.05)
