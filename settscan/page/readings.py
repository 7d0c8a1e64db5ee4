"""What a reading found goes into a project: a new one, or around what a hand has changed."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from settscan.cloth import project_origin as origin
from settscan.cloth.model import Cloth
from settscan.cloth.project import new_text
from settscan.cloth.project_lines import load_toml
from settscan.cloth.project_model import PhotoRecord
from settscan.cloth.project_read import parse_project
from settscan.cloth.project_update import update_text, with_keys_of
from settscan.errors import BadFile
from settscan.files import make_folder, replace_file, write_new
from settscan.page.desk import Desk
from settscan.page.places import places_of, read_places, work_of
from settscan.page.saving import changed_text, edits_between
from settscan.page.second_look import looked_again, seen_of
from settscan.page.work import WARP, WEFT, Work
from settscan.scan_model import ScanResult
from settscan.scanned import first_wishes, scanned_cloth

_MARK = "\ufeff"


@dataclass(frozen=True, slots=True)
class Renewed:
    """A project's text after a reading, and where its stripes lie."""

    text: str
    places: dict[str, Any]


def begin_project(path: Path, folder: Path, result: ScanResult, units: str) -> None:
    """Write what was read into a new project; where nothing could be read, only its picture."""
    _write_pictures(path, result)
    if result.cloth is None:
        return
    cloth, photo = scanned_cloth(result)
    text = new_text(replace(cloth, name=path.stem), first_wishes(units, result.edges), photo)
    make_folder(folder)
    replace_file(folder / "picture.json", json.dumps(result.seen).encode())
    places = read_places(result.seen, photo.warp_runs)
    replace_file(folder / "places.json", json.dumps(places).encode())
    write_new(path, text.encode())


def renew_project(desk: Desk, result: ScanResult, *, derived_density: bool = False) -> None:
    """Put a new reading into an open project; what a hand has pinned or typed stays.

    Args:
        desk: the project.
        result: what was read.
        derived_density: whether the densities given to the reading were taken from pinned
            stripes; then they are not written as if they had been typed.
    """
    if result.cloth is None:
        raise BadFile("Nothing could be read, so the project stays as it is.")
    with desk.lock:
        view = desk.view()
        if view.project is None or view.work is None:
            raise BadFile("The project file has mistakes.", view.problem)
        cloth, photo = scanned_cloth(result)
        if derived_density:
            cloth = _without_densities(cloth)
        same = desk.picture().get("corners") == result.seen.get("corners")
        new = renewed(view.project.text, view.work, cloth, photo, result.seen, same)
        _write_pictures(desk.path, result)
        desk.put(view.revision, new.text, result.seen, photo.warp_runs, new.places)


def renewed(
    text: str,
    work: Work,
    cloth: Cloth,
    photo: PhotoRecord,
    seen: dict[str, Any],
    same_picture: bool,
) -> Renewed:
    """The text of a project with a new reading in it.

    Args:
        text: the project as it is.
        work: the same, on the table.
        cloth: what was read.
        photo: its record.
        seen: where it was read (see `reading.places`).
        same_picture: whether places in the old and the new straightened picture agree.
    """
    name = "the project"
    plain = text.removeprefix(_MARK).replace("\r\n", "\n")
    data = load_toml(plain, name)
    called = _called(data, cloth)
    photo = replace(
        photo,
        shows_warp=_recalled(photo.shows_warp, called),
        shows_weft=_recalled(photo.shows_weft, called),
    )
    hands = [one for one in (WARP, WEFT) if not origin.cameras_sequence(data, one)]
    new = update_text(plain, cloth, photo, name).text
    fresh_places = read_places(seen, photo.warp_runs)
    read, _, record = parse_project(new, name)
    before = work_of(load_toml(new, name), read, record, fresh_places)
    after = before
    for side_name in hands:
        axis = seen[_axis(side_name, photo.warp_runs)]
        side = looked_again(
            work.side(side_name), seen_of(axis, called), axis["pitch"], same_picture
        )
        side = replace(side, density=before.side(side_name).density)
        after = replace(after, warp=side) if side_name == WARP else replace(after, weft=side)
    after = replace(after, like_warp=before.like_warp)
    units = "metric" if data.get("units") == "metric" else "inch"
    new = changed_text(new, edits_between(before, after, units, True), name)
    mark = _MARK if text.startswith(_MARK) else ""
    return Renewed(mark + (new.replace("\n", "\r\n") if "\r\n" in text else new), places_of(after))


def _called(data: dict[str, Any], cloth: Cloth) -> dict[str, str]:
    """The keys that the yarns of a reading have in the project."""
    named = with_keys_of(data.get("yarns", {}), cloth)
    sides = ((cloth.warp, named.warp), (cloth.weft, named.weft))
    return {
        old.yarn: new.yarn
        for before, after in sides
        for old, new in zip(before.sequence.stripes, after.sequence.stripes, strict=True)
    }


def _recalled(shows: str, called: dict[str, str]) -> str:
    """Stripes "A3 B14" with the keys of the project."""
    from settscan.cloth.notation import parse_sequence

    if not shows:
        return shows
    stripes = parse_sequence(shows, partial=True).stripes
    return " ".join(f"{called.get(one.yarn, one.yarn)}{one.threads}" for one in stripes)


def _axis(side: str, warp_runs: str) -> str:
    return "columns" if (side == WARP) == (warp_runs != "across") else "rows"


def _without_densities(cloth: Cloth) -> Cloth:
    return replace(
        cloth, warp=replace(cloth.warp, density=None), weft=replace(cloth.weft, density=None)
    )


def _write_pictures(path: Path, result: ScanResult) -> None:
    if result.evidence_png:
        replace_file(path.with_suffix(".evidence.png"), result.evidence_png)
    if result.rectified_jpeg:
        replace_file(path.with_suffix(".cloth.jpg"), result.rectified_jpeg)
