"""Photo -> reading -> cloth: the pipeline, readable top to bottom as a table of contents.

The stages need the picture libraries, so they are imported where they are used: options and
results can be had without them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from settscan.cloth.project_model import PhotoRecord
from settscan.doubts import Doubt, doubt
from settscan.errors import BadInput, Refusal
from settscan.measured import Measured, Origin
from settscan.things import Things, solvable, straightened_best

if TYPE_CHECKING:
    from settscan.cloth.model import Cloth
    from settscan.photo.flat import CardFound, FlatCloth, Photo, RulerFound
    from settscan.photo.given import GivenScale
    from settscan.reading.model import AxisRead, ClothRead

Progress = Callable[[str], None]

PICTURE_PX = 1600
"""Longest side of the picture of the straightened cloth: enough for the sheets."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanOptions:
    """What the person knows already and gives along with the photo.

    Attributes:
        epi: pinned ends per mm of finished cloth.
        ppi: pinned picks per mm of finished cloth.
        scale_x: two photo points along the cloth's width and their distance.
        scale_y: two photo points along the cloth's length and their distance.
        corners: four photo points (x, y) in pixels that are a rectangle on the cloth: top left,
            top right, bottom right, bottom left.
        warp_runs: "down" or "across" the photo as shown; None where nobody has said.
        weave: by its one name (`cloth.weaves.weave_name`); None where nobody has said.
    """

    epi: Fraction | None = None
    ppi: Fraction | None = None
    scale_x: GivenScale | None = None
    scale_y: GivenScale | None = None
    corners: tuple[tuple[float, float], ...] | None = None
    warp_runs: str | None = None
    weave: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanResult:
    """What a scan found; a refusal has no cloth, but still its advice, JSON and pictures.

    Attributes:
        status: "read", "partly read" or "refused".
        advice: sentences for the weaver: why it was refused, or what would make it better.
        reading_json: the reading as plain data, ready for `json.dumps`.
        cloth: the cloth for the project file; None where nothing could be read.
        photo_record: the photo and its scale.
        evidence_png: what the reader saw, drawn over the rectified cloth (PNG); may be empty.
        rectified_jpeg: the rectified cloth (JPEG) for the preview beside the plan; may be empty.
        lines: the summary for the terminal.
        seen: where it all lies in the straightened cloth and in the photo, as plain data for the
            page; empty after a refusal.
    """

    status: str
    reading_json: dict[str, Any]
    photo_record: PhotoRecord
    cloth: Cloth | None = None
    advice: tuple[str, ...] = ()
    evidence_png: bytes = b""
    rectified_jpeg: bytes = b""
    lines: tuple[str, ...] = ()
    seen: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """One photo on its way to a reading."""

    photo: Photo
    rulers: tuple[RulerFound, ...]
    card: CardFound | None
    flat: FlatCloth
    read: ClothRead


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
        return _refused(photo, refusal)
    read = seen.read
    if close is not None:
        from settscan.reading.joining import joined

        seen = _with_scale_of(close, seen, pins, options)
        read = joined(seen.read, close, seen.flat.scale)
    seen = replace(seen, read=replace(read, doubts=(*read.doubts, *doubts)))
    return _result(seen, paths, options, progress, picture_px)


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
            return _refused(photo, refusal)
        return _result(seen, (), options, _quiet, PICTURE_PX)


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
) -> _Seen:
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
    return _Seen(photo=photo, rulers=things.rulers, card=things.card, flat=flat, read=read)


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
    seen: _Seen,
    pins: tuple[Measured | None, Measured | None],
    options: ScanOptions,
) -> _Seen:
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


def _refused(photo: Photo, refusal: Refusal) -> ScanResult:
    """What is known when the cloth itself could not be found or is none."""
    from settscan.photo.draw import png, thumbnail
    from settscan.reading.clothness import NotCloth
    from settscan.reading.report import reading_data

    field_cm = _field_cm(photo)
    doubts = (*photo.doubts, *((refusal.doubt,) if isinstance(refusal, NotCloth) else ()))
    advice = (
        str(refusal),
        *(str(d) for d in photo.doubts),
        f"To count threads of ten to the centimetre in a photo of this size, have no more than"
        f" {field_cm:.0f} cm of cloth in the frame.",
    )
    return ScanResult(
        status="refused",
        advice=advice,
        reading_json=reading_data(photo=photo, status="refused", advice=advice, doubts=doubts),
        photo_record=PhotoRecord(
            file=photo.file, sha256=photo.sha256, width=photo.width, height=photo.height
        ),
        evidence_png=png(thumbnail(photo, 1200)),
        lines=("No cloth could be read from this photo.",),
    )


