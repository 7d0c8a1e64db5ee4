"""A project on the table: its file is the truth, every edit is saved at once, nothing is lost.

A revision number goes up with each change. Whoever edits says which revision was seen; an edit
that was made on another one is refused, so that two tabs, or a tab and a text editor, never undo
each other's work unseen.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from settscan.cloth.project import read_with_data
from settscan.cloth.project_edit import Edit
from settscan.cloth.project_model import Project
from settscan.errors import BadFile, SettscanError
from settscan.files import change_file, read_bytes, replace_file
from settscan.page.history import History, Version
from settscan.page.places import places_of, read_places, work_of
from settscan.page.saving import Changed, Layout, edits_between
from settscan.page.work import Work

_MOST_BYTES = 4_000_000
_MOST_JSON = 50_000_000
_AT_REST = 0.3  # seconds; the answer and the next step back go before


class Conflict(BadFile):
    """The project is not what it was when the edit was made."""


@dataclass(frozen=True, slots=True)
class View:
    """The project at one moment.

    Attributes:
        revision: goes up with each change.
        project: as read; None while the file has mistakes.
        data: the file as plain data.
        work: the cloth on the table; None while the file has mistakes.
        problem: what is wrong with the file, "" if nothing is.
    """

    revision: int
    project: Project | None
    data: dict[str, Any]
    work: Work | None
    problem: str = ""


class Desk:
    """One open project. Its methods may be called from several threads."""

    def __init__(self, path: Path, folder: Path) -> None:
        self.path = path
        self.folder = folder
        self.lock = threading.RLock()
        self.changed: list[Callable[[int], None]] = []
        self.revision = 0
        self.history = History(folder / "history.jsonl")
        self._bytes = b""
        self._layout = Layout()
        self._laid: dict[str, Any] = {}
        self._view = View(0, None, {}, None)
        with self.lock:
            content, now = read_bytes(path, _MOST_BYTES), self.history.now
            # What the history says of this very text is safer than a file that was not flushed.
            known = now is not None and now.text.encode() == content
            self._laid = now.places if now and known else _json(folder / "places.json")
            self._take_up(content, "opened")

    # --- looking -----------------------------------------------------------------------------

    def view(self) -> View:
        """The project as it is now, edits from outside included."""
        with self.lock:
            self._notice()
            return self._view

    def picture(self) -> dict[str, Any]:
        """What the reading told of places in photo and cloth; {} if nothing."""
        return _json(self.folder / "picture.json")

    # --- changing ----------------------------------------------------------------------------

    def edit(self, revision: int, change: Callable[[Work], tuple[Work, str]]) -> str:
        """Change the cloth.

        Args:
            revision: what the person saw.
            change: the work in, the new work and one line on what was done out.

        Returns:
            The line.

        Raises:
            Conflict: if the project changed meanwhile.
            SettscanError: if the edit makes no sense or cannot be saved.
        """
        with self.lock:
            view = self._seen(revision)
            assert view.work is not None and view.project is not None
            after, told = change(view.work)
            units = view.project.wishes.units
            edits = edits_between(view.work, after, units, view.project.photo is not None)
            # A side that does not fit its picture for now keeps its places for later.
            places = {**self._places(view.project), **places_of(after)}
            self._save(edits, places, told)
            return told

    def write(self, revision: int, edits: list[Edit], told: str) -> None:
        """Change fields of the file.

        Raises:
            Conflict: if the project changed meanwhile.
            SettscanError: if a value is wrong or cannot be saved.
        """
        with self.lock:
            self._seen(revision)
            self._save(edits, self._places(), told)

    def put(
        self,
        revision: int,
        text: str,
        seen: dict[str, Any],
        warp_runs: str,
        places: dict[str, Any] | None = None,
    ) -> None:
        """A new reading: the whole text, and where everything lies in the pictures."""
        with self.lock:
            self._seen(revision)
            self.folder.mkdir(exist_ok=True)
            replace_file(self.folder / "picture.json", json.dumps(seen).encode())
            places = read_places(seen, warp_runs) if places is None else places
            self._store(text, places, "read from the photo")

    def undo(self, revision: int) -> str:
        """Back to the version before."""
        return self._go(revision, self.history.back, "Nothing is left to undo.")

    def redo(self, revision: int) -> str:
        """Forth again to the version that undo left."""
        return self._go(revision, self.history.forth, "Nothing is left to redo.")

    # --- inside ------------------------------------------------------------------------------

    def _go(self, revision: int, which: Callable[[], Version | None], none: str) -> str:
        with self.lock:
            self._seen(revision, valid=False)
            left, to = self.history.now, which()
            if to is None or left is None:
                raise BadFile(none)
            later = left if to.number < left.number else to
            change_file(self.path, self._bytes, to.text.encode())
            self._write_places(to.places)
            self.history.went(to)
            self._renew(to.text.encode())
            return later.told

    def _same_layout(self, before: View, after: View) -> bool:
        """Whether the layout could be led from one view to the other; quicker than to parse it."""
        if before.work is None or before.project is None:
            return False
        if after.work is None or after.project is None:
            return False
        units, photo = after.project.wishes.units, after.project.photo is not None
        edits = edits_between(before.work, after.work, units, photo)
        return self._layout.follow(before.project.text, edits, after.project.text, self.path.name)

    def _seen(self, revision: int, valid: bool = True) -> View:
        """The present view, if it is the one that was seen."""
        self._notice()
        if revision != self.revision:
            raise Conflict(
                "The project was changed elsewhere meanwhile, so this edit was not made.",
                "What you see now is the newest state; make the edit again if it is still wanted.",
            )
        if valid and self._view.work is None:
            raise BadFile("The project file has mistakes.", self._view.problem)
        return self._view

    def _save(self, edits: list[Edit], places: dict[str, Any], told: str) -> None:
        project = self._view.project
        assert project is not None
        if not edits:
            if places != self._places():
                self._store(project.text, places, told)
            return
        made = self._layout.changed(project.text, self._view.data, edits, self.path.name)
        self._store(made.text, places, told, made)

    def _store(
        self, text: str, places: dict[str, Any], told: str, made: Changed | None = None
    ) -> None:
        """Places first, then the file: whatever is cut off between them, the counts are whole."""
        self._write_places(places)
        change_file(self.path, self._bytes, text.encode())
        self.history.add(told, text, places)
        self._renew(text.encode(), made)

    def _notice(self) -> None:
        """Take up what somebody else wrote into the file."""
        content = read_bytes(self.path, _MOST_BYTES)
        if content != self._bytes:
            self._take_up(content, "changed outside the page")

    def _take_up(self, content: bytes, told: str) -> None:
        now = self.history.now
        text = content.decode("utf-8", "replace")
        if now is None or now.text != text:
            self.history.add(told, text, self._places())
        self._renew(content)

    def _renew(self, content: bytes, made: Changed | None = None) -> None:
        self._bytes = content
        self.revision += 1
        before = self._view
        self._view = self._read() if made is None else self._seen_as(made)
        project = self._view.project
        if made is None and project is not None and not self._same_layout(before, self._view):
            parse = (project.text, self.path.name)
            later = threading.Timer(_AT_REST, self._layout.prepare, parse)
            later.daemon = True
            later.start()
        for tell in list(self.changed):
            tell(self.revision)

    def _read(self) -> View:
        try:
            project, data = read_with_data(self.path)
        except SettscanError as error:
            return View(self.revision, None, {}, None, str(error))
        return self._shown(project, data)

    def _seen_as(self, made: Changed) -> View:
        """The view of what has just been written, without reading it once more."""
        project = Project(
            cloth=made.cloth, wishes=made.wishes, photo=made.photo, path=self.path, text=made.text
        )
        return self._shown(project, made.data)

    def _shown(self, project: Project, data: dict[str, Any]) -> View:
        work = work_of(data, project.cloth, project.photo, self._places(project))
        return View(self.revision, project, data, work)

    def _places(self, project: Project | None = None) -> dict[str, Any]:
        found = self._laid
        if not found and project is not None and project.photo is not None:
            found = read_places(self.picture(), project.photo.warp_runs)
        return found

    def _write_places(self, places: dict[str, Any]) -> None:
        if places != self._laid:
            self.folder.mkdir(exist_ok=True)
            # Not flushed: the history is, and holds them as well.
            replace_file(self.folder / "places.json", json.dumps(places).encode(), flush=False)
            self._laid = places


def _json(path: Path) -> dict[str, Any]:
    """A small JSON file of the page's own; {} if it is not there or damaged."""
    if not path.is_file():
        return {}
    try:
        found = json.loads(read_bytes(path, _MOST_JSON))
    except (ValueError, RecursionError, BadFile):
        return {}
    return found if isinstance(found, dict) else {}
