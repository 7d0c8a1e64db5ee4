"""Straightening: first by the slopes of lines, then by registering bands of the cloth.

Slopes tell how lines lean, tile by tile, whatever lies between; they settle the plane, the lens
and the large folds. Registration then compares the stripes of each narrow band with the mean of
all bands (Lucas and Kanade 1981, in one dimension) and settles hundredths of a pixel. Both feed
the same smooth field. Mean positions of stripes are left to the plane: a field only straightens.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FloatImage, Mask
from settscan.photo.lines import line_slopes
from settscan.photo.plane import Plane
from settscan.photo.view import Box, Field, Small, View, look, spline_basis
from settscan.settings import FlattenSettings

Array = NDArray[np.float64]
_Pixel = TypeVar("_Pixel", np.float32, np.bool_)


def turned(picture: NDArray[_Pixel]) -> NDArray[_Pixel]:
    """The picture with its axes exchanged, so that rows can be treated as columns."""
    return np.ascontiguousarray(np.swapaxes(picture, 0, 1))


# ---- the plane from slopes -------------------------------------------------------------------


def refine_plane(
    small: Small, view: View, region: Mask | None, rounds: int, s: FlattenSettings
) -> View:
    """The view with its plane's five terms fitted to the slopes of both families."""
    for _ in range(rounds):
        picture, usable = look(small, view)
        if region is not None:
            usable &= region
        step = s.slope_tile_px
        down, down_weight = line_slopes(picture, usable, s, step)
        across, across_weight = (a.T for a in line_slopes(turned(picture), turned(usable), s, step))
        rows_x, rows_y = _slope_effects(view, down.shape, step)
        rows = np.concatenate([rows_x.reshape(-1, 5), rows_y.reshape(-1, 5)])
        seen = np.concatenate([down.ravel(), across.ravel()])
        weight = np.concatenate([down_weight.ravel(), across_weight.ravel()])
        terms = view.plane.terms
        change = _robust_fit(rows, seen, weight, terms, s)
        view = replace(view, plane=view.plane.with_terms(_held(terms + change, s)))
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
    terms, delta = view.plane.terms, 1e-4
    effects = []
    for k in range(len(terms)):
        more = terms.copy()
        more[k] += delta
        moved = view.plane.with_terms(more).to_flat(photo)
        effects.append((points - moved) / delta)
    return np.stack(effects, axis=1).reshape(len(ys), len(xs), len(terms), 2)


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


def _robust_fit(rows: Array, seen: Array, weight: Array, terms: Array, s: FlattenSettings) -> Array:
    """Change of the terms by reweighted least squares; tiles that disagree lose their say."""
    prior = np.zeros((5, 5))
    prior[4, 4] = 1 / s.lens_spread**2
    for k in (1, 3):
        prior[k, k] = 1 / s.meet_spread**2
    change: Array = np.zeros(5)
    spread = s.first_slope_spread
    for _ in range(8):
        rest = seen - rows @ change
        # what is left over is drape, alike over many tiles
        alike = max(1.0, np.count_nonzero(weight) / s.independent_parts)
        say = weight / (1 + weight * alike * spread**2) / (1 + (rest / (2 * spread)) ** 2) ** 2
        normal = rows.T @ (rows * say[:, None]) + prior + 1e-6 * np.eye(5)
        pull = rows.T @ (say * seen) - prior @ terms
        change = np.asarray(np.linalg.solve(normal, pull), dtype=np.float64)
        rest = np.abs(seen - rows @ change)
        spread = max(s.least_slope_spread, 1.5 * _weighted_median(rest, np.minimum(weight, 1e4)))
        spread = min(spread, s.first_slope_spread)
    return change


def _weighted_median(values: Array, weight: Array) -> float:
    order = np.argsort(values)
    sums = np.cumsum(weight[order])
    if len(sums) == 0 or sums[-1] <= 0:
        return 0.0
    return float(values[order][np.searchsorted(sums, sums[-1] / 2)])


# ---- the smooth field ------------------------------------------------------------------------


def slope_field(small: Small, view: View, region: Mask | None, s: FlattenSettings) -> View:
    """The view with a smooth shift added that straightens the lean of lines, tile by tile."""
    picture, usable = look(small, view)
    if region is not None:
        usable &= region
    step = s.slope_tile_px
    down, down_weight = line_slopes(picture, usable, s, step)
    across, across_weight = line_slopes(turned(picture), turned(usable), s, step)
    field = view.field or empty_field(view.box, s)
    change = np.zeros_like(field.coefficients)
    change[..., 0] = _fit_slopes(view, field, down, down_weight, step, s)
    flipped = _flipped(view)
    change[..., 1] = _fit_slopes(flipped, _flipped_field(field), across, across_weight, step, s).T
    return replace(view, field=replace(field, coefficients=field.coefficients + change))


