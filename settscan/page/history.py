"""Every version of a project, kept beside it, so that undo has no end and survives a restart.

One line of JSON for each version, and one for each step back or forth, appended and flushed. A
line that a power cut left half-written is passed over.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from settscan.files import os_problem, read_bytes

_MOST_BYTES = 2_000_000_000


@dataclass(frozen=True, slots=True)
class Version:
    """One version: its number, the one it came from, what was done, and what it holds."""

    number: int
    parent: int
    told: str
    when: str
    text: str
    places: dict[str, Any]


class History:
    """The versions of one project, with the place where its file stands."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.versions: list[Version] = []
        self.at = -1
        self.ahead: list[int] = []  # versions that redo leads to, the next one last
        self._load()

    @property
    def now(self) -> Version | None:
        """The version that the file has; None before the first."""
        return self.versions[self.at] if self.at >= 0 else None

    @property
    def can_undo(self) -> bool:
        """Whether there is a version before this one."""
        return self.now is not None and self.now.parent >= 0

    @property
    def can_redo(self) -> bool:
        """Whether a version was left by going back."""
        return bool(self.ahead)

    def add(self, told: str, text: str, places: dict[str, Any]) -> None:
        """A new version after the present one."""
        version = Version(len(self.versions), self.at, told, _now(), text, places)
        self._append(
            {
                "version": version.number,
                "parent": version.parent,
                "told": told,
                "when": version.when,
                "text": text,
                "places": places,
            }
        )
        self.versions.append(version)
        self.at = version.number
        self.ahead = []

    def back(self) -> Version | None:
        """The version that undo leads to; None at the beginning."""
        return self.versions[self.now.parent] if self.now and self.now.parent >= 0 else None

    def forth(self) -> Version | None:
        """The version that redo leads to; None at the end."""
        return self.versions[self.ahead[-1]] if self.ahead else None

    def went(self, to: Version) -> None:
        """The file now stands at another version, reached by `back` or `forth`."""
        self._append({"at": to.number})
        self._step(to.number)

    def _step(self, to: int) -> None:
        if self.ahead and self.ahead[-1] == to:
            self.ahead.pop()
        else:
            self.ahead.append(self.at)
        self.at = to

    def _append(self, record: dict[str, Any]) -> None:
        line = json.dumps(record, ensure_ascii=False).encode() + b"\n"
        try:
            self.path.parent.mkdir(exist_ok=True)
            handle = os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o666)
            with os.fdopen(handle, "wb") as file:
                # A line that was cut short by a power cut must not swallow this one.
                whole = file.tell() == 0 or self._ends_whole()
                file.write(line if whole else b"\n" + line)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise os_problem(error, "write", self.path) from error

    def _ends_whole(self) -> bool:
        with self.path.open("rb") as file:
            file.seek(0, os.SEEK_END)
            if file.tell() == 0:
                return True
            file.seek(-1, os.SEEK_END)
            return file.read(1) == b"\n"

    def _load(self) -> None:
        if not self.path.is_file():
            return
        for line in read_bytes(self.path, _MOST_BYTES).splitlines():
            try:
                record = json.loads(line)
            except ValueError:
                continue
            if isinstance(record, dict):
                self._replay(record)

    def _replay(self, record: dict[str, Any]) -> None:
        try:
            if "at" in record:
                if 0 <= record["at"] < len(self.versions):
                    self._step(record["at"])
            elif record["version"] == len(self.versions) and -1 <= record["parent"] < len(
                self.versions
            ):
                version = Version(
                    record["version"],
                    record["parent"],
                    str(record["told"]),
                    str(record["when"]),
                    str(record["text"]),
                    dict(record["places"]),
                )
                self.versions.append(version)
                self.at = version.number
                self.ahead = []
        except (KeyError, TypeError, ValueError):
            return  # a line that is none of ours


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
