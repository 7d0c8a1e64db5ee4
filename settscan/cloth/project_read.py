"""The text of a project file -> a cloth and wishes, or all that is wrong with it at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from enum import StrEnum
from typing import Any, TypeVar

from settscan.cloth import project_fields as fields
from settscan.cloth import project_origin as origin
from settscan.cloth import project_values as read
from settscan.cloth.model import Cloth, ColourSequence, StripeDoubt, ThreadSet, Yarn
from settscan.cloth.notation import format_sequence, is_yarn_key, parse_sequence
from settscan.cloth.project_lines import line_numbers, line_of, load_toml
from settscan.cloth.project_model import PhotoRecord
from settscan.cloth.weaves import weave_name
from settscan.cloth.wishes import (
    Losses,
    Piece,
    SampleRecord,
    Wishes,
    YarnStock,
    usual_frame,
    usual_loom,
)
from settscan.errors import BadInput, BadProject
from settscan.measured import Measured, Origin

T = TypeVar("T")
Table = dict[str, Any]
_MOST_SHOWN = 20


class _WarpRuns(StrEnum):
    DOWN = "down"
    ACROSS = "across"


class _Problems:
    """All that is wrong, in the order found; nothing is raised until the whole file was read."""

    def __init__(self) -> None:
        self.found: list[tuple[tuple[str, ...], str]] = []

    def add(self, path: tuple[str, ...], sentence: str) -> None:
        """Note a mistake at a table or key."""
        self.found.append((path, sentence))

    def attempt(self, path: tuple[str, ...], reader: Callable[[object], T], value: object) -> Any:
        """What the reader makes of the value; None, and a note, if it refuses."""
        try:
            return reader(value)
        except BadInput as error:
            self.add(path, str(error))
            return None


def parse_project(text: str, name: str = "project") -> tuple[Cloth, Wishes, PhotoRecord | None]:
    """What the text of a project file says.

    Args:
        text: TOML.
        name: of the file, for messages.

    Raises:
        BadProject: listing every mistake with its line and what to write instead.
    """
    return project_of(load_toml(text, name), text, name)


def project_of(
    data: Table, text: str, name: str = "project"
) -> tuple[Cloth, Wishes, PhotoRecord | None]:
    """What the plain data of a project file say; `text` is for the lines of mistakes.

    Raises:
        BadProject: as `parse_project`.
    """
    if not data:
        holds = "holds nothing but remarks" if text.strip() else "is empty"
        raise BadProject(
            f"{name} {holds}, so it is no project file.",
            "Begin one with settscan new, or read a photo with settscan scan.",
        )
    problems = _Problems()
    _check_version(data, problems)
    _check_keys(data, problems)
    yarns, stock = _yarns(data, problems)
    cloth = _cloth(data, yarns, problems)
    wishes = _wishes(data, stock, problems)
    photo = _photo(_table(data, "photo"), problems) if "photo" in data else None
    if problems.found or cloth is None or wishes is None:
        raise _summary(problems, text, name)
    return cloth, wishes, photo


def _summary(problems: _Problems, text: str, name: str) -> BadProject:
    """One mistake as a sentence, several as a list, each with its line."""
    lines = line_numbers(text)
    numbered = [(line_of(lines, path) or 0, path, told) for path, told in problems.found]
    numbered.sort(key=lambda one: one[0])
    told = [
        (f"line {line}, " if line else "") + f"{_dotted(path)}: {sentence}"
        for line, path, sentence in numbered
    ]
    if len(told) == 1:
        return BadProject(f"{name}, {told[0]}")
    shown = told[:_MOST_SHOWN]
    if len(told) > len(shown):
        shown.append(f"and {len(told) - len(shown)} more")
    return BadProject(f"{name} has {len(told)} mistakes:\n  " + "\n  ".join(shown))


def _dotted(path: tuple[str, ...]) -> str:
    return ".".join(path)


def _table(data: Table, name: str) -> Table:
    found = data.get(name, {})
    return found if isinstance(found, dict) else {}


def _check_version(data: Table, problems: _Problems) -> None:
    """A file of a later settscan may mean things that this one does not know."""
    version = data.get("settscan", fields.FORMAT)
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        problems.add(
            ("settscan",), f"The version of the format is a number. Write {fields.FORMAT}."
        )
    elif version > fields.FORMAT:
        problems.add(
            ("settscan",),
            f"The file has format {version}, and this settscan reads up to {fields.FORMAT}."
            " Install a newer settscan.",
        )


def _check_keys(data: Table, problems: _Problems) -> None:
    """Every key is known, and every table is a table."""
    for key, value in data.items():
        if key in fields.TOP_KEYS:
            continue
        if key not in fields.KEYS:
            problems.add((key,), f"Unknown. {fields.did_you_mean(key, '')}")
        elif not isinstance(value, dict):
            problems.add((key,), f"This is a table. Write its fields in lines below [{key}].")
        elif key != "yarns":
            _check_table((key,), value, key, problems)


def _check_table(path: tuple[str, ...], table: Table, section: str, problems: _Problems) -> None:
    for key in table:
        if key not in fields.KEYS[section]:
            problems.add((*path, key), f"Unknown. {fields.did_you_mean(key, section)}")


def _yarns(data: Table, problems: _Problems) -> tuple[tuple[Yarn, ...], tuple[YarnStock, ...]]:
    """The yarns as the cloth knows them, and as the shop does."""
    found = []
    for key, table in _table(data, "yarns").items():
        path = ("yarns", key)
        if not is_yarn_key(key):
            problems.add(path, "A yarn key is one or two capital letters. Write [yarns.A].")
        elif not isinstance(table, dict):
            problems.add(path, f"Write [yarns.{key}] and its name and colour in lines below it.")
        else:
            _check_table(path, table, "yarns", problems)
            found.append(_yarn(key, table, problems))
    return tuple(yarn for yarn, _ in found), tuple(stock for _, stock in found)


def _yarn(key: str, table: Table, problems: _Problems) -> tuple[Yarn, YarnStock]:
    path = ("yarns", key)
    given = {
        field.key: problems.attempt((*path, field.key), field.read, table[field.key])
        for field in fields.YARN.fields
        if field.key in table
    }
    if "colour" not in table:
        problems.add(path, 'The yarn has no colour. Add colour = "#1b2654" (red, green, blue).')
    size, tex = given.get("size") or ("", None)
    kind, amount = given.get("put_up") or ("", None)
    yarn = Yarn(
        key=key,
        name=given.get("name") or key,
        colour=given.get("colour") or "#808080",
        size=size or None,
    )
    stock = YarnStock(
        key=key,
        tex=tex,
        size=size,
        package_g=amount if kind == "mass" else None,
        package_length_mm=amount if kind == "length" else None,
        core_g=given.get("core") or YarnStock(key=key).core_g,
        in_stash_g=given.get("stash") or YarnStock(key=key).in_stash_g,
        wraps_per_mm=given.get("wraps"),
        price=given.get("price"),
    )
    return yarn, stock


def _cloth(data: Table, yarns: tuple[Yarn, ...], problems: _Problems) -> Cloth | None:
    """The cloth; None if a part of it is missing or wrong, which is then noted."""
    name = problems.attempt(("name",), read.some_text, data.get("name", "cloth"))
    notes = problems.attempt(("notes",), _notes, data.get("notes", []))
    warp = _threads(data, "warp", problems)
    if _table(data, "weft").get("like_warp") is True:
        weft = _like_warp(data, warp, problems)
    else:
        weft = _threads(data, "weft", problems)
    weave, direction = _weave(_table(data, "weave"), problems)
    keys = {yarn.key for yarn in yarns}
    for axis, threads in (("warp", warp), ("weft", weft)):
        if threads is not None:
            _check_yarns_known(axis, threads, keys, data, problems)
    if warp is None or weft is None or name is None or notes is None or weave is None:
        return None
    return Cloth(
        name=name,
        yarns=yarns,
        warp=warp,
        weft=weft,
        weave=weave,
        twill_direction=direction,
        notes=notes,
    )


def _notes(value: object) -> tuple[str, ...]:
    lines = [value] if isinstance(value, str) else value
    if not isinstance(lines, list):
        raise BadInput("Notes are a list of sentences.", 'Write notes = ["...", "..."].')
    return tuple(read.text(line) for line in lines)


def _check_yarns_known(
    axis: str, threads: ThreadSet, keys: set[str], data: Table, problems: _Problems
) -> None:
    used = dict.fromkeys(stripe.yarn for stripe in threads.sequence.stripes)
    if axis == "weft" and _table(data, "weft").get("like_warp") is True:
        return  # told for the warp already
    for key in used:
        if key not in keys and key not in _table(data, "yarns"):
            problems.add(
                (axis, "sequence"),
                f"Yarn {key} is not described. Add [yarns.{key}] with its name and colour,"
                " or correct the sequence.",
            )


def _threads(data: Table, axis: str, problems: _Problems) -> ThreadSet | None:
    """The warp or the weft."""
    table = _table(data, axis)
    if axis == "weft":
        problems.attempt((axis, "like_warp"), read.truth, table.get("like_warp", False))
    if "sequence" not in table:
        advice = ' Add sequence = "A/24 B4 A8 C/2", as counted on the cloth'
        advice += ", or like_warp = true." if axis == "weft" else "."
        problems.add((axis,), f"The {axis} has no colour sequence.{advice}")
        return None
    partial = problems.attempt((axis, "partial"), read.truth, table.get("partial", False))
    _check_marks(table, axis, problems)

    def sequence(value: object) -> ColourSequence:
        return parse_sequence(read.text(value), bool(partial))

    found = problems.attempt((axis, "sequence"), sequence, table["sequence"])
    density = _density(data, axis, problems)
    if found is None:
        return None
    return ThreadSet(
        sequence=found,
        density=density,
        origin=origin.sequence_origin(data, axis),
        doubts=_doubts(table.get("doubts", []), axis, found, problems),
    )


def _like_warp(data: Table, warp: ThreadSet | None, problems: _Problems) -> ThreadSet | None:
    """A weft with the sequence of the warp, and its density unless it has its own."""
    table = _table(data, "weft")
    if "sequence" in table:
        problems.add(
            ("weft", "like_warp"),
            "The weft has a sequence of its own too. Keep one: remove the sequence, or write"
            " like_warp = false.",
        )
    _check_marks(table, "weft", problems)
    own = _density(data, "weft", problems)
    if warp is None:
        return None
    density = own if own is not None else _taken_over(warp.density)
    whose = origin.sequence_origin(data, "weft")
    return ThreadSet(sequence=warp.sequence, density=density, origin=whose)


def _taken_over(density: Measured | None) -> Measured | None:
    """The density of the warp for a weft whose own nobody knows: an assumption, whosever it is."""
    return None if density is None else replace(density, origin=Origin.ASSUMED)


def _density(data: Table, axis: str, problems: _Problems) -> Measured | None:
    """The density of an axis with whose it is; None where unknown."""
    key = origin.density_key(axis)
    value = _table(data, axis).get(key, origin.UNKNOWN)
    if value == origin.UNKNOWN:
        return None
    found = problems.attempt((axis, key), read.density(key), value)
    if found is None:
        return None
    return Measured(found.value, found.low, found.high, origin.density_origin(data, axis))


def _check_marks(table: Table, axis: str, problems: _Problems) -> None:
    """The marks that say whose a value is are one of the four words."""
    for key in ("sequence_from", f"{origin.density_key(axis)}_from"):
        if key in table:
            problems.attempt((axis, key), read.one_of(Origin), table[key])


def _doubts(
    value: object, axis: str, sequence: ColourSequence, problems: _Problems
) -> tuple[StripeDoubt, ...]:
    """The doubts that no hand has settled yet."""
    path = (axis, "doubts")
    if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
        problems.add(path, 'Doubts are a list such as [{stripe = 3, range = "7 to 9"}].')
        return ()
    found = []
    for one in value:
        for key in one:
            if key not in fields.DOUBT_KEYS:
                problems.add(path, f'Unknown "{key}". Use {", ".join(fields.DOUBT_KEYS)}.')
        doubt = problems.attempt(path, lambda table: read.doubt(table, sequence), one)
        if doubt is not None:
            found.append(doubt)
    return tuple(found)


def _weave(table: Table, problems: _Problems) -> tuple[str | None, str | None]:
    """The name of the weave and the direction of a twill, "Z", "S" or None."""
    name = problems.attempt(("weave", "name"), _known_weave, table.get("name", "plain"))
    if "weave_from" in table:
        problems.attempt(("weave", "weave_from"), read.one_of(Origin), table["weave_from"])
    direction = problems.attempt(("weave", "direction"), read.text, table.get("direction", ""))
    if direction and direction.upper() not in ("Z", "S"):
        problems.add(
            ("weave", "direction"),
            'Write "Z" for a twill line that rises to the right, "S" for one that rises to the'
            ' left, or "".',
        )
    return (name.lower() if name else None), (direction.upper() if direction else None)


def _known_weave(value: object) -> str:
    """The name of a weave as typed, if there is a draft for it."""
    typed = read.some_text(value)
    weave_name(typed)
    return typed


def _wishes(data: Table, stock: tuple[YarnStock, ...], problems: _Problems) -> Wishes | None:
    """Piece, losses, loom and frame; what is not given keeps its default."""
    given = {section.name: _section(section, data, problems) for section in fields.WISHES}
    piece = _table(data, "piece")
    for size, repeats in (("width", "warp_repeats"), ("length", "weft_repeats")):
        if size in piece and repeats in piece:
            problems.add(("piece", repeats), f"Both {size} and {repeats} are given. Keep one.")
    _check_piece_yarns(given["piece"], _table(data, "yarns"), problems)
    units = data.get("units", "inch")
    if units not in ("inch", "metric"):
        problems.add(("units",), 'Write units = "inch" or units = "metric".')
    if problems.found:
        return None
    return Wishes(
        piece=Piece(**given["piece"]),
        losses=Losses(**given["losses"]),
        sample=SampleRecord(**given["sample"]),
        loom=usual_loom(units)._replace(**given["loom"]),
        frame=usual_frame(units)._replace(**given["frame"]),
        stock=stock,
        units=units,
    )


def _check_piece_yarns(piece: dict[str, Any], yarns: Table, problems: _Problems) -> None:
    """Border and selvedge use yarns of the list."""
    used = [("border", stripe.yarn) for stripe in piece.get("border") or ()]
    used += [("selvedge_yarn", piece["selvedge_yarn"])] if piece.get("selvedge_yarn") else []
    for field, key in dict.fromkeys(used):
        if key not in yarns:
            problems.add(("piece", field), f"Yarn {key} is not described. Add [yarns.{key}].")


def _section(section: fields.Section, data: Table, problems: _Problems) -> dict[str, Any]:
    """The attributes that a table sets."""
    table = _table(data, section.name)
    return {
        field.attribute: problems.attempt((section.name, field.key), field.read, table[field.key])
        for field in section.fields
        if field.key in table
    }


def _photo(table: Table, problems: _Problems) -> PhotoRecord | None:
    """The photo; everything but its name may be missing."""

    def one(key: str, reader: Callable[[object], T], default: Any) -> Any:
        if key not in table or table[key] == origin.UNKNOWN:
            return default
        return problems.attempt(("photo", key), reader, table[key])

    if "file" not in table:
        problems.add(("photo",), 'The photo has no name. Add file = "blanket.jpg".')
    return PhotoRecord(
        file=one("file", read.some_text, ""),
        sha256=one("sha256", read.text, ""),
        width=one("width", read.whole(0, 1_000_000), 0),
        height=one("height", read.whole(0, 1_000_000), 0),
        scale_source=one("scale_source", read.some_text, "none"),
        px_per_mm_x=one("px_per_mm_x", _decimal, None),
        px_per_mm_y=one("px_per_mm_y", _decimal, None),
        relative_error=one("relative_error", _decimal, None),
        warp_runs=str(one("warp_runs", read.one_of(_WarpRuns), _WarpRuns.DOWN)),
        close_up=one("close_up", read.some_text, None),
        shows_warp=one("shows_warp", _shown, ""),
        shows_weft=one("shows_weft", _shown, ""),
    )


def _shown(value: object) -> str:
    """The stripes that the photo shows, checked, as text."""
    return format_sequence(parse_sequence(read.some_text(value), partial=True))


def _decimal(value: object) -> float:
    return float(read.number(value))
