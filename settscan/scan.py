"""Photo -> reading -> cloth: the pipeline, readable top to bottom as a table of contents.

The stages need the picture libraries, so they are imported where they are used.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from settscan.doubts import Doubt, doubt
from settscan.errors import BadInput, Refusal
from settscan.measured import Measured, Origin
from settscan.scan_model import ScanOptions, ScanResult, Seen
from settscan.scan_result import refused, result_of
from settscan.things import Things, solvable, straightened_best

if TYPE_CHECKING:
    from settscan.photo.flat import FlatCloth, Photo
    from settscan.reading.model import ClothRead

__all__ = ["PICTURE_PX", "ScanOptions", "ScanResult", "scan_photo", "scan_photos"]

Progress = Callable[[str], None]

PICTURE_PX = 1600
"""Longest side of the picture of the straightened cloth: enough for the sheets."""


def scan_photos(
    paths: Sequence[Path], options: ScanOptions, progress: Progress, *, picture_px: int = PICTURE_PX
) -> ScanResult:
    """Read a photo of a cloth, and perhaps a close-up of it, into a cloth record.

    Args:
        paths: the photo, then at most one close-up of the same cloth.
        options: what the person knows already.
        progress: told what is being done, a sentence each.
        picture_px: longest side of the picture of the straightened cloth.

    Raises:
        BadInput: for files that are no photos, or more than two of them.
    """
    if not 1 <= len(paths) <= 2:
        raise BadInput(
            f"{len(paths)} photos were given; a scan takes one, or one and a close-up.",
            "Scan other cloths one by one.",
        )
    with _one_thread():
        return _scanned(paths, options, progress, picture_px)


def _scanned(
    paths: Sequence[Path], options: ScanOptions, progress: Progress, picture_px: int
) -> ScanResult:
    """What `scan_photos` returns for one or two files."""
    from settscan.photo.load import load_photo

    progress("Reading the photo ...")
    photo = load_photo(paths[0])
    _check_corners(photo, options)
    try:
        close, doubts = _close_up(paths[1:], options, progress)
        pins = _pins(options, close)
        seen = _see(photo, options, pins, progress)
    except Refusal as refusal:
        return refused(photo, refusal)
    if close is not None:
        from settscan.reading.joining import is_another_cloth, joined

        seen = _with_scale_of(close, seen, pins, options)
        seen = replace(seen, read=joined(seen.read, close, seen.flat.scale))
        if is_another_cloth(seen.read):
            progress("The close-up shows another cloth; reading the photo without it ...")
            seen = _see(photo, options, _pins(options, None), progress)
            doubts = (doubt("close-up-strange"),)
    read = seen.read
    seen = replace(seen, read=replace(read, doubts=(*read.doubts, *doubts)))
    return result_of(seen, paths, options, progress, picture_px)


def _check_corners(photo: Photo, options: ScanOptions) -> None:
    """Raise for given corners that are no points of the photo; here first its size is known."""
    for x, y in options.corners or ():
        if not (0 <= x <= photo.width and 0 <= y <= photo.height):
            raise BadInput(
                f"The corner {x:g},{y:g} lies outside the photo, which is {photo.width} pixels wide"
                f" and {photo.height} high.",
                "Give four points in the photo as it is shown.",
            )


def scan_photo(photo: Photo, options: ScanOptions, things: Things) -> ScanResult:
    """Read a photo that is loaded already, and whose ruler or card was looked for."""
    with _one_thread():
        try:
            seen = _see(photo, options, _pins(options, None), _quiet, things)
        except Refusal as refusal:
            return refused(photo, refusal)
        return result_of(seen, (), options, _quiet, PICTURE_PX)


@contextmanager
def _one_thread() -> Iterator[None]:
    """Linear algebra within stays on one core.

    A scan solves thousands of small systems, for which threads that wait for each other cost more
    than they gain: a third of the time on two cores, and more while anything else runs.
    """
    import cv2  # noqa: F401  # what is loaded later would not be held back
    import scipy.linalg  # noqa: F401
    from threadpoolctl import threadpool_limits

    with threadpool_limits(limits=1, user_api="blas"):
        yield


def _quiet(_: str) -> None:
    """Nobody is told."""


def _see(
    photo: Photo,
    options: ScanOptions,
    pins: tuple[Measured | None, Measured | None],
    progress: Progress,
    things: Things | None = None,
) -> Seen:
    """From pixels to a reading; `pins` are the known densities of columns and rows."""
    import numpy as np

    from settscan.photo.rectify import flatten
    from settscan.reading.clothness import judged, named
    from settscan.reading.read import read_cloth

    if things is None:
        progress("Looking for a ruler or the scale card ...")
        things = Things.seen_in(photo)
    progress("Straightening the cloth and evening its light ...")
    given = tuple(g for g in (options.scale_x, options.scale_y) if g is not None)
    corners = None if options.corners is None else np.array(options.corners, dtype=float)

    def straightened(things: Things) -> FlatCloth:
        with solvable("straightened"):
            return flatten(
                photo,
                rulers=things.rulers,
                card=things.card,
                bars=things.bars,
                given=given,
                corners=corners,
            )

    things, flat, glance = straightened_best(photo, things, straightened)
    flat = replace(flat, doubts=(*photo.doubts, *flat.doubts))
    progress("Finding stripes and counting threads ...")
    try:
        with solvable("read"):
            read = read_cloth(
                flat,
                pinned_columns=pins[0],
                pinned_rows=pins[1],
                warp_is_columns=options.warp_runs != "across",
                weave=options.weave,
                glance=glance,
            )
    except Refusal as refusal:
        raise (named(photo, flat, things.outlines) or refusal) from None
    read = judged(photo, flat, read, things.outlines, named_weave=options.weave is not None)
    return Seen(photo=photo, rulers=things.rulers, card=things.card, flat=flat, read=read)


def _pins(options: ScanOptions, close: ClothRead | None) -> tuple[Measured | None, Measured | None]:
    """Densities of columns and rows: as the person gave them, else as a close-up shows them."""
    typed = (options.epi, options.ppi)
    if options.warp_runs == "across":
        typed = (options.ppi, options.epi)
    shown = (None, None) if close is None else (close.columns.density, close.rows.density)
    columns, rows = (
        seen if given is None else Measured.exact(given, Origin.PINNED)
        for given, seen in zip(typed, shown, strict=True)
    )
    return columns, rows


def _close_up(
    paths: Sequence[Path], options: ScanOptions, progress: Progress
) -> tuple[ClothRead | None, tuple[Doubt, ...]]:
    """The reading of the close-up, if there is one that can be read, and what is amiss with it."""
    from settscan.photo.load import load_photo

    if not paths:
        return None, ()
    progress("Reading the close-up ...")
    alone = replace(options, scale_x=None, scale_y=None, corners=None)
    try:
        read = _see(load_photo(paths[0]), alone, _pins(options, None), progress).read
    except Refusal as refusal:
        return None, (doubt("close-up-unread", reason=refusal.message),)
    if not read.columns.stripes and not read.rows.stripes:
        reason = "no threads can be told apart in it."
        return None, (doubt("close-up-unread", reason=reason),)
    return read, ()


def _with_scale_of(
    close: ClothRead,
    seen: Seen,
    pins: tuple[Measured | None, Measured | None],
    options: ScanOptions,
) -> Seen:
    """The whole photo with the scale that its stripes have in the close-up, if it had none."""
    from settscan.reading.closeup_scale import scale_from_close_up
    from settscan.reading.read import read_cloth

    scale = scale_from_close_up(seen.read, close, seen.flat.scale)
    if scale is None:
        return seen
    read = seen.read
    flat = replace(seen.flat, scale=scale, doubts=_without_ruler(seen.flat.doubts))
    if read.columns.stripes and read.rows.stripes:
        return replace(seen, flat=flat, read=replace(read, doubts=_without_ruler(read.doubts)))
    again = read_cloth(
        flat,
        pinned_columns=pins[0],
        pinned_rows=pins[1],
        warp_is_columns=options.warp_runs != "across",
        weave=options.weave,
    )
    strange = tuple(d for d in read.doubts if d.name == "not-cloth")
    return replace(seen, flat=flat, read=replace(again, doubts=(*strange, *again.doubts)))


def _without_ruler(doubts: tuple[Doubt, ...]) -> tuple[Doubt, ...]:
    """The doubts but the one that no ruler was found."""
    return tuple(d for d in doubts if d.name != "ruler-missing")
