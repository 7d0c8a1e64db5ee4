"""A file becomes a photo: upright, in sRGB, with what the file tells about itself.

The pixels stay encoded (8 or 16 bits); `linear` turns any part of them into light when it is
needed, so a large photo is never held as floating point.
"""

from __future__ import annotations

import hashlib
import io
import os
import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms, UnidentifiedImageError

from settscan.doubts import Doubt, doubt
from settscan.errors import BadImage
from settscan.photo.flat import Photo
from settscan.photo.heic import in_srgb, is_heic, is_mirrored, wide_colours
from settscan.photo.srgb import encode as encode
from settscan.photo.srgb import linear as linear
from settscan.settings import LOAD

_ORIENTATION = 0x0112  # EXIF 2.32, table 4: tag 274
_EXIF_IFD = 0x8769
_FOCAL_35MM = 0xA405
_BITS_PER_SAMPLE = 258  # TIFF 6.0
_MIRRORED = (2, 4, 5, 7)
_ANIMATIONS = ("GIF", "WEBP", "PNG", "AVIF")  # other formats hold pages or thumbnails instead
_ANOTHER = "Give a photo saved as JPEG, PNG, TIFF, WebP or HEIC."

Encoded = NDArray[np.uint8] | NDArray[np.uint16]


def load_photo(path: str | Path) -> Photo:
    """The photo in the file at `path`, upright and in sRGB.

    Sixteen-bit PNG and TIFF files in sRGB keep their 16 bits.

    Raises:
        BadImage: when the file is missing, empty, damaged, too large, too small, moving, or
            not a picture.
    """
    path = Path(path)
    data = _file_bytes(path)
    name = told_name(path)
    with warnings.catch_warnings(), pixel_limit():
        warnings.simplefilter("ignore")  # Pillow warns of oddities that are handled here
        image = _opened(data, name)
        _check_kind(image, name)
        _check_sums(data, name)
        doubts: list[Doubt] = []
        orientation = image.info.get("original_orientation") or _orientation(image, doubts)
        focal = _focal_35mm(image)
        deep = _deep_pixels(image, data, orientation)
        encoded = _pixels(image, name, doubts) if deep is None else deep
    mirrored = orientation in _MIRRORED or (is_heic(data) and is_mirrored(data))
    if mirrored:
        doubts.append(doubt("mirrored"))
    encoded.flags.writeable = False
    return Photo(
        encoded=encoded,
        file=name,
        sha256=hashlib.sha256(data).hexdigest(),
        mirrored=mirrored,
        focal_35mm=focal,
        doubts=tuple(doubts),
    )


def _file_bytes(path: Path) -> bytes:
    name = told_name(path)
    if path.is_dir():
        raise BadImage(f"{name or path} is a folder, not a photo.", _ANOTHER)
    if not path.is_file():
        if path.is_symlink():
            raise BadImage(f"{name} is a link that leads to no photo.", "Give the photo itself.")
        if path.exists():
            raise BadImage(f"{name} is not a regular file.", _ANOTHER)
        raise BadImage(f"There is no photo {path}.", "Check the name and the folder.")
    try:
        if path.stat().st_size > LOAD.largest_bytes:
            limit = LOAD.largest_bytes // 1_000_000
            raise BadImage(f"{name} is larger than {limit} MB.", "Give it at a smaller size.")
        data = path.read_bytes()
    except OSError as reason:
        message = f"{name} cannot be read ({reason.strerror or reason})."
        raise BadImage(message, "Check that the file may be opened.") from reason
    if not data:
        raise BadImage(f"{name} is empty.", "Copy it from the camera again.")
    return data


def told_name(path: Path) -> str:
    """The file's name as one line that any text can hold."""
    text = os.fsencode(path.name).decode("utf-8", "backslashreplace")
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


@contextmanager
def pixel_limit() -> Iterator[None]:
    """Lets Pillow open pictures up to our own limit; it raises beyond twice its own number."""
    before = Image.MAX_IMAGE_PIXELS
    Image.MAX_IMAGE_PIXELS = LOAD.largest_pixels // 2
    try:
        yield
    finally:
        Image.MAX_IMAGE_PIXELS = before


def _opened(data: bytes, name: str) -> Image.Image:
    """The picture in `data`, its header read and, for HEIC, its pixels too."""
    if is_heic(data):
        return _opened_heic(data, name)
    try:
        return Image.open(io.BytesIO(data))
    except Image.DecompressionBombError as reason:
        raise _too_large(name) from reason
    except UnidentifiedImageError as reason:
        raise BadImage(f"{name} is not a picture that can be read.", _ANOTHER) from reason
    except Exception as reason:  # decoders raise many kinds on damaged headers
        raise _damaged(name) from reason


