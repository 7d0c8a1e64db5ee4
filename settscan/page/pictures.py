"""Large pictures cut into tiles, so that a browser zooms smoothly however many pixels they have."""

from __future__ import annotations

import threading
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from settscan.errors import BadFile, BadInput

if TYPE_CHECKING:
    from PIL.Image import Image

TILE = 512
MOST_PIXELS = 120_000_000
"""Of a photo that is handed in: more than any camera that weavers use, and what memory holds."""
_MOST_KEPT = 2  # pictures in memory at once
_QUALITY = 88
_PICK_REACH = 0.004  # of the longer side: some threads, so that one thread's light does not decide


class Pictures:
    """Pictures by file, each with its reduced copies; the last ones looked at are kept."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self._kept: dict[tuple[str, int], list[Image]] = {}

    def size(self, path: Path) -> dict[str, int]:
        """Width, height and how often the picture is halved until it fits one tile."""
        levels = self._levels(path)
        width, height = levels[0].size
        return {"width": width, "height": height, "levels": len(levels), "tile": TILE}

    def tile(self, path: Path, level: int, column: int, row: int) -> bytes:
        """One tile as JPEG; level 0 is the picture itself, each further one half as large.

        Raises:
            BadInput: if there is no such tile.
        """
        levels = self._levels(path)
        if not 0 <= level < len(levels):
            raise BadInput("The picture has no such size.", "Reload the page.")
        image = levels[level]
        left, top = column * TILE, row * TILE
        if not (0 <= left < image.width and 0 <= top < image.height):
            raise BadInput("The picture has no such part.", "Reload the page.")
        box = (left, top, min(left + TILE, image.width), min(top + TILE, image.height))
        out = BytesIO()
        image.crop(box).save(out, "JPEG", quality=_QUALITY)
        return out.getvalue()

    def colour_at(self, path: Path, x: float, y: float) -> str:
        """The colour about a place, as shares of the sides, mixed in linear light: "#rrggbb"."""
        import numpy as np

        from settscan.photo.load import encode, linear

        image = self._levels(path)[0]
        reach = max(1, round(max(image.size) * _PICK_REACH))
        across, down = round(x * (image.width - 1)), round(y * (image.height - 1))
        box = (
            max(0, across - reach),
            max(0, down - reach),
            min(image.width, across + reach + 1),
            min(image.height, down + reach + 1),
        )
        light = linear(np.asarray(image.crop(box).convert("RGB")))
        red, green, blue = encode(light.reshape(-1, 3).mean(axis=0))
        return f"#{red:02x}{green:02x}{blue:02x}"

    def _levels(self, path: Path) -> list[Image]:
        """The picture and its halves, the largest first."""
        try:
            key = str(path), path.stat().st_mtime_ns
        except OSError as error:
            raise BadFile("The picture is not there.", "Read the photo again.") from error
        with self.lock:
            if key not in self._kept:
                levels = [_opened(path)]
                while max(levels[-1].size) > TILE:
                    levels.append(levels[-1].reduce(2))
                while len(self._kept) >= _MOST_KEPT:
                    del self._kept[next(iter(self._kept))]
                self._kept[key] = levels
            return self._kept[key]


def _opened(path: Path) -> Image:
    """A photo as the reader sees it: upright, in sRGB, refused where it is too large."""
    from PIL import Image

    from settscan.photo.load import load_photo

    encoded = load_photo(path).encoded
    if encoded.dtype.itemsize > 1:
        encoded = (encoded // 257).astype("uint8")
    return Image.fromarray(encoded)


def check_photo(content: bytes, name: str) -> None:
    """Refuse what is no picture or has far too many pixels, before anything is unpacked.

    A picture that is damaged is left to the reader, which says what is wrong with it.

    Raises:
        BadInput: if it is none, or too large.
    """
    import warnings

    from PIL import Image, UnidentifiedImageError

    from settscan.photo.heic import is_heic

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(BytesIO(content)) as image:
                pixels = image.width * image.height
    except Image.DecompressionBombError:
        pixels = MOST_PIXELS + 1
    except UnidentifiedImageError as error:
        if is_heic(content[:64]):  # another part opens these
            return
        raise BadInput(
            f"{name[:60]} is no picture, whatever its name says.",
            "Give a photo saved as JPEG, PNG, TIFF, WebP or HEIC.",
        ) from error
    except Exception:  # decoders raise many kinds
        return
    if pixels > MOST_PIXELS:
        raise BadInput(
            f"{name[:60]} has more than {MOST_PIXELS // 1_000_000} million pixels.",
            "Give it at a smaller size.",
        )
