"""Records become the tables and the index page, in the order of the photos' names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

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
    counts: dict[str, int] = {}
    common = {"program": f"settscan {__version__}", "settings": f"{settings} {options.told()}"}
    with (
        writing(out / "swatches.csv") as swatches_file,
        writing(out / "stripes.csv") as stripes_file,
        writing(out / "failures.csv") as failures_file,
        writing(out / "index.html") as index_file,
    ):
        swatches = CsvFile(swatches_file, SWATCH_COLUMNS)
        stripes = CsvFile(stripes_file, STRIPE_COLUMNS)
        failures = CsvFile(failures_file, FAILURE_COLUMNS)
        index = IndexPage(index_file)
        for name, reason in closed:
            failures.add([{"file": name, "status": "failed", "reason": reason}])
        for photo in photos:
            record = missing.get(photo.id) or read_record(out, photo.id)
            told = {
                "object": objects.number_of(photo),
                "file": photo.name,
                "reviewer": objects.reviewer_of(photo),
                **common,
            }
            for row, its_stripes, files in _rows(out, photo, record):
                row |= told
                counts[row["status"]] = counts.get(row["status"], 0) + 1
                swatches.add([row])
                shared = {k: row.get(k) for k in STRIPE_COLUMNS if k in row and k != "repeat"}
                stripes.add({**shared, **stripe} for stripe in its_stripes)
                if row["status"] in ("failed", "refused"):
                    advice = record.advice if record else ""
                    failures.add([{**row, "advice": advice}])
                index.add(row, files)
        index.end(counts)
        for table in (swatches, stripes, failures):
            table.end()
    if parquet:
        for name, columns in (("swatches", SWATCH_COLUMNS), ("stripes", STRIPE_COLUMNS)):
            write_parquet(out / f"{name}.parquet", columns, out / f"{name}.csv")
    return counts


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
