"""The folder that the page works in: its projects and photos, by name, and nothing outside it."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from settscan.errors import BadFile, BadInput, SettscanError
from settscan.files import made_here, make_folder, read_bytes, write_new

PHOTO_ENDINGS = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif")
MOST_PHOTO_BYTES = 100_000_000
_MOST_LISTED = 500
_LONGEST = 80


@dataclass(frozen=True, slots=True)
class Shelf:
    """A folder with projects. Names that the page sends are looked up here, never joined."""

    folder: Path

    def projects(self) -> tuple[str, ...]:
        """Names, without ending, of the project files in the folder."""
        found = []
        for path in sorted(self.folder.glob("*.toml")):
            if is_name(path.stem) and path.is_file() and _looks_like_project(path):
                found.append(path.stem)
        return tuple(found[:_MOST_LISTED])

    def photos(self) -> tuple[str, ...]:
        """Names of the photos in the folder, without the pictures that settscan made."""
        found = [
            path.name
            for path in sorted(self.folder.iterdir())
            if path.suffix.lower() in PHOTO_ENDINGS
            and not path.name.startswith(".")
            and path.is_file()
            and not path.name.endswith((".cloth.jpg", ".evidence.png"))
        ]
        return tuple(found[:_MOST_LISTED])

    def project(self, name: str) -> Path:
        """The file of a project that is there.

        Raises:
            BadFile: if there is none of that name in the folder.
        """
        path = self._inside(f"{checked_name(name)}.toml")
        if not path.is_file():
            raise BadFile(f'There is no project "{name}" here.', "Choose one from the list.")
        return path

    def new_project(self, name: str) -> Path:
        """The file for a project that is not there yet.

        Raises:
            BadFile: if one of that name exists.
        """
        path = self._inside(f"{checked_name(name)}.toml")
        if path.exists() or path.is_symlink():
            raise BadFile(f'A project "{name}" exists already.', "Choose another name.")
        return path

    def photo(self, name: str) -> Path:
        """A photo that is there.

        Raises:
            BadFile: if it is not in the folder.
        """
        if name not in self.photos():
            raise BadFile(f'There is no photo "{name[:60]}" in the folder.', "Choose it anew.")
        return self._inside(name)

    def evidence(self, name: str) -> Path:
        """The picture of what a reading saw, whether a project came of it or not.

        Raises:
            BadFile: if there is none that a reading made.
        """
        path = self._inside(f"{checked_name(name)}.evidence.png")
        if not made_here(path):
            raise BadFile("There is no such picture.", "Read the photo again.")
        return path

    def keep_photo(self, name: str, content: bytes) -> Path:
        """A photo that was handed in, under a safe name of its own; what is there stays.

        The same photo handed in twice is kept once.
        """
        stem, ending = safe_photo_name(name)
        for number in range(1, 1000):
            told = f"{stem}{'' if number == 1 else f'-{number}'}{ending}"
            path = self._inside(told)
            if path.is_file() and path.stat().st_size == len(content):
                if read_bytes(path, len(content)) == content:
                    return path
                continue
            if not path.exists() and not path.is_symlink():
                write_new(path, content)
                return path
        raise BadFile(f"Too many photos are called {stem}.", "Rename the photo and try again.")

    def free_name(self, wish: str) -> str:
        """A name for a new project like the one wished for."""
        stem = safe_stem(wish)
        for number in range(1, 1000):
            name = stem if number == 1 else f"{stem}-{number}"
            if not (self.folder / f"{name}.toml").exists():
                return name
        raise BadFile(f"Too many projects are called {stem}.", "Choose another name.")

    def desk_folder(self, name: str) -> Path:
        """Where the page keeps what belongs to a project: history, places, winding."""
        return self._inside(f"{checked_name(name)}.page")

    def make_desk_folder(self, name: str) -> Path:
        """The same, made if it is not there."""
        folder = self.desk_folder(name)
        make_folder(folder)
        return folder

    def _inside(self, name: str) -> Path:
        """A path in the folder itself; a link that leads out of it is refused."""
        path = self.folder / name
        if path.parent != self.folder or path.resolve().parent != self.folder.resolve():
            raise BadFile(f"{name} is not in the project folder.", "Put it there first.")
        return path


def is_name(name: str) -> bool:
    """Whether a project may be called so on the page: one plain name, no path."""
    return (
        0 < len(name) <= _LONGEST
        and name.isprintable()
        and not name.startswith(".")
        and not set(name) & set('/\\:*?"<>|\0')
        and name == name.strip()
    )


def checked_name(name: str) -> str:
    """The name, if it is one.

    Raises:
        BadInput: if it is not.
    """
    if not is_name(name):
        raise BadInput(
            "A project has a plain name without slashes and the like.", 'Call it "blanket".'
        )
    return name


def safe_stem(name: str) -> str:
    """A file name in plain letters that resembles what was wished for."""
    plain = unicodedata.normalize("NFKC", name)
    kept = re.sub(r"[^\w -]+", "-", plain).strip(" -_.")[:40].strip(" -_.")
    return kept or "cloth"


def safe_photo_name(name: str) -> tuple[str, str]:
    """Stem and ending for a photo that was handed in.

    Raises:
        BadInput: if its ending is not that of a photo.
    """
    base = re.split(r"[/\\]", name)[-1]
    stem, dot, ending = base.rpartition(".")
    told = f".{ending.lower()}" if dot else ""
    if told not in PHOTO_ENDINGS:
        raise BadInput(
            "This is not a photo that can be read.",
            "Give a photo saved as JPEG, PNG, TIFF, WebP or HEIC.",
        )
    return safe_stem(stem), told


def _looks_like_project(path: Path) -> bool:
    try:
        head = read_bytes(path, 4_000_000)
    except SettscanError:
        return False
    return b"[warp]" in head or b"settscan" in head[:2000]
