"""Pixels per millimetre along both axes of the flat cloth, and how sure they are.

A ruler measures one direction. Along it, flat pixels (gx, gy) per millimetre satisfy
(gx / sx)^2 + (gy / sy)^2 = 1 for the two scales sought. The ratio sy / sx follows from the plane
itself when the camera's focal length is known or assumed (Hartley and Zisserman, Multiple View
Geometry, 2nd ed. 2004, section 8.6), since warp and weft are square to each other on the cloth.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from settscan.measured import Measured, Origin
from settscan.photo.evenness import curve, marks_of
from settscan.photo.flat import CardFound, RulerFound, Scale
from settscan.photo.given import GivenScale
from settscan.photo.plane import Plane, apply, inverse
from settscan.settings import SCALE, ScaleSettings

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A known distance seen on the plane.

    Attributes:
        per_mm: (2,) flat pixels along x and y for one millimetre.
        error: relative, one standard deviation.
        uneven: relative change of the scale from one end to the other, which should be none.
        uneven_error: one standard deviation of it.
    """

    per_mm: Array
    error: float
    uneven: float = 0.0
    uneven_error: float = 0.0


def ruler_stretch(ruler: RulerFound, plane: Plane, s: ScaleSettings = SCALE) -> Stretch:
    """What a ruler says, its ticks laid on the plane."""
    marks = marks_of(ruler, plane.reach, s)
    error = math.hypot(ruler.relative_error, s.ruler_height)
    return _line_stretch(marks.mm, plane.to_flat(marks.photo), error, s)


def card_stretches(card: CardFound, plane: Plane, s: ScaleSettings = SCALE) -> tuple[Stretch, ...]:
    """What the card says along both of its sides."""
    corners = apply(inverse(card.mm_to_photo), np.asarray(card.outline_px, dtype=np.float64))
    low, high = corners.min(axis=0), corners.max(axis=0)
    middle = (low + high) / 2
    error = math.hypot(card.relative_error, s.card_height)
    found = []
    for axis in (0, 1):
        at = np.linspace(low[axis], high[axis], 25)
        mm = np.tile(middle, (25, 1))
        mm[:, axis] = at
        flat = plane.to_flat(apply(card.mm_to_photo, mm))
        found.append(_line_stretch(at - at[0], flat, error, s))
    return tuple(found)


def given_stretch(given: GivenScale, plane: Plane, s: ScaleSettings = SCALE) -> Stretch:
    """What two points and their distance say."""
    ends = plane.to_flat(np.array([[given.x0, given.y0], [given.x1, given.y1]]))
    error = math.hypot(s.given_error, s.given_error_px * math.sqrt(2) / given.length_px)
    return Stretch(per_mm=(ends[1] - ends[0]) / given.length_mm, error=error)


def _line_stretch(at: Array, flat: Array, error: float, s: ScaleSettings) -> Stretch:
    """Slope of flat positions over millimetres, and how much it changes along the line."""
    per_mm, uneven = curve(at, flat)
    return Stretch(per_mm=per_mm, error=error, uneven=uneven, uneven_error=s.uneven_error)


def focal_square(plane: Plane, focal_35mm: float | None, s: ScaleSettings = SCALE) -> Measured:
    """Square of the focal length in half diagonals: from the file, else from the plane.

    Two vanishing points of square directions give it (ibid., section 8.8), but only when both are
    near; otherwise it is that of an ordinary phone or camera, with a wide interval.
    """
    if focal_35mm is not None:
        value = (focal_35mm / s.half_diagonal_35mm) ** 2
        spread = 2 * s.focal_error * value
    else:
        value, spread = s.usual_focal**2, 2 * s.usual_focal_spread * s.usual_focal**2
        across, down = _axes(plane)
        product = across[2] * down[2]
        if product != 0:
            implied = -(across[:2] @ down[:2]) / product
            implied_spread = s.skew_error / abs(product)
            if implied > 0:
                weight = (1 / spread**2, 1 / implied_spread**2)
                value = (value * weight[0] + implied * weight[1]) / sum(weight)
                spread = sum(weight) ** -0.5
    low, high = max(0.1, value - 1.645 * spread), value + 1.645 * spread
    return Measured(max(value, low), low, high, Origin.ASSUMED)


