"""Thread coordinates settled on the weave's own picture.

The wave that was followed to find them is one sinusoid under a window, and stripes cut it off in
the middle: few threads tell in a stripe whose yarn crosses itself nearly everywhere, and what is
left of the wave at such a cut turns its phase, by up to half a thread, one way or the other as
the cut falls in the cycle. The weave folded from the whole cloth has no such cuts. Each row and
column is laid onto it by least squares, where it tells, and the weave folded anew.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.carriers import Advance
from settscan.reading.fold import Crossings, Fold, Parts, places
from settscan.settings import FOLD, FoldSettings

Floats = NDArray[Any]
Mask = NDArray[np.bool_]


def settled(
    crossings: Crossings,
    parts: Parts,
    courses: tuple[Advance, Advance],
    settings: FoldSettings = FOLD,
) -> tuple[Advance, Advance]:
    """The courses of the weave along x and y, laid onto it, from end to end of the picture.

    Args:
        crossings: what the pixels tell.
        parts: of the cloth that fold alike, see `parts_of`.
        courses: right to a quarter of the weave's cycle.
        settings: see `FoldSettings`.
    """
    height, width = crossings.seen.shape
    turned, turned_parts = crossings.turned(), [(down, across) for across, down in parts]
    before = [
        course.between(np.arange(length, dtype=float))
        for course, length in zip(courses, (width, height), strict=True)
    ]
    sure_x, sure_y = (
        np.interp(np.arange(length), *_coherence(course)) > settings.least_agreement
        for course, length in zip(courses, (width, height), strict=True)
    )
    rates = [course.rate for course in courses]
    # A slip of the wave is sharper than any wandering of the threads.
    x, y = (_smoothed(turns, rate, settings) for turns, rate in zip(before, rates, strict=True))
    for _ in range(settings.rounds):
        y = y + _shift(crossings, parts, (x, y), sure_y, rates[1], settings)
        x = x + _shift(turned, turned_parts, (y, x), sure_x, rates[0], settings)
    return _moved(courses[0], x - before[0]), _moved(courses[1], y - before[1])


def _shift(
    crossings: Crossings,
    parts: Parts,
    turns: tuple[Floats, Floats],
    sure: Mask,
    rate: float,
    settings: FoldSettings,
) -> Floats:
    """(H,) cycles by which the rows lie further along the weave than `turns` along y have it.

    Rows that tell little, or for which the wave was not `sure` (H,), follow their neighbours.
    """
    push, weight, told, usual = np.zeros((4, len(turns[1])))
    for across, down in parts:
        fold = Fold.of(
            crossings, places(turns[0], settings) * across, places(turns[1], settings) * down
        )
        expected, slope = _along(fold.table, turns[1])
        push += ((fold.seen - fold.power * expected) * slope * down).sum(axis=1)
        weight += (fold.power * slope**2 * down).sum(axis=1)
        told += (fold.seen * expected * down).sum(axis=1)
        usual += (fold.power * expected**2 * down).sum(axis=1)
    # Rows that do not show the weave where it must be, of a yarn that is not known as yet, mislead.
    told, usual = (_windowed(v, rate * settings.row_windows, settings) for v in (told, usual))
    say = np.clip(told / np.maximum(settings.well_told * usual, 1e-30), 0.0, 1.0)
    push, weight = (_windowed(say * values, rate, settings) for values in (push, weight))
    known = sure & (weight > settings.least_weight * np.median(weight))
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


def _moved(course: Advance, shift: Floats) -> Advance:
    """The course with its cycles shifted (N,), told as far as the picture's ends."""
    last = len(shift) - 1
    inner = (course.at > 0) & (course.at < last)
    at = np.concatenate([[0.0], course.at[inner], [float(last)]])
    cycles = course.between(at) + np.interp(at, np.arange(len(shift)), shift)
    coherence = np.interp(at, *_coherence(course))
    return Advance(at=at, cycles=cycles - cycles[0], coherence=coherence)


def _coherence(course: Advance) -> tuple[Floats, Floats]:
    """Places and coherence there: of each window, or between neighbouring ones."""
    at = course.at
    if len(course.coherence) < len(at):
        at = (at[1:] + at[:-1]) / 2
    return at, course.coherence
