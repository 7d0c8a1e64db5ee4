"""The cloth plane as the camera saw it: two vanishing points and one lens term.

Threads in a flat cloth form two families of parallel lines. In a photo each family meets in a
vanishing point, and the two points fix the plane up to one scale along each family (Hartley and
Zisserman, Multiple View Geometry, 2nd ed. 2004, section 2.7), which is just what is wanted here:
warp and weft keep scales of their own, and within each axis equal distances become equal.

Flat coordinates here have their origin at the middle of the photo and one flat pixel per photo
pixel there, along either family.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

# The five numbers that lines of the cloth can tell, in the order of `Plane.terms`.
TERMS = ("lean_down", "meet_down", "lean_across", "meet_across", "lens")


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """Flat cloth to photo.

    Attributes:
        centre: (x, y) of the photo's middle in photo pixels; the lens axis.
        reach: half the photo's diagonal in pixels, the unit of the terms below.
        roll: turn of the cloth in the photo, radians, clockwise as seen.
        lean_down: sideways step per downward step of the lines that run down, after `roll`.
        meet_down: homogeneous third coordinate of their vanishing point (0: parallel).
        lean_across: downward step per sideways step of the lines that run across.
        meet_across: homogeneous third coordinate of their vanishing point.
        lens: radial term k; a photo point at p (in units of `reach` from the middle) is where a
            lens without distortion would show p (1 + k p^2).
    """

    centre: tuple[float, float]
    reach: float
    roll: float = 0.0
    lean_down: float = 0.0
    meet_down: float = 0.0
    lean_across: float = 0.0
    meet_across: float = 0.0
    lens: float = 0.0

    @property
    def terms(self) -> NDArray[np.float64]:
        """The five numbers named in `TERMS`."""
        return np.array([getattr(self, name) for name in TERMS], dtype=np.float64)

    def with_terms(self, terms: NDArray[np.float64]) -> Plane:
        """The same photo and roll with other terms."""
        lean_down, meet_down, lean_across, meet_across, lens = (float(t) for t in terms)
        return replace(
            self,
            lean_down=lean_down,
            meet_down=meet_down,
            lean_across=lean_across,
            meet_across=meet_across,
            lens=lens,
        )

    def with_each_larger(self, step: float) -> Iterator[Plane]:
        """The planes of which one term is larger by `step`, in the order of `TERMS`."""
        for k in range(len(TERMS)):
            terms = self.terms
            terms[k] += step
            yield self.with_terms(terms)

    def matrix(self) -> NDArray[np.float64]:
        """(3, 3) from flat pixels to photo pixels of a lens without distortion."""
        across = np.array([1.0, self.lean_across, self.meet_across])
        down = np.array([self.lean_down, 1.0, self.meet_down])
        across /= math.hypot(1.0, self.lean_across)
        down /= math.hypot(1.0, self.lean_down)
        cos, sin = math.cos(self.roll), math.sin(self.roll)
        turn = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
        x, y = self.centre
        size = self.reach
        place = np.array([[size, 0.0, x], [0.0, size, y], [0.0, 0.0, 1.0]])
        plane = np.column_stack([across, down, [0.0, 0.0, 1.0]])
        return np.asarray(place @ turn @ plane @ np.diag([1 / size, 1 / size, 1.0]))

    def to_photo(self, flat: Points) -> Points:
        """Photo pixels (N, 2) of flat positions (N, 2)."""
        return self.bent(apply(self.matrix(), flat))

    def to_flat(self, photo: Points) -> Points:
        """Flat positions (N, 2) of photo pixels (N, 2)."""
        return apply(inverse(self.matrix()), self.unbent(photo))

    def unbent(self, photo: Points) -> Points:
        """Where a lens without distortion would show these photo points."""
        offset = photo - np.array(self.centre)
        square = (offset**2).sum(axis=1, keepdims=True) / self.reach**2
        return np.asarray(offset * (1 + self.lens * square) + np.array(self.centre))

    def bent(self, ideal: Points) -> Points:
        """The inverse of `unbent`, by Newton's rule on the radius."""
        if self.lens == 0.0:
            return ideal
        offset = ideal - np.array(self.centre)
        wanted = np.sqrt((offset**2).sum(axis=1)) / self.reach
        wanted = np.minimum(wanted, _FARTHEST)  # far outside the photo the cubic may turn back
        radius = wanted.copy()
        for _ in range(_NEWTON_STEPS):
            slope = np.maximum(1 + 3 * self.lens * radius**2, _LEAST_SLOPE)
            radius -= (radius * (1 + self.lens * radius**2) - wanted) / slope
        ratio = np.where(wanted > 0, radius / np.maximum(wanted, 1e-12), 1.0)
        return np.asarray(offset * ratio[:, None] + np.array(self.centre))


_NEWTON_STEPS = 5  # converges to 1e-9 of the half diagonal for |lens| <= 0.1
_FARTHEST = 1.7  # half diagonals; positions beyond are outside any photo
_LEAST_SLOPE = 0.2  # keeps Newton's rule from dividing by nothing far outside


def inverse(matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """The homography back."""
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def apply(matrix: NDArray[np.float64], points: Points) -> Points:
    """Points (N, 2) through a (3, 3) homography; points behind the camera are sent far away."""
    homogeneous = points @ matrix[:, :2].T + matrix[:, 2]
    depth = homogeneous[:, 2:]
    depth = np.where(np.abs(depth) < 1e-9, 1e-9, depth)
    return np.asarray(np.where(depth > 0, homogeneous[:, :2] / depth, 1e9))
