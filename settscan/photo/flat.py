"""The nouns that the photo half hands on: a photo, its scale, and the flat cloth.

Pixel coordinates are (x, y) with the centre of the top-left pixel at (0, 0), x to the right and
y down. Light is linear (proportional to photons), as float32 with 1.0 at the sRGB white.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from settscan.doubts import Doubt
from settscan.measured import Measured

FloatImage = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A picture as the person sees it: upright, in sRGB.

    Attributes:
        encoded: (H, W, 3) uint8 or uint16, sRGB-encoded, red first; read-only.
        file: name of the file without its folder.
        sha256: of the file's bytes.
        mirrored: whether the orientation tag asked for a mirror image (order and twill reverse).
        focal_35mm: focal length as 35 mm equivalent, where the file tells, else None.
        axis_px: (x, y) where the camera's axis meets a part cut from a photo; None: its middle.
        reach_px: half the diagonal of the photo that a part was cut from; None: its own.
        doubts: what the loader noticed.
    """

    encoded: NDArray[np.uint8] | NDArray[np.uint16]
    file: str
    sha256: str
    mirrored: bool = False
    focal_35mm: float | None = None
    axis_px: tuple[float, float] | None = None
    reach_px: float | None = None
    doubts: tuple[Doubt, ...] = ()

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.encoded.shape[0])

    @property
    def width(self) -> int:
        """Columns."""
        return int(self.encoded.shape[1])

    @property
    def lens_axis(self) -> tuple[float, float]:
        """(x, y) where the camera's axis meets the picture."""
        return self.axis_px or ((self.width - 1) / 2, (self.height - 1) / 2)

    @property
    def half_diagonal(self) -> float:
        """Of the whole photo, in pixels."""
        return self.reach_px or math.hypot(self.width, self.height) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class RulerFound:
    """A ruler in the photo: its tick line and a projective map from millimetres to pixels.

    A tick at `t` mm from the first one lies at
    `origin_px + direction * s` with `s = (a t) / (1 + c t)` pixels.

    Attributes:
        origin_px: (x, y) of the first tick found, on the line through the tick feet.
        direction: unit vector (x, y) along the ruler.
        a: pixels per mm at the first tick.
        c: perspective along the ruler, per mm (0 for a ruler square to the camera).
        length_mm: from the first to the last tick found.
        tick_mm: distance of neighbouring finest ticks that were found.
        ticks_px: (N, 2) the ticks used, at their feet.
        ticks_mm: (N,) how far each of them is from the first one on the ruler; a lens may bend
            them away from the map above.
        outline_px: (4, 2) corners of the ruler's body, to be masked.
        relative_error: of the scale: one standard deviation.
        unit: "mm" or "inch".
        side: +1 or -1: on which side of the tick line, seen along `direction`, the ticks stand.
    """

    origin_px: NDArray[np.float64]
    direction: NDArray[np.float64]
    a: float
    c: float
    length_mm: float
    tick_mm: float
    ticks_px: NDArray[np.float64]
    outline_px: NDArray[np.float64]
    relative_error: float
    unit: str
    side: int = 1
    ticks_mm: NDArray[np.float64] | None = None
    doubts: tuple[Doubt, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CardFound:
    """The printed scale card in the photo.

    Attributes:
        mm_to_photo: (3, 3) homography from card millimetres to photo pixels (x, y, 1).
        outline_px: (4, 2) corners of the card's body, to be masked.
        relative_error: of the scale: one standard deviation.
        grey_linear: (N, 3) mean linear RGB seen on each patch of the grey row.
        grey_reflectance: (N,) the reflectances that the patches are printed with.
    """

    mm_to_photo: NDArray[np.float64]
    outline_px: NDArray[np.float64]
    relative_error: float
    grey_linear: NDArray[np.float64]
    grey_reflectance: NDArray[np.float64]
    doubts: tuple[Doubt, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Flat pixels per millimetre along x and y (None where unknown) and where it came from."""

    px_per_mm_x: Measured | None
    px_per_mm_y: Measured | None
    source: str  # "ruler" | "card" | "given" | "close-up" | "none"

    @property
    def relative_error(self) -> float | None:
        """Half the wider 90 % interval over its value; None without a scale."""
        known = [m for m in (self.px_per_mm_x, self.px_per_mm_y) if m is not None]
        if not known:
            return None
        return max(float((m.high - m.low) / 2 / m.value) for m in known)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatCloth:
    """The cloth as if scanned: one thread direction along x, the other along y, evenly lit.

    Attributes:
        pixels: (H, W, 3) linear light, illumination divided out, white at about 1.
        mask: (H, W) True where there is cloth to be read (no ruler, table, glare, fold).
        to_photo: (3, 3) homography from straightened-before-drape pixels to photo pixels.
        shift: (h, w, 2) smooth displacement in flat pixels on a coarse grid of `shift_step`
            pixels, to be added to a flat position before `to_photo`; None if not needed.
        shift_step: grid step of `shift` in flat pixels.
        sampling: flat pixels per photo pixel at the middle (1 means neither gained nor lost).
        scale: flat pixels per mm of cloth.
        neutral: whether colours were balanced on a known neutral.
        reaches_edge: (left, top, right, bottom): True where the cloth goes on beyond the picture
            or beyond what could be read, so that the outermost stripe is cut.
        margin: (left, top, right, bottom) pixels beyond what is surely cloth, where it ends in
            view: fringe, table and perhaps the last threads; they are masked.
    """

    pixels: FloatImage
    mask: Mask
    to_photo: NDArray[np.float64]
    scale: Scale
    sampling: float = 1.0
    shift: NDArray[np.float32] | None = None
    shift_step: int = 32
    neutral: bool = False
    reaches_edge: tuple[bool, bool, bool, bool] = (True, True, True, True)
    margin: tuple[int, int, int, int] = (0, 0, 0, 0)
    doubts: tuple[Doubt, ...] = field(default=())

    def opened(self, sides: tuple[bool, bool, bool, bool] = (True, True, True, True)) -> Mask:
        """The mask (H, W), its margin at the given sides masked as the cloth that it borders on."""
        mask = self.mask.copy()
        for axis, first in ((1, 0), (0, 1)):
            lines = np.moveaxis(mask, axis, 0)
            start, stop = self.margin[first], len(lines) - self.margin[first + 2]
            if sides[first]:
                lines[:start] = lines[start]
            if sides[first + 2]:
                lines[stop:] = lines[stop - 1]
        return mask

    def photo_points(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Photo pixels of flat positions `xy` (N, 2), by the way that the picture was made."""
        points = np.asarray(xy, dtype=np.float64).reshape(-1, 2)
        if self.shift is not None:
            points = points + _bilinear(self.shift, points / self.shift_step)
        homogeneous = np.c_[points, np.ones(len(points))] @ self.to_photo.T
        return np.asarray(homogeneous[:, :2] / homogeneous[:, 2:3])


def _bilinear(grid: NDArray[np.float32], at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values (N, 2) of a (h, w, 2) grid at fractional positions (N, 2), held at its borders."""
    limit = np.array([grid.shape[1] - 1, grid.shape[0] - 1], dtype=np.float64)
    at = np.clip(at, 0.0, limit)
    low = np.minimum(np.floor(at), np.maximum(limit - 1, 0)).astype(int)
    fx, fy = (at - low).T[:, :, None]
    x, y = low.T
    x1, y1 = np.minimum(x + 1, int(limit[0])), np.minimum(y + 1, int(limit[1]))
    top = grid[y, x] * (1 - fx) + grid[y, x1] * fx
    bottom = grid[y1, x] * (1 - fx) + grid[y1, x1] * fx
    return np.asarray(top * (1 - fy) + bottom * fy)
