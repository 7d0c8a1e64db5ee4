"""The nouns of the project file: the project, and the photo that it was read from."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from settscan.cloth.model import Cloth
from settscan.cloth.wishes import Wishes


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoRecord:
    """The photo that a cloth was read from, and the scale that was found in it.

    Attributes:
        file: name of the photo, without its folder.
        sha256: of the file's bytes, 64 hexadecimal digits.
        width, height: pixels as shown upright; 0 if unknown.
        scale_source: "ruler", "card", "given", "close-up" or "none".
        px_per_mm_x, px_per_mm_y: pixels per millimetre of cloth, None where unknown.
        relative_error: of the scale, as a fraction; None without a scale.
        warp_runs: "down" or "across" the photo.
        close_up: name of a second photo of the same cloth, if any.
        shows_warp, shows_weft: the stripes that the photo shows, as read: "A3 B14 C2".
    """

    file: str
    sha256: str
    width: int = 0
    height: int = 0
    scale_source: str = "none"
    px_per_mm_x: float | None = None
    px_per_mm_y: float | None = None
    relative_error: float | None = None
    warp_runs: str = "down"
    close_up: str | None = None
    shows_warp: str = ""
    shows_weft: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Project:
    """A project file as it was read.

    Attributes:
        cloth: what is to be woven again.
        wishes: sizes, losses, loom, stock and frame.
        photo: where the cloth was read from; None for a cloth typed from nothing.
        path: the file; None for text that was never in a file.
        text: the file's text, so that a later writing can tell whether it changed meanwhile.
    """

    cloth: Cloth
    wishes: Wishes
    photo: PhotoRecord | None = None
    path: Path | None = None
    text: str = ""
