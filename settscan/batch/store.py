"""The folder of a batch: whose it is, what is done, and that only one run works in it.

A photo is done when its record is there. The record is written last and in one step, so a run
that is killed at any moment finds at its next start just what is done.

    OUT/settscan-batch.json      that this folder is a batch's, and with what it was read
    OUT/swatches/...             project files, evidence, thumbnails
    OUT/swatches.csv ...         the tables
    OUT/state/records/xx/*.json  one for each photo
    OUT/state/run.log            what was done when
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from settscan.batch.model import Photograph, Record, record_of
from settscan.batch.photos import strays
from settscan.errors import BadFile
from settscan.files import check_writable, make_folder, os_problem, read_bytes, replace_file

MARK = "settscan-batch.json"
MARK_FORMAT = "settscan batch"
_MOST_RECORD = 200_000_000


def open_folder(out: Path, about: dict[str, Any]) -> None:
    """Make the folder of a batch, or go on in one; `about` is noted in it.

    Raises:
        BadFile: if it holds other things, or nothing can be written into it.
    """
    if out.is_dir() and not _is_ours(out) and any(out.iterdir()):
        raise BadFile(
            f"The folder {out} holds other files, which stay as they are.",
            "Give a new or empty folder, or that of an earlier batch, with -o.",
        )
    make_folder(out)
    check_writable(out)
    text = json.dumps({"format": MARK_FORMAT, **about}, indent=2, sort_keys=True)
    replace_file(out / MARK, text.encode() + b"\n")
    make_folder(out / "swatches")
    make_folder(out / "state" / "records")


def _is_ours(out: Path) -> bool:
    try:
        found = json.loads(read_bytes(out / MARK, 10_000_000))
    except (BadFile, ValueError, RecursionError):
        return False
    return isinstance(found, dict) and found.get("format") == MARK_FORMAT


@contextlib.contextmanager
def alone_in(out: Path) -> Iterator[None]:
    """Keeps a second run out of the folder while this one works; a killed run leaves no lock.

    Raises:
        BadFile: if another run is at work there.
    """
    path = out / "state" / "lock"
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        raise os_problem(error, "write", path) from error
    try:
        if not _locked(handle):
            raise BadFile(
                f"Another batch is at work in {out}.", "Wait for it, or give another folder."
            )
        yield
    finally:
        os.close(handle)


def _locked(handle: int) -> bool:
    try:
        import fcntl
    except ImportError:  # pragma: no cover - Windows
        import msvcrt

        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        except OSError:
            return False
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a disk without locks: better no lock than no work
        return True
    return True


def sweep(out: Path) -> int:
    """Remove what a killed run or worker left half-written; how many files that were."""
    count = 0
    for path in strays(out):
        path.unlink(missing_ok=True)
        count += 1
    return count


def record_path(out: Path, photo_id: str) -> Path:
    """Where a photo's record lies, in one of 256 folders by the last figures of its id."""
    return out / "state" / "records" / photo_id[-2:] / f"{photo_id}.json"


def write_record(out: Path, record: Record) -> None:
    """Write a record, in one step.

    Raises:
        BadFile: if it cannot be written.
    """
    path = record_path(out, record.id)
    make_folder(path.parent)
    text = json.dumps(record.data(), ensure_ascii=False, allow_nan=False, sort_keys=True)
    replace_file(path, text.encode() + b"\n")


def read_record(out: Path, photo_id: str) -> Record | None:
    """The record of a photo; None if there is none that can be used."""
    path = record_path(out, photo_id)
    if not path.exists():
        return None
    try:
        return record_of(json.loads(read_bytes(path, _MOST_RECORD)))
    except (BadFile, ValueError, RecursionError):
        return None


def is_done(out: Path, record: Record | None, photo: Photograph, asked: str) -> bool:
    """Whether a photo needs no reading.

    It does not if it was read as now asked, has not changed since, and its files are there.
    """
    if record is None or record.again or record.status == "too large" or record.asked != asked:
        return False
    try:
        seen = photo.path.stat()
    except OSError:
        return record.size == -1 and not record.again
    if (seen.st_size, seen.st_mtime_ns) != (record.size, record.mtime_ns):
        return False
    return files_are_there(out, record)


def files_are_there(out: Path, record: Record) -> bool:
    """Whether every file that a record speaks of exists."""
    return all(
        (out / name).is_file() for swatch in record.swatches for name in swatch["files"].values()
    )


def log(out: Path, **what: Any) -> None:
    """A line for the run's log: what was done when. It decides nothing, so its loss is no harm."""
    from datetime import UTC, datetime

    line = json.dumps({"at": datetime.now(UTC).isoformat(timespec="seconds"), **what})
    with contextlib.suppress(OSError), (out / "state" / "run.log").open("a") as file:
        file.write(line + "\n")
