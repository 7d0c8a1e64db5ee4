"""Object numbers and reviewers: from the names of the photos, or from a table of the owner's."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from settscan.batch.model import Photograph
from settscan.errors import BadInput
from settscan.files import read_bytes

_PLACE = "{object}"
_MOST_STARS = 2  # more would let a long name be tried for very long
_LONGEST_NAME = 255  # characters that file systems allow
_MOST_CSV = 500_000_000
_EXAMPLE = 'Write, for example, "{object}_*.jpg": {object} is the number, * is anything.'


@dataclass(frozen=True, slots=True, kw_only=True)
class Objects:
    """Tells what each photo shows.

    Attributes:
        pattern: of the file names, or None.
        numbers: object numbers by the photo's name, or by its file name alone.
        reviewers: who looked through the reading, likewise.
    """

    pattern: re.Pattern[str] | None = None
    numbers: Mapping[str, str] = field(default_factory=dict)
    reviewers: Mapping[str, str] = field(default_factory=dict)

    def number_of(self, photo: Photograph) -> str:
        """The object number, empty if nothing tells it: the table first, then the pattern."""
        told = _looked_up(self.numbers, photo)
        if told:
            return told
        name = _file_name(photo)
        if self.pattern is None or len(name) > _LONGEST_NAME:
            return ""
        match = self.pattern.fullmatch(name)
        return match["object"] if match else ""

    def reviewer_of(self, photo: Photograph) -> str:
        """Who looked through the reading; empty if nobody is told."""
        return _looked_up(self.reviewers, photo)


def _file_name(photo: Photograph) -> str:
    return photo.name.rsplit("/", 1)[-1]


def _looked_up(table: Mapping[str, str], photo: Photograph) -> str:
    return table.get(photo.name) or table.get(_file_name(photo)) or ""


def pattern_of(text: str) -> re.Pattern[str]:
    """The pattern of file names that a text means; capitals and small letters are alike.

    Raises:
        BadInput: if it has no `{object}` or too many stars.
    """
    if text.count(_PLACE) != 1:
        raise BadInput(f"The pattern {text!r} must hold {_PLACE} once.", _EXAMPLE)
    if text.count("*") > _MOST_STARS:
        raise BadInput(f"The pattern {text!r} has more than {_MOST_STARS} stars.", _EXAMPLE)
    parts = {_PLACE: "(?P<object>.+?)", "*": ".*?", "?": "."}
    pieces = re.split(r"(\{object\}|\*|\?)", text)
    return re.compile("".join(parts.get(p, re.escape(p)) for p in pieces), re.DOTALL | re.I)


def read_objects(path: Path) -> tuple[dict[str, str], dict[str, str]]:
    """Object numbers and reviewers from a CSV file with the columns file, object, reviewer.

    `file` is the photo as the tables name it, or its file name alone; `reviewer` may be missing.

    Raises:
        BadFile: if it cannot be read.
        BadInput: naming the line that is wrong.
    """
    try:
        text = read_bytes(path, _MOST_CSV).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput(f"{path} is not UTF-8 text.", "Save it as CSV in UTF-8.") from error
    first = text.split("\n", 1)[0]
    rows = csv.DictReader(io.StringIO(text), delimiter=";" if ";" in first else ",", strict=True)
    numbers: dict[str, str] = {}
    reviewers: dict[str, str] = {}
    try:
        names = [(name or "").strip().lower() for name in rows.fieldnames or ()]
        if not {"file", "object"} <= set(names):
            raise BadInput(
                f"{path} has no columns named file and object.", "Name them in its first line."
            )
        rows.fieldnames = names
        for row in rows:
            name = (row["file"] or "").strip().replace("\\", "/")
            if not name:
                continue
            number = (row["object"] or "").strip()
            if numbers.setdefault(name, number) != number:
                raise BadInput(
                    f"{path}, line {rows.line_num}: {name} has two object numbers,"
                    f" {numbers[name]!r} and {number!r}.",
                    "Keep one of them.",
                )
            reviewers[name] = (row.get("reviewer") or "").strip()
    except csv.Error as error:
        raise BadInput(
            f"{path}, line {rows.line_num}: this is not CSV ({error}).", "Save it as CSV in UTF-8."
        ) from error
    return numbers, reviewers
