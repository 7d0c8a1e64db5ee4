"""The plane and the lens, fitted first to slopes of lines and then to places of stripes.

Slopes tell how lines lean, tile by tile, whatever lies between, so they work from the first
guess on. Once the stripes run nearly straight, what is left of their places tells more.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from settscan.photo.evenness import NOTHING_TOLD, Marks, Told, told_by
from settscan.photo.field import empty_field, mean_along, turned
from settscan.photo.flat import Mask
from settscan.photo.lines import line_slopes
from settscan.photo.plane import Plane
from settscan.photo.register import band_shifts
from settscan.photo.view import Field, Small, View, look, spline_basis
from settscan.settings import FlattenSettings

Array = NDArray[np.float64]


def refine_plane(
    small: Small, view: View, rounds: int, marks: tuple[Marks, ...], s: FlattenSettings
) -> View:
    """The view with its plane's five terms fitted to the slopes of both families, and to rulers."""
    for _ in range(rounds):
        picture, usable = look(small, view)
        step, far = s.slope_tile_px, s.line_smooth_px
        down, down_weight = line_slopes(picture, usable, s, step, far)
        across, across_weight = (
            a.T for a in line_slopes(turned(picture), turned(usable), s, step, far)
        )
        rows_x, rows_y = _slope_effects(view, down.shape, step)
        lines = _Seen(
            np.concatenate([rows_x.reshape(-1, 5), rows_y.reshape(-1, 5)]),
            np.concatenate([down.ravel(), across.ravel()]),
            np.concatenate([down_weight.ravel(), across_weight.ravel()]),
        )
        plane = view.plane
        change, normal = _robust_fit(lines, plane.terms, NOTHING_TOLD, s)
        # Slopes err together: a twill's diagonals pull all of them one way.
        told = told_by(marks, plane, change, normal / s.slopes_alike**2)
        if told.normal.any():
            change, _ = _robust_fit(lines, plane.terms, told, s)
        view = replace(view, plane=plane.with_terms(_held(plane.terms + change, s)))
    return view


def _held(terms: Array, s: FlattenSettings) -> Array:
    """Terms kept to what a camera can do."""
    limit = np.array([1.0, s.most_meet, 1.0, s.most_meet, s.most_lens])
    return np.clip(terms, -limit, limit)


def term_effects(view: View, xs: Array, ys: Array) -> Array:
    """Where lines go in the present view per unit of each term, (len(ys), len(xs), 5, 2).

    If the true plane has a term larger by t, the features of a straight thread are seen at its
    place plus t times this, in flat pixels.
    """
    flat_x, flat_y = view.flat(xs, ys)
    points = np.stack(np.meshgrid(flat_x, flat_y), axis=2).reshape(-1, 2)
    photo = view.plane.to_photo(points)
    delta = 1e-4
    effects = [
        (points - other.to_flat(photo)) / delta for other in view.plane.with_each_larger(delta)
    ]
    return np.stack(effects, axis=1).reshape(len(ys), len(xs), len(effects), 2)


def _slope_effects(view: View, shape: tuple[int, ...], step: int) -> tuple[Array, Array]:
    """Change of both families' slopes per unit of each term at the tiles, (h, w, 5) each."""
    height, width = shape
    xs = np.arange(width + 1, dtype=np.float64) * step
    ys = np.arange(height + 1, dtype=np.float64) * step
    effect = term_effects(view, xs, ys)
    side = step / view.zoom
    down = np.diff(effect[..., 0], axis=0) / side
    across = np.diff(effect[..., 1], axis=1) / side
    return (down[:, 1:] + down[:, :-1]) / 2, (across[1:] + across[:-1]) / 2


class _Seen(NamedTuple):
    """What lines show of the plane.

    Attributes:
        effects: (N, 5) of each term on what is seen.
        values: (N,) seen.
        weight: (N,) one over variance.
    """

    effects: Array
    values: Array
    weight: Array


def _robust_fit(lines: _Seen, terms: Array, told: Told, s: FlattenSettings) -> tuple[Array, Array]:
    """Change of the terms by reweighted least squares; tiles that disagree lose their say.

    `told` is what rulers say. Returned with the inverse of its covariance, (5, 5).
    """
    rows, seen, weight = lines
    prior = np.zeros((5, 5))
    prior[4, 4] = 1 / s.lens_spread**2
    for k in (1, 3):
        prior[k, k] = 1 / s.meet_spread**2
    change, normal = np.zeros(5), prior
    spread = s.first_slope_spread
    seen_weight = weight[weight > 0]
    noise = float(np.median(1 / seen_weight)) if len(seen_weight) else 0.0
    alike = max(1.0, len(seen_weight) / s.independent_parts)
    for _ in range(8):
        rest = seen - rows @ change
        # what is left over and is not noise is drape, alike over many tiles
        draped = alike * max(spread**2 - noise, s.least_slope_spread**2)
        say = weight / (1 + weight * draped) / (1 + (rest / (2 * spread)) ** 2) ** 2
        normal = rows.T @ (rows * say[:, None]) + prior + told.normal + 1e-6 * np.eye(5)
        pull = rows.T @ (say * seen) - prior @ terms + told.pull
        change = np.asarray(np.linalg.solve(normal, pull), dtype=np.float64)
        rest = np.abs(seen - rows @ change)
        spread = max(s.least_slope_spread, 1.5 * _weighted_median(rest, np.minimum(weight, 1e4)))
        spread = min(spread, s.first_slope_spread)
    return change, normal