def _opened_heic(data: bytes, name: str) -> Image.Image:
    try:
        import pi_heif
    except ImportError as reason:
        message = f"{name} is a HEIC photo, and the part that reads these is not installed."
        advice = 'Install it with: pip install "settscan[heic]", or save the photo as JPEG.'
        raise BadImage(message, advice) from reason
    try:
        heif = pi_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=True)
        if heif.size[0] * heif.size[1] > LOAD.largest_pixels:
            raise _too_large(name)
        image: Image.Image = heif.to_pillow()
    except BadImage:
        raise
    except Exception as reason:  # the decoder raises many kinds on damaged files
        raise _damaged(name) from reason
    return image


def _check_sums(data: bytes, name: str) -> None:
    """Refuses a PNG whose picture is not what was written: Pillow passes over its check sums."""
    at = 8
    while data[:8] == b"\x89PNG\r\n\x1a\n" and at + 12 <= len(data):
        end = at + 8 + int.from_bytes(data[at : at + 4], "big")
        told = int.from_bytes(data[end : end + 4], "big")
        if data[at + 4 : at + 8] == b"IDAT" and zlib.crc32(data[at + 4 : end]) != told:
            raise _damaged(name)
        at = end + 4


def _check_kind(image: Image.Image, name: str) -> None:
    """Refuses what is no single photo of a useful size."""
    frames = _frames(image, name) if image.format in _ANIMATIONS else 1
    if frames > 1:
        message = f"{name} is a moving picture of {frames} frames."
        raise BadImage(message, "Save one frame as PNG, or take a still photo.")
    width, height = image.size
    if width * height > LOAD.largest_pixels:
        raise _too_large(name)
    if min(width, height) < LOAD.least_side_px:
        message = f"{name} has only {width} x {height} pixels."
        advice = f"Give a photo of at least {LOAD.least_side_px} pixels each way."
        raise BadImage(message, advice)


def _frames(image: Image.Image, name: str) -> int:
    try:
        return int(getattr(image, "n_frames", 1))
    except Exception as reason:  # decoders raise many kinds on damaged frames
        raise _damaged(name) from reason


def _orientation(image: Image.Image, doubts: list[Doubt]) -> int:
    """EXIF orientation 1 to 8; 1 and a doubt when the notes cannot be read."""
    try:
        value = image.getexif().get(_ORIENTATION, 1)
    except Exception:  # damaged notes raise many kinds; the picture itself may be sound
        value = None
    if value not in range(1, 9):
        doubts.append(doubt("orientation-unreadable"))
        return 1
    return int(value)


def _focal_35mm(image: Image.Image) -> float | None:
    """Focal length as 35 mm equivalent, or None where the notes do not tell (0 is unknown)."""
    try:
        value = float(image.getexif().get_ifd(_EXIF_IFD).get(_FOCAL_35MM, 0))
    except Exception:  # damaged notes raise many kinds; the focal length is only a help
        return None
    return value if 1 <= value <= 10_000 else None


def _deep_pixels(image: Image.Image, data: bytes, orientation: int) -> NDArray[np.uint16] | None:
    """(H, W, 3) of a 16-bit sRGB PNG or TIFF, which Pillow would cut to 8 bits; else None."""
    if not _is_deep(image, data) or not _is_srgb(image.info.get("icc_profile")):
        return None
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if pixels is None or pixels.dtype != np.uint16:
        return None
    if pixels.shape[:2] != (image.height, image.width):  # turned by a decoder: leave it to Pillow
        return None
    return np.ascontiguousarray(_turned(_red_first(pixels), orientation))


def _is_deep(image: Image.Image, data: bytes) -> bool:
    if image.format == "PNG":
        return data[24] == 16  # bit depth in the header chunk (PNG, third edition, 11.2.1)
    if image.format == "TIFF":
        bits: Any = getattr(image, "tag_v2", {}).get(_BITS_PER_SAMPLE, (1,))
        return all(b == 16 for b in bits) and image.mode != "CMYK"
    return False


def _is_srgb(profile: bytes | None) -> bool:
    if not profile:
        return True
    try:
        return "srgb" in ImageCms.getProfileDescription(io.BytesIO(profile)).lower()
    except (ImageCms.PyCMSError, OSError):
        return False


