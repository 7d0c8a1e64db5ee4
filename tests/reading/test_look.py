"""What lies at the rim of a cloth and is none of its stripes."""

from __future__ import annotations

import numpy as np
import pytest

from settscan.reading.look import _rim, _vouching, _without_rims
from settscan.reading.stripes import Bands

CELL = 4.0


def bands(threads: list[float]) -> Bands:
    """Bands of so many threads each."""
    edges = CELL * np.concatenate([[0.0], np.cumsum(threads)]) - 0.5
    return Bands(
        edges=edges,
        levels=np.zeros((len(threads), 3)),
        edge_errors=np.zeros(len(edges)),
        blur=1.0,
        cell=CELL,
        spread=np.ones(3),
    )


@pytest.mark.parametrize(("seen", "left_out"), [(1.2, (1, 1)), (4.0, (0, 0))])
def test_fringe_is_left_out_though_a_sliver_of_its_colour_shows_on_the_other_axis(seen, left_out):
    """A border all round the cloth, of a few threads at least, is kept."""
    columns, of_columns = bands([8, 30, 20, 30, 8]), np.array([5, 0, 1, 0, 5])
    rows, of_rows = bands([seen, 40, 20]), np.array([5, 0, 1])
    others = _vouching(rows, of_rows, 2.0)
    assert _rim(columns, of_columns, others, 12 * CELL) == left_out


def test_what_is_left_of_a_band_between_two_others_is_their_edge_and_a_thread_stays():
    """A halo where yellow meets maroon is as dark as a third yarn, and a third of a thread wide."""
    yellow, dark, maroon = np.array([[0.5, 0.35, 0.05], [0.02, 0.02, 0.03], [0.1, 0.0, 0.01]])
    levels = np.array([yellow, dark, maroon, yellow, dark, maroon])
    edges, kept = _without_rims(bands([10, 0.3, 16, 10, 1, 8]), levels, CELL)
    assert kept.tolist() == [0, 2, 3, 4, 5]
    assert edges / CELL + 0.5 / CELL == pytest.approx([0, 10.15, 26.3, 36.3, 37.3, 45.3])
