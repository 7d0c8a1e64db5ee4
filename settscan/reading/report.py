"""The reading as plain data: the versioned JSON that other programs may rely on."""

from __future__ import annotations

from typing import Any

from settscan.cloth.notation import format_sequence
from settscan.doubts import Doubt
from settscan.measured import Measured
from settscan.photo.flat import Photo, Scale
from settscan.reading.model import AxisRead, ClothRead, WeaveRead

FORMAT = "settscan reading"
VERSION = 1
_PER_INCH = 25.4
_PER_10CM = 100.0


def reading_data(
    *,
    photo: Photo,
    status: str,
    advice: tuple[str, ...],
    scale: Scale | None = None,
    read: ClothRead | None = None,
    warp_is_columns: bool = True,
    doubts: tuple[Doubt, ...] = (),
) -> dict[str, Any]:
    """The reading, ready for `json.dumps` (no NaN).

    Args:
        photo: the photo that was read.
        status: "read", "partly read" or "refused".
        advice: sentences for the weaver.
        scale: flat pixels per mm, if the cloth was found.
        read: what was read, if anything.
        warp_is_columns: whether the warp runs up and down in the photo.
        doubts: those of a refusal, where there is no `read` to carry them.
    """
    return {
        "format": FORMAT,
        "version": VERSION,
        "status": status,
        "advice": list(advice),
        "photo": {
            "file": photo.file,
            "sha256": photo.sha256,
            "width": photo.width,
            "height": photo.height,
        },
        "scale": _scale(scale),
        "yarns": [
            {
                "key": yarn.key,
                "name": yarn.name,
                "srgb": yarn.colour,
                "lab": list(yarn.lab) if yarn.lab else None,
            }
            for yarn in (read.yarns if read else ())
        ],
        "weave": _weave(read.weave if read else None),
        **_axes(read, scale, warp_is_columns),
        "doubts": [
            {"name": d.name, "sentence": d.sentence, "check": d.check}
            for d in (read.doubts if read else doubts)
        ],
    }


def _axes(read: ClothRead | None, scale: Scale | None, warp_is_columns: bool) -> dict[str, Any]:
    """Warp and weft."""
    if read is None:
        return {"warp": _axis(None, None, "epi"), "weft": _axis(None, None, "ppi")}
    columns = (read.columns, scale.px_per_mm_x if scale else None)
    rows = (read.rows, scale.px_per_mm_y if scale else None)
    warp, weft = (columns, rows) if warp_is_columns else (rows, columns)
    return {"warp": _axis(*warp, "epi"), "weft": _axis(*weft, "ppi")}


def _scale(scale: Scale | None) -> dict[str, Any]:
    """Flat pixels per mm along both axes of the photo."""
    if scale is None:
        return {
            "px_per_mm_x": None,
            "px_per_mm_y": None,
            "relative_error": None,
            "source": "none",
        }
    error = scale.relative_error
    return {
        "px_per_mm_x": _value(scale.px_per_mm_x),
        "px_per_mm_y": _value(scale.px_per_mm_y),
        "relative_error": None if error is None else round(error, 5),
        "source": scale.source,
    }


def _value(measured: Measured | None) -> float | None:
    return None if measured is None else round(float(measured.value), 5)


def _weave(weave: WeaveRead | None) -> dict[str, Any]:
    """Name, confidence 0..1, and the twill's direction as the photo shows it."""
    if weave is None:
        return {"name": "unknown", "confidence": 0.0, "twill_direction": None}
    return {
        "name": weave.name,
        "confidence": round(weave.confidence, 3),
        "twill_direction": weave.twill_direction,
    }


def _axis(axis: AxisRead | None, px_per_mm: Measured | None, density: str) -> dict[str, Any]:
    """One set of threads."""
    if axis is None:
        empty = {"kind": "partial", "sequence": "", "threads": None, "chance": 0.0}
        return {
            density: None,
            "per_10cm": None,
            "counted_by": "nothing",
            "bands": [],
            "stripes": [],
            "repeat": empty,
            "as_found": None,
            "doubts": [],
        }
    per_px = None if px_per_mm is None else 1 / float(px_per_mm.value)
    found = axis.as_found()
    return {
        density: _density(axis.density, _PER_INCH),
        "per_10cm": _density(axis.density, _PER_10CM),
        "counted_by": axis.counted_by,
        "bands": [
            {"yarn": b.yarn, "start_mm": _mm(b.start_px, per_px), "end_mm": _mm(b.end_px, per_px)}
            for b in axis.bands
        ],
        "stripes": [
            {
                "yarn": s.yarn,
                "threads": s.threads,
                "low": s.low,
                "high": s.high,
                "chance": round(s.chance, 4),
                "others": [[n, round(c, 4)] for n, c in s.others],
                "cut": s.cut,
                "start_mm": _mm(s.start_px, per_px),
                "end_mm": _mm(s.end_px, per_px),
            }
            for s in axis.stripes
        ],
        "repeat": {
            "kind": axis.repeat.kind.value,
            "sequence": format_sequence(axis.repeat.sequence) if axis.stripes else "",
            "threads": axis.repeat.threads,
            "chance": round(axis.repeat.chance, 4),
        },
        "as_found": None if found is None else format_sequence(found),
        "doubts": [{"name": d.name, "sentence": d.sentence, "check": d.check} for d in axis.doubts],
    }


def _density(density: Measured | None, factor: float) -> dict[str, float] | None:
    """Threads per inch or per 10 cm of the cloth in the photo (finished), with its interval."""
    if density is None:
        return None
    return {
        "value": round(float(density.value) * factor, 3),
        "low": round(float(density.low) * factor, 3),
        "high": round(float(density.high) * factor, 3),
    }


def _mm(px: float, per_px: float | None) -> float | None:
    return None if per_px is None else round((px + 0.5) * per_px, 3)
