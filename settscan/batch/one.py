"""One photo of a batch, from its file to its record: the work of one worker.

Whatever goes wrong with a photo becomes a record with a reason; nothing stops the run. All files
of a photo are written whole, and its record last.
"""

from __future__ import annotations

import hashlib
import json
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from settscan import __version__
from settscan.batch.memory import bytes_needed, limited
from settscan.batch.model import BatchOptions, Record, Task
from settscan.batch.projects import write_or_update
from settscan.batch.rows import stripe_rows, swatch_row
from settscan.batch.store import is_done, read_record, write_record
from settscan.errors import BadFile, BadInput, SettscanError
from settscan.files import make_folder, replace_file
from settscan.pages import PieceRead
from settscan.scan_model import ScanOptions, ScanResult

THUMB_PX = 240
_JPEG_QUALITY = 88


Reader = Callable[[Path, ScanOptions, bool], Sequence[PieceRead]]
"""(photo, options, whether to look for several cloths) -> what was read of each cloth."""


def asked_of(options: BatchOptions, settings: str) -> str:
    """What a photo is read with; a photo is read again when this has changed."""
    return f"{options.told()} settscan={__version__} settings={settings}"


def read_pieces(path: Path, options: ScanOptions, pieces: bool) -> Sequence[PieceRead]:
    """Read the cloths of a photo with the program's own reader."""
    from settscan.pages import scan_page

    return scan_page(path, options, pieces)


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What a worker answers: the record, the seconds that it took, and which process it was."""

    record: Record
    seconds: float
    process: int


def work(task: Task, reader: Reader = read_pieces) -> Done:
    """Read a photo, write its files and its record; or find that this is done already."""
    start = time.monotonic()
    asked = asked_of(task.options, task.settings)
    old = read_record(task.out, task.photo.id)
    if is_done(task.out, old, task.photo, asked):
        assert old is not None
        record = old
    else:
        record = _read(task, asked, old, reader)
        # A worker whose run was killed leaves the photo to the next run.
        orphan = task.head and os.getppid() != task.head
        if record.status != "too large" and not orphan:
            record = _noted(task, record)
    return Done(record=record, seconds=time.monotonic() - start, process=os.getpid())


def _read(task: Task, asked: str, old: Record | None, reader: Reader) -> Record:
    """The record of a photo, its files being written; failures are records too."""
    photo = task.photo
    blank = Record(name=photo.name, id=photo.id, status="failed", asked=asked)
    try:
        seen = photo.path.stat()
        blank = replace(blank, size=seen.st_size, mtime_ns=seen.st_mtime_ns)
        needed = bytes_needed(photo.path)
        if task.most_bytes and needed > task.most_bytes:
            return _too_large(blank, needed, task)
        with limited(task.most_bytes):
            pieces = reader(photo.path, task.options.scan, task.options.pieces)
            if not pieces:
                raise BadInput("The reader found nothing in this photo.")
            taken = taken_at(photo.path)
            swatches = [
                _written(task, n, len(pieces), piece, old, taken)
                for n, piece in enumerate(pieces, 1)
            ]
    except MemoryError:
        return replace(
            blank,
            reason="There was not enough memory to read this photo.",
            advice="Run again with a larger --memory or fewer --jobs.",
            again=True,
        )
    except BadFile as error:
        return replace(blank, reason=error.message, advice=error.advice, again=True)
    except SettscanError as error:
        again = blank.size == -1
        return replace(blank, reason=error.message, advice=error.advice, again=again)
    except OSError as error:
        from settscan.files import os_problem

        told = os_problem(error, "read", photo.name)
        return replace(blank, reason=told.message, advice=told.advice, again=True)
    except Exception as error:
        kind = f"{type(error).__name__}: {error}".rstrip(". :")
        return replace(
            blank,
            reason=f"Something went wrong inside settscan ({kind}).",
            advice="Read it alone with settscan scan --verbose and report what it says.",
        )
    sha256 = pieces[0].result.photo_record.sha256
    return replace(blank, status="done", sha256=sha256, swatches=tuple(swatches))


def _too_large(blank: Record, needed: int, task: Task) -> Record:
    """To be read when no other is, or, if it was alone already, not at all."""
    megabytes = f"about {needed // 1_000_000} MB of memory, {task.most_bytes // 1_000_000} MB are"
    reason = f"Reading this photo takes {megabytes} allowed."
    advice = "Run again with a larger --memory, or give it at a smaller size."
    if not task.alone:
        return replace(blank, status="too large", reason=reason, advice=advice)
    return replace(blank, reason=reason, advice=advice, again=True)


def _noted(task: Task, record: Record) -> Record:
    """Write the record; a disk that takes none makes it a failure that is tried again."""
    try:
        write_record(task.out, record)
    except BadFile as error:
        return replace(
            record,
            status="failed",
            swatches=(),
            reason=error.message,
            advice=error.advice,
            again=True,
        )
    return record


def _written(
    task: Task, number: int, pieces: int, piece: PieceRead, old: Record | None, taken: str
) -> dict[str, Any]:
    """The files of one cloth, and what its record tells."""
    result, photo = piece.result, task.photo
    name = photo.stem if pieces == 1 else f"{photo.stem}.{number}"
    make_folder((task.out / "swatches" / name).parent)
    files: dict[str, str] = {}

    def put(kind: str, ending: str, content: bytes) -> None:
        files[kind] = f"swatches/{name}{ending}"
        replace_file(task.out / files[kind], content)

    if result.evidence_png:
        jpg = task.options.evidence == "jpg"
        put("evidence", f".evidence.{task.options.evidence}",
            _as_jpeg(result.evidence_png) if jpg else result.evidence_png)  # fmt: skip
    thumbnail = _thumbnail(result)
    if thumbnail:
        put("thumbnail", ".thumb.jpg", thumbnail)
    if task.options.json:
        text = json.dumps(result.reading_json, ensure_ascii=False, indent=2, allow_nan=False)
        put("json", ".reading.json", text.encode() + b"\n")
    written = ""
    if result.cloth is not None:
        project = f"swatches/{name}.toml"
        before = _before(old, name)
        written = write_or_update(task.out / project, result, task.options.units, before)
        files["project"] = project
    row = swatch_row(result.reading_json)
    row |= {"swatch": name, "piece": number, "pieces": pieces, "taken": taken}
    left, top, right, bottom = piece.box
    row["photo_width"], row["photo_height"] = piece.photo_size
    row |= {"piece_left": left, "piece_top": top, "piece_right": right, "piece_bottom": bottom}
    return {
        "name": name,
        "files": files,
        "project_sha256": written,
        "row": row,
        "stripes": stripe_rows(result.reading_json),
    }


def _before(old: Record | None, name: str) -> str:
    """Digest of the project file that the batch itself wrote last under this name."""
    for swatch in old.swatches if old else ():
        if swatch["name"] == name:
            return str(swatch["project_sha256"])
    return ""


def taken_at(path: Path) -> str:
    """When the camera says that the photo was taken; empty if it says nothing."""
    from settscan.photo.header import read_header

    try:
        return read_header(path).taken
    except BadInput:
        return ""


def _thumbnail(result: ScanResult) -> bytes:
    """A small JPEG of the straightened cloth, or of the photo where none was found."""
    source = result.rectified_jpeg or result.evidence_png
    return _as_jpeg(source, THUMB_PX) if source else b""


def _as_jpeg(picture: bytes, longest: int | None = None) -> bytes:
    """A PNG or JPEG as JPEG, made smaller if asked."""
    import io

    from PIL import Image

    with Image.open(io.BytesIO(picture)) as opened:
        image = opened.convert("RGB")
        if longest is not None:
            image.thumbnail((longest, longest), Image.Resampling.BOX)
        out = io.BytesIO()
        image.save(out, "JPEG", quality=_JPEG_QUALITY)
    return out.getvalue()


def settings_digest() -> str:
    """Twelve figures that change when a number of the eye does."""
    from settscan import settings

    told = "\n".join(
        f"{name}={value!r}" for name, value in sorted(vars(settings).items()) if name.isupper()
    )
    return hashlib.sha256(told.encode()).hexdigest()[:12]
