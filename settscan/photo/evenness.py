"""How evenly the ticks of rulers lie on a plane, which tells how it draws together along them.

Ticks stand at equal distances, so the plane of the cloth is the one on which those of a ruler
that lies on it are evenly spaced (one dimension of Hartley and Zisserman, Multiple View Geometry,
2nd ed. 2004, section 8.6). Where a cloth has few stripes nothing else tells it so well.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import RulerFound
from settscan.photo.plane import Plane
from settscan.settings import SCALE, ScaleSettings

Array = NDArray[np.float64]

_POINTS = 25  # places along a ruler; its ticks lie on a smooth curve


class Marks(NamedTuple):
    """Places along a ruler.

    Attributes:
        mm: (N,) from its first tick.
        photo: (N, 2) photo pixels.
        error: one standard deviation of `unevenness`.
    """

    mm: Array
    photo: Array
    error: float


def marks_of(ruler: RulerFound, half_diagonal: float, s: ScaleSettings = SCALE) -> Marks:
    """The places of a ruler's ticks; `half_diagonal` is the photo's, in pixels."""
    if ruler.ticks_mm is None:
        mm = np.linspace(0.0, ruler.length_mm, _POINTS)
        along = ruler.a * mm / (1 + ruler.c * mm)
        photo = ruler.origin_px + along[:, None] * ruler.direction
    else:
        mm, photo = ruler.ticks_mm, np.asarray(ruler.ticks_px, dtype=np.float64)
    length = float(np.hypot(*(photo[-1] - photo[0]))) / half_diagonal
    lies = s.ruler_lean * length / s.usual_focal
    return Marks(mm, photo, math.hypot(_CURVED * ruler.relative_error, lies))


# The change of a slope along a line of evenly spread points errs by 2 sqrt(15) times as much as
# the slope does (normal equations of a parabola).
_CURVED = 2 * math.sqrt(15)


def unevenness(marks: Marks, plane: Plane) -> float:
    """Relative change of a ruler's scale on the plane, from its one end to the other."""
    return curve(marks.mm, plane.to_flat(marks.photo))[1]


def curve(mm: Array, flat: Array) -> tuple[Array, float]:
    """Flat pixels (2,) per mm in the middle of a line of places, and how unevenly they lie."""
    centred = mm - (mm[0] + mm[-1]) / 2
    line = np.polyfit(centred, flat, 2)
    per_mm = np.asarray(line[1], dtype=np.float64)
    size = float(np.hypot(*per_mm))
    return per_mm, float(2 * (line[0] @ per_mm) * np.ptp(mm) / size**2)


class Told(NamedTuple):
    """What rulers add to the normal equations of an unknown change of `Plane.terms`."""

    normal: Array  # (5, 5)
    pull: Array  # (5,)


NOTHING_TOLD = Told(np.zeros((5, 5)), np.zeros(5))


def told_by(
    marks: tuple[Marks, ...], plane: Plane, change: Array, normal: Array, s: ScaleSettings = SCALE
) -> Told:
    """What rulers say of the plane beyond the cloth, as far as the cloth does not gainsay it.

    A ruler with one end in the air tells another plane than the cloth's.

    Args:
        marks: of the rulers.
        plane: as it is now.
        change: (5,) of its terms that the cloth alone wants ...
        normal: (5, 5) ... and the inverse of the covariance of that.
        s: settings.
    """
    spread = np.linalg.inv(normal)
    all_normal, pull = np.zeros((5, 5)), np.zeros(5)
    for ruler in marks:
        now = unevenness(ruler, plane)
        effect = _effect(ruler, plane, now)
        uneven = now + effect @ change
        if abs(uneven) < ruler.error:
            continue  # as even as it may lie: it tells nothing that the cloth does not
        left = uneven**2 / (ruler.error**2 + effect @ spread @ effect)
        say = 1 / (ruler.error * (1 + left / s.ruler_gainsaid**2)) ** 2
        all_normal += say * np.outer(effect, effect)
        pull -= say * now * effect
    return Told(all_normal, pull)


def _effect(ruler: Marks, plane: Plane, now: float, step: float = 1e-4) -> Array:
    """(5,) change of a ruler's unevenness, which is `now`, per unit of each term of the plane."""
    others = plane.with_each_larger(step)
    return np.array([(unevenness(ruler, other) - now) / step for other in others])
