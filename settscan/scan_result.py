"""What a scan saw becomes what it hands on: status, advice, JSON, pictures and the cloth."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from settscan.cloth.model import SequenceKind
from settscan.cloth.project_model import PhotoRecord
from settscan.cloth.wishes import Edges
from settscan.doubts import Doubt, doubt
from settscan.errors import Refusal
from settscan.png_notes import with_note
from settscan.quantities import closer_than_spun
from settscan.scan_model import ScanOptions, ScanResult, Seen

if TYPE_CHECKING:
    from settscan.photo.flat import Photo
    from settscan.reading.model import AxisRead, ClothRead

_GAINSAID = "density-disputed"
_HALF = "edge-half-pivot"
_UNSCALED = "ruler-missing"
_NUMBERED = frozenset(
    {
        "hidden-stripes",
        "unlike-stripe",
        "breaks-repeat",
        "other-way-differs",
        "rim-unlike",
        "close-up-differs",
    }
)


def refused(photo: Photo, refusal: Refusal) -> ScanResult:
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


def result_of(
    seen: Seen,
    paths: Sequence[Path],
    options: ScanOptions,
    progress: Callable[[str], None],
    picture_px: int,
) -> ScanResult:
    """Everything that a scan hands on."""
    from settscan.photo.draw import flat_jpeg
    from settscan.reading.places import places_data
    from settscan.reading.record import cloth_of
    from settscan.reading.report import reading_data
    from settscan.reading.summary import summary_lines

    warp_is_columns = options.warp_runs != "across"
    read = with_names(seen, options)
    seen = replace(seen, read=read)
    status = _status(read)
    advice = _advice(seen, options, status)
    progress("Drawing what was seen ...")
    places = places_data(seen.flat, read, seen.rulers)
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
        evidence_png=_evidence(seen, places, advice, warp_is_columns=warp_is_columns),
        rectified_jpeg=flat_jpeg(seen.flat, picture_px),
        lines=summary_lines(
            read,
            cloth,
            seen.flat.scale,
            _with_reason(status, read),
            warp_is_columns=warp_is_columns,
        ),
        seen=places,
        edges=Edges.HALF if any(d.name == _HALF for d in read.doubts) else Edges.FIRST,
    )


def _evidence(
    seen: Seen, places: dict[str, Any], advice: tuple[str, ...], *, warp_is_columns: bool
) -> bytes:
    """The evidence picture (PNG) with the data that the sheets need to tell it on paper."""
    from settscan.reading.evidence import evidence_png

    picture = evidence_png(
        seen.photo,
        seen.flat,
        seen.read,
        rulers=seen.rulers,
        card=seen.card,
        warp_is_columns=warp_is_columns,
    )
    yarns = [{"key": y.key, "name": y.name, "colour": y.colour} for y in seen.read.yarns]
    sides = {side: places[side]["stripes"] for side in ("columns", "rows")}
    return with_note(picture, "settscan", json.dumps({"yarns": yarns, **sides, "checks": advice}))


def _with_reason(status: str, read: ClothRead) -> str:
    """The status in words, with what is lacking."""
    lacks = _short_of(read)
    return f"{status} ({lacks})" if lacks else status


def with_names(seen: Seen, options: ScanOptions) -> ClothRead:
    """The reading with warp and weft named in its doubts, and the doubts of the whole scan."""
    read = seen.read
    names = ("weft", "warp") if options.warp_runs == "across" else ("warp", "weft")
    doubts = [_by_density(one, options) if one.name == _UNSCALED else one for one in read.doubts]
    if options.warp_runs is None:
        doubts.append(doubt("warp-assumed"))
    across = options.warp_runs == "across"
    doubts += edge_doubts(read.rows if across else read.columns, "upper" if across else "left")
    for axis in (read.columns, read.rows):
        if not axis.stripes:
            doubts.append(_too_coarse(seen, options))
            break
    return replace(
        read,
        columns=_renamed(read.columns, "columns", names[0]),
        rows=_renamed(read.rows, "rows", names[1]),
        doubts=tuple(doubts),
    )


def _by_density(unscaled: Doubt, options: ScanOptions) -> Doubt:
    """What a photo without a scale leaves unknown where densities were given."""
    given = {"ends": options.epi is not None, "picks": options.ppi is not None}
    known = [threads for threads, told in given.items() if told]
    if not known:
        return unscaled
    ruler = "lay a ruler flat on the cloth and photograph again"
    if len(known) == 2:
        return doubt(
            "sizes-by-density",
            known="ends and picks",
            rest="sizes follow from them",
            check=f"To have them measured, {ruler}.",
        )
    lacking, size = ("picks", "length") if known == ["ends"] else ("ends", "width")
    return doubt(
        "sizes-by-density",
        known=known[0],
        rest=f"the {lacking} in one inch and the {size} of the cloth are unknown",
        check=f"Count the {lacking} in one inch as well, or {ruler}.",
    )


def edge_doubts(warp: AxisRead, side: str) -> list[Doubt]:
    """That the warp begins with half of its first pivot, where the cloth's own edge shows it.

    A plan begins with a whole pivot unless it is told otherwise, which would be another cloth.
    """
    if warp.repeat.kind is not SequenceKind.SYMMETRIC or 0 not in warp.repeat.members[0]:
        return []
    edge, last, pivot = warp.stripes[0], warp.stripes[-1], warp.repeat.sequence.stripes[0]
    half = pivot.threads / 2
    if edge.cut or not edge.low - 1 < half < edge.high + 1 or edge.high >= pivot.threads:
        return []
    other = "" if last.cut else f"; at the other edge it ends with {last.yarn}{last.threads}"
    found, whole = f"{edge.yarn}{edge.threads}", f"{pivot.yarn}{pivot.threads}"
    return [doubt(_HALF, side=side, found=found, pivot=whole, other=other)]


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


def _too_coarse(seen: Seen, options: ScanOptions) -> Doubt:
    """Advice on how near to go, or on what else would tell the counts."""
    field_cm = _field_cm(seen.photo)
    scaled = seen.flat.scale.relative_error is not None
    given = options.epi is not None or options.ppi is not None
    if given and not scaled:
        return doubt("density-without-scale", field_cm=field_cm)
    give = "the density" if scaled else "the density and two points with their distance"
    return doubt("too-coarse", field_cm=field_cm, else_give=give)


def _field_cm(photo: Photo) -> float:
    """So much cloth may fill the frame: six pixels per thread at ten threads in one cm."""
    return max(photo.width, photo.height) / 60


def _status(read: ClothRead) -> str:
    """Say "read", "partly read" or "refused"."""
    if not (read.columns.stripes or read.rows.stripes):
        return "refused"
    return "partly read" if _short_of(read) else "read"


def _short_of(read: ClothRead) -> str:
    """What a reading that has counts lacks to be a whole one, in words; "" for nothing."""
    axes = (read.columns, read.rows)
    if not any(axis.stripes for axis in axes):
        return ""
    lacks = []
    if not all(axis.stripes for axis in axes):
        lacks.append("only one set of threads could be counted")
    names = {d.name for d in (*read.doubts, *read.columns.doubts, *read.rows.doubts)}
    if "not-cloth" in names:
        lacks.append("the picture may be no woven cloth")
    # Counts by a density that the threads gainsay are as sure as that number, which is not sure.
    if _GAINSAID in names:
        lacks.append("a density that you gave does not fit the threads")
    unsure = sum(s.low != s.high for axis in axes for s in axis.stripes if not s.cut)
    if unsure:
        lacks.append(f"{unsure} count{'s' * (unsure > 1)} in the photo to be checked")
    return "; ".join(lacks)


def _advice(seen: Seen, options: ScanOptions, status: str) -> tuple[str, ...]:
    """All doubts as sentences, each once; those of the densities that were given lead.

    Where such a number is wrong, every count and most of the other doubts come of it. Where
    nothing was counted, the reason leads. What is to be checked in the same way is told at once,
    so that ten stripes that break the repeat do not push all else out of sight.
    """
    read = seen.read
    close = closer_than_spun(options.epi or 0), closer_than_spun(options.ppi or 0, of="picks")
    every = sorted(
        (*read.doubts, *read.columns.doubts, *read.rows.doubts),
        key=lambda each: each.name != _GAINSAID,
    )
    told: dict[str, dict[str, None]] = {}
    for each in every:
        told.setdefault(each.check, {})[each.sentence] = None
    together = (" ".join((*sentences, check)) for check, sentences in told.items())
    parts = (filter(None, close), together)
    counted = (_how_counted(options),) if any(d.name in _NUMBERED for d in every) else ()
    return tuple(dict.fromkeys(chain(*(parts[::-1] if status == "refused" else parts), counted)))


def _how_counted(options: ScanOptions) -> str:
    """From which side the stripes are counted that doubts name by number."""
    warp, weft = ("top", "left") if options.warp_runs == "across" else ("left", "top")
    return (
        f"Stripes are counted here as they lie in the photo: those of the warp from the {warp},"
        f" those of the weft from the {weft}."
    )


def _record(seen: Seen, paths: Sequence[Path], options: ScanOptions) -> PhotoRecord:
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