def rebased(view: View, box: Box, s: FlattenSettings) -> View:
    """The view of another box, its field held at the border where it was not defined."""
    old = view.field
    if old is None:
        return replace(view, box=box)
    new = empty_field(box, s)
    rows, columns, _ = new.coefficients.shape
    xs, ys = np.linspace(box.left, box.right, 40), np.linspace(box.top, box.bottom, 40)
    values = old.at_grid(xs, ys)
    by = spline_basis((ys - box.top) / box.height, rows)
    bx = spline_basis((xs - box.left) / box.width, columns)
    left, right = (np.linalg.pinv(b, rcond=1e-3) for b in (by, bx))
    coefficients = np.einsum("iy,yxc,jx->ijc", left, values, right, optimize=True)
    return replace(view, box=box, field=Field(box=box, coefficients=coefficients))


def empty_field(box: Box, s: FlattenSettings) -> Field:
    """A field without any shift, its knots evenly spread over the box."""
    side = max(box.width, box.height) / s.field_spans
    rows = 3 + max(2, round(box.height / side))
    columns = 3 + max(2, round(box.width / side))
    return Field(box=box, coefficients=np.zeros((rows, columns, 2)))


def _flipped(view: View) -> View:
    """The view's box with its axes exchanged; for positions only."""
    b = view.box
    return replace(view, box=Box(left=b.top, top=b.left, right=b.bottom, bottom=b.right))


def _flipped_field(field: Field) -> Field:
    b = field.box
    turned_box = Box(left=b.top, top=b.left, right=b.bottom, bottom=b.right)
    return Field(box=turned_box, coefficients=field.coefficients.transpose(1, 0, 2)[..., ::-1])


def _fit_slopes(
    view: View, field: Field, slopes: Array, weight: Array, step: int, s: FlattenSettings
) -> Array:
    """(ky, kx) coefficients of the sideways shift whose downward slope fits `slopes`."""
    height, width = slopes.shape
    middle = (np.arange(width, dtype=np.float64) + 0.5) * step - 0.5
    xs, _ = view.flat(middle, np.zeros(1))
    _, edges = view.flat(np.zeros(1), np.arange(height + 1, dtype=np.float64) * step - 0.5)
    rows, columns, _ = field.coefficients.shape
    box = field.box
    by = np.diff(spline_basis((edges - box.top) / box.height, rows), axis=0)
    by /= np.diff(edges)[:, None]
    bx = spline_basis((xs - box.left) / box.width, columns)
    variance = s.correlated_slope**2
    say = weight / (1 + weight * variance)
    return _solve(by, bx, slopes, say, box, s, s.slope_scale)


def _solve(
    by: Array, bx: Array, seen: Array, say: Array, box: Box, s: FlattenSettings, huber: float
) -> Array:
    """Smooth spline coefficients (ky, kx) fitted to `seen` (h, w), robustly.

    Args:
        by: (h, ky) basis along y at the observations.
        bx: (w, kx) basis along x.
        seen: (h, w) observations.
        say: (h, w) one over their variances.
        box: the box of the field.
        s: settings.
        huber: deviation beyond which an observation loses its say.
    """
    rows, columns = by.shape[1], bx.shape[1]
    stiffness = _stiffness(rows, columns, box, s)
    coefficients = np.zeros((rows, columns))
    trust = np.ones_like(seen)
    for _ in range(4):
        weight = say * trust
        half = np.einsum("hw,wj,wl->hjl", weight, bx, bx, optimize=True)
        normal = np.einsum("hi,hk,hjl->ijkl", by, by, half, optimize=True)
        normal = normal.reshape(rows * columns, -1) + stiffness
        pull = (by.T @ (weight * seen) @ bx).ravel()
        coefficients = solved(normal, pull).reshape(rows, columns)
        rest = (seen - by @ coefficients @ bx.T) / huber
        trust = 1 / (1 + rest**2) ** 2
    return coefficients - _mean_along(by, bx, coefficients, np.minimum(say, np.median(say)))


def _mean_along(by: Array, bx: Array, coefficients: Array, shown: Array) -> Array:
    """(kx,) coefficients of the mean of a field along y, where it was observed.

    This mean would move stripes instead of straightening them; where they lie is for the plane
    to say.
    """
    values = by @ coefficients @ bx.T
    total = shown.sum(axis=0)
    mean = (values * shown).sum(axis=0) / np.maximum(total, 1e-12)
    weight = bx.T * total
    normal = weight @ bx
    ridge = 1e-3 * np.trace(normal) / len(normal) * np.eye(len(normal)) + 1e-12
    return np.asarray(np.linalg.solve(normal + ridge, weight @ mean))


