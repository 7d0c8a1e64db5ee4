"""What errors the colours of bands have."""

from dataclasses import replace

import numpy as np
import pytest

from settscan.reading.palette import find_palette
from settscan.reading.profiles import separate
from settscan.reading.read import read_cloth
from settscan.reading.samples import _of_means, samples_of
from settscan.reading.stripes import Bands, find_bands
from settscan.settings import GROUPS
from tests.reading.woven import flat, threads_of, woven

LIGHT = {
    "A": np.array([0.02, 0.02, 0.06]),
    "B": np.array([0.70, 0.62, 0.42]),
}
WARP = "B9 A8 B10 A1 B10 A8 B12 A8 B9"
WEFT = "B8 A8 B12 A8 B10 A8 B9"
PX = 6.0


def seen(patches=0.0, change=None):
    """Samples of a check under patches of light, the columns' bands changed by `change`."""
    picture = woven(threads_of(WARP), threads_of(WEFT), "plain", PX, light=LIGHT, noise=0.01)
    y, x = np.mgrid[: picture.shape[0], : picture.shape[1]] / 220.0
    light = 1 + patches * np.sin(2 * np.pi * x) * np.sin(2 * np.pi * y + 1)
    picture = (picture * light[..., None]).astype(np.float32)
    split = separate(picture, np.ones(picture.shape[:2], bool))
    base = split.columns.mean(axis=0)
    columns, rows = find_bands(split.columns, PX), find_bands(split.rows + base, PX)
    assert len(columns.widths) == 9
    rows = replace(rows, levels=rows.levels - base)
    return samples_of(split, columns if change is None else change(columns), rows, 0.5, np.zeros(3))


def test_patches_of_light_leave_the_hue_of_a_band_better_known_than_its_light():
    plain, patchy = (seen(patches=p).errors[1] for p in (0.0, 0.2))
    grey, hue = np.ones(3) / np.sqrt(3), np.array([1, 0, -1]) / np.sqrt(2)
    more = patchy - plain
    assert grey @ more @ grey > 1e-4
    assert abs(hue @ more @ hue) < 0.1 * (grey @ more @ grey)


def test_a_level_below_black_is_an_error_of_all_channels():
    def darker(bands):
        levels = bands.levels.copy()
        levels[3] = -0.05  # twice as much in the yarn's colour, at an even share
        return replace(bands, levels=levels)

    found = seen(change=darker)
    assert found.colours[3] == pytest.approx([-0.1] * 3)
    assert np.linalg.eigvalsh(found.errors[3])[0] > 0.1**2


def test_a_band_of_one_thread_is_known_the_less_the_more_the_picture_is_blurred():
    sharp, soft = (
        seen(patches=0.2, change=lambda bands, b=blur: replace(bands, blur=b)).errors
        for blur in (1.0, 6.0)
    )
    more = soft - sharp
    assert np.trace(more[3]) > 0.02
    assert np.trace(more[2]) < 0.02 * np.trace(more[3])


def true_bands(text, px, effect):
    """The bands of "A8 B4 ...", with the mean levels that a profile shows."""
    edges = px * np.concatenate([[0], np.cumsum([int(word[1:]) for word in text.split()])])
    cuts = np.round(edges).astype(int)
    levels = [effect[a:b].mean(axis=0) for a, b in zip(cuts[:-1], cuts[1:], strict=True)]
    return Bands(
        edges=edges - 0.5, levels=np.array(levels), edge_errors=np.zeros(len(edges)), blur=1.0,
        cell=px, spread=np.ones(3),
    )  # fmt: skip


def less_hue(own, other, share):
    """Linear light of a yarn that lost a share of its hue to another: brightness is as it was.

    Brightness is that of encoded values, as in a JPEG file (ITU-T T.871).
    """
    one, two = (np.clip(light, 1e-4, None) ** (1 / 2.2) for light in (own, other))
    hue = (two - one) - (two - one) @ np.array([0.299, 0.587, 0.114])
    return np.clip(one + share * hue, 0, None) ** 2.2


@pytest.mark.parametrize(
    ("px", "threads", "share", "yarns"),
    [(2.0, 6, 0.1, 2), (2.0, 4, 0.15, 2), (6.0, 6, 0.1, 3), (2.0, 6, 0.3, 3)],
)
def test_hues_that_the_coding_of_a_file_blurs_make_no_yarn(px, threads, share, yarns):
    """Narrow red stripes in gold seem more golden than wide ones, if pixels are few."""
    light = {"A": np.array([0.479, 0.270, 0.020]), "B": np.array([0.263, 0.010, 0.037])}
    light["C"] = less_hue(light["B"], light["A"], share)
    text = f"B58 A8 C{threads} A28 C{threads} A8 B58 A14 B58 A8 C{threads} A28 C{threads} A8 B58"
    keys = threads_of(text)
    picture = woven(keys, keys, "2/2 twill S", px, light=light, noise=0.005)
    split = separate(picture, np.ones(picture.shape[:2], bool))
    columns, rows = (true_bands(text, px, effect) for effect in (split.columns, split.rows))
    assert len(find_palette(split, columns, rows).colours) == yarns


@pytest.mark.parametrize("px", [5.0, 3.0])
def test_two_dark_yarns_of_other_hues_are_not_one(px):
    """Black and olive among yellow and tan: two hues, and no light makes one of the other."""
    light = {
        "Y": (0.82, 0.58, 0.055),
        "K": (0.013, 0.0144, 0.0144),
        "T": (0.42, 0.285, 0.14),
        "O": (0.093, 0.093, 0.024),
    }
    warp, weft = threads_of("Y6 K32 T78 O36 Y51"), threads_of("Y58 K32 T42")
    picture = woven(warp, weft, "2/2 twill Z", px, light=light, noise=0.03)
    read = read_cloth(flat(picture))
    assert len(read.yarns) == len(light)
    assert [s.threads for s in read.columns.stripes] == [6, 32, 78, 36, 51]


def test_parts_of_a_band_tell_its_hue_better_than_its_light():
    """Light is alike in neighbouring parts of eight, and makes what it lights no other hue."""
    lit = np.array([[3.0, 3.0, 3.0], [1.0, 0.0, 0.0]])
    found = _of_means(np.repeat(np.eye(3)[None], 2, axis=0), lit, GROUPS)
    for one, way in zip(found, lit / np.linalg.norm(lit, axis=1, keepdims=True), strict=True):
        assert way @ one @ way == pytest.approx(1 / GROUPS.independent_parts)
        hues = 2 / GROUPS.independent_hues
        assert np.trace(one) == pytest.approx(1 / GROUPS.independent_parts + hues)