def _result(
    seen: _Seen,
    paths: Sequence[Path],
    options: ScanOptions,
    progress: Progress,
    picture_px: int,
) -> ScanResult:
    """Everything that a scan hands on."""
    from settscan.photo.draw import flat_jpeg
    from settscan.reading.evidence import evidence_png
    from settscan.reading.places import places_data
    from settscan.reading.record import cloth_of
    from settscan.reading.report import reading_data
    from settscan.reading.summary import summary_lines

    warp_is_columns = options.warp_runs != "across"
    read = _named(seen, options)
    seen = replace(seen, read=read)
    status = _status(read)
    advice = _advice(seen)
    progress("Drawing what was seen ...")
    cloth = None
    if status != "refused":
        cloth = cloth_of(
            read,
            Path(seen.photo.file).stem,
            warp_is_columns=warp_is_columns,
            weave_told=options.weave is not None,
        )
    return ScanResult(
        status=status,
        advice=advice,
        reading_json=reading_data(
            photo=seen.photo,
            status=status,
            advice=advice,
            scale=seen.flat.scale,
            read=read,
            warp_is_columns=warp_is_columns,
        ),
        cloth=cloth,
        photo_record=_record(seen, paths, options),
        evidence_png=evidence_png(
            seen.photo,
            seen.flat,
            read,
            rulers=seen.rulers,
            card=seen.card,
            warp_is_columns=warp_is_columns,
        ),
        rectified_jpeg=flat_jpeg(seen.flat, picture_px),
        lines=summary_lines(read, seen.flat.scale, status, warp_is_columns=warp_is_columns),
        seen=places_data(seen.flat, read, seen.rulers),
    )


def _named(seen: _Seen, options: ScanOptions) -> ClothRead:
    """The reading with warp and weft named in its doubts, and the doubts of the whole scan."""
    read = seen.read
    names = ("weft", "warp") if options.warp_runs == "across" else ("warp", "weft")
    doubts = list(read.doubts)
    if options.warp_runs is None:
        doubts.append(doubt("warp-assumed"))
    for axis in (read.columns, read.rows):
        if not axis.stripes:
            doubts.append(_too_coarse(seen))
            break
    return replace(
        read,
        columns=_renamed(read.columns, "columns", names[0]),
        rows=_renamed(read.rows, "rows", names[1]),
        doubts=tuple(doubts),
    )


def _renamed(axis: AxisRead, old: str, new: str) -> AxisRead:
    """An axis whose doubts speak of warp and weft."""
    return replace(
        axis,
        doubts=tuple(
            Doubt(
                d.name,
                d.sentence.replace(f"the {old}", f"the {new}").replace(f"The {old}", f"The {new}"),
                d.check,
            )
            for d in axis.doubts
        ),
    )


def _too_coarse(seen: _Seen) -> Doubt:
    """Advice on how near to go."""
    return doubt("too-coarse", field_cm=_field_cm(seen.photo))


def _field_cm(photo: Photo) -> float:
    """So much cloth may fill the frame: six pixels per thread at ten threads in one cm."""
    return max(photo.width, photo.height) / 60


def _status(read: ClothRead) -> str:
    """Say "read", "partly read" or "refused"."""
    counted = [axis for axis in (read.columns, read.rows) if axis.stripes]
    if not counted:
        return "refused"
    whole = [s for axis in counted for s in axis.stripes if not s.cut]
    unsure = sum(s.low != s.high for s in whole)
    strange = any(d.name == "not-cloth" for d in read.doubts)
    if len(counted) < 2 or unsure or strange:
        return "partly read"
    return "read"


def _advice(seen: _Seen) -> tuple[str, ...]:
    """All doubts as sentences, each once."""
    read = seen.read
    every = (*read.doubts, *read.columns.doubts, *read.rows.doubts)
    return tuple(dict.fromkeys(str(d) for d in every))


def _record(seen: _Seen, paths: Sequence[Path], options: ScanOptions) -> PhotoRecord:
    """The photo and its scale for the project file."""
    scale = seen.flat.scale
    return PhotoRecord(
        file=seen.photo.file,
        sha256=seen.photo.sha256,
        width=seen.photo.width,
        height=seen.photo.height,
        scale_source=scale.source,
        px_per_mm_x=None if scale.px_per_mm_x is None else float(scale.px_per_mm_x.value),
        px_per_mm_y=None if scale.px_per_mm_y is None else float(scale.px_per_mm_y.value),
        relative_error=scale.relative_error,
        warp_runs=options.warp_runs or "down",
        close_up=paths[1].name if len(paths) > 1 else None,
    )
