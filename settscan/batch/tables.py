"""The tables of a batch as CSV, bit by bit, and as Parquet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import IO, Any

from settscan.batch.rows import Row, kind_of
from settscan.errors import BadInput
from settscan.files import writing

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_FROM_OUTSIDE = {"object", "file", "reviewer", "folder"}
_ROWS_AT_A_TIME = 5000


def cell(column: str, value: Any) -> str:
    """A value as CSV holds it; empty for none.

    Names come from outside, and spreadsheets run what begins with = as a formula: an apostrophe
    in front keeps it a name.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return format(value, ".10g")
    text = str(value)
    return f"'{text}" if column in _FROM_OUTSIDE and text.startswith(_FORMULA) else text


class CsvFile:
    """A CSV file (RFC 4180, UTF-8) that is filled row by row."""

    def __init__(self, file: IO[bytes], columns: Sequence[str]) -> None:
        self._columns = columns
        self._text = io.TextIOWrapper(file, "utf-8", newline="", write_through=True)
        self._writer = csv.writer(self._text)
        self._writer.writerow(columns)

    def add(self, rows: Iterable[Row]) -> None:
        """Append rows; a column that a row does not tell stays empty."""
        for row in rows:
            self._writer.writerow([cell(c, row.get(c)) for c in self._columns])

    def end(self) -> None:
        """Hand the file back, so that whoever opened it can close it."""
        self._text.flush()
        self._text.detach()


def check_parquet() -> None:
    """See before the work whether Parquet can be written.

    Raises:
        BadInput: if the part that writes it is not installed.
    """
    try:
        import pyarrow.parquet  # noqa: F401
    except ImportError as error:
        raise BadInput(
            "The part that writes Parquet is not installed.",
            'Install it with: pip install "settscan[parquet]", or leave out --parquet.',
        ) from error


def write_parquet(path: Path, columns: Sequence[str], source: Path) -> None:
    """The table of a CSV file that `CsvFile` wrote, as Parquet with a type for each column.

    Raises:
        BadFile: if it cannot be written.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    types = {"whole": pa.int64(), "number": pa.float64(), "truth": pa.bool_(), "text": pa.string()}
    schema = pa.schema([(column, types[kind_of(column)]) for column in columns])
    with writing(path) as file, pq.ParquetWriter(file, schema, compression="zstd") as writer:
        for rows in _in_groups(source):
            table = {c: [_typed(c, row[c]) for row in rows] for c in columns}
            writer.write_table(pa.table(table, schema=schema))


def _in_groups(source: Path) -> Iterator[list[dict[str, str]]]:
    with source.open(encoding="utf-8", newline="") as file:
        group: list[dict[str, str]] = []
        for row in csv.DictReader(file):
            group.append(row)
            if len(group) == _ROWS_AT_A_TIME:
                yield group
                group = []
        if group:
            yield group


def _typed(column: str, text: str) -> Any:
    """The value that a cell stands for; what is empty is unknown, save for text."""
    kind = kind_of(column)
    if kind == "text":
        guarded = text[:1] == "'" and text[1:].startswith(_FORMULA)
        return text[1:] if column in _FROM_OUTSIDE and guarded else text
    if text == "":
        return None
    if kind == "truth":
        return text == "yes"
    return int(text) if kind == "whole" else float(text)
