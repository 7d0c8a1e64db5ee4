"""A cloth and wishes -> the text of a new project file, with a remark beside each field."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from settscan.cloth import project_literals as write
from settscan.cloth import project_origin as origin
from settscan.cloth.model import (
    Cloth,
    ColourSequence,
    SequenceKind,
    StripeDoubt,
    ThreadSet,
    Yarn,
)
from settscan.cloth.notation import format_sequence
from settscan.cloth.project_fields import FORMAT, WISHES, YARN, Field, Section
from settscan.cloth.project_model import PhotoRecord
from settscan.cloth.wishes import Wishes, YarnStock
from settscan.measured import Measured, Origin

_HEAD = """\
# A settscan project: a cloth to be woven again, and how it is to be wound.
# Change anything. A value that you change stays yours, whatever is scanned later.
# Text and quantities stand in double quotes; what follows a # is a remark.
# Each field is explained in "The project file" (settscan/docs/project-file.md).
"""
_YARNS = """\
# The yarns. The key (A, B, ...) stands for the yarn in the sequences below.
"""
_SEQUENCE = """\
# One line: yarn key and threads of each stripe. With a slash at both ends ("A/24 B4 C/2") it
# turns back there: these two stripes are pivots, each full and shared by the halves that meet in
# it. Without slashes ("A24 B4 C2") it begins again. "3x(A4 B4)" writes a group three times.
"""
_FROM = """\
# Whose it is: "read" (the camera's), "typed" or "pinned" (yours). Pin what is to stay as it is.
"""
_DOUBTS = """\
# Stripes whose count is not certain. Look at the cloth: correct the count in the sequence, or
# write confirmed = true here if it is right.
"""
_AS_FOUND = """\
# All stripes that the photo shows, one by one as found. The sequences below mend what may be a
# weaving mistake; to copy it, write these stripes there, with partial = true.
"""
_READING = """\
# What the camera read last; not for editing. By comparing, settscan sees which values above are
# yours and keeps them. To take the reading again for one of them, delete its line and scan with
# --update.
"""
_SHOWS = ("shows_warp", "shows_weft")


def project_text(cloth: Cloth, wishes: Wishes, photo: PhotoRecord | None = None) -> str:
    """The text of a new project file."""
    units = wishes.units
    parts = [_top(cloth, wishes)]
    if photo is not None:
        parts.append(_photo(photo))
    parts.append(_YARNS.rstrip())
    stock = {one.key: one for one in wishes.stock}
    parts += [yarn_text(yarn, stock.get(yarn.key), units) for yarn in cloth.yarns]
    parts.append(_threads("warp", cloth.warp, units))
    parts.append(_threads("weft", cloth.weft, units, like_warp=_follows_warp(cloth)))
    parts.append(_weave(cloth))
    parts += [_section(section, getattr(wishes, section.name), units) for section in WISHES]
    record = reading_record(cloth, units)
    if len(record) > 1:
        parts.append(reading_text(record))
    return "\n\n".join(parts) + "\n"


def reading_record(cloth: Cloth, units: str) -> dict[str, Any]:
    """What `[reading]` notes of the values of a cloth that the camera read."""
    record: dict[str, Any] = {}
    for axis, threads in (("warp", cloth.warp), ("weft", cloth.weft)):
        if threads.origin in (Origin.READ, Origin.ASSUMED):
            record[axis] = origin.sequence_record(sequence_values(threads.sequence))
            record[f"{axis}_doubts"] = [doubt.position + 1 for doubt in threads.doubts]
        if threads.density is not None and threads.density.origin is Origin.READ:
            key = origin.density_key(axis)
            record[key] = density_value(threads.density, axis, units)
    if cloth.notes:
        record["notes"] = [plain(note) for note in cloth.notes]
    if record:
        record["weave"] = origin.weave_record(weave_values(cloth))
        record["yarns"] = {yarn.key: origin.yarn_record(yarn_values(yarn)) for yarn in cloth.yarns}
    record["seal"] = origin.seal(record)
    return record


def sequence_values(sequence: ColourSequence) -> dict[str, Any]:
    """The plain values of a sequence: its line, and `partial` if it is."""
    values: dict[str, Any] = {"sequence": format_sequence(sequence)}
    if sequence.kind is SequenceKind.PARTIAL:
        values["partial"] = True
    return values


def density_value(density: Measured | None, axis: str, units: str) -> str:
    """The plain value of a density, "unknown" for none."""
    if density is None:
        return origin.UNKNOWN
    return write.density(density, origin.density_key(axis), units).strip('"')


def weave_values(cloth: Cloth) -> dict[str, Any]:
    """The plain values of the weave."""
    return {"name": cloth.weave, "direction": cloth.twill_direction or ""}


def yarn_values(yarn: Yarn) -> dict[str, Any]:
    """The plain values of a yarn that a reading gives."""
    return {"name": plain(yarn.name) or yarn.key, "colour": yarn.colour.lower()}


def doubt_values(doubt: StripeDoubt, sequence: ColourSequence) -> dict[str, Any]:
    """The plain values of a doubt; stripes are counted from 1."""
    stripe = sequence.stripes[doubt.position]
    cut = doubt.is_cut and doubt.low == doubt.high
    return {
        "stripe": doubt.position + 1,
        "count": f"{stripe.yarn}{stripe.threads}",
        "range": f"{doubt.low} or more" if cut else f"{doubt.low} to {doubt.high}",
        "chance": f"{min(99, round(doubt.chance * 100))} %",
        "note": plain(doubt.note),
        "confirmed": False,
    }


def photo_values(photo: PhotoRecord) -> dict[str, Any]:
    """The plain values of a photo's record."""
    values: dict[str, Any] = {
        "file": plain(photo.file) or "photo",
        "sha256": photo.sha256,
        "width": photo.width,
        "height": photo.height,
        "scale_source": photo.scale_source,
        "warp_runs": photo.warp_runs,
    }
    for key in ("px_per_mm_x", "px_per_mm_y"):
        value = getattr(photo, key)
        values[key] = origin.UNKNOWN if value is None else round(value, 5)
    error = photo.relative_error
    values["relative_error"] = origin.UNKNOWN if error is None else round(error, 5)
    if photo.close_up:
        values["close_up"] = plain(photo.close_up)
    for key in _SHOWS:
        if getattr(photo, key):
            values[key] = getattr(photo, key)
    return values


