"""Linear light to CIELAB and back, and CIEDE2000: thin wrappers over scikit-image.

White is D65, the observer 2 degrees (IEC 61966-2-1 and CIE 15 as scikit-image carries them).
Linear values are clipped to the sRGB gamut first, because film of a fitted model may step out.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.photo.srgb import curve, inverse_curve

Floats = NDArray[Any]

_LUMA = np.array([0.299, 0.587, 0.114])
_CHROMA = np.array([1.772, 1.402])  # 2 (1 - weight of blue), 2 (1 - weight of red)


def encode(linear: Floats) -> Floats:
    """sRGB-encoded 0..1 values of linear light, same shape, clipped."""
    return curve(np.clip(np.asarray(linear, dtype=np.float64), 0.0, 1.0))


def to_lab(linear: Floats) -> Floats:
    """CIELAB (..., 3) of linear sRGB (..., 3)."""
    from skimage.color import rgb2lab

    flat = encode(linear).reshape(1, -1, 3)
    return np.asarray(rgb2lab(flat), dtype=np.float64).reshape(np.shape(linear))


def steadied(lab: Floats) -> Floats:
    """CIELAB rescaled so that brighter and darker threads of one yarn scatter alike everywhere.

    A thread that is lighter by a factor has L* + 16, a* and b* all larger by one factor; so
    log(L* + 16), a*/(L* + 16) and b*/(L* + 16) scatter equally for dark and for
    bright yarns. Scaled to equal CIELAB at L* = 50.
    """
    depth = lab[..., :1] + 16.0
    return np.asarray(66.0 * np.concatenate([np.log(depth / 66.0), lab[..., 1:] / depth], axis=-1))


def difference(lab1: Floats, lab2: Floats) -> Floats:
    """CIEDE2000 between CIELAB arrays (..., 3), broadcast against each other."""
    from skimage.color import deltaE_ciede2000

    return np.asarray(deltaE_ciede2000(lab1, lab2), dtype=np.float64)  # type: ignore[no-untyped-call]


def to_hex(linear: Floats) -> str:
    """Hexadecimal "#rrggbb" of one linear colour (3,)."""
    red, green, blue = (int(v) for v in np.rint(encode(linear) * 255))
    return f"#{red:02x}{green:02x}{blue:02x}"


def as_coded(light: Floats) -> tuple[Floats, Floats]:
    """Luma (..., 1) and chroma Cb, Cr (..., 2) of linear light (..., 3), as JPEG codes them.

    ITU-T T.871 with the weights of ITU-R BT.601, on values encoded as sRGB, neither rounded nor
    clipped: light below zero, which a fitted model may have, is its own mirror image.
    """
    code = np.sign(light) * curve(np.abs(light))
    luma = (code @ _LUMA)[..., None]
    return luma, (code[..., [2, 0]] - luma) / _CHROMA


def as_light(luma: Floats, chroma: Floats) -> Floats:
    """Linear light (..., 3) of luma (..., 1) and chroma (..., 2); undoes `as_coded`."""
    blue, red = np.moveaxis(luma + chroma * _CHROMA, -1, 0)
    green = (luma[..., 0] - _LUMA[0] * red - _LUMA[2] * blue) / _LUMA[1]
    code = np.stack([red, green, blue], axis=-1)
    return np.asarray(np.sign(code) * inverse_curve(np.abs(code)))
