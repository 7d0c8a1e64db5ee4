"""All that a running page holds: the folder, the open projects, the one reader."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from settscan.errors import BadInput
from settscan.page.cards import Card, cards_of
from settscan.page.desk import Desk
from settscan.page.hints import density_of_pinned, options_of, typed_density
from settscan.page.mill import Mill
from settscan.page.pictures import Pictures
from settscan.page.planning import Plans
from settscan.page.reader import Job, Reader
from settscan.page.readings import begin_project, renew_project
from settscan.page.shelf import Shelf
from settscan.scan_model import ScanOptions, ScanResult

PICTURES = ("photo", "cloth", "evidence")


@dataclass
class Table:
    """One open project with what belongs to it."""

    desk: Desk
    mill: Mill
    plans: Plans = field(default_factory=Plans)
    _cards: tuple[int, list[Card]] = (-1, [])

    def cards(self) -> list[Card]:
        """The cards of the winding at this moment.

        Raises:
            SettscanError: if the project cannot be planned.
        """
        view = self.desk.view()
        if view.project is None:
            raise BadInput("The project file has mistakes.", view.problem)
        if self._cards[0] != view.revision:
            _, winding = self.plans.of(view.revision, view.project)
            self._cards = view.revision, cards_of(winding)
        return self._cards[1]


class Room:
    """The page's memory. Its methods may be called from several threads."""

    def __init__(self, folder: Path, share: str = "") -> None:
        self.shelf = Shelf(folder.resolve())
        self.closing = False  # streams of news end by themselves then
        self.share = share  # the whole link for other devices; "" if they are not let in
        self.reader = Reader()
        self.pictures = Pictures()
        self.lock = threading.Lock()
        self._tables: dict[str, Table] = {}

    def table(self, name: str) -> Table:
        """The project of this name, opened.

        Raises:
            BadFile: if there is none.
        """
        path = self.shelf.project(name)
        with self.lock:
            if name not in self._tables:
                folder = self.shelf.make_desk_folder(name)
                self._tables[name] = Table(Desk(path, folder), Mill(folder))
            return self._tables[name]

    def picture(self, name: str, which: str) -> Path:
        """The file of a project's picture.

        Raises:
            BadInput: for a picture of another kind, or a project without a photo.
        """
        path = self.shelf.project(name)
        if which in ("cloth", "evidence"):
            ending = ".cloth.jpg" if which == "cloth" else ".evidence.png"
            return path.with_suffix(ending)
        if which != "photo":
            raise BadInput("There is no such picture.", "Reload the page.")
        project = self.table(name).desk.view().project
        if project is None or project.photo is None:
            raise BadInput("The project has no photo.", "Read one into it.")
        return self.shelf.photo(project.photo.file)

    def read_new(self, photos: list[str], given: dict[str, Any]) -> tuple[Job, str]:
        """Begin to read photos into a new project; its name is told as well."""
        paths = self._photos(photos)
        name = self.shelf.free_name(Path(photos[0]).stem)
        units = "metric" if given.get("units") == "metric" else "inch"
        options = options_of(given)

        def done(result: ScanResult) -> None:
            begin_project(self.shelf.new_project(name), self.shelf.desk_folder(name), result, units)

        return self.reader.start(name, paths, options, done), name

    def read_again(self, name: str, given: dict[str, Any]) -> Job:
        """Begin to read a project's photo again; stripes that are pinned help and stay."""
        table = self.table(name)
        view = table.desk.view()
        if view.project is None or view.work is None:
            raise BadInput("The project file has mistakes.", view.problem)
        if view.project.photo is None:
            raise BadInput("The project has no photo.", "Begin with a photo for that.")
        photo = view.project.photo
        named = given.get("photos") or [photo.file, *([photo.close_up] if photo.close_up else [])]
        options = options_of({"warpRuns": photo.warp_runs, **given})
        options, derived = _with_pins(options, table.desk)

        def done(result: ScanResult) -> None:
            renew_project(table.desk, result, derived_density=derived)

        return self.reader.start(name, self._photos(named), options, done)

    def _photos(self, names: Any) -> list[Path]:
        if (
            not isinstance(names, list)
            or not 1 <= len(names) <= 2
            or not all(isinstance(one, str) for one in names)
        ):
            raise BadInput("One photo is read, or one and a close-up.", "Choose one or two.")
        if len(set(names)) < len(names):
            raise BadInput("The close-up is the same file as the photo.", "Choose another one.")
        return [self.shelf.photo(one) for one in names]


def _with_pins(options: ScanOptions, desk: Desk) -> tuple[ScanOptions, bool]:
    """Densities that a hand has typed, or that its counted stripes show, help the reading."""
    from dataclasses import replace

    view = desk.view()
    assert view.work is not None
    size = desk.picture().get("size") or [0, 0]
    derived = False
    found = []
    for given, side in ((options.epi, view.work.warp), (options.ppi, view.work.weft)):
        wanted = given if given is not None else typed_density(side.density)
        if wanted is None:
            wanted = density_of_pinned(side, view, (int(size[0]), int(size[1])))
            derived = derived or wanted is not None
        found.append(wanted)
    return replace(options, epi=found[0], ppi=found[1]), derived
