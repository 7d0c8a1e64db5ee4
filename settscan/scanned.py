"""What a scan found becomes the parts of a project file: cloth, wishes, photo."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from settscan.cloth.alike import weft_as_warp
from settscan.cloth.project_model import PhotoRecord
from settscan.cloth.wishes import INCH, Piece, Wishes, usual_frame, usual_loom

if TYPE_CHECKING:
    from settscan.cloth.model import Cloth
    from settscan.scan import ScanResult


def scanned_cloth(result: ScanResult) -> tuple[Cloth, PhotoRecord]:
    """The cloth and the photo of a scan that found stripes, as a project file holds them."""
    assert result.cloth is not None
    return weft_as_warp(result.cloth), _with_what_it_shows(result)


def first_wishes(units: str) -> Wishes:
    """Wishes for a new project file: a blanket's size as an example to be changed."""
    if units == "metric":
        piece = Piece(width_mm=Fraction(1400), length_mm=Fraction(1800))
    else:
        piece = Piece(width_mm=54 * INCH, length_mm=72 * INCH)
    return Wishes(piece=piece, loom=usual_loom(units), frame=usual_frame(units), units=units)


def _with_what_it_shows(result: ScanResult) -> PhotoRecord:
    """The record of the photo with the stripes that it shows, for a drawing of the same part."""
    warp, weft = (
        " ".join(f"{stripe['yarn']}{stripe['threads']}" for stripe in axis["stripes"])
        for axis in (result.reading_json["warp"], result.reading_json["weft"])
    )
    return replace(result.photo_record, shows_warp=warp, shows_weft=weft)
