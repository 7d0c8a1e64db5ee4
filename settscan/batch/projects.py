"""Project files of a batch: new ones, and those that a person has worked on since."""

from __future__ import annotations

import hashlib
from pathlib import Path

from settscan.cloth.notation import format_sequence
from settscan.cloth.project import new_text, read_project, update_project
from settscan.errors import SettscanError
from settscan.files import read_bytes, replace_file
from settscan.scan_model import ScanResult
from settscan.scanned import first_wishes, scanned_cloth

_MOST_BYTES = 4_000_000


def digest(content: bytes) -> str:
    """SHA-256 in figures."""
    return hashlib.sha256(content).hexdigest()


def write_or_update(path: Path, result: ScanResult, units: str, before: str) -> str:
    """Write the project file of a reading, around everything that a person has changed in it.

    Args:
        path: the file; there may be one already.
        result: the reading, with a cloth.
        units: for a new file.
        before: digest of the file as the batch wrote it last; empty if it never did.

    Returns:
        Digest of the text that the reading alone makes, whether or not it was written.

    Raises:
        BadFile: if it cannot be written.
    """
    cloth, photo = scanned_cloth(result)
    text = new_text(cloth, first_wishes(units, result.edges), photo).encode()
    told = digest(text)
    there = read_bytes(path, _MOST_BYTES) if path.exists() else None
    if there is None or digest(there) == before:
        replace_file(path, text)
    elif there != text:
        _update(path, result)
    return told


def _update(path: Path, result: ScanResult) -> None:
    """The new reading in a file that a person has changed; one with mistakes stays as it is."""
    try:
        project = read_project(path)
    except SettscanError:
        return
    cloth, photo = scanned_cloth(result)
    update_project(project, cloth, photo)


def decided(path: Path, written: str) -> tuple[str, str] | None:
    """Warp and weft as a person has decided on them; None where the file is as it was written.

    A file that cannot be read, or has mistakes, tells nothing: two empty lines.
    """
    try:
        if digest(read_bytes(path, _MOST_BYTES)) == written:
            return None
        cloth = read_project(path).cloth
    except SettscanError:
        return "", ""
    return format_sequence(cloth.warp.sequence), format_sequence(cloth.weft.sequence)
