"""Linear light to CIELAB and back, and CIEDE2000: thin wrappers over scikit-image.

White is D65, the observer 2 degrees (IEC 61966-2-1 and CIE 15 as scikit-image carries them).
Linear values are clipped to the sRGB gamut first, because film of a fitted model may step out.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[Any]


def encode(linear: Floats) -> Floats:
    """sRGB-encoded 0..1 values of linear light, same shape, clipped."""
    light = np.clip(np.asarray(linear, dtype=np.float64), 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def to_lab(linear: Floats) -> Floats:
    """CIELAB (..., 3) of linear sRGB (..., 3)."""
    from skimage.color import rgb2lab

    flat = encode(linear).reshape(1, -1, 3)
    return np.asarray(rgb2lab(flat), dtype=np.float64).reshape(np.shape(linear))


def difference(lab1: Floats, lab2: Floats) -> Floats:
    """CIEDE2000 between CIELAB arrays (..., 3), broadcast against each other."""
    from skimage.color import deltaE_ciede2000

    return np.asarray(deltaE_ciede2000(lab1, lab2), dtype=np.float64)  # type: ignore[no-untyped-call]


def to_hex(linear: Floats) -> str:
    """Hexadecimal "#rrggbb" of one linear colour (3,)."""
    red, green, blue = (int(v) for v in np.rint(encode(linear) * 255))
    return f"#{red:02x}{green:02x}{blue:02x}"
