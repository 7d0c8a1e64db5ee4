"""Several cloths in one photo, such as a page of swatches, told from what they lie on.

What they lie on reaches the edges of the photo, is of one colour or one texture, and goes on
between the cloths. So the frame of the photo says what it looks like, and every part that differs
from it, stands alone and is about a rectangle is a cloth. If the frame is not of one kind, the
photo is taken for a single cloth that fills it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import CardFound, Mask, Photo, RulerFound
from settscan.photo.load import encode
from settscan.photo.source import reduced_light
from settscan.settings import PIECES, PieceSettings

Array = NDArray[np.float64]
Box = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Blocks:
    """A photo in blocks of `side` pixels.

    Attributes:
        looks: (h, w, 4) lightness, two colours (CIELAB) and texture (log) of each block.
        hidden: (h, w) True where a ruler or card lies.
    """

    looks: Array
    hidden: Mask
    side: int


def find_pieces(
    photo: Photo, outlines: Sequence[Array] = (), s: PieceSettings = PIECES
) -> tuple[Box, ...]:
    """The cloths in a photo as boxes with a margin of what they lie on; none if there is one only.

    Args:
        photo: as loaded.
        outlines: (4, 2) corners of rulers and cards in photo pixels, which are no cloths.
        s: settings.

    Returns:
        (left, top, right, bottom) in pixels, right and bottom not included, in rows from the top,
        each from the left; empty unless two or more cloths lie apart.
    """
    blocks = _blocks(photo, outlines, s)
    strange = _unlike_the_frame(blocks, s)
    if strange is None:
        return ()
    boxes = _rectangles(strange, blocks, s)
    if len(boxes) < 2:
        return ()
    return _in_rows([_with_margin(box, boxes, photo, s) for box in boxes])


def part_of(photo: Photo, box: Box) -> Photo:
    """The part of a photo within a box; it remembers where the camera's axis was."""
    left, top, right, bottom = box
    encoded = photo.encoded[top:bottom, left:right].copy()
    encoded.flags.writeable = False
    x, y = photo.lens_axis
    return replace(
        photo, encoded=encoded, axis_px=(x - left, y - top), reach_px=photo.half_diagonal
    )


def moved_ruler(ruler: RulerFound, box: Box) -> RulerFound:
    """A ruler of the photo in the pixels of a part of it."""
    offset = np.array(box[:2], dtype=np.float64)
    return replace(
        ruler,
        origin_px=ruler.origin_px - offset,
        ticks_px=ruler.ticks_px - offset,
        outline_px=ruler.outline_px - offset,
    )


def moved_card(card: CardFound, box: Box) -> CardFound:
    """A card of the photo in the pixels of a part of it."""
    shift = np.eye(3)
    shift[:2, 2] = -box[0], -box[1]
    return replace(
        card,
        mm_to_photo=shift @ card.mm_to_photo,
        outline_px=card.outline_px - np.array(box[:2], dtype=np.float64),
    )


