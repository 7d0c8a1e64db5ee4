"""The illumination as it comes to be known, and what each axis of the cloth tells of it.

Its logarithm is a smooth part that varies with x and y together, a slope and a bend along each
axis, and the edges of shadows along the threads. Along an axis two things tell: the contrast of
the other axis' stripes, which the lamp dims too, and stripes of one yarn that come again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from settscan.photo.field import normal_matrix, solved
from settscan.photo.shadow import Edge, find_edge
from settscan.photo.view import spline_basis
from settscan.settings import LightSettings

Array = NDArray[np.float64]

Edges = tuple[tuple[Edge, ...], tuple[Edge, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """The logarithm of the illumination as far as it is known.

    Attributes:
        places: (w,) and (h,) shares 0..1 of the cells along x and y.
        bases: (w, kx) and (h, ky) splines there.
        joint: (ky, kx) their coefficients, for what varies with x and y together.
        trends: Legendre terms along x and along y.
        edges: of shadows along x and along y.
    """

    places: tuple[Array, Array]
    bases: tuple[Array, Array]
    joint: Array
    trends: tuple[Array, Array]
    edges: Edges = ((), ())

    @classmethod
    def over(cls, height: int, width: int, s: LightSettings) -> Lamp:
        """Even light over so many cells."""
        knots = s.spans + 3
        places = middles(width), middles(height)
        return cls(
            places=places,
            bases=(spline_basis(places[0], knots), spline_basis(places[1], knots)),
            joint=np.zeros((knots, knots)),
            trends=(np.zeros(_ORDERS), np.zeros(_ORDERS)),
        )

    def log(self) -> Array:
        """(h, w) of all of it."""
        along_x, along_y = (
            _trend(terms, at) for terms, at in zip(self.trends, self.places, strict=True)
        )
        smooth = self.bases[1] @ self.joint @ self.bases[0].T
        return np.asarray(smooth + along_x + along_y[:, None] + stepped(self.edges, *self.places))

    def spline(self) -> Array:
        """(ky, kx) coefficients of its smooth parts."""
        along_x, along_y = (
            _spline_of(_trend(terms, at), basis)
            for terms, at, basis in zip(self.trends, self.places, self.bases, strict=True)
        )
        return np.asarray(self.joint + along_x[None] + along_y[:, None])


def stepped(edges: Edges, across: Array, down: Array) -> Array:
    """(len(down), len(across)) log illumination of the edges of shadows."""
    along_x, along_y = (
        sum((edge.along(places) for edge in some), np.zeros(len(places)))
        for some, places in zip(edges, (across, down), strict=True)
    )
    return np.asarray(along_x[None] + along_y[:, None])


class Axis(NamedTuple):
    """Light of cells as one axis sees it, turned so that the axis runs along x.

    Attributes:
        only: (h, w, 3) without the other axis' stripes. Where a ruler or the frame hides some of
            these, a mean of the light itself would step.
        rest: (h, w, 3) without its own, which leaves the marks.
        marks: (h, 3) the other axis' part.
        weight: (h, w).
        at: (w,) places 0..1.
        trend: (2,) Legendre terms divided out already.
        edges: of shadows, divided out already.
    """

    only: Array
    rest: Array
    marks: Array
    weight: Array
    at: Array
    trend: Array
    edges: tuple[Edge, ...]

    def light(self) -> tuple[Array, Array]:
        """(w,) how much shows at each place, and (w, 3) its mean light without the other axis."""
        total = np.maximum(self.weight.sum(axis=0), 1e-9)
        return total, np.einsum("hwc,hw->wc", self.only, self.weight) / total[:, None]


def axes_of(
    left: Array, columns: Array, rows: Array, weight: Array, lamp: Lamp
) -> tuple[Axis, Axis]:
    """Light (h, w, 3) that is left, as the columns and as the rows see it."""
    centred = columns - columns.mean(axis=0)
    across, down = left - rows[:, None], left - centred[None]
    turned = across.transpose(1, 0, 2)
    x, y = zip(lamp.places, lamp.trends, lamp.edges, strict=True)
    return (
        Axis(across, left - columns[None], rows, weight, *x),
        Axis(down.transpose(1, 0, 2), turned, columns, weight.T, *y),
    )


def edges_along(axis: Axis, s: LightSettings) -> tuple[Edge, ...]:
    """The edges of shadows along an axis: one more than before, or one of them mended."""
    total, level = axis.light()
    gain, power = _contrasts(axis)
    if gain is None:
        return axis.edges
    found = find_edge(
        np.log(np.clip(gain, 0.1, 10.0)),
        np.log(np.maximum(level, s.least_light)),
        np.where(power > s.least_marks**2 * total * (level**2).sum(axis=1), total, 0.0),
    )
    if found is None:
        return axis.edges
    for k, edge in enumerate(axis.edges):
        if abs(edge.at - found.at) < _SAME_EDGE:
            mended = edge._replace(height=edge.height + found.height)
            return (*axis.edges[:k], mended, *axis.edges[k + 1 :])
    return (*axis.edges, found) if len(axis.edges) < s.most_edges else axis.edges


_SAME_EDGE = 0.05  # of the axis


_ORDERS = 2  # slope and bend of a trend along one axis


def _trend(terms: Array, at: Array) -> Array:
    """Log illumination along an axis at shares 0..1: Legendre terms without the constant."""
    return np.asarray(np.polynomial.legendre.legval(2 * at - 1, np.r_[0.0, terms]))


def joint_light(even: Array, pattern: Array, weight: Array, lamp: Lamp, s: LightSettings) -> Array:
    """Spline coefficients of the light that varies with x and y together, the lamp's improved."""
    bx, by = lamp.bases
    power = (pattern**2).sum(axis=2)
    rest = ((even - pattern) * pattern).sum(axis=2) / power
    rest = np.clip(rest, -s.most_rest, s.most_rest) + by @ lamp.joint @ bx.T
    # dark cloth tells little of the light
    say = weight * power / (power + np.median(power)) / s.cell_noise**2 / s.alike_cells
    pull = (by.T @ (say * rest) @ bx).ravel()
    terms = solved(normal_matrix(by, bx, say) + _stiffness(by.shape[1], s), pull)
    return np.asarray(terms.reshape(by.shape[1], bx.shape[1]))


