"""The lines of a twill: which way they rise, and whether and where they turn back.

A plain weave and a hopsack show the weave's wave along both diagonals at every place, a twill
along one. A herringbone shows one at each place too, but over the whole cloth both: its lines
turn back, all ends or all picks at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.carriers import Advance, Course, demodulate_mirrored
from settscan.reading.threads import Signals
from settscan.settings import THREADS, ThreadSettings

Floats = NDArray[Any]

_UNEVEN = 0.25  # of the usual number of ends: a turn that the picture hides doubles it
_EVEN = 0.7  # share of the turns that must lie evenly


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagonals:
    """How far the one diagonal outweighs the other, -1 to 1, in windows along each axis.

    Attributes:
        at: middles of the windows along x (N,) and y (M,), pixels.
        lean: mean over all that cross them, along x (N,) and y (M,).
    """

    at: tuple[Floats, Floats]
    lean: tuple[Floats, Floats]

    @property
    def sizes(self) -> tuple[float, float]:
        """Mean size of the lean along x and along y."""
        return float(np.abs(self.lean[0]).mean()), float(np.abs(self.lean[1]).mean())

    def single(self, settings: ThreadSettings = THREADS) -> bool:
        """Whether one diagonal alone shows at each place, as in twills and herringbones."""
        return max(self.sizes) > settings.least_lean

    def smear(self, courses: tuple[Advance, Advance]) -> float:
        """How long a smear would take the other diagonal, pixels, if both are in the cloth.

        A hand that moves along one diagonal while the shutter is open averages the wave of it over
        its way: sin(pi f s) / (pi f s) is left of a wave of f cycles per pixel. That of the other
        diagonal lies across and is left whole.
        """
        lean = min(max(self.sizes), 1 - 1e-6)
        left = np.sqrt((1 - lean) / (1 + lean))
        way = np.linspace(0, 1, 1001)
        cycles = float(np.interp(-left, -np.sinc(way), way))
        return cycles / float(np.hypot(courses[0].rate, courses[1].rate))

    def turning(self, settings: ThreadSettings = THREADS) -> int | None:
        """The axis, 0 for x, along which a twill's lines turn back; None if they run on."""
        axis = int(np.argmax(self.sizes))
        # In the mean along the axis lines that turn back cancel out.
        going_on = abs(float(self.lean[axis].mean()))
        turns = self.sizes[axis] > max(settings.least_lean, going_on + settings.least_turned)
        return axis if turns else None

    def turns(self, axis: int) -> Floats:
        """Where along an axis the lines turn back, pixels."""
        at, lean = self.at[axis], self.lean[axis]
        left = np.flatnonzero(np.sign(lean[1:]) * np.sign(lean[:-1]) < 0)
        share = lean[left] / (lean[left] - lean[left + 1])
        return np.asarray(at[left] + share * (at[left + 1] - at[left]))


def find_diagonals(
    signals: Signals, courses: tuple[Advance, Advance], settings: ThreadSettings = THREADS
) -> Diagonals:
    """Compare both diagonals of the weave's wave place by place.

    Args:
        signals: the weave's contrast and shading.
        courses: cycles of the wave along x and y.
        settings: see `ThreadSettings`.
    """
    height, width = signals.mask.shape
    along_x, along_y = Course.following(courses[0], width), Course.following(courses[1], height)
    windows = settings.diagonal_windows
    powers: list[Any] = [0.0, 0.0]
    xs = ys = np.zeros(0)
    for image in (signals.contrast, signals.shading):
        size = max(float(np.square(image).mean()), 1e-30)
        xs, ys, *both = demodulate_mirrored(image, along_x, along_y, windows)
        powers = [power + np.abs(z) ** 2 / size for power, z in zip(powers, both, strict=True)]
    apart, total = powers[0] - powers[1], powers[0] + powers[1] + 1e-30
    return Diagonals(
        at=(xs, ys),
        lean=(apart.sum(axis=0) / total.sum(axis=0), apart.sum(axis=1) / total.sum(axis=1)),
    )


def ends_between_turns(turns: Floats) -> int | None:
    """Threads between two turns, if they lie evenly: thread coordinates (K,) of the turns."""
    if len(turns) < 2:
        return None
    apart = np.diff(turns)
    usual = float(np.median(apart))
    even = apart[np.abs(apart - usual) < _UNEVEN * usual]
    if len(even) < _EVEN * len(apart) or usual < 2:
        return None
    return round(float(even.mean()))
