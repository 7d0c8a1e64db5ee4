"""What is peculiar to HEIC photos: their brands, mirror images, and colours without a profile.

The decoder turns and mirrors a photo as its file asks (ISO/IEC 23008-12, 6.5.10 and 6.5.12), so
that only the fact of a mirror image is left to be told.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.photo.srgb import encode, linear

_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"hevx", b"mif1", b"msf1")
# ITU-T H.273, table 2 and 3: what can be turned into sRGB by a matrix alone
_SRGB_PRIMARIES = (1, 2)  # BT.709; unspecified
_ORDINARY_CURVES = (1, 2, 6, 13)  # BT.709 and BT.601, which screens show as sRGB; unspecified; sRGB
_SAME_WHITE = 0.002
_D65 = (0.3127, 0.3290)
_SRGB = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))  # IEC 61966-2-1
_ROWS = 256


def is_heic(start: bytes) -> bool:
    """Whether a file that begins so (40 bytes or more) is a HEIC photo, by its brands."""
    return start[4:8] == b"ftyp" and start[8:12] in _BRANDS and b"avif" not in start[8:40]


def is_mirrored(data: bytes) -> bool:
    """Whether the file asks for a mirror image: it has an `imir` property among its boxes."""
    at = 0
    while at + 8 <= len(data):
        size, kind = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
        if kind == b"meta":
            return b"\x00\x00\x00\x09imir" in data[at : at + max(size, 8)]
        if size < 8:  # to the end of the file, or longer than 4 GB: no photo of ours
            return False
        at += size
    return False


def wide_colours(profile: Mapping[str, Any] | None) -> NDArray[np.float64] | None:
    """(3, 3) matrix from the linear light of a coded colour space to that of sRGB.

    Args:
        profile: the decoder's "nclx" profile with primaries and white; None for none.

    Returns:
        None where the colours are those of sRGB, or nothing is said of them.

    Raises:
        ValueError: for a space that takes more than a matrix (another white, a curve for HDR).
    """
    if not profile or profile["color_primaries"] in _SRGB_PRIMARIES:
        return None
    xy = {
        name: (profile[f"color_primary_{name}_x"], profile[f"color_primary_{name}_y"])
        for name in ("red", "green", "blue", "white")
    }
    if profile["transfer_characteristics"] not in _ORDINARY_CURVES:
        raise ValueError("a tone curve for HDR")
    if not np.allclose(xy["white"], _D65, atol=_SAME_WHITE):
        raise ValueError("another white")
    there = _to_xyz((xy["red"], xy["green"], xy["blue"]))
    return np.asarray(np.linalg.solve(_to_xyz(_SRGB), there))


def _to_xyz(primaries: tuple[tuple[float, float], ...]) -> NDArray[np.float64]:
    """(3, 3) RGB to XYZ of primaries (x, y) with white D65 (SMPTE RP 177-1993)."""
    columns = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in primaries]).T
    x, y = _D65
    return np.asarray(columns * np.linalg.solve(columns, [x / y, 1.0, (1 - x - y) / y]))


def in_srgb(pixels: NDArray[np.uint8], matrix: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Pixels (H, W, 3), coded with the curve of sRGB, in sRGB; what lies outside is clipped."""
    out = np.empty_like(pixels)
    for top in range(0, len(pixels), _ROWS):
        rows = slice(top, top + _ROWS)
        out[rows] = encode(linear(pixels[rows]) @ matrix.T.astype(np.float32))
    return out
