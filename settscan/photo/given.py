"""A scale that the person gives by hand: two points of the photo and their distance."""

from __future__ import annotations

import math
from dataclasses import dataclass

from settscan.errors import BadInput


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenScale:
    """Two points in the photo, in photo pixels, and how far apart they are on the cloth.

    Attributes:
        x0: first point, x in pixels.
        y0: first point, y in pixels.
        x1: second point, x in pixels.
        y1: second point, y in pixels.
        length_mm: their distance on the cloth in mm.

    Raises:
        BadInput: when the points coincide or the length is not positive.
    """

    x0: float
    y0: float
    x1: float
    y1: float
    length_mm: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.length_mm) or self.length_mm <= 0:
            raise BadInput(
                f"The given scale has a length of {self.length_mm:g} mm.",
                "Give the distance of the two points on the cloth, more than nothing.",
            )
        if not math.isfinite(self.length_px) or self.length_px < 1:
            raise BadInput(
                "The two points of the given scale are the same.",
                "Give two points of the photo that are far apart.",
            )

    @property
    def length_px(self) -> float:
        """Distance of the two points in photo pixels."""
        return math.hypot(self.x1 - self.x0, self.y1 - self.y0)

    @property
    def px_per_mm(self) -> float:
        """Photo pixels per mm along the line between the points."""
        return self.length_px / self.length_mm
