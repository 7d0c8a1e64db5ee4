"""Colours: linear light to CIELAB, and differences as CIEDE2000 tells them."""

import cv2
import numpy as np
import pytest

from settscan.photo.srgb import linear
from settscan.reading.colournames import name_colours
from settscan.reading.colours import (
    as_coded,
    as_light,
    difference,
    encode,
    steadied,
    to_hex,
    to_lab,
)

# Sharma, Wu and Dalal, "The CIEDE2000 color-difference formula: implementation notes,
# supplementary test data, and mathematical observations", Color Res. Appl. 30 (2005), table 1,
# pairs 1, 4, 7, 10, 13, 17, 19, 21 and 25, from memory.
SHARMA = [
    ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
    ((50.0, -1.3802, -84.2814), (50.0, 0.0, -82.7485), 1.0000),
    ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
    ((50.0, 2.4900, -0.0010), (50.0, -2.4900, 0.0010), 7.1792),
    ((50.0, -0.0010, 2.4900), (50.0, 0.0009, -2.4900), 4.8045),
    ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
    ((50.0, 2.5, 0.0), (56.0, -27.0, -3.0), 31.9030),
    ((50.0, 2.5, 0.0), (50.0, 3.1736, 0.5854), 1.0000),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
]


@pytest.mark.parametrize(("one", "other", "apart"), SHARMA)
def test_differences_are_ciede2000(one, other, apart):
    assert difference(np.array(one), np.array(other)) == pytest.approx(apart, abs=1e-4)
    assert difference(np.array(other), np.array(one)) == pytest.approx(apart, abs=1e-4)


def test_differences_broadcast():
    one = np.array([p[0] for p in SHARMA])
    table = difference(one[:, None], one[None])
    assert table.shape == (len(one), len(one))
    assert np.diag(table) == pytest.approx(np.zeros(len(one)))
    assert table[0, 1] == pytest.approx(float(difference(one[0], one[1])))


def test_lightness_of_greys_is_cie_1976():
    """CIE 15: L* = 116 Y^(1/3) - 16 above 0.008856, else 903.3 Y."""
    light = np.array([0.001, 0.005, 0.02, 0.1842, 0.5, 1.0])
    lab = to_lab(np.repeat(light[:, None], 3, axis=1))
    wanted = np.where(light > 0.008856, 116 * np.cbrt(light) - 16, 903.3 * light)
    assert lab[:, 0] == pytest.approx(wanted, abs=0.02)
    assert np.abs(lab[:, 1:]).max() < 0.02


def test_primaries():
    """CIELAB (D65) of the sRGB primaries, as published with IEC 61966-2-1; from memory."""
    lab = to_lab(np.eye(3))
    assert lab[0] == pytest.approx([53.24, 80.09, 67.20], abs=0.05)
    assert lab[1] == pytest.approx([87.74, -86.18, 83.18], abs=0.05)
    assert lab[2] == pytest.approx([32.30, 79.19, -107.86], abs=0.05)


def test_encoding():
    assert encode(np.array([-0.1, 0.0, 0.0031308, 0.2140, 1.0, 1.3])) == pytest.approx(
        [0.0, 0.0, 0.04045, 0.5, 1.0, 1.0], abs=2e-4
    )
    assert to_hex(np.array([0.0, 0.2140, 1.5])) == "#007fff"
    assert to_lab(np.zeros((4, 5, 3))).shape == (4, 5, 3)


def test_lighter_threads_scatter_alike_in_dark_and_bright_yarns():
    """A tenth more light moves a dark and a bright yarn equally far, which CIELAB does not."""
    dark, bright = np.array([0.03, 0.05, 0.09]), np.array([0.5, 0.4, 0.2])
    moved = [
        np.linalg.norm(steadied(to_lab(1.1 * c)) - steadied(to_lab(c))) for c in (dark, bright)
    ]
    assert moved[0] == pytest.approx(moved[1], rel=0.1)
    plain = [np.linalg.norm(to_lab(1.1 * c) - to_lab(c)) for c in (dark, bright)]
    assert plain[1] > 1.5 * plain[0]
    assert steadied(np.array([50.0, 7.0, -3.0]))[1:] == pytest.approx([7.0, -3.0])


@pytest.mark.parametrize(
    ("srgb", "word"),
    [
        ((250, 250, 250), "white"),
        ((5, 5, 5), "black"),
        ((200, 30, 30), "red"),
        ((20, 30, 80), "navy"),
        ((240, 215, 30), "yellow"),
        ((128, 128, 128), "grey"),
    ],
)
def test_names_are_what_people_say(srgb, word):
    code = np.array(srgb) / 255
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    assert name_colours(to_lab(linear[None])) == (word,)


def test_no_name_is_used_twice():
    lab = np.array([[16.0, 8, -28], [17, 8, -28], [18, 8, -27], [96, 0, 1]])
    names = name_colours(lab)
    assert len(set(names)) == 4
    assert all("navy" in name for name in names[:3])


def test_luma_and_chroma_are_those_of_opencv():
    code = np.random.default_rng(2).integers(0, 256, (1, 50, 3)).astype(np.uint8)
    luma, chroma = as_coded(linear(code).astype(float))
    coded = cv2.cvtColor(code, cv2.COLOR_RGB2YCrCb)[..., [0, 2, 1]].astype(float)
    # Theirs are rounded, and the chroma is of the rounded luma.
    assert 255 * luma == pytest.approx(coded[..., :1], abs=0.501)
    assert 255 * chroma + 128 == pytest.approx(coded[..., 1:], abs=1.0)


def test_light_comes_back_from_luma_and_chroma_though_beyond_what_a_file_holds():
    light = np.random.default_rng(5).uniform(-0.1, 1.2, (60, 3))
    assert as_light(*as_coded(light)) == pytest.approx(light, abs=1e-12)
