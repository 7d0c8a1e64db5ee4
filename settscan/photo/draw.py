"""Pictures as bytes, and plain marks drawn on them: lines, boxes, shapes, dots and text.

Positions are picture pixels (x, y), the centre of the top-left pixel at (0, 0); colours are
sRGB, 0 to 255. Nothing here opens a file.
"""

from __future__ import annotations

import math
import struct
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from settscan.files import MADE_HERE
from settscan.photo.flat import FlatCloth, Photo
from settscan.photo.load import encode
from settscan.png_notes import chunk

Picture = NDArray[np.uint8]
Colour = tuple[int, int, int]
Point = tuple[float, float]

_SHIFT = 4  # OpenCV draws at sixteenths of a pixel
_JPEG_QUALITY = 88  # thread texture keeps its look; a third of the size of 95
# Level 1: a photo grows by 3 % over level 4, in two thirds of the time. Runs alone: a fifth less
# time again, and no larger.
_PNG_HOW = [
    cv2.IMWRITE_PNG_COMPRESSION, 1, cv2.IMWRITE_PNG_STRATEGY, cv2.IMWRITE_PNG_STRATEGY_RLE
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line through `points`; `dash` is the length of its dashes, 0 for a whole line."""

    points: tuple[Point, ...]
    colour: Colour
    width: int = 1
    dash: float = 0.0
    opacity: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """An upright box from (left, top) to (right, bottom), edges included.

    `fill` covers it, `hatch` draws slanting lines in it, `edge` goes round it inside.
    """

    left: float
    top: float
    right: float
    bottom: float
    fill: Colour | None = None
    edge: Colour | None = None
    hatch: Colour | None = None
    width: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A filled polygon."""

    points: tuple[Point, ...]
    colour: Colour


@dataclass(frozen=True, slots=True, kw_only=True)
class Dots:
    """Round dots with an optional rim."""

    points: tuple[Point, ...]
    colour: Colour
    radius: float = 2.0
    rim: Colour | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One line of text.

    Attributes:
        at: where its anchor lies.
        size: of the type, pixels.
        anchor: two letters, in the text's own frame: l, m or r (left, middle, right) and
            t, m or b (top of the capitals, their middle, the line they stand on).
        angle: degrees, counter-clockwise about the anchor.
        strong: heavier strokes.
    """

    at: Point
    text: str
    colour: Colour
    size: float = 14.0
    anchor: str = "lm"
    angle: float = 0.0
    strong: bool = False


Mark = Line | Box | Shape | Dots | Text


def draw(picture: Picture, marks: Iterable[Mark]) -> bytes:
    """PNG of the picture (H, W, 3; red first; unchanged) with the marks drawn in their order."""
    return png(drawn(picture, marks))


def drawn(picture: Picture, marks: Iterable[Mark]) -> Picture:
    """A copy of the picture with the marks drawn in their order."""
    canvas = np.array(picture, dtype=np.uint8, order="C")
    for mark in marks:
        match mark:
            case Line():
                _draw_line(canvas, mark)
            case Box():
                _draw_box(canvas, mark)
            case Shape():
                _fill(canvas, mark.points, mark.colour)
            case Dots():
                _draw_dots(canvas, mark)
            case Text():
                _draw_text(canvas, mark)
    return canvas


def png(picture: Picture) -> bytes:
    """PNG of a picture (H, W, 3; red first), with a text that says who made it."""
    data = _encoded(".png", picture, _PNG_HOW)
    text = chunk(b"tEXt", b"Software\x00" + MADE_HERE)
    return data[:33] + text + data[33:]  # after the header


def jpeg(picture: Picture) -> bytes:
    """JPEG of a picture (H, W, 3; red first), with a comment that says who made it."""
    data = _encoded(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY])
    comment = b"\xff\xfe" + struct.pack(">H", len(MADE_HERE) + 2) + MADE_HERE
    first = 4 + int.from_bytes(data[4:6], "big")  # where the segment that must come first ends
    return data[:first] + comment + data[first:]


def flat_jpeg(flat: FlatCloth, longest: int = 1600) -> bytes:
    """JPEG of the flat cloth, in sRGB, its longest side at most `longest` pixels."""
    return jpeg(flat_picture(flat, longest))


def thumbnail_jpeg(photo: Photo, longest: int = 1200) -> bytes:
    """JPEG of the photo, its longest side at most `longest` pixels."""
    return jpeg(thumbnail(photo, longest))


def flat_picture(flat: FlatCloth, longest: int, enlarge: float = 1.0) -> Picture:
    """The flat cloth in sRGB, its longest side `longest` pixels, enlarged `enlarge` at most.

    It is made smaller in linear light, so that fine checks keep their brightness.
    """
    return encode(_resized(flat.pixels, longest, enlarge))


def thumbnail(photo: Photo, longest: int) -> Picture:
    """The photo with 8 bits, its longest side at most `longest` pixels."""
    small = _resized(photo.encoded, longest, 1.0)
    if small.dtype == np.uint16:
        small = (small / 257 + 0.5).astype(np.uint8)
    return np.asarray(small, dtype=np.uint8)


def text_width(text: str, size: float, *, strong: bool = False) -> float:
    """Width in pixels of a line of text as `Text` draws it."""
    return float(_font(size).getlength(plain_letters(text))) + 2 * _stroke(size, strong)


def capital_height(size: float) -> float:
    """Height in pixels of a capital letter."""
    return float(-_font(size).getbbox("H", anchor="ls")[1])


def _resized(pixels: NDArray[Any], longest: int, enlarge: float) -> NDArray[Any]:
    height, width = pixels.shape[:2]
    factor = min(longest / max(height, width), enlarge)
    if factor == 1.0:
        return pixels
    size = (max(1, round(width * factor)), max(1, round(height * factor)))
    how = cv2.INTER_AREA if factor < 1 else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(pixels, size, interpolation=how))


def _encoded(kind: str, picture: Picture, options: list[int]) -> bytes:
    done, data = cv2.imencode(kind, picture[:, :, ::-1], options)
    if not done:
        raise ValueError(f"a picture of shape {picture.shape} cannot be written as {kind}")
    return bytes(data)


def _fixed(points: Iterable[Point], offset: Point = (0.0, 0.0)) -> NDArray[np.int32]:
    """Points less `offset`, in sixteenths of a pixel."""
    array = np.array(tuple(points), dtype=np.float64) - offset
    return np.asarray(np.rint(array * 2**_SHIFT), dtype=np.int32)


def _draw_line(canvas: Picture, line: Line) -> None:
    """Draw on the part of the canvas round the line, so that opacity costs little."""
    points = np.array(line.points, dtype=np.float64)
    room = line.width + 2
    left, top = np.maximum(np.floor(points.min(axis=0)).astype(int) - room, 0)
    right, bottom = np.ceil(points.max(axis=0)).astype(int) + room + 1
    part = canvas[top:bottom, left:right]
    if right <= left or bottom <= top or part.size == 0:
        return
    ink = part.copy()
    pieces = _dashes(points, line.dash) if line.dash > 0 else [points]
    paths = [_fixed(map(tuple, piece), (left, top)) for piece in pieces]
    cv2.polylines(ink, paths, False, line.colour, line.width, cv2.LINE_AA, _SHIFT)
    if line.opacity < 1:
        cv2.addWeighted(ink, line.opacity, part, 1 - line.opacity, 0, dst=ink)
    part[:] = ink


def _dashes(points: NDArray[np.float64], dash: float) -> list[NDArray[np.float64]]:
    """Pieces of `dash` pixels with gaps as long, along each leg of the line."""
    pieces = []
    for start, end in zip(points[:-1], points[1:], strict=True):
        length = float(np.hypot(*(end - start)))
        for at in np.arange(0.0, length, 2 * dash):
            ends = np.array([at, min(at + dash, length)])[:, None] / length
            pieces.append(start + (end - start) * ends)
    return pieces


def _draw_box(canvas: Picture, box: Box) -> None:
    left, top = max(round(box.left), 0), max(round(box.top), 0)
    right, bottom = round(box.right) + 1, round(box.bottom) + 1
    part = canvas[top : max(bottom, 0), left : max(right, 0)]
    if part.size == 0:
        return
    if box.fill is not None:
        part[:] = box.fill
    if box.hatch is not None:
        part[hatching(part.shape[0], part.shape[1])] = box.hatch
    if box.edge is not None:
        for side in (part[: box.width], part[-box.width :]):
            side[:] = box.edge
        for side in (part[:, : box.width], part[:, -box.width :]):
            side[:] = box.edge


def hatching(height: int, width: int, step: int = 8, stroke: int = 2) -> NDArray[np.bool_]:
    """(height, width) True on slanting lines `step` pixels apart."""
    lines = np.add.outer(np.arange(height), np.arange(width)) % step
    return np.asarray(lines < stroke)


def _fill(canvas: Picture, points: tuple[Point, ...], colour: Colour) -> None:
    cv2.fillPoly(canvas, [_fixed(points)], colour, cv2.LINE_AA, _SHIFT)


def _draw_dots(canvas: Picture, dots: Dots) -> None:
    for centre in _fixed(dots.points):
        at = (int(centre[0]), int(centre[1]))
        radius = round(dots.radius * 2**_SHIFT)
        cv2.circle(canvas, at, radius, dots.colour, -1, cv2.LINE_AA, _SHIFT)
        if dots.rim is not None:
            cv2.circle(canvas, at, radius, dots.rim, 1, cv2.LINE_AA, _SHIFT)


@lru_cache(maxsize=32)
def _font(size: float) -> ImageFont.FreeTypeFont:
    """Pillow's own scalable face."""
    font = ImageFont.load_default(size=size)
    if not isinstance(font, ImageFont.FreeTypeFont):
        raise RuntimeError("this Pillow was built without FreeType, so no text can be drawn")
    return font


def plain_letters(text: str) -> str:
    """The text in the letters that the face has: accents dropped, "?" for other scripts."""
    parts = unicodedata.normalize("NFKD", text.replace("\u2013", "-").replace("\u2019", "'"))
    bare = "".join(letter for letter in parts if not unicodedata.combining(letter))
    return "".join(letter if " " <= letter <= "~" else "?" for letter in bare)


def _stroke(size: float, strong: bool) -> float:
    return size / 36 if strong else 0.0


@lru_cache(maxsize=2048)
def _letters(text: str, size: float, strong: bool) -> tuple[NDArray[np.uint8], int]:
    """Coverage (H, W) of a line of text with some room about it, and the row it stands on."""
    font, stroke = _font(size), _stroke(size, strong)
    room = math.ceil(size / 3) + 1
    width = math.ceil(font.getlength(text) + 2 * stroke)
    base = math.ceil(size) + room
    image = Image.new("L", (width + 2 * room, base + room), 0)
    ImageDraw.Draw(image).text(
        (room + stroke, base), text, fill=255, font=font, anchor="ls", stroke_width=stroke
    )
    return np.asarray(image), base


def _draw_text(canvas: Picture, mark: Text) -> None:
    if not mark.text.strip():
        return
    cover, base = _letters(plain_letters(mark.text), mark.size, mark.strong)
    height, width = cover.shape
    room = math.ceil(mark.size / 3) + 1
    x = {"l": room, "m": width / 2, "r": width - room}[mark.anchor[0]]
    rise = {"t": 1.0, "m": 0.5, "b": 0.0}[mark.anchor[1]] * capital_height(mark.size)
    from_middle = (x - width / 2, base - rise - height / 2)
    turn = math.radians(mark.angle)
    cos, sin = math.cos(turn), math.sin(turn)
    moved = (
        from_middle[0] * cos + from_middle[1] * sin,
        -from_middle[0] * sin + from_middle[1] * cos,
    )
    if mark.angle % 360:
        image = Image.fromarray(cover).rotate(mark.angle, Image.Resampling.BICUBIC, expand=True)
        cover = np.asarray(image)
    height, width = cover.shape
    left = round(mark.at[0] - moved[0] - width / 2)
    top = round(mark.at[1] - moved[1] - height / 2)
    _blend(canvas, cover, left, top, mark.colour)


def _blend(canvas: Picture, cover: NDArray[np.uint8], left: int, top: int, colour: Colour) -> None:
    """Lay a colour on the canvas where `cover` (H, W) has ink, as far as it lies on it."""
    height, width = canvas.shape[:2]
    x0, y0 = max(left, 0), max(top, 0)
    x1, y1 = min(left + cover.shape[1], width), min(top + cover.shape[0], height)
    if x1 <= x0 or y1 <= y0:
        return
    ink = cover[y0 - top : y1 - top, x0 - left : x1 - left, None].astype(np.float32) / 255
    part = canvas[y0:y1, x0:x1]
    part[:] = np.rint(part * (1 - ink) + np.array(colour, dtype=np.float32) * ink)