def _stiffness(count: int, s: LightSettings) -> Array:
    """What bending of the log illumination costs, per knot."""
    one = np.eye(count)
    bend, lean = (np.diff(one, order, axis=0) for order in (2, 1))
    bend, lean = bend.T @ bend, lean.T @ lean
    total = np.kron(bend, one) + np.kron(one, bend) + 2 * np.kron(lean, lean)
    size = 1 / (s.bend * (10 / s.spans) ** 2) ** 2
    return np.asarray(total * size + np.eye(count * count) / s.most_log_light**2)


def trend_along(axis: Axis, s: LightSettings) -> Array:
    """Legendre terms of the log illumination along an axis, as contrast and recurrence tell it."""
    return _recurring_trend(axis, _contrast_trend(axis, s), s)


def _contrast_trend(axis: Axis, s: LightSettings) -> Array:
    """Legendre terms of the log gain along an axis, from how strong the other axis' marks are."""
    gain, power = _contrasts(axis)
    if gain is None:
        return axis.trend
    wanted = np.clip(gain - 1, -1.0, 1.0) + _trend(axis.trend, axis.at)
    basis = np.stack([_trend(unit, axis.at) for unit in np.eye(_ORDERS)], axis=1)
    terms = axis.trend
    share = power / power.sum()
    for _ in range(_TREND_ROUNDS):
        off = wanted - basis @ terms
        spread = float((share * off**2).sum()) + s.least_gain_error**2
        trust = share / (1 + off**2 / (4 * spread)) ** 2
        # stripes of one colour err together, so only a handful of them are independent
        say = trust * s.independent_stripes / spread
        normal = basis.T @ (basis * say[:, None]) + np.diag(
            1 / np.array([s.gain_spread, s.bend_spread]) ** 2
        )
        terms = np.linalg.solve(normal, basis.T @ (say * wanted))
    return np.asarray(terms)


