"""What a photo's file tells before its pixels are decoded: size, and when it was taken."""

from __future__ import annotations

import re
import stat
import warnings
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from PIL import Image

from settscan.errors import BadImage
from settscan.photo.heic import is_heic
from settscan.photo.load import pixel_limit

_EXIF_IFD = 0x8769
_TAKEN = 0x9003  # EXIF 2.32, table 7: DateTimeOriginal
_TAKEN_OFFSET = 0x9011  # OffsetTimeOriginal


@dataclass(frozen=True, slots=True)
class Header:
    """Width and height in pixels as stored, and the camera's own time (ISO 8601) or nothing."""

    width: int
    height: int
    taken: str = ""


def read_header(path: Path) -> Header:
    """The header of a photo's file; no pixel is decoded.

    Raises:
        BadImage: if it has none that can be read.
    """
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise BadImage(f"{path.name} is not a regular file.")
        with path.open("rb") as file:
            start = file.read(64)
        with warnings.catch_warnings(), pixel_limit():
            warnings.simplefilter("ignore")
            image = _heic(path) if is_heic(start) else Image.open(path)
            with image:
                width, height = image.size
                return Header(width, height, _taken(image))
    except BadImage:
        raise
    except Image.DecompressionBombError as reason:
        raise BadImage(f"{path.name} has too many pixels.") from reason
    except Exception as reason:  # decoders raise many kinds on damaged headers
        raise BadImage(f"{path.name} has no header that can be read.") from reason


def _heic(path: Path) -> Image.Image:
    """A stand-in of the size and with the notes of a HEIC photo."""
    import pi_heif

    heif = pi_heif.open_heif(path)
    image = Image.new("1", (1, 1))
    image.info["exif"] = heif.info.get("exif") or b""
    image._size = heif.size
    return image


def _taken(image: Image.Image) -> str:
    """When the photo was taken by the camera's clock, as ISO 8601; empty if it does not tell."""
    try:
        notes = image.getexif().get_ifd(_EXIF_IFD)
        told, offset = str(notes.get(_TAKEN, "")), str(notes.get(_TAKEN_OFFSET, ""))
        when = datetime.strptime(told.strip(" \0")[:19], "%Y:%m:%d %H:%M:%S")
    except Exception:  # damaged notes raise many kinds; the time is only a help
        return ""
    zone = offset.strip(" \0")
    return when.isoformat() + (zone if re.fullmatch(r"[+-]\d\d:\d\d", zone) else "")
