"""Yarn colours that a weaver would have on the shelf, and how far apart two of them look."""

from __future__ import annotations

import numpy as np

from tests.render.specs import linear_from_srgb

SHELF = (
    ("white", (236, 232, 222)),
    ("cream", (226, 214, 184)),
    ("oatmeal", (196, 182, 152)),
    ("fawn", (166, 142, 108)),
    ("light grey", (176, 176, 172)),
    ("mid grey", (120, 120, 120)),
    ("charcoal", (62, 62, 66)),
    ("black", (30, 29, 31)),
    ("navy", (32, 38, 74)),
    ("dark blue", (38, 54, 112)),
    ("blue", (58, 94, 160)),
    ("pale blue", (142, 174, 204)),
    ("teal", (30, 106, 112)),
    ("bottle green", (28, 62, 44)),
    ("green", (46, 106, 62)),
    ("moss", (98, 112, 52)),
    ("olive", (84, 78, 42)),
    ("mustard", (190, 146, 44)),
    ("yellow", (226, 196, 70)),
    ("rust", (160, 76, 36)),
    ("orange", (212, 112, 42)),
    ("red", (170, 32, 38)),
    ("crimson", (132, 24, 48)),
    ("maroon", (82, 26, 36)),
    ("dark brown", (64, 44, 32)),
    ("brown", (108, 74, 48)),
    ("purple", (84, 48, 104)),
    ("heather", (136, 108, 142)),
    ("pink", (210, 138, 150)),
)


def oklab(srgb) -> np.ndarray:
    """OKLab of sRGB codes (B. Ottosson, 2020, "A perceptual color space for image processing")."""
    mix = np.array(
        [[0.4122214708, 0.5363325363, 0.0514459929],
         [0.2119034982, 0.6806995451, 0.1073969566],
         [0.0883024619, 0.2817188376, 0.6299787005]]
    )  # fmt: skip
    lab = np.array(
        [[0.2104542553, 0.7936177850, -0.0040720468],
         [1.9779984951, -2.4285922050, 0.4505937099],
         [0.0259040371, 0.7827717662, -0.8086757660]]
    )  # fmt: skip
    return lab @ np.cbrt(mix @ linear_from_srgb(srgb))


def apart(first, second) -> float:
    """OKLab distance of two sRGB colours: about 0.02 is just told apart side by side."""
    return float(np.linalg.norm(oklab(first) - oklab(second)))
