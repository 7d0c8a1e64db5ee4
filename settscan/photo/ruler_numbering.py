"""From places along a line in a photo to tick numbers and back.

In a photo the number of a tick is a projective function of its place along the ruler (Hartley
and Zisserman, Multiple View Geometry, 2nd ed. 2004, section 2.5), after the lens has moved each
place by a share of the cube of its distance from the middle of the picture.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from settscan.settings import RULER

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lens:
    """Where the lens axis meets the line, and how far the picture reaches, both in samples."""

    middle: float
    reach: float

    def cube(self, u: Array) -> Array:
        """Displacement of places by a lens that moves the picture's corner by its own reach."""
        s = (u - self.middle) / self.reach
        return np.asarray(self.reach * s * s * s)


@dataclass(frozen=True, slots=True)
class Numbering:
    """Tick numbers n = (q0 + q1 x) / (1 + q2 x) at x = (u + bend cube(u) - middle) / half."""

    q: tuple[float, float, float]
    middle: float
    half: float
    lens: Lens
    bend: float = 0.0

    def number(self, u: Array) -> Array:
        """Tick numbers, fractional, at places u."""
        q0, q1, q2 = self.q
        x = (u + self.bend * self.lens.cube(u) - self.middle) / self.half
        return np.asarray((q0 + q1 * x) / (1 + q2 * x))

    def place(self, n: Array) -> Array:
        """Places of tick numbers: the inverse of `number`."""
        q0, q1, q2 = self.q
        straight = self.middle + self.half * (n - q0) / (q1 - q2 * n)
        u = straight
        for _ in range(4 if self.bend else 0):  # converges as the bend is a few per cent
            u = straight - self.bend * self.lens.cube(u)
        return np.asarray(u, dtype=np.float64)

    @classmethod
    def at(cls, u: float, root: float, slope: float, lens: Lens) -> Numbering:
        """With tick 0 at u, spacing root^2 there, and the root rising by `slope` per sample.

        With n = q1 x / (1 + q2 x) the spacing 1 / (dn/dx) is (1 + q2 x)^2 / q1.
        """
        return cls((0.0, 1 / root**2, slope / root), u, 1.0, lens)


@dataclass(frozen=True, slots=True)
class Fit:
    """A numbering, its rms residual in ticks, and which places agree with it."""

    numbering: Numbering
    residual: float
    kept: NDArray[np.bool_]


def fitted(
    u: Array, n: Array, weight: Array, lens: Lens, *, bent: bool = True, rounds: int = 5
) -> Fit:
    """The numbering of places `u` by tick numbers `n`, by robust least squares.

    Few places fix few terms: fewer than four no perspective, fewer than eight no lens. Photos
    are hardly bent, so the lens term is held near nothing until many ticks say otherwise.
    """
    middle, half = (u.min() + u.max()) / 2, max(float(np.ptp(u)) / 2, 1.0)
    offset = float(np.round(n.mean()))
    y = n - offset
    all_terms = 2 if len(u) < 4 else 4 if bent and len(u) >= 8 else 3
    cube = lens.cube(u) / half
    q, w = np.zeros(4), weight
    for terms in (2, *[all_terms] * rounds):  # a straight line first, from which the rest is found
        x = (u - middle) / half + q[3] * cube
        below = 1 + q[2] * x
        guess = (q[0] + q[1] * x) / below
        slope = (q[1] - q[0] * q[2]) / below**2
        columns = np.stack([1 / below, x / below, -x * guess / below, slope * cube], axis=1)
        columns = columns[:, :terms]
        weighted = columns * w[:, None] ** 2
        normal, right = weighted.T @ columns, weighted.T @ (y - guess)
        if terms == 4:
            hold = float(w.max() * RULER.tick_noise / RULER.usual_bend) ** 2
            normal[3, 3] += hold
            right[3] -= hold * q[3]
        normal[np.diag_indices(terms)] *= 1 + 1e-12
        q[:terms] += np.linalg.solve(normal, right)
        away = np.abs(_model(u, q, middle, half, cube) - y)
        scale = max(1.4826 * float(np.partition(away, len(away) // 2)[len(away) // 2]), 0.01)
        w = weight / np.maximum(1, away / (2 * scale))
    kept = away < max(4 * scale, 0.08)
    residual = 1.0
    if kept.any():
        residual = float(np.sqrt((weight[kept] * away[kept] ** 2).sum() / weight[kept].sum()))
    whole = (float(q[0] + offset), float(q[1] + offset * q[2]), float(q[2]))
    return Fit(Numbering(whole, float(middle), half, lens, float(q[3])), residual, kept)


def _model(u: Array, q: Array, middle: float, half: float, cube: Array) -> Array:
    x = (u - middle) / half + q[3] * cube
    return np.asarray((q[0] + q[1] * x) / (1 + q[2] * x))


@dataclass(frozen=True, slots=True)
class Settled:
    """The places (N,) that agree with one numbering, their numbers, it, and the scale's error."""

    u: Array
    numbers: Array
    numbering: Numbering
    error: float


def settled_scale(
    u: Array, numbers: Array, weight: Array, lens: Lens, least: int, most_residual: float
) -> Settled | None:
    """The numbering for a lens that does not bend, of the places that agree for one that may.

    Args:
        u: (N,) places of the ticks.
        numbers: (N,) their numbers.
        weight: (N,) their say.
        lens: of the line.
        least: places that must agree; None is returned where fewer do.
        most_residual: in ticks; None where the places lie farther off.
    """
    bent = fitted(u, numbers, weight, lens)
    kept = bent.kept
    if kept.sum() < least or bent.residual > most_residual:
        return None
    u, numbers = u[kept], numbers[kept]
    straight = fitted(u, numbers, weight[kept], lens, bent=False)
    error = scale_error(u, numbers, bent.residual, straight.residual)
    return Settled(u, numbers, straight.numbering, error)


def scale_error(u: Array, numbers: Array, noise: float, misfit: float) -> float:
    """One standard deviation of the scale, as a mean over the ruler.

    Args:
        u: places of the ticks.
        numbers: their numbers.
        noise: rms residual of the places, in ticks.
        misfit: the same for a lens that does not bend; what it adds is no chance error.

    Linear least squares for n = q0 + q1 x - q2 x n, x from -1 to 1 along the ruler: the scale at
    x is q1 / (1 + q2 x)^2, so its relative variance averages to var(q1) / q1^2 + 4/3 var(q2).
    Errors of neighbouring ticks go together, so fewer count as independent.
    """
    x = 2 * (u - u.min()) / np.ptp(u) - 1
    y = numbers - numbers.mean()
    matrix = np.stack([np.ones_like(x), x, -x * y], axis=1)
    covariance = np.linalg.inv(matrix.T @ matrix) * noise**2 * RULER.ticks_alike
    q1 = float(np.ptp(numbers)) / 2
    # what a lens adds is cubic, Legendre's P3: rms 1 / sqrt 7 of what it moves either end
    bent = 7 * max(misfit**2 - noise**2, 0.0) / q1**2
    variance = covariance[1, 1] / q1**2 + 4 / 3 * covariance[2, 2]
    return float(np.sqrt(variance + bent + RULER.make_error**2))


def without_lens(numbering: Numbering) -> Numbering:
    """The same numbering for a lens that does not bend."""
    return replace(numbering, bend=0.0)
