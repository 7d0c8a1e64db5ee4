"""What the weave lends to rows and columns, taken off, on cloths drawn thread by thread."""

from dataclasses import replace

import numpy as np
import pytest

from settscan.reading.fold import Crossings, parts_of
from settscan.reading.look import look_closely
from settscan.reading.profiles import separate
from settscan.reading.texture import without_weave
from settscan.settings import READ, SEPARATE
from tests.reading.woven import edges_of, threads_of, woven

LIGHT = {
    "A": np.array([0.02, 0.06, 0.025]),
    "B": np.array([0.07, 0.02, 0.13]),
    "C": np.array([0.84, 0.79, 0.79]),
}
# White lines that lie alike in the weave: a whole number of its cycles apart.
WARP = "A12 B16 A12 C2 A30 B16 A24 C2 A32 B16 A22 C2 A12"  # 72 threads
OF_THREE = "A12 B16 A12 C1 A30 B16 A22 C1 A31 B16 A21 C1 A12"  # 69 threads
WEFT = "A24 B16 A32 C4 A20 B16 A24"


def telling(split, look):
    """What the pixels tell of the weave, and the parts that fold alike."""
    crossings = Crossings.of(split, look.columns, look.rows, look.palette, look.signals)
    return crossings, parts_of(split.mask.shape, look.diagonals)


@pytest.mark.parametrize(("weave", "warp"), [("2/2 twill Z", WARP), ("2/1 twill S", OF_THREE)])
def test_rows_of_one_yarn_are_alike_afterwards(weave, warp):
    px = 6.0
    picture = woven(threads_of(warp), threads_of(WEFT), weave, px, light=LIGHT, noise=0.005)
    # Columns weighed alike, or steady ones would hide most of what is to be taken off.
    alike = replace(SEPARATE, steadiest=1e9)
    split = separate(picture, np.ones(picture.shape[:2], bool), patch_px=24, settings=alike)
    look = look_closely(split, (None, None), READ)
    lattices = (look.column_lattice, look.row_lattice)
    clean = without_weave(split, *telling(split, look), lattices)
    edges = edges_of(WEFT, px)
    threads = np.arange(edges[0], edges[-1], px)

    def scatter(effect):
        """Standard deviation of the mean light of single threads within the widest A."""
        x = np.arange(len(effect))
        inner = threads[(threads > edges[2] + 2 * px) & (threads < edges[3] - 3 * px)]
        means = [effect[(x >= a) & (x < a + px)].mean(axis=0) for a in inner]
        return float(np.std(means, axis=0).mean())

    assert scatter(clean.rows) < 0.5 * scatter(split.rows)


def test_without_a_weave_nothing_is_taken_off():
    picture = woven(threads_of(WARP), threads_of(WEFT), "plain", 6.0, light=LIGHT)
    split = separate(picture, np.ones(picture.shape[:2], bool), patch_px=24)
    look = look_closely(split, (None, None), READ)
    same = without_weave(split, *telling(split, look), (None, look.row_lattice))
    assert same is split