def _blocks(photo: Photo, outlines: Sequence[Array], s: PieceSettings) -> _Blocks:
    """Mean colour and texture of blocks, the texture at the photo's own sharpness."""
    side = max(1, max(photo.width, photo.height) // s.blocks)
    light = reduced_light(photo, side)
    lab = cv2.cvtColor(encode(light).astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    height, width = light.shape[:2]
    texture = np.empty((height, width))
    rows = 64  # blocks at a time, to bound the memory
    for top in range(0, height, rows):
        bottom = min(top + rows, height)
        part = photo.encoded[top * side : bottom * side, : width * side, 1].astype(np.float32)
        rough = np.abs(cv2.Laplacian(part, cv2.CV_32F)) / np.iinfo(photo.encoded.dtype).max
        texture[top:bottom] = rough.reshape(bottom - top, side, width, side).mean(axis=(1, 3))
    hidden = np.zeros((height, width), np.uint8)
    for outline in outlines:
        corners = np.asarray(outline, dtype=np.float64).reshape(-1, 2) / side
        cv2.fillConvexPoly(hidden, np.rint(corners).astype(np.int32), 1)
    grown = cv2.dilate(hidden, np.ones((2 * s.clear + 1,) * 2, np.uint8))
    looks = np.dstack([lab.astype(np.float64), s.texture_weight * np.log(texture + 1e-3)])
    return _Blocks(looks=looks, hidden=grown > 0, side=side)


def _unlike_the_frame(blocks: _Blocks, s: PieceSettings) -> Mask | None:
    """True where blocks differ from the frame of the photo; None if that is of no one kind."""
    height, width = blocks.hidden.shape
    y, x = np.mgrid[:height, :width]
    edge = np.minimum.reduce([x, y, width - 1 - x, height - 1 - y])
    frame = (edge < s.frame) & ~blocks.hidden
    if frame.sum() < s.least_frame:
        return None
    terms = np.stack([np.ones_like(x), x / width - 0.5, y / height - 0.5], axis=-1).astype(float)
    kept = frame
    for _ in range(s.rounds):  # light that falls off is a slope over the picture
        slope = np.linalg.lstsq(terms[kept], blocks.looks[kept], rcond=None)[0]
        rest = blocks.looks - terms @ slope
        spread = 1.4826 * np.median(np.abs(rest[kept]), axis=0)  # a normal's standard deviation
        if (spread > s.most_spread).any():
            return None
        spread = np.maximum(spread, s.least_spread)
        far = np.sqrt(((rest / spread) ** 2).sum(axis=-1))
        kept = frame & (far < s.unlike)
        if kept.sum() < s.one_kind * frame.sum():
            return None
    return np.asarray((far > _parting(far[~blocks.hidden], s)) & ~blocks.hidden)


def _parting(far: Array, s: PieceSettings) -> float:
    """How far from the frame's kind a cloth is: where two kinds part best (Otsu 1979).

    Shadows beside the cloths differ from the ground too, but less than the cloths do.
    """
    steps = np.clip(far / s.farthest * 255, 0, 255).astype(np.uint8)
    best, _ = cv2.threshold(steps.reshape(-1, 1), 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    return float(np.clip(best / 255 * s.farthest, s.unlike, s.surely_unlike))


def _rectangles(strange: Mask, blocks: _Blocks, s: PieceSettings) -> list[Box]:
    """Boxes (in pixels) of the parts that stand alone and are about rectangles."""
    close, clear = (
        cv2.getStructuringElement(cv2.MORPH_RECT, (2 * n + 1,) * 2) for n in (s.close, s.clear)
    )
    shape = cv2.morphologyEx(_without_holes(strange.astype(np.uint8)), cv2.MORPH_OPEN, clear)
    shape = cv2.morphologyEx(shape, cv2.MORPH_CLOSE, close)
    outer, _ = cv2.findContours(shape, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    height, width = shape.shape
    boxes: list[Box] = []
    for contour in outer:
        points = np.asarray(contour, dtype=np.float32).reshape(-1, 2)
        (_, _), (long, short), _ = cv2.minAreaRect(points)
        long, short = max(long, short) + 1, min(long, short) + 1
        left, top = points.min(axis=0).astype(int)
        right, bottom = points.max(axis=0).astype(int) + 1
        alone = left > 0 and top > 0 and right < width and bottom < height
        filled = cv2.contourArea(points) / (long * short)
        large = short * blocks.side >= s.least_side_px and long * short > s.least_share * shape.size
        if alone and large and long < s.longest * short and filled > s.least_filled:
            left, top, right, bottom = (int(v) * blocks.side for v in (left, top, right, bottom))
            boxes.append((left, top, right, bottom))
    return boxes


def _without_holes(shape: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The shape with everything filled that it encloses."""
    outer, _ = cv2.findContours(shape, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return np.asarray(cv2.drawContours(np.zeros_like(shape), outer, -1, 1, cv2.FILLED))


def _with_margin(box: Box, boxes: list[Box], photo: Photo, s: PieceSettings) -> Box:
    """The box with some of what the cloth lies on, but nothing of the other cloths."""
    left, top, right, bottom = box
    room = s.margin * min(right - left, bottom - top)
    for other in boxes:
        if other is not box:
            gap = max(other[0] - right, left - other[2], other[1] - bottom, top - other[3])
            room = min(room, max(0, gap) * 0.5)
    more = int(room)
    return (
        max(0, left - more), max(0, top - more),
        min(photo.width, right + more), min(photo.height, bottom + more),
    )  # fmt: skip


def _in_rows(boxes: list[Box]) -> tuple[Box, ...]:
    """As one reads: a box belongs to the row of the first one left whose height it shares."""
    waiting, ordered = sorted(boxes, key=lambda b: (b[1], b[0])), []
    while waiting:
        first = waiting[0]
        row = [b for b in waiting if (b[1] + b[3]) / 2 < first[3]]
        ordered += sorted(row, key=lambda b: b[0])
        waiting = [b for b in waiting if b not in row]
    return tuple(ordered)
