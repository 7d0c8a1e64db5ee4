"""Which photos a batch reads: those below a folder, or those on a list."""

from __future__ import annotations

import hashlib
import os
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from settscan.batch.model import Photograph
from settscan.errors import BadInput
from settscan.files import os_problem, read_bytes

ENDINGS = (
    ".jpg", ".jpeg", ".jpe", ".jfif", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".hif",
    ".avif", ".bmp", ".gif",
)  # fmt: skip
_MOST_LIST = 500_000_000  # bytes: a million long paths
_LONGEST_NAME = 80  # characters of a photo's name that its files take over
_PLAIN = "._-"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What is to be read, in the order of the names.

    Attributes:
        photos: each once.
        passed_over: how many other files there are.
        twice: how many lines of the list name a photo again.
        closed: folders that could not be looked through, and why.
    """

    photos: tuple[Photograph, ...]
    passed_over: int = 0
    twice: int = 0
    closed: tuple[tuple[str, str], ...] = ()


def find_photos(where: Path, out: Path) -> Found:
    """The photos below a folder, or on a list.

    A list is a text file with one path in each line, or, so that any name can be told, with a NUL
    after each; paths are taken from the list's own folder. Links to folders are not followed,
    hidden files and the batch's own folder are passed over.

    Raises:
        BadFile: if it can be neither looked through nor read.
        BadInput: if it holds no photo.
    """
    closed: list[tuple[str, str]] = []
    if where.is_dir():
        paths, passed = _below(where, out, closed)
        base = where
    else:
        paths, passed, base = _listed(where), 0, where.parent
    photos, twice = _named(paths, base)
    if not photos:
        raise BadInput(
            f"There is no photo in {where}.",
            f"Give a folder with files ending in {', '.join(ENDINGS[:6])} ..., or a list of them.",
        )
    return Found(photos=photos, passed_over=passed, twice=twice, closed=tuple(sorted(closed)))


def _below(folder: Path, out: Path, closed: list[tuple[str, str]]) -> tuple[list[Path], int]:
    """Files that by their names are photos, and how many others there are."""
    found, passed = [], 0
    ours = _identity(out)

    def note(error: OSError) -> None:
        name = shown(os.path.relpath(error.filename, folder).replace(os.sep, "/"))
        closed.append((name, os_problem(error, "look through the folder", name).message))

    for root, folders, files in os.walk(folder, onerror=note):
        here = Path(root)
        folders[:] = [
            name
            for name in folders
            if not name.startswith(".") and (ours is None or _identity(here / name) != ours)
        ]
        for name in files:
            if not name.startswith(".") and name.lower().endswith(ENDINGS):
                found.append(here / name)
            else:
                passed += 1
    return found, passed


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        seen = path.stat()
    except OSError:
        return None
    return seen.st_dev, seen.st_ino


def _listed(path: Path) -> list[Path]:
    """The paths on a list."""
    data = read_bytes(path, _MOST_LIST)
    if data[:3] == b"\xff\xd8\xff" or data[:4] == b"\x89PNG":
        raise BadInput(f"{path} is a photo, not a list.", "Read a single photo with settscan scan.")
    if b"\0" in data:
        names = [os.fsdecode(part) for part in data.split(b"\0")]
    else:
        lines = data.removeprefix(b"\xef\xbb\xbf").splitlines()
        names = [os.fsdecode(line.strip()) for line in lines]
    listed = [path.parent / name for name in names if name]
    photos = (one.name.lower().endswith(ENDINGS) or _identity(one) for one in listed)
    if listed and not any(photos):
        raise BadInput(
            f"{path} is not a list of photos: none of its lines names one.",
            "Write one path in each line, or give the folder with the photos.",
        )
    return listed


def _named(paths: Iterable[Path], base: Path) -> tuple[tuple[Photograph, ...], int]:
    """Each photo once, in the order of the names, with an id of its own."""
    once: dict[str, Photograph] = {}
    total = 0
    for path in paths:
        total += 1
        raw = os.fspath(path.relative_to(base) if path.is_relative_to(base) else path)
        raw = raw.replace(os.sep, "/")
        if raw in once:
            continue
        folder = _folder(raw)
        once[raw] = Photograph(path=path, name=shown(raw), id=_id(raw), folder=folder)
    ordered = sorted(once.items(), key=lambda item: os.fsencode(item[0]))
    return tuple(photo for _, photo in ordered), total - len(once)


def shown(raw: str) -> str:
    """A path as text that any file can hold: bytes that are no UTF-8 are told by their numbers."""
    return os.fsencode(raw).decode("utf-8", "backslashreplace")


def _folder(raw: str) -> str:
    """The folder that files of this photo go to: the photo's own, unless it lies elsewhere."""
    *folders, _ = raw.split("/")
    if raw.startswith("/") or ".." in folders or any(":" in part for part in folders):
        return ""
    return "/".join(plain_name(part) for part in folders if part not in ("", "."))


def _id(raw: str) -> str:
    stem = raw.rsplit("/", 1)[-1].rsplit(".", 1)[0]
    return f"{plain_name(stem)}-{hashlib.sha256(os.fsencode(raw)).hexdigest()[:8]}"


def plain_name(name: str) -> str:
    """A name without what some system or program cannot take: letters, figures and `._-` stay."""
    text = unicodedata.normalize("NFC", shown(name))
    kept = "".join(c if c.isalnum() or c in _PLAIN else "_" for c in text).strip("._-")
    short = kept[:_LONGEST_NAME]
    while len(short.encode()) > 2 * _LONGEST_NAME:
        short = short[:-1]
    return short or "photo"


def strays(folder: Path) -> Iterator[Path]:
    """Files that a killed run left half-written below a folder."""
    for root, _, files in os.walk(folder):
        for name in files:
            if name.startswith(".") and name.endswith(".part"):
                yield Path(root) / name
