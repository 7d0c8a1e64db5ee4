"""Encoded values become linear light and back, by table or by the curve (IEC 61966-2-1)."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from settscan.photo.flat import FloatImage


def linear(encoded: ArrayLike) -> FloatImage:
    """Linear light of sRGB-encoded values, by table (IEC 61966-2-1).

    Args:
        encoded: array of any shape, uint8 or uint16.

    Returns:
        float32 of the same shape, 1.0 at white.

    Raises:
        TypeError: for another type of number.
    """
    values = np.asarray(encoded)
    if values.dtype not in (np.uint8, np.uint16):
        raise TypeError(f"linear() takes uint8 or uint16, not {values.dtype}")
    return np.asarray(_decode_table(values.dtype.itemsize * 8)[values])


def encode(light: ArrayLike) -> NDArray[np.uint8]:
    """Linear light (any shape, 1.0 at white) as 8-bit sRGB; what lies outside is clipped."""
    scaled = np.asarray(light, dtype=np.float32) * np.float32(65535)
    np.nan_to_num(scaled, copy=False, nan=0.0)
    np.clip(scaled, 0, 65535, out=scaled)
    scaled += np.float32(0.5)
    return np.asarray(_encode_table()[scaled.astype(np.uint16)])


def curve(light: NDArray[Any]) -> NDArray[Any]:
    """Encoded values 0..1 and more, float64, of linear light from zero on, of the same shape."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def inverse_curve(code: NDArray[Any]) -> NDArray[Any]:
    """Linear light of encoded values from zero on; undoes `curve`."""
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


@cache
def _decode_table(bits: int) -> FloatImage:
    code = np.arange(2**bits) / (2**bits - 1)
    table: FloatImage = inverse_curve(code).astype(np.float32)
    table.flags.writeable = False
    return table


@cache
def _encode_table() -> NDArray[np.uint8]:
    light = np.arange(2**16) / (2**16 - 1)
    table: NDArray[np.uint8] = np.rint(255 * curve(light)).astype(np.uint8)
    table.flags.writeable = False
    return table
