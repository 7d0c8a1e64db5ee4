"""The nouns of a batch: what is asked of it, one photo's work, and what came of it."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from settscan.scan_model import ScanOptions

RECORD_FORMAT = "settscan batch record"
RECORD_VERSION = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph:
    """A photo that is to be read.

    Attributes:
        path: where it lies.
        name: as it is listed: relative to the folder, with forward slashes; what is no UTF-8 in
            it is written with backslashes.
        id: a name for its files, made of its own name and eight figures that no other photo has.
        folder: of its files below the swatches, with forward slashes; may be empty.
    """

    path: Path
    name: str
    id: str
    folder: str = ""

    @property
    def stem(self) -> str:
        """Folder and id, with forward slashes."""
        return f"{self.folder}/{self.id}" if self.folder else self.id


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchOptions:
    """What holds for all photos of a batch.

    Attributes:
        scan: what is known of all cloths, such as a density.
        units: "inch" or "metric", for the project files.
        pieces: whether several cloths are looked for in each photo.
        evidence: "jpg" or "png", the form of the evidence pictures.
        json: whether each reading is written as JSON too.
    """

    scan: ScanOptions = field(default_factory=ScanOptions)
    units: str = "inch"
    pieces: bool = True
    evidence: str = "jpg"
    json: bool = False

    def told(self) -> str:
        """The options in words that are the same for the same options, for each row."""
        words = [f"units={self.units}", f"pieces={'yes' if self.pieces else 'no'}"]
        words += [f"evidence={self.evidence}", f"json={'yes' if self.json else 'no'}"]
        for axis in ("epi", "ppi"):
            given = getattr(self.scan, axis)
            if given is not None:
                words.append(f"{axis}={given * 254 / 10}/in")
        if self.scan.weave is not None:
            words.append(f"weave={self.scan.weave}")
        words.append(f"warp={self.scan.warp_runs or 'down'}")
        return " ".join(words)


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One photo's work, as it is sent to a worker.

    Attributes:
        photo: what is read.
        out: the folder of the batch.
        options: those of the batch.
        settings: digest of the numbers that the eye uses.
        most_bytes: memory that the reading may take; 0 for no limit.
        alone: whether no other photo is read at the same time, so that it may take more.
        head: process that must be this worker's parent; 0 if workers are not its children.
    """

    photo: Photograph
    out: Path
    options: BatchOptions
    settings: str
    most_bytes: int = 0
    alone: bool = False
    head: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What came of a photo; written last, when all its files are there.

    Attributes:
        name: of the photo, as listed.
        id: of its files.
        sha256: of the photo's bytes; empty if it could not be read.
        size, mtime_ns: of the photo's file when it was read, to see quickly that it is the same.
        asked: options, program version and settings that it was read with.
        status: "done", "failed", or "too large" to be read beside others.
        reason, advice: why it failed.
        again: whether another try may go better (a full disk, a file that was away).
        swatches: for each cloth its row, its stripes' rows, and its files with their SHA-256.
    """

    name: str
    id: str
    status: str
    sha256: str = ""
    size: int = -1
    mtime_ns: int = -1
    asked: str = ""
    reason: str = ""
    advice: str = ""
    again: bool = False
    swatches: tuple[dict[str, Any], ...] = ()

    def data(self) -> dict[str, Any]:
        """Ready for `json.dumps`."""
        return {"format": RECORD_FORMAT, "version": RECORD_VERSION, **asdict(self)}


def record_of(data: Any) -> Record | None:
    """The record that `data` holds; None if it holds none that this version can use."""
    if not isinstance(data, dict) or data.get("format") != RECORD_FORMAT:
        return None
    if data.get("version") != RECORD_VERSION:
        return None
    fields = {k: v for k, v in data.items() if k not in ("format", "version")}
    try:
        return Record(**{**fields, "swatches": tuple(fields.get("swatches", ()))})
    except TypeError:
        return None
