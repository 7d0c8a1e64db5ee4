"""Scan photos and put what was read into files: for `settscan scan` and `settscan demo`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from settscan.cloth.project import Project, read_project, update_project, write_project
from settscan.commands.console import Console
from settscan.errors import BadFile, BadInput, Refusal
from settscan.files import check_writable, made_here, read_bytes, replace_file
from settscan.measured import Measured, Origin
from settscan.scanned import first_wishes, scanned_cloth

if TYPE_CHECKING:
    from settscan.scan_model import ScanOptions, ScanResult

READING_FORMAT = "settscan reading"
_MOST_JSON = 50_000_000
OLD_CLOTH = (
    "If the cloth is old or treasured: count with a glass and never ravel it; handle it with clean"
    " hands, wear a mask where there is dust or mould, and let a conservator decide on anything"
    " more."
)


@dataclass(frozen=True, slots=True)
class Target:
    """Where a scan goes.

    Attributes:
        project: the project file.
        update: whether it exists and is to take the reading.
        json: file for the reading, if wanted.
        units: "inch" or "metric", for a new project.
        planned: whether the plan follows at once, so that nobody has to be told how to get it.
    """

    project: Path
    update: bool = False
    json: Path | None = None
    units: str = "inch"
    planned: bool = False

    @property
    def evidence(self) -> Path:
        """The picture of what was read, beside the project file."""
        return self.project.with_suffix(".evidence.png")

    @property
    def flat(self) -> Path:
        """The straightened cloth, beside the project file."""
        return self.project.with_suffix(".cloth.jpg")


def scan_to_files(
    photos: Sequence[Path], options: ScanOptions, target: Target, console: Console
) -> int:
    """Read the photos, write what was found, and say so.

    Returns:
        The exit code: 0, or 1 for a refusal, whose files are written all the same.
    """
    existing = _prepare(photos, target)
    if existing is not None:
        options = _with_pins_of(existing, options)
    from settscan.scan import scan_photos

    result = scan_photos(photos, options, console.note)
    console.say(result.lines)
    _write_pictures(result, target)
    if target.json is not None:
        text = json.dumps(result.reading_json, ensure_ascii=False, indent=2, allow_nan=False)
        replace_file(target.json, text.encode() + b"\n")
    if result.cloth is not None:
        _write_project(result, existing, target, console)
    _where_to_look(result, target, console)
    if result.status == "refused":
        # The reader has told why in its lines and advice; the exit code tells it to scripts.
        return Refusal.exit_code
    return 0


def _prepare(photos: Sequence[Path], target: Target) -> Project | None:
    """Everything that can go wrong with the files goes wrong before the long work."""
    if target.project.suffix != ".toml":
        raise BadInput(
            f"A project file has a name ending in .toml, not {target.project.name!r}.",
            f"Write -o {target.project.stem}.toml.",
        )
    exists = target.project.is_symlink() or target.project.exists()
    if exists and not target.update:
        raise BadFile(
            f"{target.project} exists already and stays as it is.",
            "Add --update to put the new reading into it, or choose another name with -o.",
        )
    if target.update and not exists:
        raise BadFile(f"There is no {target.project} to update.", "Leave out --update.")
    check_writable(target.project.parent)
    if target.json is not None:
        check_writable(target.json.parent)
        _refuse_foreign_json(target.json)
    _keep_photos(photos, target)
    if not target.update:
        _refuse_foreign_pictures(target)
    return read_project(target.project) if target.update else None


def _keep_photos(photos: Sequence[Path], target: Target) -> None:
    """A photo has perhaps no copy, so no picture of ours may take its place."""
    for photo in photos:
        for picture in (target.evidence, target.flat):
            if photo.exists() and picture.exists() and picture.samefile(photo):
                raise BadFile(
                    f"{picture} is the photo itself; a picture of what was read would replace it.",
                    "Choose another name for the project with -o.",
                )


def _refuse_foreign_pictures(target: Target) -> None:
    """A picture that a scan made may be replaced by the next, anything else of its name stays."""
    for picture in (target.evidence, target.flat):
        if picture.exists() and not made_here(picture):
            raise BadFile(
                f"{picture} exists and was not made by a scan; a picture of what was read would"
                " replace it.",
                "Choose another name for the project with -o.",
            )


def _refuse_foreign_json(path: Path) -> None:
    """An older reading may be replaced, anything else stays."""
    if not path.exists():
        return
    try:
        old = json.loads(read_bytes(path, _MOST_JSON))
    except (ValueError, RecursionError):
        old = None
    if not isinstance(old, dict) or old.get("format") != READING_FORMAT:
        raise BadFile(f"{path} exists and is not a reading.", "Choose another name with --json.")


def _with_pins_of(project: Project, options: ScanOptions) -> ScanOptions:
    """Densities that the weaver has decided help the reading, unless given anew."""
    epi, ppi = options.epi, options.ppi
    if epi is None:
        epi = _decided(project.cloth.warp.density)
    if ppi is None:
        ppi = _decided(project.cloth.weft.density)
    return replace(options, epi=epi, ppi=ppi)


def _decided(density: Measured | None) -> Fraction | None:
    if density is None or density.origin not in (Origin.TYPED, Origin.PINNED):
        return None
    return Fraction(density.value)


def _write_pictures(result: ScanResult, target: Target) -> None:
    if result.evidence_png:
        replace_file(target.evidence, result.evidence_png)
    if result.rectified_jpeg:
        replace_file(target.flat, result.rectified_jpeg)


def _write_project(
    result: ScanResult, existing: Project | None, target: Target, console: Console
) -> None:
    assert result.cloth is not None
    cloth, photo = scanned_cloth(result)
    if existing is None:
        wishes = first_wishes(target.units, result.edges)
        write_project(target.project, cloth, wishes, photo)
        return
    updated = update_project(existing, cloth, photo)
    for line in updated.changed:
        console.note(f"Updated: {line}.")
    for line in updated.kept:
        console.note(f"Kept: {line}.")
    if not updated.changed:
        console.note("Nothing in the project had to change.")


def _where_to_look(result: ScanResult, target: Target, console: Console) -> None:
    for sentence in result.advice:
        console.paragraph(sentence, mark="! ")
    if result.evidence_png:
        console.note(f"What was read, drawn over the cloth: {target.evidence}")
    if target.json is not None:
        console.note(f"The reading as data: {target.json}")
    if result.cloth is None:
        console.note("No project file was written, since no stripes could be read.")
        return
    console.note(f"The project, to be looked through and changed: {target.project}")
    console.paragraph(OLD_CLOTH)
    if target.planned:
        return
    sheets = target.project.with_suffix("")
    plan = f"settscan plan {target.project} -o {sheets}-sheets"
    lacking = _not_known(read_project(target.project))
    if lacking:
        console.paragraph(
            f"Next: count the {' and the '.join(lacking)} in one inch of the cloth and write them"
            f" into {target.project}, as {' and '.join(lacking.values())}. Then: {plan}"
        )
    else:
        console.note(f"Next: {plan}")


def _not_known(project: Project) -> dict[str, str]:
    """Densities that nobody has counted yet: threads -> the line to write.

    Without them no plan can be made, or only one that takes the weft to be as dense as the warp.
    """
    sides = ("ends", "epi", project.cloth.warp), ("picks", "ppi", project.cloth.weft)
    return {
        name: f'{key} = "24 {key}"'
        for name, key, side in sides
        if side.density is None or side.density.origin is Origin.ASSUMED
    }
