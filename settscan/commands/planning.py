"""Plan a project and write its sheets: for `settscan plan` and `settscan demo`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from settscan.cloth.notation import parse_sequence
from settscan.cloth.project import PhotoRecord, read_project
from settscan.commands.console import Console
from settscan.errors import BadFile, SettscanError
from settscan.files import make_folder, read_bytes, replace_file

if TYPE_CHECKING:
    from settscan.cloth.project_model import Project
    from settscan.sheets.picture import ShownPart
    from settscan.winding.wound import Wound

PLAN_FORMAT = "settscan plan"
_MOST_PICTURE = 100_000_000
_MOST_JSON = 200_000_000


def plan_to_files(
    project_file: Path,
    folder: Path | None,
    console: Console,
    *,
    paper: str | None = None,
    steps: bool = False,
    told: bool = True,
) -> None:
    """Work out the warp and its winding; show it, and write the sheets if a folder is given.

    Args:
        project_file: what to plan.
        folder: where the sheets go; None for none.
        console: what is said.
        paper: "A4" or "Letter"; None for the usual one where the project's units are.
        steps: whether every step of the winding is shown.
        told: whether it is said where more is to be found.

    Raises:
        SettscanError: if the project cannot be read or planned, or the folder is another's.
    """
    project = read_project(project_file)
    if folder is not None:
        _refuse_foreign(folder)
    winding = _wound(project, project_file.name)
    _show(winding, console, steps)
    if told and not console.verbose:
        console.note("\nHow each figure comes about, sley, bouts and ties: add --verbose.")
    if folder is None:
        console.note(f"For sheets to print: settscan plan {project_file} -o FOLDER")
        return
    console.note("\nDrawing the sheets ...")
    from settscan.sheets.bundle import sheet_set
    from settscan.sheets.sizes import usual_paper

    sheets = sheet_set(
        winding.plan,
        winding,
        paper=paper or usual_paper(project.wishes.units),
        rectified=_picture(project_file.with_suffix(".cloth.jpg")),
        evidence=_picture(project_file.with_suffix(".evidence.png"))
        or _picture(project_file.with_suffix(".evidence.jpg")),
        shown=_shown(project.photo),
    )
    make_folder(folder)
    # The plan's own data goes first: a folder that a full disk left half-filled is known as ours.
    for name in sorted(sheets, key=lambda name: name != "plan.json"):
        replace_file(folder / name, sheets[name])
        console.detail(f"Wrote {folder / name} ({len(sheets[name]):,} bytes).")
    if not told:
        return
    console.note(f"Sheets: {folder / 'sheets.pdf'} to print, {folder / 'sheets.html'} to look at;")
    console.note(f"and for other programs: {', '.join(_others(sheets))}.")


def _wound(project: Project, name: str) -> Wound:
    """The plan of the warp and of its winding; a refusal names the file."""
    from settscan.warping.plan import plan_warp
    from settscan.winding.wound import plan_wound

    try:
        return plan_wound(plan_warp(project.cloth, project.wishes))
    except SettscanError as error:
        error.message = f"{name}: {error.message}"
        raise


def _show(winding: Wound, console: Console, steps: bool) -> None:
    """What matters on a screen; all of it for those who ask."""
    from settscan.sheets.headline import headline_text

    console.say(headline_text(winding, in_full=console.verbose))
    if not (console.verbose or steps):
        return
    from settscan.sheets.text import plan_text, steps_text, winding_text

    if console.verbose:
        console.say([plan_text(winding.plan, winding.yarns), "", winding_text(winding)])
    if steps:
        console.say(steps_text(winding))


def _others(sheets: dict[str, bytes]) -> list[str]:
    return [name for name in sheets if not name.startswith("sheets.")]


def _refuse_foreign(folder: Path) -> None:
    """Sheets of an earlier plan are replaced; a folder with other things stays as it is."""
    if not folder.exists():
        return
    if not folder.is_dir():
        raise BadFile(f"{folder} is a file, not a folder.", "Choose another name with -o.")
    ours = folder / "plan.json"
    if ours.exists():
        import json

        try:
            old = json.loads(read_bytes(ours, _MOST_JSON))
        except (ValueError, RecursionError):
            old = None
        if isinstance(old, dict) and old.get("format") == PLAN_FORMAT:
            return
    try:
        crowded = any(True for _ in folder.iterdir())
    except OSError as error:
        from settscan.files import os_problem

        raise os_problem(error, "look into", folder) from error
    if crowded:
        raise BadFile(
            f"The folder {folder} holds other files, which stay as they are.",
            "Choose a new or empty folder with -o.",
        )


def _shown(photo: PhotoRecord | None) -> ShownPart | None:
    """The stripes that the photo shows, to be drawn beside it."""
    if photo is None or not (photo.shows_warp and photo.shows_weft):
        return None
    from settscan.sheets.picture import ShownPart

    return ShownPart(
        warp=parse_sequence(photo.shows_warp, partial=True).stripes,
        weft=parse_sequence(photo.shows_weft, partial=True).stripes,
        warp_across=photo.warp_runs == "across",
    )


def _picture(path: Path) -> bytes | None:
    return read_bytes(path, _MOST_PICTURE) if path.is_file() else None
