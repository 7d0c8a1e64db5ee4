"""The wishes as a form: each field of the project file with its value as people write it."""

from __future__ import annotations

import re
import types
import typing
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from settscan.cloth import wishes
from settscan.cloth.project_edit import REMOVED, Edit
from settscan.cloth.project_fields import WISHES, YARN, Field
from settscan.cloth.weaves import KNOWN_WEAVES, weave_name
from settscan.errors import BadInput
from settscan.page.desk import View

Data = dict[str, Any]
_CLASSES: dict[str, type] = {
    "piece": wishes.Piece,
    "losses": wishes.Losses,
    "sample": wishes.SampleRecord,
    "loom": wishes.Loom,
    "frame": wishes.Frame,
}
_TITLES = {
    "cloth": "The cloth",
    "piece": "What to weave",
    "losses": "Losses between loom and finished cloth",
    "sample": "Your own sample",
    "loom": "Loom and reeds",
    "frame": "Mill, reel, board or beam",
}
_LABELS = {
    "warp_repeats": "Repeats across",
    "weft_repeats": "Repeats along",
    "pieces": "Number of pieces",
    "spare": "Spare yarn",
    "close_on_pivot": "Make both edges alike",
    "edges": "Begin at",
    "panels": "Strips side by side",
    "exact_width": "Cut the pattern at the edges",
    "waste": "Loom waste",
    "reeds": "Your reeds",
    "align_stripes": "Stripes begin in a new dent",
    "pirn": "Yarn on one pirn",
    "kind": "Wound on",
    "most_turns": "Most turns",
    "pegs_around": "Pegs in one turn",
    "bout_ends": "Most ends in a bout",
    "group_ends": "Ends between counting ties",
    "cross": "Cross at the",
    "odd_way": "Odd stripes",
    "carry_ends": "Let a yarn hang over",
    "raddle_ends": "Ends in a raddle group",
    "choke": "Choke ties every",
    "cross_ties": "Ties at the cross",
    "section": "Section width",
    "cut_waste": "Lost with each section",
    "seconds_per_pass": "Seconds for one pass",
    "epi": "Ends in the finished cloth",
    "ppi": "Picks in the finished cloth",
}
_INSTEAD = {
    "width": "warp_repeats",
    "warp_repeats": "width",
    "length": "weft_repeats",
    "weft_repeats": "length",
}
_LONGEST = 2000


@dataclass(frozen=True, slots=True)
class Typed:
    """How a field is shown: "text", "whole", "truth", "choice", "list" or "number"."""

    how: str
    choices: tuple[str, ...] = ()


def form(view: View) -> list[Data]:
    """The sections of the form with what the file says now."""
    sections = [_cloth(view)]
    for section in WISHES:
        table = _table(view.data, section.name)
        sections.append(
            {
                "name": section.name,
                "title": _TITLES[section.name],
                "about": _told(" ".join(section.about)),
                "fields": [_field(section.name, field, table) for field in section.fields],
            }
        )
    return sections


def yarn_form(view: View) -> list[Data]:
    """The yarns with what is known for buying."""
    found = []
    for key, table in _table(view.data, "yarns").items():
        fields = [
            _field(f"yarns.{key}", field, table)
            for field in YARN.fields
            if field.key not in ("name", "colour")
        ]
        name, colour = table.get("name", key), table.get("colour", "#808080")
        found.append({"key": key, "name": name, "colour": colour, "fields": fields})
    return found


def edits_for(section: str, key: str, typed: object) -> list[Edit]:
    """The edits that a value typed into the form means; an empty one takes the field away.

    Width and repeats exclude each other, so giving one of them takes the other away.

    Raises:
        BadInput: with what to write instead.
    """
    if section == "cloth":
        return _cloth_edits(key, typed)
    edit = _wish_edit(section, key, typed)
    other = _INSTEAD.get(key) if section == "piece" else None
    if other is None or edit.value is REMOVED:
        return [edit]
    return [edit, Edit(("piece", other), REMOVED)]


def label_of(section: str, key: str) -> str:
    """What a field is called on the page; a yarn's with the letter before it."""
    label = _LABELS.get(key, key.replace("_", " ").capitalize())
    _, of_yarn, yarn = section.partition("yarns.")
    return f"Yarn {yarn}, {label.lower()}" if of_yarn else label


def check_yarns(key: str, edits: list[Edit], data: Data) -> None:
    """A border and the selvedges take yarns of the list.

    Reading the file would find that too, but tell of its lines and tables.

    Raises:
        BadInput: naming the letter that no yarn has.
    """
    if key not in ("border", "selvedge_yarn"):
        return
    from settscan.cloth.project_values import border

    known = _table(data, "yarns")
    for edit in edits:
        text = str(edit.value)
        used = [one.yarn for one in border(text)] if key == "border" else [text] if text else []
        for letter in used:
            if letter not in known:
                raise BadInput(
                    f"There is no yarn {letter}.",
                    f"Write one of {', '.join(known)}, or add a colour under Stripes.",
                )


def _wish_edit(section: str, key: str, typed: object) -> Edit:
    field = _known(section, key)
    path = (*section.split("."), key)
    how = _how(section.split(".")[0], field)
    value = _value(how, typed)
    if value in ("", []) and how.how != "truth":
        return Edit(path, "" if key in ("border", "selvedge_yarn") else REMOVED)
    field.read(value)
    return Edit(path, value)