def _contrasts(axis: Axis) -> tuple[Array | None, Array]:
    """(w,) how strong the marks are in each column, 1 on average, and their power (w,).

    None for the first where there are no marks.
    """
    rest, marks, weight = axis.rest, axis.marks, axis.weight
    total = np.maximum(weight.sum(axis=0), 1e-9)
    mean_marks = np.einsum("hc,hw->wc", marks, weight) / total[:, None]
    mean_rest = np.einsum("hwc,hw->wc", rest, weight) / total[:, None]
    about = marks[:, None] - mean_marks[None]
    moved = rest - mean_rest[None]
    power = np.einsum("hwc,hwc,hw->w", about, about, weight)
    product = np.einsum("hwc,hwc,hw->w", about, moved, weight)
    if power.max() <= 0 or product.sum() <= 0:
        return None, power
    return product / np.maximum(power, 1e-12) * power.sum() / product.sum(), power


_TREND_ROUNDS = 4  # reweighted fits


def _recurring_trend(axis: Axis, told: Array, s: LightSettings) -> Array:
    """Legendre terms of the log gain along an axis that make recurring stripes most alike.

    Every pair of stripes votes for the trends under which the two would have one colour. Pairs of
    one yarn agree on the true trend, other pairs on nothing. `told` is what the contrast says.
    """
    level, place, size = _plain_stripes(axis, s)
    if len(place) < 3:
        return told
    one, two = np.triu_indices(len(place), 1)
    before = _trend(axis.trend, place)
    ratio = level[one] - level[two] + (before[one] - before[two])[:, None]
    say = np.minimum(size[one], size[two])
    say = say / say.sum() * len(place)
    basis = np.stack([_trend(unit, place) for unit in np.eye(_ORDERS)], axis=1)
    gap = basis[one] - basis[two]
    best = told
    for step in s.trend_steps:  # coarse to fine about the best so far
        tries = np.stack(np.meshgrid(*[np.arange(-4, 5) * step] * 2), axis=2).reshape(-1, 2) + best
        off = ratio[None] - (tries @ gap.T)[..., None]
        alike = np.exp(-(off**2).sum(axis=2) / (2 * s.same_stripe**2))
        usual = np.array([s.gain_spread, s.bend_spread])
        against = (tries / usual) ** 2 + ((tries - told) / s.told_spread) ** 2
        best = tries[np.argmax(alike @ say * s.vote_weight - against.sum(axis=1) / 2)]
    return np.asarray(best)


def _plain_stripes(axis: Axis, s: LightSettings) -> tuple[Array, Array, Array]:
    """Log light (N, 3), place (N,) and width (N,) of the stretches of one colour along an axis."""
    at = axis.at
    level = np.log(np.maximum(axis.light()[1], s.least_light))
    alive = axis.weight.mean(axis=0) > 0.2
    steps = np.abs(np.diff(level, axis=0)).max(axis=1) > s.stripe_step
    starts = np.flatnonzero(np.r_[True, steps | (alive[1:] != alive[:-1])])
    ends = np.r_[starts[1:], len(at)]
    kept = [(a, b) for a, b in zip(starts, ends, strict=True) if b - a >= 2 and alive[a:b].all()]
    levels = np.array([np.median(level[a:b], axis=0) for a, b in kept]).reshape(-1, 3)
    places = np.array([at[a:b].mean() for a, b in kept])
    return levels, places, np.array([float(b - a) for a, b in kept])


def _spline_of(values: Array, basis: Array) -> Array:
    return np.asarray(np.linalg.lstsq(basis, values, rcond=1e-6)[0])


def middles(count: int) -> Array:
    """(count,) shares 0..1 of the middles of so many cells."""
    return (np.arange(count, dtype=np.float64) + 0.5) / count
