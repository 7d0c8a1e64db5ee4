"""Thread coordinates settled on the weave's own picture.

The wave that was followed to find them is one sinusoid under a window, and stripes cut it off in
the middle: few threads tell in a stripe whose yarn crosses itself nearly everywhere, and what is
left of the wave at such a cut turns its phase, by up to half a thread, one way or the other as
the cut falls in the cycle. The weave folded from the whole cloth has no such cuts. Each row and
column is laid onto it by least squares, where it tells, and the weave folded anew.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, TypeGuard

import numpy as np
from numpy.typing import NDArray

from settscan.reading.carriers import Advance
from settscan.reading.fold import Crossings, Fold, Parts, places
from settscan.reading.threads import Lattice
from settscan.settings import FOLD, FoldSettings

Floats = NDArray[Any]


def settled(
    crossings: Crossings,
    parts: Parts,
    lattices: tuple[Lattice | None, Lattice | None],
    settings: FoldSettings = FOLD,
) -> tuple[Lattice | None, Lattice | None]:
    """The lattices along x and y, laid onto the weave if they follow its wave.

    Args:
        crossings: what the pixels tell.
        parts: of the cloth that fold alike, see `parts_of`.
        lattices: right to a quarter of the weave's cycle.
        settings: see `FoldSettings`.
    """
    along_x, along_y = lattices
    if not (_by_weave(along_x) and _by_weave(along_y)):
        return lattices
    height, width = crossings.seen.shape
    turned, turned_parts = crossings.turned(), [(down, across) for across, down in parts]
    before = _turns(along_x, width), _turns(along_y, height)
    # A slip of the wave is sharper than any wandering of the threads.
    x, y = (
        _smoothed(turns, lattice.course.rate, settings)
        for turns, lattice in zip(before, (along_x, along_y), strict=True)
    )
    for _ in range(settings.rounds):
        y = y + _shift(crossings, parts, (x, y), along_y.course.rate, settings)
        x = x + _shift(turned, turned_parts, (y, x), along_x.course.rate, settings)
    return _moved(along_x, x - before[0]), _moved(along_y, y - before[1])


def _by_weave(lattice: Lattice | None) -> TypeGuard[Lattice]:
    return lattice is not None and lattice.found_by == "weave"


def _turns(lattice: Lattice, length: int) -> Floats:
    """(length,) cycles at each pixel."""
    return lattice.course.between(np.arange(length, dtype=float))


def _shift(
    crossings: Crossings,
    parts: Parts,
    turns: tuple[Floats, Floats],
    rate: float,
    settings: FoldSettings,
) -> Floats:
    """(H,) cycles by which the rows lie further along the weave than `turns` along y have it."""
    push, weight = np.zeros(len(turns[1])), np.zeros(len(turns[1]))
    for across, down in parts:
        fold = Fold.of(
            crossings, places(turns[0], settings) * across, places(turns[1], settings) * down
        )
        expected, slope = _along(fold.table, turns[1])
        push += ((fold.seen - fold.power * expected) * slope * down).sum(axis=1)
        weight += (fold.power * slope**2 * down).sum(axis=1)
    push, weight = (_windowed(values, rate, settings) for values in (push, weight))
    known = weight > settings.least_weight * np.median(weight)
    if not known.any():
        return np.zeros(len(push))
    shift = np.interp(np.arange(len(push)), np.flatnonzero(known), push[known] / weight[known])
    return np.clip(shift, -settings.most_shift, settings.most_shift)


def _windowed(values: Floats, rate: float, settings: FoldSettings) -> Floats:
    """(N,) sums of values under windows of some cycles about each element."""
    reach = min(max(3, round(settings.window_cycles / rate)), len(values))
    return np.convolve(values, np.hanning(reach + 2)[1:-1], mode="same")


def _smoothed(turns: Floats, rate: float, settings: FoldSettings) -> Floats:
    """(N,) cycles without what is sharper than a window."""
    even = np.linspace(turns[0], turns[-1], len(turns))
    about = _windowed(turns - even, rate, settings)
    return np.asarray(even + about / _windowed(np.ones(len(turns)), rate, settings))


def _along(table: Floats, turns: Floats) -> tuple[Floats, Floats]:
    """(H, K) a table (K, K) and its slope per cycle, at any cycles along its first axis (H,)."""
    size = len(table)
    waves = np.arange((size + 1) // 2)
    # The first part of the cycle has its middle half a part after its start.
    parts = np.fft.rfft(table, axis=0)[waves] * np.exp(-1j * np.pi * waves / size)[:, None] / size
    parts[1:] *= 2
    phasor = np.exp(2j * np.pi * turns[:, None] * waves)
    return (phasor @ parts).real, (phasor @ (2j * np.pi * waves[:, None] * parts)).real


def _moved(lattice: Lattice, shift: Floats) -> Lattice:
    """The lattice with its cycles shifted (N,), told as far as the picture's ends."""
    course = lattice.course
    last = len(shift) - 1
    inner = (course.at > 0) & (course.at < last)
    at = np.concatenate([[0.0], course.at[inner], [float(last)]])
    cycles = course.between(at) + np.interp(at, np.arange(len(shift)), shift)
    centre = course.at
    if len(course.coherence) < len(centre):
        centre = (centre[1:] + centre[:-1]) / 2
    return replace(
        lattice,
        course=Advance(
            at=at, cycles=cycles - cycles[0], coherence=np.interp(at, centre, course.coherence)
        ),
    )
