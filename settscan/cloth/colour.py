"""Colours as people see them: "#rrggbb" to CIELAB, and how far two colours are apart.

sRGB as in IEC 61966-2-1, CIELAB as in CIE 015:2018, for white D65 and the 2 degree observer.
"""

from __future__ import annotations

import math

Lab = tuple[float, float, float]

_TO_XYZ = (
    (0.4124564, 0.3575761, 0.1804375),
    (0.2126729, 0.7151522, 0.0721750),
    (0.0193339, 0.1191920, 0.9503041),
)
_EPSILON, _KAPPA = 216 / 24389, 24389 / 27


def lab_of(colour: str) -> Lab:
    """CIELAB of a colour "#rrggbb"."""
    linear = [_linear(int(colour[i : i + 2], 16) / 255) for i in (1, 3, 5)]
    x, y, z = (
        _root(sum(weight * one for weight, one in zip(row, linear, strict=True)) / sum(row))
        for row in _TO_XYZ
    )
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def difference(first: str, second: str) -> float:
    """Distance of two colours in CIELAB (CIE 1976); about 2 can just be seen side by side."""
    return math.dist(lab_of(first), lab_of(second))


def _linear(encoded: float) -> float:
    """One sRGB channel, 0..1, to linear light."""
    return encoded / 12.92 if encoded <= 0.04045 else ((encoded + 0.055) / 1.055) ** 2.4


def _root(share: float) -> float:
    """The cube root of CIELAB with its straight foot."""
    return math.cbrt(share) if share > _EPSILON else (_KAPPA * share + 16) / 116
