"""The yarns of a check: mixed squares are explained, not listed."""

import numpy as np
import pytest

from settscan.reading import palette
from settscan.reading.colours import difference, to_lab
from settscan.reading.palette import find_palette, merged, only_used
from settscan.reading.profiles import separate
from settscan.reading.read import read_cloth
from settscan.reading.stripes import Bands
from tests.reading.woven import flat, threads_of, woven

LIGHT = {
    "A": (0.03, 0.05, 0.18),
    "B": (0.55, 0.45, 0.28),
    "C": (0.35, 0.04, 0.05),
    "D": (0.05, 0.16, 0.06),
}
PX = 4


def bands(text, effect):
    """The true bands of "A8 B4 ...", with the levels that a profile shows."""
    counts = [int(w[1:]) for w in text.split()]
    edges = PX * np.concatenate([[0], np.cumsum(counts)])
    levels = [effect[a:b].mean(axis=0) for a, b in zip(edges[:-1], edges[1:], strict=True)]
    return Bands(
        edges=edges - 0.5,
        levels=np.array(levels),
        edge_errors=np.zeros(len(edges)),
        blur=1.0,
        cell=float(PX),
        spread=np.array([1.0, 1.0, 1.0]),
    )


def check(warp, weft, share, noise=0.01):
    """A picture in which a share of the crossings shows the column thread; its palette and truth.

    The crossings that do are spread as evenly as can be (a lattice of irrational steps), so that
    any share can be drawn; each is PX pixels wide.
    """
    columns, rows = (
        np.repeat([w[0] for w in text.split()], [int(w[1:]) for w in text.split()])
        for text in (warp, weft)
    )
    i, j = np.arange(len(columns)), np.arange(len(rows))
    on_top = (0.618034 * i[None] + 0.754878 * j[:, None]) % 1.0 < share
    tones = [np.array([LIGHT[k] for k in keys]) for keys in (columns, rows)]
    crossings = np.where(on_top[:, :, None], tones[0][None], tones[1][:, None])
    picture = crossings.repeat(PX, axis=0).repeat(PX, axis=1)
    picture = picture + noise * np.random.default_rng(0).standard_normal(picture.shape)
    split = separate(picture.astype(np.float32), np.ones(picture.shape[:2], bool))
    found = find_palette(split, bands(warp, split.columns), bands(weft, split.rows))
    return only_used(merged(found))


def keys(text):
    return [word[0] for word in text.split()]


def apart(palette, yarns, text):
    """CIEDE2000 between the yarns that were found and the true one, band by band."""
    truth = np.array([LIGHT[k] for k in keys(text)])
    return difference(to_lab(np.clip(palette.colours[yarns], 0, 1)), to_lab(truth))


WARP = "A24 B12 A24 C16 D20 B12 A24 C16 D20 A24"


@pytest.mark.parametrize("share", [0.3, 0.4, 0.5, 0.6, 0.7])
@pytest.mark.parametrize(
    "weft", [WARP, "C16 B8 A28 D12 A28 B8 C16 D12 A28 B12", "A40 B16 A40 B16 A40"]
)
def test_yarns_and_share_are_found_and_no_mixed_square_is_listed(weft, share):
    palette = check(WARP, weft, share)
    assert len(palette.colours) == len({*keys(WARP), *keys(weft)})
    assert palette.column_share == pytest.approx(share, abs=0.03)
    assert apart(palette, palette.of_columns, WARP).max() < 3
    assert apart(palette, palette.of_rows, weft).max() < 3
    assert palette.shared
    # What two yarns give where they cross, as the palette says and as it was drawn.
    k = palette.column_share
    w = palette.colours[palette.of_columns][:, None]
    f = palette.colours[palette.of_rows][None]
    true_w = np.array([LIGHT[key] for key in keys(WARP)])[:, None]
    true_f = np.array([LIGHT[key] for key in keys(weft)])[None]
    off = difference(to_lab(k * w + (1 - k) * f), to_lab(share * true_w + (1 - share) * true_f))
    assert off.max() < 2


def test_bands_of_one_yarn_have_one_number():
    palette = check(WARP, WARP, 0.5)
    numbers = {}
    for yarn, key in zip(palette.of_columns, keys(WARP), strict=True):
        assert numbers.setdefault(key, yarn) == yarn
    for yarn, key in zip(palette.of_rows, keys(WARP), strict=True):
        assert numbers[key] == yarn
    assert len(set(numbers.values())) == len(numbers)