def toml_line(key: str, value: Any) -> str:
    """A field as one line of TOML, for plain text, numbers, truths, lists and small tables."""
    return f"{key} = {_toml(value)}"


def toml_lines(values: Sequence[Any]) -> str:
    """A list in TOML with one value in each line."""
    return "[\n" + "".join(f"    {_toml(one)},\n" for one in values) + "]"


def plain(text: str) -> str:
    """Text without what a line of TOML cannot hold."""
    safe = text.encode("utf-8", "replace").decode("utf-8")
    return "".join(c if c.isprintable() else " " for c in safe).strip()


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return write.truth(value)
    if isinstance(value, str):
        return write.words(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(toml_line(key, one) for key, one in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(one) for one in value) + "]"
    return repr(value)


def _top(cloth: Cloth, wishes: Wishes) -> str:
    lines = [
        _HEAD,
        _beside(f"settscan = {FORMAT}", "version of this kind of file"),
        toml_line("name", plain(cloth.name) or "cloth"),
        _beside(toml_line("units", wishes.units), 'the sheets lead with "inch" or "metric"'),
    ]
    if cloth.notes:
        lines.append(f"notes = {toml_lines([plain(note) for note in cloth.notes])}")
    return "\n".join(lines)


def _photo(photo: PhotoRecord) -> str:
    lines = ["[photo]", "# Where the cloth was read from, and the scale that was found there."]
    values = photo_values(photo)
    shown = {key: values.pop(key) for key in _SHOWS if key in values}
    lines += [toml_line(key, value) for key, value in values.items()]
    if shown:
        lines += [_AS_FOUND.rstrip(), *(toml_line(key, value) for key, value in shown.items())]
    return "\n".join(lines)


def yarn_text(yarn: Yarn, stock: YarnStock | None = None, units: str = "inch") -> str:
    """The table of one yarn."""
    values: dict[str, str] = {key: write.words(one) for key, one in yarn_values(yarn).items()}
    if yarn.size or (stock and stock.size):
        values["size"] = write.words(yarn.size or (stock.size if stock else ""))
    if stock is not None:
        values |= _stock(stock, units)
    lines = [f"[yarns.{yarn.key}]"]
    lines += [_live_or_remark(field, values.get(field.key)) for field in YARN.fields]
    return "\n".join(lines)


def _stock(stock: YarnStock, units: str) -> dict[str, str]:
    values = {}
    if stock.package_g is not None:
        values["put_up"] = write.mass(stock.package_g)
    elif stock.package_length_mm is not None:
        values["put_up"] = write.length(stock.package_length_mm, units)
    if stock.in_stash_g:
        values["stash"] = write.mass(stock.in_stash_g)
    if stock.core_g:
        values["core"] = write.mass(stock.core_g)
    if stock.wraps_per_mm is not None:
        values["wraps"] = write.wraps(stock.wraps_per_mm, units)
    if stock.price is not None:
        values["price"] = write.number(stock.price)
    return values


def _follows_warp(cloth: Cloth) -> bool:
    """Whether the weft is as the warp; one with stripes in doubt has its own line to be checked."""
    alike = cloth.weft.sequence == cloth.warp.sequence and cloth.weft.origin is cloth.warp.origin
    return alike and not cloth.weft.doubts


def _threads(axis: str, threads: ThreadSet, units: str, like_warp: bool = False) -> str:
    key = origin.density_key(axis)
    what = (
        "The warp: ends from left to right."
        if axis == "warp"
        else ("The weft: picks from the top down. like_warp = true takes the sequence of the warp.")
    )
    lines = [f"[{axis}]", f"# {what}"]
    if axis == "weft":
        lines.append(toml_line("like_warp", like_warp))
    lines += _sequence_lines(axis, threads, like_warp)
    per = "ends" if axis == "warp" else "picks"
    lines.append(
        f'# {per.capitalize()} per inch of finished cloth: "24 {key}", "48/10cm", with a range'
        f' "24.3 {key}, 24.1 to 24.5",\n# or "unknown".'
    )
    lines.append(toml_line(key, density_value(threads.density, axis, units)))
    whose = threads.density.origin if threads.density else Origin.READ
    lines.append(toml_line(f"{key}_from", whose.value))
    if not like_warp:
        lines += [_DOUBTS.rstrip(), _doubts(threads)]
    return "\n".join(lines)


def _sequence_lines(axis: str, threads: ThreadSet, like_warp: bool) -> list[str]:
    """The sequence and its marks; an example in a remark where the weft follows the warp."""
    if like_warp:
        return [
            '# sequence = "A24 B6"               # of its own, with like_warp = false',
            toml_line("sequence_from", threads.origin.value),
        ]
    lines = [_SEQUENCE.rstrip() if axis == "warp" else "# Written as for the warp."]
    lines.append(toml_line("sequence", format_sequence(threads.sequence)))
    partial = threads.sequence.kind is SequenceKind.PARTIAL
    lines.append(_beside(toml_line("partial", partial), "true: less than one repeat, used once"))
    if axis == "warp":
        lines.append(_FROM.rstrip())
    lines.append(toml_line("sequence_from", threads.origin.value))
    return lines


def _doubts(threads: ThreadSet) -> str:
    if not threads.doubts:
        return "doubts = []"
    told = [doubt_values(doubt, threads.sequence) for doubt in threads.doubts]
    return f"doubts = {toml_lines(told)}"


def _weave(cloth: Cloth) -> str:
    read = Origin.READ in (cloth.warp.origin, cloth.weft.origin)
    whose = Origin.READ if read else Origin.TYPED
    if cloth.weave_told:
        whose = Origin.PINNED
    values = weave_values(cloth)
    return "\n".join(
        [
            "[weave]",
            _beside(toml_line("name", values["name"]), '"plain", "2/2 twill", ... or "unknown"'),
            _beside(
                toml_line("direction", values["direction"]),
                'of a twill: "Z" rises to the right, "S" to the left',
            ),
            toml_line("weave_from", whose.value),
        ]
    )


def _section(section: Section, values: object, units: str) -> str:
    lines = [f"[{section.name}]", *(f"# {line}" for line in section.about)]
    for field in section.fields:
        value = getattr(values, field.attribute)
        literal = None if value is None else field.write(value, units)
        lines.append(_live_or_remark(field, literal, units))
    return "\n".join(lines)


def reading_text(record: dict[str, Any]) -> str:
    """The table `[reading]`."""
    return "\n".join(
        ["[reading]", _READING.rstrip(), *(toml_line(key, one) for key, one in record.items())]
    )


def _live_or_remark(field: Field, literal: str | None, units: str = "inch") -> str:
    """A field with its value; without one, an example that is only a remark."""
    example = _whole_cm(field.example) if units == "metric" else field.example
    line = f"{field.key} = {example if literal is None else literal}"
    return _beside(line if literal is not None else f"# {line}", field.about)


def _whole_cm(example: str) -> str:
    """An example in inches in whole centimetres; any other as it is."""
    inches = re.fullmatch(r'"([0-9.]+) in"', example)
    return example if inches is None else f'"{round(float(inches[1]) * 2.54)} cm"'


def _beside(line: str, remark: str) -> str:
    """The line with its remark, remarks standing below each other where there is room."""
    return f"{line:<34}  # {remark}"
