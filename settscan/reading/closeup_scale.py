"""The scale of a photo without a ruler, from a close-up that has one.

A whole blanket is photographed from so far away that no ruler can be read. But its stripes can be
found in the close-up, where their threads were counted: their widths over their threads are
pixels per thread, and with the close-up's threads per mm, pixels per mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from settscan.measured import Measured, Origin
from settscan.photo.flat import Scale
from settscan.reading.joining import Run, groups_of, matching_yarns, runs_of
from settscan.reading.model import AxisRead, BandSeen, ClothRead

Floats = NDArray[np.float64]

_EDGE_PX = 0.5  # of a band seen from far away, one standard deviation
_SPACING = 0.05  # handwoven spacing wanders by so much from stripe to stripe
_MOST_OFF = 2.5  # such deviations, root mean square, that a place may be off
_LEAST_INNER = 2  # stripes whose widths must agree; one alone agrees with anything
_SAME_PITCH = 0.05  # places that are as good must give the same pitch to so much


@dataclass(frozen=True, slots=True)
class _Width:
    """Neighbouring bands of colours that look alike: their group and width in pixels."""

    colour: int | None
    width: float


def scale_from_close_up(whole: ClothRead, close: ClothRead, scale: Scale) -> Scale | None:
    """The scale with what the close-up adds; None if it adds nothing.

    Args:
        whole: reading of the photo of the whole, counted or not.
        close: reading of the close-up.
        scale: of the whole photo, as far as it is known.
    """
    groups = groups_of(whole.yarns)
    same = {k: groups[v] for k, v in matching_yarns(whole.yarns, close.yarns).items()}
    known = [scale.px_per_mm_x, scale.px_per_mm_y]
    added = False
    for k, (axis, other) in enumerate(((whole.columns, close.columns), (whole.rows, close.rows))):
        if known[k] is not None or other.density is None:
            continue
        pitch = axis.pitch_px or pitch_of(axis.bands, other, groups, same)
        if pitch is not None:
            known[k] = _product(pitch, other.density)
            added = True
    if not added:
        return None
    return Scale(px_per_mm_x=known[0], px_per_mm_y=known[1], source="close-up")


def _product(pitch: Measured, density: Measured) -> Measured:
    """Pixels per thread times threads per mm; their relative errors add in squares."""
    value = float(pitch.value) * float(density.value)
    halves = [float((m.high - m.low) / 2 / m.value) for m in (pitch, density)]
    spread = value * math.hypot(*halves)
    return Measured(value, value - spread, value + spread, Origin.READ)


def pitch_of(
    bands: Sequence[BandSeen], close: AxisRead, groups: dict[str, int], same: dict[str, int]
) -> Measured | None:
    """Pixels per thread in the whole photo; None where the close-up is not found in it.

    Args:
        bands: of one axis of the whole photo.
        close: the same axis in the close-up.
        groups: numbers of the colours of the whole photo.
        same: numbers of the colours of the close-up.
    """
    widths, runs = _widths(bands, groups), runs_of(close.stripes, same)
    last = len(runs) - 1
    inner = [k for k in range(1, last) if not runs[k].cut]
    if len(inner) < _LEAST_INNER:
        return None
    threads = np.array([_likeliest(runs[k]) for k in inner], dtype=float)
    found: list[tuple[float, float, float]] = []
    for first in range(len(widths) - last):
        part = widths[first : first + last + 1]
        if any(a.colour is None or a.colour != b.colour for a, b in zip(part, runs, strict=True)):
            continue
        found.append(_fitted(np.array([part[k].width for k in inner]), threads))
    good = [f for f in found if f[2] < _MOST_OFF]
    if not good:
        return None
    pitches = np.array([pitch for pitch, _, _ in good])
    middle = float(np.median(pitches))
    if float(np.abs(pitches / middle - 1).max()) > _SAME_PITCH:
        return None
    spread = 1.645 * good[0][1]
    return Measured(middle, middle - spread, middle + spread, Origin.READ)


def _fitted(widths: Floats, threads: Floats) -> tuple[float, float, float]:
    """Pixels per thread, its standard deviation, and how far off the widths are (in theirs)."""
    pitch = float(widths.sum() / threads.sum())
    sd = np.hypot(_EDGE_PX * np.sqrt(2), _SPACING * pitch * threads)
    weight = 1 / sd**2
    pitch = float((weight * widths * threads).sum() / (weight * threads**2).sum())
    off = float(np.sqrt(np.mean(((widths - pitch * threads) / sd) ** 2)))
    return pitch, float((weight * threads**2).sum() ** -0.5), off


def _likeliest(run: Run) -> int:
    return max(run.table, key=lambda n: run.table[n])


def _widths(bands: Sequence[BandSeen], groups: dict[str, int]) -> list[_Width]:
    """Bands with neighbours of one group joined."""
    found: list[_Width] = []
    for band in bands:
        colour, width = groups.get(band.yarn), band.end_px - band.start_px
        if found and colour is not None and found[-1].colour == colour:
            width += found.pop().width
        found.append(_Width(colour, width))
    return found
