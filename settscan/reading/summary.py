"""The reading in a few lines for the terminal."""

from __future__ import annotations

from settscan.cloth.model import Cloth, SequenceKind, ThreadSet
from settscan.cloth.notation import format_sequence
from settscan.measured import Measured, Origin
from settscan.photo.flat import Scale
from settscan.reading.model import AxisRead, ClothRead
from settscan.reading.record import doubted_positions

_MOST_TOLD = 6  # stripes in one line; all of them stand in the project file or the evidence
_KINDS = {
    SequenceKind.SYMMETRIC: "symmetric, pivots marked by a slash",
    SequenceKind.REPEATING: "repeating",
    SequenceKind.PARTIAL: "less than one whole repeat shows",
}


def summary_lines(
    read: ClothRead, cloth: Cloth | None, scale: Scale, status: str, *, warp_is_columns: bool
) -> tuple[str, ...]:
    """What was found: yarns, weave, scale, then warp and weft with their counts.

    Args:
        read: the reading.
        cloth: what the project file gets of it; None where nothing was counted.
        scale: of the straightened picture.
        status: in words, with its reason.
        warp_is_columns: whether the warp runs up and down in the photo.
    """
    warp, weft = (read.columns, read.rows) if warp_is_columns else (read.rows, read.columns)
    sides = ("left", "top") if warp_is_columns else ("top", "left")
    ends, picks = (cloth.warp, cloth.weft) if cloth is not None else (None, None)
    weave = read.weave.name
    if read.weave.twill_direction:
        weave += f", rising to the {'right' if read.weave.twill_direction == 'Z' else 'left'}"
    return (
        f"Status: {status}",
        "Yarns: " + ", ".join(f"{y.key} {y.name} ({y.colour})" for y in read.yarns),
        f"Weave: {weave}",
        _scale_line(scale),
        *_axis_lines("Warp", warp, "ends"),
        *_doubt_lines(warp, ends, sides[0]),
        *_axis_lines("Weft", weft, "picks"),
        *_doubt_lines(weft, picks, sides[1]),
    )


def _scale_line(scale: Scale) -> str:
    """Where the scale comes from and how far it may be wrong."""
    if scale.relative_error is None:
        return "Scale: none; counts do not need one, sizes do"
    return f"Scale: from {scale.source}, within {100 * scale.relative_error:.1f} %"


def _axis_lines(name: str, axis: AxisRead, threads: str) -> tuple[str, ...]:
    """Sequence, repeat and density of one set of threads."""
    if not axis.stripes:
        return (f"{name}: {len(axis.bands)} stripes seen, none could be counted",)
    repeat = axis.repeat
    # A weft of one yarn lacks nothing; whether it goes on so where the photo ends is not seen.
    one_yarn = len({stripe.yarn for stripe in axis.stripes}) == 1
    kind = "one yarn, as far as the photo shows" if one_yarn else _KINDS[repeat.kind]
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
    return tuple(lines)


def _doubt_lines(axis: AxisRead, written: ThreadSet | None, side: str) -> tuple[str, ...]:
    """Doubtful counts: those of the sequence by their place in it, others by that in the photo."""
    if not axis.stripes or written is None:
        return ()
    lines = []
    stripes = written.sequence.stripes
    doubts = [each for each in written.doubts if not each.is_cut]
    told = [
        f"stripe {d.position + 1} of the sequence, {stripes[d.position].yarn}"
        f"{stripes[d.position].threads} ({100 * d.chance:.0f} %; {d.low} to {d.high})"
        for d in doubts
    ]
    if told:
        lines.append(f"      not sure of: {_first_of(told)}")
    reached = {k for p in doubted_positions(axis) for k in axis.repeat.members[p]}
    others = [
        f"stripe {k + 1}, {s.yarn}{s.threads} ({100 * s.chance:.0f} %; {s.low} to {s.high})"
        for k, s in enumerate(axis.stripes)
        if not s.cut and s.low != s.high and k not in reached
    ]
    if others:
        them = "it" if len(others) == 1 else "them"
        lines.append(
            f"      in the photo, counted from the {side}, not sure of: {_first_of(others)};"
            f" the sequence does not rest on {them}"
        )
    return tuple(lines)


def _first_of(told: list[str]) -> str:
    """Some of them, and how many more."""
    more = f" and {len(told) - _MOST_TOLD} more" if len(told) > _MOST_TOLD else ""
    return ", ".join(told[:_MOST_TOLD]) + more


def _density_text(density: Measured, threads: str) -> str:
    """Threads in one inch and in 10 cm, finished, with the interval if it was measured."""
    value, low, high = (25.4 * float(v) for v in (density.value, density.low, density.high))
    known = "as given" if density.origin is Origin.PINNED else f"{low:.1f} to {high:.1f}"
    return (
        f"{value:.1f} {threads} per inch ({known}),"
        f" {value / 0.254:.0f} per 10 cm, in the finished cloth"
    )
