"""Every number the eye uses, with its reason and its unit.

One frozen class for each part of the eye; the single instance below it is what that part reads.
Nothing here was tuned on pictures: each number follows from optics, print sizes or the trade.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadSettings:
    """What counts as a picture that can be read.

    Attributes:
        least_side_px: a smaller picture holds no stripe of a few threads at 4 px per thread.
        largest_pixels: the largest phone sensors have 200 million pixels; more is a mistake or
            an attack on memory.
    """

    least_side_px: int = 64
    largest_pixels: int = 201_000_000


LOAD = LoadSettings()