def _axes(plane: Plane) -> tuple[Array, Array]:
    """The homogeneous directions of flat x and y in the photo, in half diagonals."""
    x, y = plane.centre
    size = plane.reach
    home = np.array([[1 / size, 0.0, -x / size], [0.0, 1 / size, -y / size], [0.0, 0.0, 1.0]])
    matrix = home @ plane.matrix() @ np.diag([size, size, 1.0])
    return np.asarray(matrix[:, 0]), np.asarray(matrix[:, 1])


def aspect(plane: Plane, focal_squared: float) -> float:
    """Flat pixels per mm along y over those along x."""
    across, down = _axes(plane)
    lens = np.array([1.0, 1.0, focal_squared])
    return math.sqrt(float((across**2 * lens).sum() / (down**2 * lens).sum()))


def tilt_degrees(plane: Plane, focal_squared: float) -> float:
    """How far the camera looked from the cloth's normal, degrees."""
    depth = np.array([1.0, 1.0, math.sqrt(focal_squared)])
    across, down = (axis * depth for axis in _axes(plane))
    normal = np.cross(across, down)
    return math.degrees(math.acos(min(1.0, abs(normal[2]) / float(np.linalg.norm(normal)))))


def find_scale(
    stretches: tuple[Stretch, ...],
    plane: Plane,
    focal_squared: Measured,
    source: str,
    sampling: float,
    s: ScaleSettings = SCALE,
) -> tuple[Scale, bool]:
    """The scale of the flat picture and whether only one direction was measured.

    Args:
        stretches: what rulers, cards or the person say; not empty.
        plane: of the cloth.
        focal_squared: see `focal_square`.
        source: for `Scale.source`.
        sampling: flat picture's pixels per plane pixel.
        s: settings.
    """
    ratio = math.log(aspect(plane, float(focal_squared.value)))
    ends = [math.log(aspect(plane, float(f))) for f in (focal_squared.low, focal_squared.high)]
    ratio_error = math.hypot((max(ends) - min(ends)) / 3.29, s.aspect_error)
    mean = np.log([np.hypot(*k.per_mm) for k in stretches]).mean()
    logs = np.array([mean - ratio / 2, mean + ratio / 2])
    normal = np.zeros((2, 2))
    for _ in range(6):
        rows, rest, say = [np.array([-1.0, 1.0])], [ratio - (logs[1] - logs[0])], [ratio_error]
        for k in stretches:
            parts = (k.per_mm / np.exp(logs)) ** 2
            rows.append(parts / parts.sum())
            rest.append(math.log(parts.sum()) / 2)
            say.append(k.error)
        weight = 1 / np.array(say) ** 2
        a = np.array(rows)
        normal = a.T @ (a * weight[:, None])
        logs = logs + np.linalg.solve(normal, a.T @ (weight * np.array(rest)))
    measured = normal - np.outer(*[np.array([-1.0, 1.0]) / ratio_error] * 2)
    single = bool(np.linalg.eigvalsh(measured)[0] < 1 / (2 * ratio_error) ** 2)
    errors = np.sqrt(np.diag(np.linalg.inv(normal)))
    origin = Origin.TYPED if source == "given" else Origin.READ
    x, y = (
        Measured(v * sampling, v * sampling * (1 - r), v * sampling * (1 + r), origin)
        for v, r in zip(np.exp(logs).tolist(), (1.645 * errors).tolist(), strict=True)
    )
    return Scale(px_per_mm_x=x, px_per_mm_y=y, source=source), single