def _weighted_median(values: Array, weight: Array) -> float:
    order = np.argsort(values)
    sums = np.cumsum(weight[order])
    if len(sums) == 0 or sums[-1] <= 0:
        return 0.0
    return float(values[order][np.searchsorted(sums, sums[-1] / 2)])


def share_with_plane(small: Small, view: View, blur: float, s: FlattenSettings) -> View:
    """The view with as much of its field as a plane and a lens explain moved into the plane.

    Stripes are taken as lying where the plane puts them, plus a drape that is alike over
    `independent_parts` parts of the picture, so that a fold is not mistaken for a lens.
    """
    picture, usable = look(small, view)
    field = view.field or empty_field(view.box, s)
    parts = []
    for axis in (0, 1):
        around = (picture, usable) if axis == 0 else (turned(picture), turned(usable))
        at, middle, shift, weight = band_shifts(*around, view.zoom, blur, s)
        xs, ys = (at, middle) if axis == 0 else (middle, at)
        if axis == 1:
            shift, weight = shift.T, weight.T
        seen = field.at_grid(*view.flat(xs, ys))[..., axis] + shift
        effect = term_effects(replace(view, field=None), xs, ys)[..., axis]
        both = np.concatenate([effect, seen[..., None]], axis=2)
        both = both - _weighted_mean(both, weight, axis)
        parts.append((both.reshape(-1, 6), weight.ravel()))
    rows = np.concatenate([p[0] for p in parts])
    plane = view.plane
    lines = _Seen(rows[:, :5], rows[:, 5], np.concatenate([p[1] for p in parts]))
    change = _fit_places(lines, plane.terms, s)
    plane = plane.with_terms(_held(plane.terms + change, s))
    return _with_plane(view, field, plane, usable)


def _fit_places(lines: _Seen, terms: Array, s: FlattenSettings) -> Array:
    """Change of the terms that explains most of the places of stripes, as noise and drape allow.

    They tell it better than a ruler, which may lean.
    """
    rows, seen, weight = lines
    prior = np.diag(1 / np.array([1.0, s.meet_spread, 1.0, s.meet_spread, s.lens_spread]) ** 2)
    shown = weight > 0
    if not shown.any():
        return np.zeros(5)
    rows, seen, weight = rows[shown], seen[shown], weight[shown]
    alike = max(1.0, len(seen) / s.independent_parts)
    change: Array = np.zeros(5)
    spread = float(np.sqrt(np.average(seen**2, weights=weight)))
    for _ in range(6):
        noise = 1 / weight
        draped = max(spread**2 - _weighted_median(noise, weight), s.least_field_error_px**2)
        rest = (seen - rows @ change) / (3 * np.sqrt(noise + draped))
        say = 1 / (noise + draped * alike) / (1 + rest**2) ** 2
        normal = rows.T @ (rows * say[:, None]) + prior
        pull = rows.T @ (say * seen) - prior @ terms
        change = np.asarray(np.linalg.solve(normal, pull), dtype=np.float64)
        spread = 1.5 * _weighted_median(np.abs(seen - rows @ change), weight)
    return change


def _weighted_mean(values: Array, shown: Array, axis: int) -> Array:
    weight = shown[..., None]
    total = np.maximum(weight.sum(axis=axis, keepdims=True), 1e-12)
    return np.asarray((values * weight).sum(axis=axis, keepdims=True) / total)


def _with_plane(view: View, field: Field, plane: Plane, usable: Mask) -> View:
    """The same look with another plane: the field takes up the difference, means removed."""
    height, width = usable.shape
    xs, ys = (np.linspace(0.02, 0.98, 24) * n - 0.5 for n in (width, height))
    shown = usable[ys.astype(int)][:, xs.astype(int)] + 1e-6
    flat_x, flat_y = view.flat(xs, ys)
    photo = view.photo_grid(xs, ys)
    points = np.stack(np.meshgrid(flat_x, flat_y), axis=2)
    rest = plane.to_flat(photo.reshape(-1, 2)).reshape(points.shape) - points
    box = field.box
    rows, columns, _ = field.coefficients.shape
    by = spline_basis((flat_y - box.top) / box.height, rows)
    bx = spline_basis((flat_x - box.left) / box.width, columns)
    left, right = (np.linalg.pinv(b, rcond=1e-3) for b in (by, bx))
    coefficients = np.einsum("iy,yxc,jx->ijc", left, rest, right, optimize=True)
    coefficients[..., 0] -= mean_along(by, bx, coefficients[..., 0], shown)
    coefficients[..., 1] -= mean_along(bx, by, coefficients[..., 1].T, shown.T)[:, None]
    return replace(view, plane=plane, field=replace(field, coefficients=coefficients))
