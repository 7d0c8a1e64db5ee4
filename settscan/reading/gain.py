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

from settscan.settings import GAIN, GainSettings

Floats = NDArray[Any]
FloatImage = NDArray[np.float32]
Mask = NDArray[np.bool_]


def light_left(
    pixels: FloatImage,
    mask: Mask,
    columns: Floats,
    rows: Floats,
    settings: GainSettings = GAIN,
) -> tuple[Floats, Floats]:
    """Relative light along x (W,) and y (H,), each with mean one; ones where nothing tells.

    Args:
        pixels: (H, W, 3) linear light.
        mask: (H, W) True where there is cloth.
        columns: (W, 3) column effect.
        rows: (H, 3) row effect with mean zero.
        settings: see `GainSettings`.
    """
    along_x = _gain(pixels, mask, rows, settings)
    turned = columns - columns.mean(axis=0)
    along_y = _gain(pixels.transpose(1, 0, 2), mask.T, turned, settings)
    return along_x, along_y


def _gain(pixels: FloatImage, mask: Mask, effect: Floats, settings: GainSettings) -> Floats:
    """Smooth slope (W,) of each column's pixels on the effect (H, 3) along it."""
    weights = mask.astype(np.float32)
    number = np.maximum(weights.sum(axis=0), 1.0)
    slope, strength, noise = np.zeros(len(number)), np.zeros(len(number)), np.zeros(len(number))
    for c in range(3):
        own = effect[:, c].astype(np.float32)
        mean = (own @ weights) / number
        square = np.maximum((own**2) @ weights - number * mean**2, 0.0)
        image = pixels[:, :, c]
        both = np.einsum("y,yx,yx->x", own, image, weights, optimize=True)
        sums = np.einsum("yx,yx->x", image, weights, optimize=True)
        slope += both - mean * sums
        strength += square
        spread = np.einsum("yx,yx,yx->x", image, image, weights, optimize=True) - sums**2 / number
        noise += np.maximum(spread - square, 0.0) / number * square
    return _smooth(slope, strength, noise, settings)


def _smooth(slope: Floats, strength: Floats, noise: Floats, settings: GainSettings) -> Floats:
    """A low polynomial through slope / strength, kept only where it is significant."""
    flat = np.ones(len(slope))
    usable = strength > 1e-9
    if usable.sum() < 8 * (settings.degree + 1):
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
    # Neighbouring columns of one yarn share its threads, so fewer are independent.
    errors = np.sqrt(np.diag(covariance) * settings.columns_per_look)
    if coefficients[0] <= 5 * errors[0]:
        return flat
    relative = coefficients / coefficients[0]
    sure = np.abs(relative[1:]) > settings.least_significance * errors[1:] / coefficients[0]
    gain = 1 + basis[:, 1:] @ np.where(sure, relative[1:], 0.0)
    return np.asarray(np.clip(gain, 1 / settings.most, settings.most))
