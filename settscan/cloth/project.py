"""The project: one text file (TOML) that holds a cloth, the wishes, and where both came from.

Reading, writing new, and updating around what a hand has changed. Files are written whole or not
at all, the version before is kept under the name ending `.previous`, and what is about to be
written is read back first.
"""

from __future__ import annotations

import codecs
from pathlib import Path
from typing import TYPE_CHECKING, Any

from settscan.cloth.model import Cloth
from settscan.cloth.project_lines import load_toml
from settscan.cloth.project_model import PhotoRecord as PhotoRecord
from settscan.cloth.project_model import Project as Project
from settscan.cloth.project_read import parse_project as parse_project
from settscan.cloth.project_read import project_of
from settscan.cloth.wishes import Wishes
from settscan.errors import BadProject
from settscan.files import change_file, read_bytes, write_new

if TYPE_CHECKING:
    from settscan.cloth.project_update import Updated

_MOST_BYTES = 4_000_000
_UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_MARK = "\ufeff"  # some editors put it in front of a UTF-8 text


def read_project(path: Path) -> Project:
    """A project file, checked.

    Raises:
        BadFile: if the file cannot be read.
        BadProject: listing every mistake with its line and what to write instead.
    """
    return read_with_data(path)[0]


def read_with_data(path: Path) -> tuple[Project, dict[str, Any]]:
    """A project file, checked, and the same as plain data.

    Raises:
        BadFile, BadProject: as `read_project`.
    """
    text = _decode(read_bytes(path, _MOST_BYTES), path)
    plain = text.removeprefix(_MARK)
    data = load_toml(plain, path.name)
    cloth, wishes, photo = project_of(data, plain, path.name)
    return Project(cloth=cloth, wishes=wishes, photo=photo, path=path, text=text), data


def write_project(
    path: Path, cloth: Cloth, wishes: Wishes, photo: PhotoRecord | None = None
) -> None:
    """A new project file.

    Raises:
        BadFile: if the file exists already or cannot be written.
        BadProject: if the cloth cannot be written so that it reads back as the same.
    """
    write_new(path, new_text(cloth, wishes, photo).encode())


def new_text(cloth: Cloth, wishes: Wishes, photo: PhotoRecord | None = None) -> str:
    """The text of a new project file, read back to make sure that it says what was meant.

    Raises:
        BadProject: if it would not.
    """
    from settscan.cloth.project_write import project_text, sequence_values

    text = project_text(cloth, wishes, photo)
    again, wishes_again, _ = parse_project(text, "the new project file")
    same = (
        sequence_values(again.warp.sequence) == sequence_values(cloth.warp.sequence)
        and sequence_values(again.weft.sequence) == sequence_values(cloth.weft.sequence)
        and again.warp.doubts == _rounded(cloth, "warp")
        and again.weft.doubts == _rounded(cloth, "weft")
        and [yarn.key for yarn in again.yarns] == [yarn.key for yarn in cloth.yarns]
        and wishes_again.piece == wishes.piece
        and wishes_again.loom == wishes.loom
        and wishes_again.sample == wishes.sample
        and wishes_again.frame == wishes.frame
    )
    if not same:
        raise BadProject("This cloth cannot be written as a project file without a change.")
    return text


def _rounded(cloth: Cloth, axis: str) -> object:
    """The doubts with their chances as the file tells them, in whole per cent."""
    from dataclasses import replace

    from settscan.cloth.project_write import doubt_values

    threads = cloth.warp if axis == "warp" else cloth.weft
    told = [(doubt, doubt_values(doubt, threads.sequence)) for doubt in threads.doubts]
    return tuple(
        replace(doubt, chance=int(values["chance"].split()[0]) / 100, note=values["note"])
        for doubt, values in told
    )


def update_project(project: Project, cloth: Cloth, photo: PhotoRecord | None) -> Updated:
    """Put a new reading into the project's file, around everything that a hand has changed.

    Returns:
        The new text, and sentences on what changed and what was kept.

    Raises:
        BadFile: if the file was changed since `read_project`, or cannot be written.
        BadProject: if it cannot be updated without disturbing the rest.
    """
    from settscan.cloth.project_update import Updated, update_text

    if project.path is None:
        raise BadProject("A project that was never in a file cannot be updated.")
    mark = _MARK if project.text.startswith(_MARK) else ""
    windows = "\r\n" in project.text
    plain = project.text.removeprefix(_MARK).replace("\r\n", "\n")
    updated = update_text(plain, cloth, photo, project.path.name)
    new = mark + (updated.text.replace("\n", "\r\n") if windows else updated.text)
    change_file(project.path, project.text.encode(), new.encode())
    return Updated(new, updated.changed, updated.kept)


def save_text(project: Project, text: str) -> Project:
    """Write edited text in place of the project's file, if it is a valid project.

    Raises:
        BadFile: if the file was changed since it was read, or cannot be written.
        BadProject: if the text has mistakes; nothing is written then.
    """
    if project.path is None:
        raise BadProject("A project that was never in a file cannot be saved in place.")
    cloth, wishes, photo = parse_project(text.removeprefix(_MARK), project.path.name)
    change_file(project.path, project.text.encode(), text.encode())
    return Project(cloth=cloth, wishes=wishes, photo=photo, path=project.path, text=text)


def _decode(content: bytes, path: Path) -> str:
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        # No editor writes a zero byte into a text, save into one in UTF-16.
        if b"\0" in content and not content.startswith(_UTF_16):
            raise BadProject(
                f"{path.name} is no project file, which is text.",
                "Give the file ending in .toml; a photo is read with settscan scan.",
            ) from error
        line = content[: error.start].count(b"\n") + 1
        raise BadProject(
            f"{path.name}, line {line}: this is not UTF-8 text.",
            "Save the file as UTF-8 in your editor.",
        ) from error