def _stiffness(rows: int, columns: int, box: Box, s: FlattenSettings) -> Array:
    """What curvature costs: each knot's second differences against what cloth may do."""
    dy, dx = box.height / (rows - 3), box.width / (columns - 3)
    reach = max(box.width, box.height)
    bend = s.drape_slope / (s.drape_reach * reach)  # slope change per flat pixel, one sigma
    bent_y, bent_x = _roughness(rows, 2) / dy**4, _roughness(columns, 2) / dx**4
    lean_y, lean_x = _roughness(rows, 1) / dy**2, _roughness(columns, 1) / dx**2
    total = np.kron(bent_y, np.eye(columns)) + np.kron(np.eye(rows), bent_x)
    total += 2 * np.kron(lean_y, lean_x)
    least = np.eye(rows * columns) / (s.drape_most * reach) ** 2
    return np.asarray(total / bend**2 + least)


def _roughness(count: int, order: int) -> Array:
    """(count, count): the sum of squared differences of this order as a quadratic form."""
    steps = np.diff(np.eye(count), order, axis=0)
    return np.asarray(steps.T @ steps)


def solved(matrix: Array, wanted: Array) -> Array:
    """The solution of a positive definite system.

    By OpenCV's Cholesky, which stays on one core: for a hundred unknowns the threads of a linear
    algebra library cost more than they gain.
    """
    done, result = cv2.solve(matrix, wanted.reshape(-1, 1), flags=cv2.DECOMP_CHOLESKY)
    if not done:
        return np.asarray(np.linalg.lstsq(matrix, wanted, rcond=None)[0])
    return np.asarray(result, dtype=np.float64).ravel()


def share_with_plane(view: View, region: Mask | None, s: FlattenSettings) -> View:
    """The view with as much of its field as a plane and a lens explain moved into the plane.

    The field is taken as lines seen at their place plus a drape that is alike over
    `independent_parts` parts of the picture, so that a fold is not mistaken for a lens.
    """
    field = view.field or empty_field(view.box, s)
    width, height = view.size
    xs, ys = (np.linspace(0.02, 0.98, 24) * n - 0.5 for n in (width, height))
    flat_x, flat_y = view.flat(xs, ys)
    seen = field.at_grid(flat_x, flat_y)
    effect = term_effects(replace(view, field=None), xs, ys)
    shown = np.ones((len(ys), len(xs)))
    if region is not None:
        cells = region[np.clip(ys.astype(int), 0, height - 1)]
        shown = cells[:, np.clip(xs.astype(int), 0, width - 1)] + 1e-6
    across = effect[..., 0] - _weighted_mean(effect[..., 0], shown, 0)
    down = effect[..., 1] - _weighted_mean(effect[..., 1], shown, 1)
    rows = np.concatenate([across.reshape(-1, 5), down.reshape(-1, 5)])
    rest = np.concatenate([seen[..., 0].ravel(), seen[..., 1].ravel()])
    say = np.tile(shown.ravel() / shown.sum(), 2)
    terms = view.plane.terms
    prior = np.diag(1 / np.array([1.0, s.meet_spread, 1.0, s.meet_spread, s.lens_spread]) ** 2)
    change: Array = np.zeros(5)
    for _ in range(3):
        noise = float((say * (rest - rows @ change) ** 2).sum()) + s.least_field_error_px**2
        weight = say[:, None] * s.independent_parts / noise
        normal = rows.T @ (rows * weight) + prior
        change = np.linalg.solve(normal, rows.T @ (weight[:, 0] * rest) - prior @ terms)
    plane = view.plane.with_terms(_held(terms + change, s))
    return _with_plane(view, field, plane, shown, (xs, ys))


def _weighted_mean(values: Array, shown: Array, axis: int) -> Array:
    weight = shown[..., None]
    total = np.maximum(weight.sum(axis=axis, keepdims=True), 1e-12)
    return np.asarray((values * weight).sum(axis=axis, keepdims=True) / total)


def _with_plane(
    view: View, field: Field, plane: Plane, shown: Array, at: tuple[Array, Array]
) -> View:
    """The same look with another plane: the field takes up the difference, means removed."""
    xs, ys = at
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
    coefficients[..., 0] -= _mean_along(by, bx, coefficients[..., 0], shown)
    coefficients[..., 1] -= _mean_along(bx, by, coefficients[..., 1].T, shown.T)[:, None]
    return replace(view, plane=plane, field=replace(field, coefficients=coefficients))


# ---- registration ----------------------------------------------------------------------------


