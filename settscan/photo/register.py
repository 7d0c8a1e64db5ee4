"""Registration: the stripes of narrow bands are laid onto the mean of all bands.

This is Lucas and Kanade's method (Proc. 7th IJCAI, 1981) in one dimension. It settles hundredths
of a pixel, but only where stripes already lie within a blur of each other.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.field import empty_field, fit_field, flipped, flipped_field, turned
from settscan.photo.flat import FloatImage, Mask
from settscan.photo.sums import banded
from settscan.photo.view import Field, Small, View, look, spline_basis
from settscan.settings import FlattenSettings

Array = NDArray[np.float64]


def register(small: Small, view: View, blurs: tuple[float, ...], s: FlattenSettings) -> View:
    """The view with its field refined until the stripes of all bands agree."""
    field = view.field or empty_field(view.box, s)
    for blur in blurs:
        picture, usable = look(small, replace(view, field=field))
        change = np.zeros_like(field.coefficients)
        change[..., 0] = _straightened(view, field, picture, usable, blur, s)
        change[..., 1] = _straightened(
            flipped(view), flipped_field(field), turned(picture), turned(usable), blur, s
        ).T
        field = replace(field, coefficients=field.coefficients + change)
    return replace(view, field=field)


def _straightened(
    view: View, field: Field, picture: FloatImage, usable: Mask, blur: float, s: FlattenSettings
) -> Array:
    """(ky, kx) change of the sideways shift that brings every band onto the mean of all."""
    at, middle, shift, weight = band_shifts(picture, usable, view.zoom, blur, s)
    xs, ys = view.flat(at, middle)
    rows, columns, _ = field.coefficients.shape
    by = spline_basis((ys - field.box.top) / field.box.height, rows)
    bx = spline_basis((xs - field.box.left) / field.box.width, columns)
    huber = max(2 * blur, s.least_register_px) / view.zoom
    return fit_field(by, bx, shift, weight, field.box, s, huber)


def band_shifts(
    picture: FloatImage, usable: Mask, zoom: float, blur: float, s: FlattenSettings
) -> tuple[Array, Array, Array, Array]:
    """Sideways shifts of bands against the mean of all bands.

    Args:
        picture: (H, W, 3) small flat picture.
        usable: (H, W).
        zoom: small pixels per flat pixel.
        blur: of the profiles (sigma), small pixels.
        s: settings.

    Returns:
        columns (N,) and rows (B,) of the places, small pixels; shifts (B, N) in flat pixels and
        their weights, one over variance.
    """
    height, width = usable.shape
    bands = max(4, round(height / s.band_px))
    edges = np.linspace(0, height, bands + 1).round().astype(int)
    means, shown = band_means(picture, usable, edges)
    shift, weight = profile_shifts(means, shown, blur, s)
    at = np.arange(s.register_step_px // 2, width, s.register_step_px, dtype=np.float64)
    middle = np.asarray((edges[1:] + edges[:-1]) / 2 - 0.5, dtype=np.float64)
    return at, middle, shift / zoom, weight * zoom**2


def band_means(
    picture: FloatImage, usable: Mask, edges: NDArray[np.intp]
) -> tuple[FloatImage, FloatImage]:
    """Mean columns of each band, (B, W, 3), and the share of it that shows, (B, W)."""
    total, count = banded(picture, usable, edges)
    share = count / np.diff(edges)[:, None].astype(np.float32)
    total /= np.maximum(count, 1.0)[..., None]
    return total, np.asarray(share, np.float32)


_HIGH_PASS = 6.0  # a stripe wider than this many blurs is known by its edges alone
_HIGH_PASS_LEAST = 12.0  # small pixels


def profile_shifts(
    means: FloatImage, shown: FloatImage, blur: float, s: FlattenSettings
) -> tuple[Array, Array]:
    """Sideways shift of each band against what all have in common, in windows along x.

    Only what a band has more or less than the others is smoothed, over the pixels that show in
    it. Were the bands smoothed first, the end of what shows would look like a shift.

    Returns:
        shifts (B, N) in pixels and their weights, one over variance; N windows of
        `register_step_px` pixels.
    """
    weight = np.where(shown > s.least_band_shown, shown, 0.0).astype(np.float32)
    common, level, gain = _in_common(means, weight)
    weight = weight[..., None]
    slope = np.gradient(_smoothed(common[None], blur), axis=1) * gain
    rest = (means - level - gain * common) * weight

    def around(sigma: float) -> FloatImage:
        return _smoothed(rest, sigma) / (_smoothed(weight[..., 0], sigma)[..., None] + 1e-3)

    rest = (around(blur) - around(_HIGH_PASS * blur + _HIGH_PASS_LEAST)) * weight
    window = s.register_window_px

    def total(values: FloatImage) -> Array:
        summed = cv2.GaussianBlur(
            cv2.transform(values, np.ones((1, 3), np.float32)),
            (0, 0),
            sigmaX=window,
            sigmaY=1e-3,
            borderType=cv2.BORDER_CONSTANT,
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


def _smoothed(values: FloatImage, sigma: float) -> FloatImage:
    """Each row (B, W) or (B, W, 3) blurred along itself."""
    blurred = cv2.GaussianBlur(values, (0, 0), sigmaX=sigma, sigmaY=1e-3)
    return np.asarray(blurred, dtype=np.float32)


def _in_common(
    means: FloatImage, weight: FloatImage, rounds: int = 5
) -> tuple[FloatImage, FloatImage, FloatImage]:
    """What bands (B, W, 3) have in common where they show, (W, 3), and each one's level and gain.

    A stripe that crosses lifts the whole band and flattens its stripes; so does the light. A mean
    of the bands themselves would step wherever one of them is hidden: `weight` (B, W) is how much
    of each shows.
    """
    weight = weight.astype(np.float64)
    shown = means * weight[..., None]
    lying, sums, width = shown.reshape(len(means), -1), shown.sum(axis=1), weight.sum(axis=1)
    total = np.maximum(width, 1e-6)[:, None]
    level, gain = sums / total, np.ones(len(means))
    common = np.zeros(means.shape[1:])
    for _ in range(rounds):
        seen = np.maximum(gain**2 @ weight, 1e-6)[:, None]
        common = ((gain @ lying).reshape(-1, 3) - weight.T @ (gain[:, None] * level)) / seen
        along = weight @ common
        middle = along / total
        # Sums along each band, about the middle: of what is common, squared, and times its own.
        size = (weight @ common**2 - 2 * middle * along + middle**2 * width[:, None]).sum(axis=1)
        own = (level * along + middle * (sums - level * width[:, None])).sum(axis=1)
        alike = lying @ common.ravel() - own
        gain = np.clip(alike / np.maximum(size, 1e-9), _LEAST_GAIN, 1 / _LEAST_GAIN)
        level = (sums - gain[:, None] * along) / total
    one, two, three = (a.astype(np.float32) for a in (common, level, gain))
    return one, two[:, None], three[:, None, None]


_LEAST_GAIN = 0.3  # a stripe that crosses hides at most so much of the others' contrast
