"""What a person gives along with a photo on the page: points, distances, densities, pins."""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from settscan.cloth.project_model import PhotoRecord
from settscan.cloth.project_values import density
from settscan.cloth.weaves import weave_name
from settscan.errors import BadInput
from settscan.measured import Measured, Origin
from settscan.page.desk import View
from settscan.page.work import WARP, Side
from settscan.photo.given import GivenScale
from settscan.quantities import parse_length
from settscan.scan_model import ScanOptions

_LEAST_THREADS = 8
"""Pinned threads from which a density is taken: fewer tell it to no better than a tenth."""
_FURTHEST = 1e6  # pixels

Data = Mapping[str, Any]


def options_of(given: Data) -> ScanOptions:
    """What the page sent, checked.

    Args:
        given: `corners`, four [x, y] in photo pixels from the top left clockwise; `measures`, at
            most two of {x0, y0, x1, y1, length}; `warpRuns`; `weave`, `epi` and `ppi` as typed.

    Raises:
        BadInput: with what to give instead.
    """
    across, along = _scales(given.get("measures") or [])
    runs = given.get("warpRuns")
    if runs not in (None, "", "down", "across"):
        raise BadInput("The warp runs down or across the photo.", "Choose one of the two.")
    return ScanOptions(
        epi=_density(given.get("epi"), "epi"),
        ppi=_density(given.get("ppi"), "ppi"),
        scale_x=across,
        scale_y=along,
        corners=_corners(given.get("corners")),
        warp_runs=runs or None,
        weave=_weave(given.get("weave")),
    )


def _weave(typed: Any) -> str | None:
    """The weave by its one name; None where nothing was typed."""
    return weave_name(typed) if isinstance(typed, str) and typed.strip() else None


def density_of_pinned(side: Side, view: View, size_px: tuple[int, int]) -> Fraction | None:
    """Threads per mm that the stripes show which a hand has counted; None where none tells it.

    Args:
        side: the warp or weft.
        view: for the scale and the way that the warp runs.
        size_px: width and height of the straightened cloth, in the pixels of its scale.
    """
    photo = view.project.photo if view.project else None
    if photo is None or not side.exact:
        return None
    per_mm, side_px = _axis(photo, side.name, size_px)
    pinned = [one for one in side.shown if not one.cut and side.lines[one.of].certain]
    threads = sum(side.lines[one.of].threads for one in pinned)
    share = sum(one.end - one.start for one in pinned)
    if per_mm is None or threads < _LEAST_THREADS or share <= 0:
        return None
    return Fraction(threads) / Fraction(share * side_px / per_mm)


def typed_density(measured: Measured | None) -> Fraction | None:
    """A density that a hand has decided."""
    if measured is None or measured.origin not in (Origin.TYPED, Origin.PINNED):
        return None
    return Fraction(measured.value)


def _axis(photo: PhotoRecord, name: str, size: tuple[int, int]) -> tuple[float | None, int]:
    """Pixels per mm and pixels of the picture's side along which this side's stripes follow."""
    columns = (name == WARP) == (photo.warp_runs != "across")
    return (photo.px_per_mm_x, size[0]) if columns else (photo.px_per_mm_y, size[1])


def _scales(measures: Any) -> tuple[GivenScale | None, GivenScale | None]:
    """The measures across and along the photo; two of one direction are one too many."""
    if not isinstance(measures, list) or len(measures) > 2:
        raise BadInput("At most two distances can be given.", "Take one away.")
    found: dict[bool, GivenScale] = {}
    for one in measures:
        if not isinstance(one, dict):
            raise BadInput("A distance needs two points and a length.", "Set them anew.")
        length = one.get("length")
        scale = GivenScale(
            x0=_pixel(one.get("x0")),
            y0=_pixel(one.get("y0")),
            x1=_pixel(one.get("x1")),
            y1=_pixel(one.get("y1")),
            length_mm=float(parse_length(length if isinstance(length, str) else "")),
        )
        level = abs(scale.x1 - scale.x0) >= abs(scale.y1 - scale.y0)
        if level in found:
            raise BadInput(
                "Both distances run the same way.", "Lay one across the photo and one along it."
            )
        found[level] = scale
    return found.get(True), found.get(False)


def _corners(given: Any) -> tuple[tuple[float, float], ...] | None:
    if not given:
        return None
    if not isinstance(given, list) or len(given) != 4:
        raise BadInput("The cloth has four corners.", "Set them anew.")
    points = []
    for one in given:
        if not isinstance(one, list) or len(one) != 2:
            raise BadInput("The cloth has four corners.", "Set them anew.")
        points.append((_pixel(one[0]), _pixel(one[1])))
    if any(_turn(*(points[(i + j) % 4] for j in range(3))) <= 0 for i in range(4)):
        raise BadInput(
            "The four corners do not go round in turn.",
            "Drag them so that they stand at the corners of a rectangle on the cloth.",
        )
    return tuple(points)


def _pixel(value: Any) -> float:
    if (
        isinstance(value, bool)
        or not isinstance(value, int | float)
        or not math.isfinite(value)
        or abs(value) > _FURTHEST
    ):
        raise BadInput("A point is not a place in the photo.", "Set it anew.")
    return float(value)


def _density(typed: Any, unit: str) -> Fraction | None:
    if typed in (None, ""):
        return None
    return Fraction(density(unit)(str(typed)[:60]).value)


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    """Positive where a -> b -> c turns clockwise as seen (y runs down)."""
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