def register(
    small: Small, view: View, region: Mask | None, blurs: tuple[float, ...], s: FlattenSettings
) -> View:
    """The view with its field refined until the stripes of all bands agree."""
    field = view.field or empty_field(view.box, s)
    for blur in blurs:
        picture, usable = look(small, replace(view, field=field))
        if region is not None:
            usable &= region
        change = np.zeros_like(field.coefficients)
        change[..., 0] = _band_shifts(view, field, picture, usable, blur, s)
        change[..., 1] = _band_shifts(
            _flipped(view), _flipped_field(field), turned(picture), turned(usable), blur, s
        ).T
        field = replace(field, coefficients=field.coefficients + change)
    return replace(view, field=field)


def _band_shifts(
    view: View, field: Field, picture: FloatImage, usable: Mask, blur: float, s: FlattenSettings
) -> Array:
    """(ky, kx) change of the sideways shift that brings every band onto the mean of all."""
    height, width = usable.shape
    bands = max(4, round(height / s.band_px))
    edges = np.linspace(0, height, bands + 1).round().astype(int)
    profile, shown = band_profiles(picture, usable, edges, blur)
    shift, weight = profile_shifts(profile, shown, s)
    shift, weight = shift / view.zoom, weight * view.zoom**2
    step = s.register_step_px
    at = np.arange(step // 2, width, step, dtype=np.float64)
    middle = np.asarray((edges[1:] + edges[:-1]) / 2 - 0.5, dtype=np.float64)
    xs, _ = view.flat(at, np.zeros(1))
    _, ys = view.flat(np.zeros(1), middle)
    rows, columns, _ = field.coefficients.shape
    by = spline_basis((ys - field.box.top) / field.box.height, rows)
    bx = spline_basis((xs - field.box.left) / field.box.width, columns)
    huber = max(2 * blur, s.least_register_px) / view.zoom
    return _solve(by, bx, shift, weight, field.box, s, huber)


def band_profiles(
    picture: FloatImage, usable: Mask, edges: NDArray[np.intp], blur: float
) -> tuple[FloatImage, FloatImage]:
    """Mean columns of each band, high-passed, (B, W, 3), and the share of it shown, (B, W)."""
    starts = edges[:-1]
    weight = usable.astype(np.float32)
    count = np.add.reduceat(weight, starts, axis=0)
    total = np.add.reduceat(picture * weight[..., None], starts, axis=0)
    share = count / np.diff(edges)[:, None].astype(np.float32)
    shape = (len(starts), picture.shape[1], 3)
    wide = _HIGH_PASS * blur + _HIGH_PASS_LEAST

    def smooth(values: FloatImage, sigma: float) -> FloatImage:
        blurred = cv2.GaussianBlur(values, (0, 0), sigmaX=sigma, sigmaY=1e-3)
        return np.asarray(blurred, dtype=np.float32)

    fine = smooth(total, blur).reshape(shape) / (smooth(count, blur)[..., None] + 1e-3)
    coarse = smooth(total, wide).reshape(shape) / (smooth(count, wide)[..., None] + 1e-3)
    return fine - coarse, np.asarray(share)


_HIGH_PASS = 6.0  # a stripe wider than this many blurs is known by its edges alone
_HIGH_PASS_LEAST = 12.0  # small pixels


def profile_shifts(
    profile: FloatImage, shown: FloatImage, s: FlattenSettings
) -> tuple[Array, Array]:
    """Sideways shift of each band against the mean of all, in windows along x.

    Returns:
        shifts (B, N) in pixels and their weights, one over variance; N windows of
        `register_step_px` pixels.
    """
    weight = np.where(shown > s.least_band_shown, shown, 0.0)[..., None]
    mean = (profile * weight).sum(axis=0) / np.maximum(weight.sum(axis=0), 1e-6)
    slope = np.gradient(mean, axis=0)[None]
    rest = (profile - mean) * weight
    window = s.register_window_px

    def total(values: FloatImage) -> Array:
        summed = cv2.GaussianBlur(
            values.sum(axis=2), (0, 0), sigmaX=window, sigmaY=1e-3, borderType=cv2.BORDER_CONSTANT
        )
        step = s.register_step_px
        middle = np.arange(step // 2, summed.shape[1], step)
        return np.asarray(summed[:, middle], dtype=np.float64) * window * 2.5066

    energy = total(np.asarray(slope * slope * weight))
    product = total(np.asarray(slope * rest))
    square = total(np.asarray(rest * rest))
    shift = -product / np.maximum(energy, 1e-12)
    misfit = np.maximum(square - product * product / np.maximum(energy, 1e-12), 0)
    noise = misfit / (3 * window) + s.least_profile_noise**2
    variance = noise / np.maximum(energy, 1e-12) * s.register_correlation
    say = 1 / (variance + s.least_shift_error_px**2)
    return shift, np.where(energy > 0, say, 0.0)