def _cloth(view: View) -> Data:
    """Name, units, densities and weave."""
    data = view.data
    weave = _table(data, "weave")
    own = _table(data, "weft")
    rows = [
        _row("cloth", "name", "name of the cloth, on every sheet", data.get("name", "cloth")),
        _row(
            "cloth",
            "units",
            "what the sheets lead with",
            data.get("units", "inch"),
            Typed("choice", ("inch", "metric")),
        ),
        _row("cloth", "epi", "as counted: 24 epi, 48/10cm", _table(data, "warp").get("epi", "")),
        _row("cloth", "ppi", "as counted: 24 ppi, 48/10cm", own.get("ppi", "")),
        _row(
            "cloth",
            "weave",
            f"{', '.join(KNOWN_WEAVES)}, or unknown",
            weave.get("name", "plain"),
        ),
        _row(
            "cloth",
            "direction",
            "of a twill: Z rises to the right, S to the left",
            weave.get("direction", ""),
            Typed("choice", ("", "Z", "S")),
        ),
    ]
    return {"name": "cloth", "title": _TITLES["cloth"], "about": "", "fields": rows}


def _cloth_edits(key: str, typed: object) -> list[Edit]:
    from settscan.cloth import project_values as read

    text = _text(typed)
    if key == "name":
        return [Edit(("name",), read.some_text(text))]
    if key == "units" and text in ("inch", "metric"):
        return [Edit(("units",), text)]
    if key in ("epi", "ppi"):
        axis = "warp" if key == "epi" else "weft"
        if text not in ("", "unknown"):
            read.density(key)(text)
        return [Edit((axis, key), text or "unknown"), Edit((axis, f"{key}_from"), "typed")]
    if key == "weave":
        weave_name(text)
        return [Edit(("weave", "name"), text), Edit(("weave", "weave_from"), "typed")]
    if key == "direction" and text in ("", "Z", "S"):
        return [Edit(("weave", "direction"), text), Edit(("weave", "weave_from"), "typed")]
    raise BadInput("That is none of the choices.", "Choose one from the list.")


def _known(section: str, key: str) -> Field:
    name, _, yarn = section.partition(".")
    wanted = (YARN,) if name == "yarns" and yarn else WISHES
    for one in wanted:
        if one.name == name:
            for field in one.fields:
                if field.key == key:
                    return field
    raise BadInput(f'There is no field "{section[:30]}.{key[:30]}".', "Reload the page.")


def _field(section: str, field: Field, table: Data) -> Data:
    how = _how(section.split(".")[0], field)
    example = field.example.strip('"')
    return _row(section, field.key, field.about, table.get(field.key, ""), how, example)


def _row(
    section: str,
    key: str,
    about: str,
    value: object,
    how: Typed | None = None,
    example: str = "",
) -> Data:
    how = how or Typed("text")
    shown = ", ".join(map(str, value)) if isinstance(value, list) else value
    if how.how != "truth":
        shown = str(shown)
    return {
        "id": f"{section}.{key}",
        "section": section,
        "key": key,
        "label": label_of("", key),
        "about": _told(about),
        "value": shown,
        "how": how.how,
        "choices": list(how.choices),
        "example": example,
    }


def _told(about: str) -> str:
    """A remark of the file as it reads beside a form: with labels in place of keys."""
    for key, label in _LABELS.items():
        if "_" in key:
            about = about.replace(key, label.lower())
    about = about.replace("[losses]", "the losses").replace("false: ", "else ")
    return about.replace('""', "empty").replace('"', "")


def _how(section: str, field: Field) -> Typed:
    """How a field is typed, from the type of what it fills."""
    if field.key in ("price", "seconds_per_pass"):
        return Typed("number")
    if section == "yarns":
        return Typed("text")
    kind = typing.get_type_hints(_CLASSES[section])[field.attribute]
    if isinstance(kind, types.UnionType):
        kind = next(one for one in typing.get_args(kind) if one is not type(None))
    if kind is bool:
        return Typed("truth")
    if kind is int:
        return Typed("whole")
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return Typed("choice", tuple(one.value for one in kind))
    return Typed("list") if field.key == "reeds" else Typed("text")


def _value(how: Typed, typed: object) -> Any:
    """What is written into the file for what was typed."""
    if how.how == "truth":
        return typed is True or typed == "true"
    text = _text(typed)
    if how.how == "whole" and text:
        if not re.fullmatch(r"[0-9]{1,9}", text):
            raise BadInput(f'"{text[:30]}" is not a whole number.', "Write it as in 4.")
        return int(text)
    if how.how == "number" and re.fullmatch(r"[0-9]{1,9}(\.[0-9]{1,6})?", text):
        return float(text) if "." in text else int(text)
    if how.how == "list":
        return [one.strip() for one in text.split(",") if one.strip()]
    return text


def _text(typed: object) -> str:
    if isinstance(typed, bool) or not isinstance(typed, str | int | float):
        raise BadInput("The field needs a text.", "Write it as in the example.")
    text = str(typed).strip()
    if len(text) > _LONGEST or not text.isprintable():
        raise BadInput("That is far too long.", "Shorten it.")
    return text


def _table(data: Data, name: str) -> Data:
    found = data.get(name, {})
    return found if isinstance(found, dict) else {}
