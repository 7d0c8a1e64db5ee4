"""Records become the tables and the index page, in the order of the photos' names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import IO, Any

from settscan import __version__
from settscan.batch.index import IndexPage
from settscan.batch.model import BatchOptions, Photograph, Record
from settscan.batch.objects import Objects
from settscan.batch.projects import decided
from settscan.batch.rows import STRIPE_COLUMNS, SWATCH_COLUMNS, Row
from settscan.batch.store import read_record
from settscan.batch.tables import CsvFile, write_parquet
from settscan.files import writing

FAILURE_COLUMNS = ("object", "file", "status", "reason", "advice")


def gather(
    out: Path,
    photos: Sequence[Photograph],
    objects: Objects,
    options: BatchOptions,
    settings: str,
    *,
    closed: Sequence[tuple[str, str]] = (),
    missing: dict[str, Record],
    parquet: bool = False,
) -> dict[str, int]:
    """Write swatches.csv, stripes.csv, failures.csv and index.html.

    Args:
        out: the folder of the batch.
        photos: all of the batch, in order.
        objects: what tells object numbers and reviewers.
        options: for the columns on where a row comes from.
        settings: digest of the numbers of the eye, likewise.
        closed: folders that could not be looked through, and why.
        missing: records that could not be written, by id.
        parquet: whether the tables are wanted as Parquet too.

    Returns:
        How many swatches there are of each status.

    Raises:
        BadFile: if a table cannot be written.
    """
    common = {"program": f"settscan {__version__}", "settings": f"{settings} {options.told()}"}
    with (
        writing(out / "swatches.csv") as swatches,
        writing(out / "stripes.csv") as stripes,
        writing(out / "failures.csv") as failures,
        writing(out / "index.html") as index,
    ):
        tables = _Tables(swatches, stripes, failures, index)
        for name, reason in closed:
            tables.add_closed(name, reason)
        for photo in photos:
            record = missing.get(photo.id) or read_record(out, photo.id)
            told = {
                "object": objects.number_of(photo),
                "file": photo.name,
                "reviewer": objects.reviewer_of(photo),
                **common,
            }
            advice = record.advice if record else ""
            for row, its_stripes, files in _rows(out, photo, record):
                tables.add(row | told, its_stripes, files, advice)
        tables.end()
    if parquet:
        for name, columns in (("swatches", SWATCH_COLUMNS), ("stripes", STRIPE_COLUMNS)):
            write_parquet(out / f"{name}.parquet", columns, out / f"{name}.csv")
    return tables.counts


class _Tables:
    """The three tables and the page, filled swatch by swatch.

    Attributes:
        counts: how many swatches there are of each status so far.
    """

    def __init__(
        self, swatches: IO[bytes], stripes: IO[bytes], failures: IO[bytes], index: IO[bytes]
    ) -> None:
        self.counts: dict[str, int] = {}
        self._swatches = CsvFile(swatches, SWATCH_COLUMNS)
        self._stripes = CsvFile(stripes, STRIPE_COLUMNS)
        self._failures = CsvFile(failures, FAILURE_COLUMNS)
        self._index = IndexPage(index)

    def add_closed(self, name: str, reason: str) -> None:
        """Append a folder that could not be looked through."""
        self._failures.add([{"file": name, "status": "failed", "reason": reason}])

    def add(self, row: Row, stripes: list[Row], files: dict[str, str], advice: str) -> None:
        """Append a swatch; the advice is for one that could not be read."""
        status = row["status"]
        self.counts[status] = self.counts.get(status, 0) + 1
        self._swatches.add([row])
        shared = {k: row.get(k) for k in STRIPE_COLUMNS if k in row and k != "repeat"}
        self._stripes.add({**shared, **stripe} for stripe in stripes)
        if status in ("failed", "refused"):
            self._failures.add([{**row, "advice": advice}])
        self._index.add(row, files)

    def end(self) -> None:
        """End the page and hand all files back."""
        self._index.end(self.counts)
        for table in (self._swatches, self._stripes, self._failures):
            table.end()


def _rows(
    out: Path, photo: Photograph, record: Record | None
) -> Iterator[tuple[Row, list[Row], dict[str, str]]]:
    """For each swatch of a photo its row, its stripes' rows and its files."""
    if record is None or record.status != "done":
        reason = record.reason if record else "It was not read yet."
        yield {"swatch": photo.stem, "status": "failed", "reason": reason}, [], {}
        return
    for swatch in record.swatches:
        row = dict(swatch["row"])
        files: dict[str, str] = swatch["files"]
        row |= {kind: files.get(kind, "") for kind in ("project", "evidence", "thumbnail")}
        row |= _edits(out, swatch)
        yield row, swatch["stripes"], files


def _edits(out: Path, swatch: dict[str, Any]) -> Row:
    """Whether a person has changed the project file, and the sequences that it holds now."""
    project = swatch["files"].get("project")
    if project is None:
        return {"edited": False}
    now = decided(out / project, swatch["project_sha256"])
    if now is None:
        return {"edited": False}
    return {"edited": True, "warp_decided": now[0], "weft_decided": now[1]}
