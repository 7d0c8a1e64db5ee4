"""The face of a ruler, its marks drawn exactly."""

from __future__ import annotations

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from .rulers import NARROW, Design

PX = 24  # of the face, per mm
INCH_TICKS = {1: 8.5, 2: 6.5, 4: 5.0, 8: 3.6, 16: 2.4}  # lengths in mm of 1/1, 1/2, 1/4, ... inch


def face(design: Design, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """The face from above, first edge at the top: sRGB 0..1, and where ink (or brass) is, 0..1."""
    w, h = int(design.length * PX), int(design.width * PX)
    ink = np.zeros((h, w), np.float32)
    words = Image.new("L", (w, h))
    draw = ImageDraw.Draw(words)
    for unit, below in ((design.upper, False), (design.lower, True)):
        if unit:
            _scale(ink, draw, design, unit, below)
    if design.maker:
        font = ImageFont.truetype(NARROW, int(2.4 * PX))
        draw.text((w * 0.62, h * 0.5), design.maker, 200, font, anchor="lm")
    cover = np.maximum(ink, np.asarray(words, np.float32) / 255)[..., None]
    ground = np.array(design.ground, np.float32) / 255 * np.ones((h, w, 1), np.float32)
    if design.material == "wood":
        ground = ground * _grain(h, w, rng)
    elif design.material == "steel":
        ground = ground * (1 + 0.03 * rng.standard_normal((h, 1, 1)).astype(np.float32))
    picture = np.clip(ground * (1 - cover) + np.array(design.ink, np.float32) / 255 * cover, 0, 1)
    if not design.brass:
        return picture, cover
    brass = np.zeros((h, w, 1), np.float32)
    brass[: int(design.brass * PX)] = 1
    return picture, brass


def _grain(h: int, w: int, rng) -> np.ndarray:
    lines = cv2.resize(rng.standard_normal((h // 6, w // 400 + 2)).astype(np.float32), (w, h))
    return (1 + 0.06 * lines + 0.02 * cv2.resize(lines[::7, ::3], (w, h)))[..., None]


def _scale(ink: np.ndarray, draw, design: Design, unit: str, below: bool) -> None:
    """Ticks and numerals along one edge, the second where `below`."""
    font = ImageFont.truetype(design.font, int(design.text * PX / 0.73))
    room = design.length - design.margin - 2
    if unit.startswith("in"):
        parts = int(unit[2:])
        for k in range(int(room / (25.4 / parts)) + 1):
            at = design.margin + k * 25.4 / parts
            size = next(INCH_TICKS[d] for d in INCH_TICKS if k * d % parts == 0)
            _tick(ink, design, at, size, below)
            if k % parts == 0 and k:
                _numeral(draw, design, font, k // parts, at, INCH_TICKS[1], below)
        return
    for k in range(0, int(room) + 1, 5 if unit == "half" else 1):
        at = design.margin + k
        size = design.mm[2] if k % 10 == 0 else design.mm[1] if k % 5 == 0 else design.mm[0]
        _tick(ink, design, at, size, below)
        if k % 10 == 0 and (k or design.margin > 3):
            _numeral(draw, design, font, k // 10 * design.per, at, design.mm[2], below)
    if design.line:
        y = int(design.mm[0] * PX)
        rows = slice(-y - 3, -y) if below else slice(y, y + 3)
        ink[rows] = np.maximum(ink[rows], 0.9)


def _tick(ink: np.ndarray, design: Design, at: float, size: float, below: bool) -> None:
    """One tick of `size` mm with its middle exactly `at` mm along, antialiased."""
    lo, hi = (at - design.stroke / 2) * PX, (at + design.stroke / 2) * PX
    first, last = max(0, int(lo)), min(ink.shape[1], int(hi) + 1)
    k = np.arange(first, last)
    part = np.clip(np.minimum(k + 1, hi) - np.maximum(k, lo), 0, 1).astype(np.float32)
    start = int(design.brass * PX)
    rows = slice(-int(size * PX) - 1, None) if below else slice(start, start + int(size * PX))
    ink[rows, first:last] = np.maximum(ink[rows, first:last], part)


def _numeral(draw, design: Design, font, number: int, at: float, size: float, below: bool) -> None:
    """A numeral `at` mm along, beyond ticks of `size` mm."""
    y = (size + design.gap + design.brass) * PX
    if at + 3 >= design.length:  # it would run over the end
        return
    if below:
        draw.text((at * PX, design.width * PX - y), str(number), 255, font, anchor="mb")
    else:
        draw.text((at * PX, y), str(number), 255, font, anchor="mt")
