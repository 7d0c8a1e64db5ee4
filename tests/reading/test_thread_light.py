"""Threads are numbered by where all edges lie together, not band by band."""

import numpy as np
import pytest

from settscan.reading.carriers import Advance
from settscan.reading.stripes import Bands
from settscan.reading.thread_light import threads_of
from settscan.reading.threads import Lattice
from settscan.settings import LINES

PX = 8.0


def threads_between(at, drift=0.0):
    """Threads of bands whose edges lie at `at` threads, the lattice off by `drift` at the end."""
    edges = PX * np.array(at) - 0.5
    length = round(edges[-1] + 0.5)
    x = np.linspace(0, length - 1, 50)
    cycles = (x + 0.5) / PX + drift * x / length
    lattice = Lattice(
        course=Advance(at=x, cycles=cycles, coherence=np.ones(50)), multiple=1, found_by="ripple"
    )
    bands = Bands(
        edges=edges,
        levels=np.zeros((len(at) - 1, 3)),
        edge_errors=np.zeros(len(at)),
        blur=1.0,
        cell=PX,
        spread=np.ones(3),
    )
    return threads_of(np.zeros((length, 3)), np.ones(length), bands, lattice, LINES)


@pytest.mark.parametrize("drift", [-0.7, 0.0, 0.7])
def test_edges_pushed_aside_by_unseen_lines_lose_no_thread(drift):
    """Three lines of one thread seen as one narrow band: 5.4, 2.4 and 5.2 threads are 13."""
    at = [0, 10, 13, 18, 23.4, 25.8, 31, 36, 39, 49]
    found = threads_between(at, drift)
    assert np.bincount(found.band).sum() == 49
    assert np.bincount(found.band)[[3, 4, 5]].sum() == 13
    # Each thread lies between whole threads of the cloth.
    assert np.abs(found.at[1:-1] + 0.5 - PX * np.arange(1, 49)).max() < 0.25 * PX


def test_a_band_of_less_than_half_a_thread_has_none_and_no_thread_is_lost():
    found = threads_between([0, 10, 10.3, 20.1, 30])
    assert np.bincount(found.band, minlength=4).tolist() == [10, 0, 10, 10]
    assert (np.diff(found.at) >= 0).all()
