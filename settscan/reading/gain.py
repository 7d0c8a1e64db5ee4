"""Light that still falls off along one axis, told from the stripes of the other.

A change of light along x alone looks like a change of the column yarns, and no smoothing can part
the two. But light multiplies: where it is weaker, the contrast of the row stripes is weaker too.
The slope of a column's pixels on the row effect is therefore the light of that column, whatever
its own yarn; likewise for rows.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.photo.sums import masked_tiles, tiled
from settscan.settings import GAIN, GainSettings

Floats = NDArray[Any]
FloatImage = NDArray[np.float32]
Mask = NDArray[np.bool_]


def light_left(
    pixels: FloatImage,
    mask: Mask,
    settings: GainSettings = GAIN,
) -> tuple[Floats, Floats]:
    """Relative light along x (W,) and y (H,), each with mean one; ones where nothing tells.

    Works on means of small patches, in rounds: light along one axis bends the effects of the
    other, so the stronger of the two is taken out first and the effects are fitted anew.

    Args:
        pixels: (H, W, 3) linear light.
        mask: (H, W) True where there is cloth.
        settings: see `GainSettings`.
    """
    size = settings.patch_px
    height, width = mask.shape[0] // size, mask.shape[1] // size
    along_x, along_y = np.ones(mask.shape[1]), np.ones(mask.shape[0])
    if min(height, width) < settings.least_patches:
        return along_x, along_y
    weight, means = _patch_means(pixels, mask, height, width, size)
    gain_x, gain_y = np.ones(width), np.ones(height)
    for _ in range(settings.rounds):
        even = means / gain_x[None, :, None] / gain_y[:, None, None]
        column, row = _effects(even, weight, settings.rounds)
        more_x = _gain(even, weight, row, settings)
        column = column - np.average(column, axis=0, weights=weight.sum(axis=0) + 1e-9)
        more_y = _gain(even.transpose(1, 0, 2), weight.T, column, settings)
        if max(np.ptp(more_x), np.ptp(more_y)) < settings.least_change:
            break
        if np.ptp(more_x) >= np.ptp(more_y):
            gain_x = np.clip(gain_x * more_x, 1 / settings.most, settings.most)
        else:
            gain_y = np.clip(gain_y * more_y, 1 / settings.most, settings.most)
    return (
        _drawn_out(gain_x, mask.shape[1], size),
        _drawn_out(gain_y, mask.shape[0], size),
    )


def _patch_means(
    pixels: FloatImage, mask: Mask, height: int, width: int, size: int
) -> tuple[Floats, Floats]:
    """Share of cloth (h, w) and mean light (h, w, 3) of square patches."""
    weight = tiled(mask.astype(np.float32), size).astype(np.float64)
    means = masked_tiles(pixels, mask, size).astype(np.float64)
    return weight, means / np.maximum(weight, 1e-6)[:, :, None]


def _effects(means: Floats, weight: Floats, rounds: int) -> tuple[Floats, Floats]:
    """Column (w, 3) and row (h, 3) effects of patch means, by alternating weighted means."""
    per_column = np.maximum(weight.sum(axis=0), 1e-6)[:, None]
    per_row = np.maximum(weight.sum(axis=1), 1e-6)[:, None]
    down = np.einsum("yx,yxc->xc", weight, means)
    across = np.einsum("yx,yxc->yc", weight, means)
    row = np.zeros_like(across)
    column = row[:0]
    for _ in range(rounds):
        column = (down - weight.T @ row) / per_column
        row = (across - weight @ column) / per_row
        row -= np.average(row, axis=0, weights=per_row[:, 0])
    return column, row


def _drawn_out(gain: Floats, length: int, size: int) -> Floats:
    """Patch values (n,) as pixel values (length,), straight between patch centres and beyond."""
    at = (np.arange(length) + 0.5) / size - 0.5
    low = np.clip(np.floor(at).astype(int), 0, len(gain) - 2)
    drawn = gain[low] + (at - low) * (gain[low + 1] - gain[low])
    return np.asarray(drawn / drawn.mean())


def _gain(means: Floats, weight: Floats, effect: Floats, settings: GainSettings) -> Floats:
    """Smooth slope (w,) of each column of patches on the effect (h, 3) along it.

    Ones where the effect is too weak to be that of stripes: of one yarn a row that is brighter
    shows more of itself and less of the columns, which differs from column to column in any light.
    """
    along = weight.sum(axis=1)
    level = np.average(means.reshape(-1, 3), axis=0, weights=weight.ravel() + 1e-12)
    power = np.average((effect**2).sum(axis=1), weights=along + 1e-12)
    if power < settings.least_marks**2 * (level**2).sum():
        return np.ones(weight.shape[1])
    number = np.maximum(weight.sum(axis=0), 1e-6)
    slope, strength, noise = np.zeros(len(number)), np.zeros(len(number)), np.zeros(len(number))
    for c in range(3):
        own = effect[:, c]
        image = means[:, :, c]
        mean = (own @ weight) / number
        square = np.maximum((own**2) @ weight - number * mean**2, 0.0)
        sums = (weight * image).sum(axis=0)
        slope += (own[:, None] * weight * image).sum(axis=0) - mean * sums
        strength += square
        spread = (weight * image**2).sum(axis=0) - sums**2 / number
        noise += np.maximum(spread - square, 0.0) / number * square
    return _smooth(slope, strength, noise, settings)


def _smooth(slope: Floats, strength: Floats, noise: Floats, settings: GainSettings) -> Floats:
    """A low polynomial through slope / strength, kept only where it is significant."""
    flat = np.ones(len(slope))
    usable = strength > 1e-9
    if usable.sum() < 3 * (settings.degree + 1):
        return flat
    x = np.linspace(-1, 1, len(slope))
    basis = np.polynomial.legendre.legvander(x, settings.degree)
    # Weighted least squares of slope = gain * strength; variance of the slope is `noise`.
    # A column by chance without scatter must not decide alone.
    floor = float(np.median(noise[usable])) + 1e-12
    weight = np.where(usable, strength**2 / np.maximum(noise, floor), 0.0)
    value = np.where(usable, slope / np.maximum(strength, 1e-12), 0.0)
    normal = basis.T @ (weight[:, None] * basis)
    try:
        covariance = np.linalg.inv(normal + 1e-9 * np.trace(normal) * np.eye(len(normal)))
    except np.linalg.LinAlgError:
        return flat
    coefficients = covariance @ (basis.T @ (weight * value))
    left = value - basis @ coefficients
    errors = np.sqrt(np.diag(covariance @ _alike(weight * left, basis) @ covariance))
    if coefficients[0] <= 5 * errors[0]:
        return flat
    relative = coefficients / coefficients[0]
    sure = np.abs(relative[1:]) > settings.least_significance * errors[1:] / coefficients[0]
    gain = 1 + basis[:, 1:] @ np.where(sure, relative[1:], 0.0)
    return np.asarray(np.clip(gain, 1 / settings.most, settings.most))


def _alike(pull: Floats, basis: Floats) -> Floats:
    """Covariance (k, k) of a fit's normal equations, neighbours being off alike.

    Within a stripe all is off by the same: its yarn is thicker, or the camera's tones are not
    quite straight. So patches of one stripe are no independent witnesses. Bartlett's weights
    (W. K. Newey and K. D. West, Econometrica 55, 1987, 703-708; from memory) over lags of up to
    an eighth of the axis, which is a broad stripe.

    Args:
        pull: (n,) weighted error of each patch.
        basis: (n, k) the functions fitted.
    """
    own = pull[:, None] * basis
    total = own.T @ own
    reach = max(len(own) // 8, 1)
    for lag in range(1, reach + 1):
        both = own[lag:].T @ own[:-lag]
        total += (1 - lag / (reach + 1)) * (both + both.T)
    return np.asarray(total)