def _red_first(pixels: NDArray[Any]) -> NDArray[np.uint16]:
    """(H, W, 3) RGB of OpenCV's grey, BGR or BGRA, laid on white."""
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[:, :, None], 3, axis=2)
    if pixels.shape[2] == 4:
        for rows in np.array_split(pixels, max(1, len(pixels) // 256)):
            opacity = rows[:, :, 3:].astype(np.float32) / 65535
            on_white = rows[:, :, :3] * opacity + 65535 * (1 - opacity)
            rows[:, :, :3] = np.rint(on_white)
    return np.asarray(pixels[:, :, 2::-1], dtype=np.uint16)


def _turned(pixels: NDArray[Any], orientation: int) -> NDArray[Any]:
    """The stored pixels as seen: EXIF says where the stored row 0 and column 0 belong."""
    if orientation >= 5:
        pixels = pixels.transpose(1, 0, 2)
    if orientation in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    if orientation in (3, 4, 7, 8):
        pixels = pixels[::-1]
    return pixels


def _pixels(image: Image.Image, name: str, doubts: list[Doubt]) -> NDArray[np.uint8]:
    """(H, W, 3) uint8, upright, on white and in sRGB."""
    profile = image.info.get("icc_profile")
    try:
        image.load()
        turn = _orientation(image, [])  # what the decoder has left to do
        image = _laid_on_white(_narrowed(image))
        coded = None if profile else image.info.get("nclx_profile")
        image = _in_srgb(image, profile, doubts)
        pixels = _turned(np.asarray(image), turn)
        # a copy of our own, so that nothing else can write to it
        return np.array(_from_coded(pixels, coded, doubts), dtype=np.uint8, order="C")
    except Image.DecompressionBombError as reason:
        raise _too_large(name) from reason
    except MemoryError as reason:
        raise _too_large(name) from reason
    except Exception as reason:  # decoders raise many kinds on damaged data
        raise _damaged(name) from reason


def _narrowed(image: Image.Image) -> Image.Image:
    """A 16-bit grey picture as 8 bits; Pillow itself would clip instead of scaling."""
    if not image.mode.startswith("I"):
        return image
    grey = np.asarray(image).astype(np.int64)
    narrow = Image.fromarray(np.clip(grey // 257, 0, 255).astype(np.uint8))
    narrow.info = dict(image.info)
    return narrow


def _laid_on_white(image: Image.Image) -> Image.Image:
    if not image.has_transparency_data:
        return image
    white = Image.new("RGBA", image.size, "white")
    white.alpha_composite(image.convert("RGBA"))
    plain = white.convert("RGB")
    plain.info = {k: v for k, v in image.info.items() if k != "transparency"}
    return plain


def _in_srgb(image: Image.Image, profile: bytes | None, doubts: list[Doubt]) -> Image.Image:
    """The picture in sRGB by its own profile (relative colorimetric), or a doubt why not."""
    if image.mode not in ("RGB", "L", "CMYK", "LAB"):
        image = image.convert("RGB")
    if not profile:
        if image.mode == "CMYK":
            doubts.append(doubt("profile-missing"))
        return image if image.mode == "RGB" else image.convert("RGB")
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if image.mode == "L" and source.profile.xcolor_space.strip() == "RGB":
            image = image.convert("RGB")
        converted = ImageCms.profileToProfile(
            image,
            source,
            ImageCms.createProfile("sRGB"),
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
            outputMode="RGB",
        )
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        doubts.append(doubt("profile-ignored"))
        return image.convert("RGB")
    return image if converted is None else converted


def _from_coded(pixels: NDArray[Any], coded: Any, doubts: list[Doubt]) -> NDArray[Any]:
    """The pixels in sRGB by the code of a colour space that a HEIC photo has in place of ICC."""
    try:
        matrix = wide_colours(coded)
    except (ValueError, KeyError, TypeError, np.linalg.LinAlgError):
        doubts.append(doubt("profile-ignored"))
        return pixels
    return pixels if matrix is None else in_srgb(np.ascontiguousarray(pixels), matrix)


def _too_large(name: str) -> BadImage:
    limit = LOAD.largest_pixels // 1_000_000
    return BadImage(f"{name} has more than {limit} million pixels.", "Give it at a smaller size.")


def _damaged(name: str) -> BadImage:
    return BadImage(f"{name} is damaged or incomplete.", "Copy it from the camera again.")
