"""The reading in a few lines for the terminal."""

from __future__ import annotations

from settscan.cloth.model import SequenceKind
from settscan.cloth.notation import format_sequence
from settscan.measured import Measured, Origin
from settscan.photo.flat import Scale
from settscan.reading.model import AxisRead, ClothRead

_KINDS = {
    SequenceKind.SYMMETRIC: "symmetric, pivots marked by a slash",
    SequenceKind.REPEATING: "repeating",
    SequenceKind.PARTIAL: "less than one whole repeat shows",
}


def summary_lines(
    read: ClothRead, scale: Scale, status: str, *, warp_is_columns: bool
) -> tuple[str, ...]:
    """What was found: yarns, weave, scale, then warp and weft with their counts.

    Args:
        read: the reading.
        scale: of the straightened picture.
        status: "read", "partly read" or "refused".
        warp_is_columns: whether the warp runs up and down in the photo.
    """
    warp, weft = (read.columns, read.rows) if warp_is_columns else (read.rows, read.columns)
    weave = read.weave.name
    if read.weave.twill_direction:
        weave += f", rising to the {'right' if read.weave.twill_direction == 'Z' else 'left'}"
    return (
        f"Status: {status}",
        "Yarns: " + ", ".join(f"{y.key} {y.name} ({y.colour})" for y in read.yarns),
        f"Weave: {weave}",
        _scale_line(scale),
        *_axis_lines("Warp", warp, "ends"),
        *_axis_lines("Weft", weft, "picks"),
    )


def _scale_line(scale: Scale) -> str:
    """Where the scale comes from and how far it may be wrong."""
    if scale.relative_error is None:
        return "Scale: none; counts do not need one, sizes do"
    return f"Scale: from {scale.source}, within {100 * scale.relative_error:.1f} %"


def _axis_lines(name: str, axis: AxisRead, threads: str) -> tuple[str, ...]:
    """Sequence, repeat, density and doubtful stripes of one set of threads."""
    if not axis.stripes:
        return (f"{name}: {len(axis.bands)} stripes seen, none could be counted",)
    repeat = axis.repeat
    kind = _KINDS[repeat.kind]
    size = f", {repeat.threads} {threads} in the repeat" if repeat.threads else ""
    lines = [f"{name}: {format_sequence(repeat.sequence)}", f"      {kind}{size}"]
    found = axis.as_found()
    if found is not None:
        lines[0] += "  (a possible weaving mistake mended)"
        lines.append(f"      as found: {format_sequence(found)}, as `partial = true`")
    if axis.density is not None:
        lines.append(f"      {_density_text(axis.density, threads)}")
        if any(each.name == "density-disputed" for each in axis.doubts):
            lines.append("      ! the threads that were seen do not fit it")
    doubtful = [(k, s) for k, s in enumerate(axis.stripes, 1) if not s.cut and s.low != s.high]
    if doubtful:
        told = ", ".join(
            f"stripe {k}, {s.yarn}{s.threads} ({100 * s.chance:.0f} %; {s.low} to {s.high})"
            for k, s in doubtful[:6]
        )
        more = f" and {len(doubtful) - 6} more" if len(doubtful) > 6 else ""
        lines.append(f"      not sure of: {told}{more}")
    return tuple(lines)


def _density_text(density: Measured, threads: str) -> str:
    """Threads in one inch and in 10 cm, finished, with the interval if it was measured."""
    value, low, high = (25.4 * float(v) for v in (density.value, density.low, density.high))
    known = "as given" if density.origin is Origin.PINNED else f"{low:.1f} to {high:.1f}"
    return (
        f"{value:.1f} {threads} per inch ({known}),"
        f" {value / 0.254:.0f} per 10 cm, in the finished cloth"
    )
