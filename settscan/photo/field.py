"""The smooth displacement that is left when plane and lens are taken out, and how it is fitted."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.view import Box, Field, View, spline_basis
from settscan.settings import FlattenSettings

Array = NDArray[np.float64]
_Pixel = TypeVar("_Pixel", np.float32, np.bool_)


def turned(picture: NDArray[_Pixel]) -> NDArray[_Pixel]:
    """The picture with its axes exchanged, so that rows can be treated as columns."""
    lying: NDArray[Any] = picture.view(np.uint8) if picture.dtype == np.bool_ else picture
    return np.asarray(cv2.transpose(lying)).view(picture.dtype)


def flipped(view: View) -> View:
    """The view's box with its axes exchanged; for positions only."""
    b = view.box
    return replace(view, box=Box(left=b.top, top=b.left, right=b.bottom, bottom=b.right))


def flipped_field(field: Field) -> Field:
    """The field with its axes exchanged."""
    b = field.box
    turned_box = Box(left=b.top, top=b.left, right=b.bottom, bottom=b.right)
    return Field(box=turned_box, coefficients=field.coefficients.transpose(1, 0, 2)[..., ::-1])


def empty_field(box: Box, s: FlattenSettings) -> Field:
    """A field without any shift, its knots evenly spread over the box."""
    side = max(box.width, box.height) / s.field_spans
    rows = 3 + max(2, round(box.height / side))
    columns = 3 + max(2, round(box.width / side))
    return Field(box=box, coefficients=np.zeros((rows, columns, 2)))


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


def fit_field(
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
        normal = normal_matrix(by, bx, weight) + stiffness
        pull = (by.T @ (weight * seen) @ bx).ravel()
        coefficients = solved(normal, pull).reshape(rows, columns)
        rest = (seen - by @ coefficients @ bx.T) / huber
        trust = 1 / (1 + rest**2) ** 2
    usual = float(np.median(say[say > 0])) if (say > 0).any() else 1.0
    return coefficients - mean_along(by, bx, coefficients, np.minimum(say / usual, 1.0))


def normal_matrix(by: Array, bx: Array, weight: Array) -> Array:
    """(ky kx, ky kx) weighted products of all pairs of splines by (h, ky) times bx (w, kx)."""
    rows, columns = by.shape[1], bx.shape[1]
    pairs_x = (bx[:, :, None] * bx[:, None, :]).reshape(len(bx), -1)
    pairs_y = (by[:, :, None] * by[:, None, :]).reshape(len(by), -1)
    total = (pairs_y.T @ (weight @ pairs_x)).reshape(rows, rows, columns, columns)
    size = rows * columns
    return np.ascontiguousarray(total.transpose(0, 2, 1, 3).reshape(size, size))


def mean_along(by: Array, bx: Array, coefficients: Array, shown: Array) -> Array:
    """(kx,) coefficients of the mean of a field along y, where it was observed.

    This mean would move stripes instead of straightening them; where they lie is for the plane
    to say.
    """
    values = by @ coefficients @ bx.T
    total = shown.sum(axis=0)
    mean = (values * shown).sum(axis=0) / np.maximum(total, 1e-12)
    weight = bx.T * total
    normal = weight @ bx
    ridge = (1e-3 * np.trace(normal) / len(normal) + 1e-9) * np.eye(len(normal))
    return solved(normal + ridge, weight @ mean)


def _stiffness(rows: int, columns: int, box: Box, s: FlattenSettings) -> Array:
    """What curvature costs: each knot's second differences against what cloth may do."""
    dy, dx = box.height / (rows - 3), box.width / (columns - 3)
    reach = max(box.width, box.height)
    bend = s.drape_slope / (s.drape_reach * reach)  # slope change per flat pixel, one sigma
    bent_y, bent_x = _roughness(rows, 2) / dy**4, _roughness(columns, 2) / dx**4
    lean_y, lean_x = _roughness(rows, 1) / dy**2, _roughness(columns, 1) / dx**2
    total = np.kron(bent_y, np.eye(columns)) + np.kron(np.eye(rows), bent_x)
    total += 2 * np.kron(lean_y, lean_x)
    lean = np.kron(lean_y, np.eye(columns)) + np.kron(np.eye(rows), lean_x)
    least = lean / s.drape_slope**2 + np.eye(rows * columns) / (s.drape_most * reach) ** 2
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