@pytest.mark.parametrize(
    ("warp", "weft"),
    [("A20 B12 A20 B12 A20", "C60"), ("A12 B8 A12 B8 A12 B8 A12", "C10 D10 C10 D10 C10 D10")],
)
def test_a_warp_and_a_weft_without_a_common_yarn(warp, weft):
    """Only the scatter within the squares, along W - F, tells the colours then."""
    palette = check(warp, weft, 0.5)
    assert len(palette.colours) == len({*keys(warp), *keys(weft)})
    assert apart(palette, palette.of_columns, warp).max() < 8
    assert apart(palette, palette.of_rows, weft).max() < 8


def test_a_plain_cloth_has_two_yarns_at_most():
    palette = check("A60", "A60", 0.5)
    assert len(palette.colours) <= 2
    assert apart(palette, palette.of_columns, "A60").max() < 3


def test_the_closest_two_are_named():
    palette = check(WARP, WARP, 0.5)
    first, second, told = palette.closest
    lab = to_lab(palette.colours)
    table = difference(lab[:, None], lab[None]) + 1e9 * np.eye(len(lab))
    assert table.min() == pytest.approx(told)
    assert table[first, second] == pytest.approx(told)


def test_contrast_is_column_less_row():
    palette = check(WARP, "A40 B16 A40 B16 A40", 0.5)
    contrast = palette.contrast()
    assert contrast.shape == (10, 5, 3)
    wanted = np.subtract(LIGHT["C"], LIGHT["B"])
    assert contrast[3, 1] == pytest.approx(wanted, abs=0.03)


def test_dark_hues_stay_apart_in_light_that_no_row_and_column_explains():
    """Patches of light make levels uncertain, of all channels alike, and hues not."""
    light = {
        "A": np.array([0.012, 0.012, 0.045]),  # navy
        "B": np.array([0.70, 0.62, 0.42]),  # cream
        "C": np.array([0.030, 0.046, 0.034]),  # bottle green
    }
    warp = "B9 A8 B10 C8 B12 A8 B10 C8 B12 A8 B14 C8 B9"
    weft = "B8 A8 B12 C8 B10 A8 B12 C8 B12 A8 B9"
    picture = woven(threads_of(warp), threads_of(weft), "2/1 twill Z", 6.0, light=light, noise=0.01)
    y, x = np.mgrid[: picture.shape[0], : picture.shape[1]] / 250.0
    patches = 1 + 0.2 * np.sin(2 * np.pi * x) * np.sin(2 * np.pi * y + 1)
    read = read_cloth(flat((picture * patches[..., None]).astype(np.float32)))
    assert len(read.yarns) == 3
    assert [s.threads for s in read.columns.stripes[1:-1]] == [8, 10, 8, 12, 8, 10, 8, 12, 8, 14, 8]
    keys = [s.yarn for s in read.columns.stripes[1::2]]
    assert len(set(keys[::2])) == len(set(keys[1::2])) == 1
    assert keys[0] != keys[1]


def test_of_offsets_that_are_nearly_as_likely_that_of_fewest_yarns_is_taken(monkeypatch):
    """Else warp and weft seemed to have yarns of their own: eight instead of five."""
    true = palette.likely_shares

    def with_a_wrong_one_first(*known):
        share, offset = true(*known)[0]
        return [(share, offset + 0.1), (share, offset)]

    monkeypatch.setattr(palette, "likely_shares", with_a_wrong_one_first)
    found = check(WARP, WARP, 0.5)
    assert len(found.colours) == 4
    assert apart(found, found.of_columns, WARP).max() < 3


def test_only_offsets_that_differ_and_cost_hardly_more_are_likely(monkeypatch):
    every = []
    true = palette.likely_shares
    monkeypatch.setattr(palette, "likely_shares", lambda *k: every.append(true(*k)) or every[-1])
    check(WARP, WARP, 0.5)
    offsets = [offset for _, offset in every[0]]
    assert 1 <= len(offsets) <= 6
    for k, offset in enumerate(offsets):
        assert all(np.abs(offset - other).max() > 0.006 for other in offsets[:k])
