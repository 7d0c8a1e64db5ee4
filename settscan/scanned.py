"""What a scan found becomes the parts of a project file: cloth, wishes, photo."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from settscan.cloth.alike import weft_as_warp
from settscan.cloth.project_model import PhotoRecord
from settscan.cloth.wishes import INCH, Edges, Piece, Wishes, usual_frame, usual_loom

if TYPE_CHECKING:
    from collections.abc import Sequence

    from settscan.cloth.model import Cloth, ColourSequence, Stripe
    from settscan.scan_model import ScanResult


def scanned_cloth(result: ScanResult) -> tuple[Cloth, PhotoRecord]:
    """The cloth and the photo of a scan that found stripes, as a project file holds them."""
    assert result.cloth is not None
    return weft_as_warp(result.cloth), _with_what_it_shows(result)


def first_wishes(units: str, edges: Edges = Edges.FIRST) -> Wishes:
    """Wishes for a new project file: a blanket's size as an example to be changed.

    Args:
        units: "inch" or "metric".
        edges: as a photo shows them.
    """
    if units == "metric":
        piece = Piece(width_mm=Fraction(1400), length_mm=Fraction(1800), edges=edges)
    else:
        piece = Piece(width_mm=54 * INCH, length_mm=72 * INCH, edges=edges)
    return Wishes(piece=piece, loom=usual_loom(units), frame=usual_frame(units), units=units)


def _with_what_it_shows(result: ScanResult) -> PhotoRecord:
    """The record of the photo with the stripes that it shows, for a drawing of the same part."""
    warp, weft = (
        " ".join(f"{stripe['yarn']}{stripe['threads']}" for stripe in axis["stripes"])
        for axis in (result.reading_json["warp"], result.reading_json["weft"])
    )
    return replace(result.photo_record, shows_warp=warp, shows_weft=weft)


def fold_stripes(stripes: Sequence[tuple[Stripe, bool]]) -> ColourSequence:
    """The shortest repeat that explains stripes lying side by side.

    Args:
        stripes: each stripe, and whether the picture cuts it, so that its count is a least one.
    """
    from settscan.reading.counts import Count
    from settscan.reading.repeats import Seen, find_pattern, in_usual_order, write_sequence

    seen = tuple(
        Seen(yarn=stripe.yarn, count=Count(((stripe.threads, 1.0),)), cut=cut)
        for stripe, cut in stripes
    )
    pattern = in_usual_order(find_pattern(seen), seen)
    return write_sequence(pattern, seen, tuple(stripe.threads for stripe, _ in stripes))
