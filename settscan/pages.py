"""A page of swatches: every cloth that lies apart in one photo is read by itself."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from settscan.scan import ScanOptions, ScanResult, scan_photo
from settscan.things import Things

if TYPE_CHECKING:
    from settscan.photo.flat import Photo

Box = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRead:
    """One cloth of a photo.

    Attributes:
        result: what was read.
        box: (left, top, right, bottom) of the part of the photo that was read, pixels.
        photo_size: width and height of the whole photo.
    """

    result: ScanResult
    box: Box
    photo_size: tuple[int, int]


def scan_page(path: Path, options: ScanOptions, pieces: bool) -> tuple[PieceRead, ...]:
    """Read every cloth in a photo, in rows from the top; a single cloth is read as ever.

    A ruler or card anywhere in the photo gives the scale of all of them.

    Args:
        path: the photo.
        options: what is known of the cloths.
        pieces: whether more than one cloth is looked for.

    Raises:
        BadImage: for a file that is no photo.
    """
    from settscan.photo.load import load_photo

    photo = load_photo(path)
    things = Things.seen_in(photo)
    boxes: tuple[Box, ...] = ()
    if pieces:
        from settscan.photo.pieces import find_pieces

        # A plain swatch has straight edges too, and is no bar.
        boxes = find_pieces(photo, replace(things, bars=()).outlines)
    size = (photo.width, photo.height)
    if not boxes:
        result = scan_photo(photo, options, things)
        return (PieceRead(result=result, box=(0, 0, *size), photo_size=size),)
    return tuple(
        PieceRead(result=_piece(photo, box, n, options, things), box=box, photo_size=size)
        for n, box in enumerate(boxes, 1)
    )


def _piece(photo: Photo, box: Box, number: int, options: ScanOptions, things: Things) -> ScanResult:
    """The reading of one of several cloths."""
    from settscan.photo.pieces import moved_card, moved_ruler, part_of

    moved = Things(
        rulers=tuple(moved_ruler(ruler, box) for ruler in things.rulers),
        card=None if things.card is None else moved_card(things.card, box),
    )
    result = scan_photo(part_of(photo, box), options, moved)
    if result.cloth is None:
        return result
    return replace(result, cloth=replace(result.cloth, name=f"{result.cloth.name} {number}"))
