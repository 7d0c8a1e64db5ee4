"""Changes to a project file, applied to its text so that order and remarks survive."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Item, Table, Trivia

from settscan.cloth import project_write as write
from settscan.cloth.model import Yarn
from settscan.errors import BadProject

REMOVED = object()
"""As the value of an edit: take the key, or a yarn's whole table, out of the file."""


@dataclass(frozen=True, slots=True)
class Edit:
    """Set the value at a path of keys: plain data, a whole new table, or `REMOVED`."""

    path: tuple[str, ...]
    value: Any


def with_edits(data: dict[str, Any], edits: list[Edit]) -> dict[str, Any]:
    """Plain nested dictionaries after the edits: what the text must mean then.

    What no edit touches is shared with `data`, which stays as it is.
    """
    made = dict(data)
    for edit in edits:
        table = made
        for key in edit.path[:-1]:
            table[key] = dict(table.get(key, {}))
            table = table[key]
        if edit.value is REMOVED:
            table.pop(edit.path[-1], None)
        else:
            table[edit.path[-1]] = edit.value
    return made


def apply_to_text(text: str, edits: list[Edit], name: str) -> str:
    """The text with the edits in it.

    Raises:
        BadProject: if the library that keeps the layout cannot do it.
    """
    return apply_to_document(parsed(text, name), edits, name)


def parsed(text: str, name: str) -> tomlkit.TOMLDocument:
    """The text with its layout, ready for `apply_to_document`.

    Raises:
        BadProject: if the library that keeps the layout cannot do it.
    """
    with _as_bad_project(name):
        return tomlkit.parse(text)


def apply_to_document(document: tomlkit.TOMLDocument, edits: list[Edit], name: str) -> str:
    """The edits made in a parsed text, in place; its text afterwards.

    Raises:
        BadProject: if it cannot be done; the document is then of no more use.
    """
    with _as_bad_project(name):
        for edit in edits:
            if edit.value is REMOVED:
                _remove(document, edit.path)
            elif edit.path == ("reading",):
                _set_reading(document, edit.value)
            elif len(edit.path) == 2 and edit.path[0] == "yarns":
                _add_yarn(document, edit.path[1], edit.value)
            else:
                _set(document, edit)
        return tomlkit.dumps(document)


@contextlib.contextmanager
def _as_bad_project(name: str) -> Iterator[None]:
    try:
        yield
    except (TOMLKitError, ValueError, TypeError, KeyError, AttributeError, IndexError) as error:
        raise BadProject(
            f"{name} cannot be updated in place ({error}); nothing was written.",
            "Scan into a new file with -o and copy what you need.",
        ) from error


def _set(document: tomlkit.TOMLDocument, edit: Edit) -> None:
    """One value; a new key goes below the last key of its table."""
    table: Any = document
    for key in edit.path[:-1]:
        if key not in table:
            table[key] = tomlkit.table()
        table = table[key]
    _put(table, edit.path[-1], edit.value)


def _remove(document: tomlkit.TOMLDocument, path: tuple[str, ...]) -> None:
    """Take out a value, or the table of a yarn; one that is not there is no matter."""
    table: Any = document
    for key in path[:-1]:
        if key not in table:
            return
        table = table[key]
    if path[-1] in table:
        del table[path[-1]]


def _put(table: Any, key: str, value: Any) -> None:
    if key in table:
        table[key] = _item(value)
        return
    container = table.value if isinstance(table, Table) else table
    last = _last_value_key(container)
    if last is None:
        table[key] = _item(value)
    else:
        # The public `append` would put the key below remarks that belong to the next table.
        container._insert_after(last, key, _item(value))


def _last_value_key(container: Any) -> Any:
    """The last key of a table that is not itself a table; None if there is none."""
    body = getattr(container, "body", None) or []
    keys = [key for key, item in body if key is not None and not isinstance(item, Table)]
    return keys[-1] if keys else None


class _Listed(Item):
    """A list with one value in each line, as its text: the doubts of a cloth may be hundreds."""

    def __init__(self, values: list[Any]) -> None:
        super().__init__(Trivia())
        self._values = values

    @property
    def discriminant(self) -> int:
        """That of an array."""
        return tomlkit.array().discriminant

    def as_string(self) -> str:
        """The text, as in a new file."""
        return write.toml_lines(self._values)

    def unwrap(self) -> list[Any]:
        """The values."""
        return self._values


def _item(value: Any) -> Item:
    """Plain data as it should look: lists of tables and of sentences with one in each line."""
    if isinstance(value, list) and value and isinstance(value[0], dict | str):
        return _Listed(value)
    if isinstance(value, dict):
        inline = tomlkit.inline_table()
        inline.update(value)
        return inline
    plain: Item = tomlkit.item(value)
    return plain


def _add_yarn(document: tomlkit.TOMLDocument, key: str, values: dict[str, Any]) -> None:
    """A new yarn below the others, with remarks for the fields that are not known."""
    yarn = Yarn(key=key, name=values["name"], colour=values["colour"])
    table = tomlkit.parse(write.yarn_text(yarn) + "\n\n")["yarns"][key]
    if "yarns" not in document:
        document["yarns"] = tomlkit.table(is_super_table=True)
    document["yarns"][key] = table


def _set_reading(document: tomlkit.TOMLDocument, record: dict[str, Any]) -> None:
    """The record of what was read, in place or at the end of the file."""
    if "reading" not in document:
        document["reading"] = tomlkit.parse("\n" + write.reading_text(record) + "\n")["reading"]
        return
    table: Any = document["reading"]
    for key in [key for key in table if key not in record]:
        del table[key]
    for key, value in record.items():
        _put(table, key, value)
