"""The drape's large folds, from the slopes of lines, tile by tile."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from settscan.photo.field import empty_field, fit_field, flipped, flipped_field, turned
from settscan.photo.lines import line_slopes
from settscan.photo.view import Field, Small, View, look, spline_basis
from settscan.settings import FlattenSettings

Array = NDArray[np.float64]


def slope_field(small: Small, view: View, s: FlattenSettings) -> View:
    """The view with a smooth shift added that straightens the lean of lines, tile by tile."""
    picture, usable = look(small, view)
    step, local = s.slope_tile_px, s.fold_smooth_px
    down, down_weight = line_slopes(picture, usable, s, step, local)
    across, across_weight = line_slopes(turned(picture), turned(usable), s, step, local)
    field = view.field or empty_field(view.box, s)
    change = np.zeros_like(field.coefficients)
    change[..., 0] = _fit_slopes(view, field, down, down_weight, step, s)
    change[..., 1] = _fit_slopes(
        flipped(view), flipped_field(field), across, across_weight, step, s
    ).T
    return replace(view, field=replace(field, coefficients=field.coefficients + change))


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
    return fit_field(by, bx, slopes, say, box, s, s.slope_scale)
