"""Rulers: their picture, drawn with exact tick positions, and their place on the cloth."""

from __future__ import annotations

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from tests.render.noise import tile
from tests.render.specs import RulerSpec, linear_from_srgb

BODY = {
    "steel": (196, 198, 200),
    "wood": (214, 178, 116),
    "plastic": (225, 232, 236),
    "tape": (240, 214, 92),
}
TICK_MM = 0.22  # width of a printed or engraved line


def ticks(ruler: RulerSpec) -> list[tuple[float, float, str]]:
    """(mm from the body's start, length in mm, numeral or "") of each tick."""
    step = 1.0 if ruler.unit == "mm" else 25.4 / ruler.per_inch
    group = 10 if ruler.unit == "mm" else ruler.per_inch
    count = int((ruler.length_mm - 2 * ruler.lead_mm) / step + 1e-6)
    out = []
    for k in range(count + 1):
        part = k % group
        numeral = str(k // group) if part == 0 else ""
        if ruler.unit == "mm":
            long = 7.5 if part == 0 else 5.5 if part == 5 else 3.5
        else:
            per = ruler.per_inch
            long = 9.5 if part == 0 else 7.5 if part * 2 == per else 0.0
            long = long or (5.5 if part * 4 % per == 0 else 4.2 if part * 8 % per == 0 else 3.0)
        out.append((ruler.lead_mm + k * step, min(long, 0.45 * ruler.width_mm), numeral))
    return out


def _font(size: int):
    return ImageFont.load_default(size=size)


def _numerals(ruler: RulerSpec, res: float) -> np.ndarray:
    """(h, w) ink 0..1 of the numerals."""
    size = (round(ruler.length_mm * res), round(ruler.width_mm * res))
    ink = Image.new("L", size, 0)
    high = min(0.22 * ruler.width_mm, 5.0)
    font = _font(max(6, round(high * res * 1.35)))
    for at, long, numeral in ticks(ruler):
        if not numeral:
            continue
        x0, y0, x1, y1 = font.getbbox(numeral)
        stamp = Image.new("L", (max(1, round(x1 - x0)), max(1, round(y1 - y0))), 0)
        ImageDraw.Draw(stamp).text((-x0, -y0), numeral, fill=255, font=font)
        if ruler.numerals_flipped:
            stamp = stamp.rotate(180)
        ink.paste(stamp, (round(at * res - stamp.width / 2), round((long + 0.8) * res)))
    return np.asarray(ink, dtype=np.float32) / 255


def _tick_ink(ruler: RulerSpec, res: float) -> np.ndarray:
    """(h, w) ink of the ticks; each texel holds the share of its width that a tick covers."""
    w, h = round(ruler.length_mm * res), round(ruler.width_mm * res)
    ink = np.zeros((h, w), np.float32)
    y = np.arange(h)
    for at, long, _ in ticks(ruler):
        low, high = (at - TICK_MM / 2) * res, (at + TICK_MM / 2) * res
        cells = np.arange(max(0, int(low)), min(w, int(high) + 1))
        cover = np.clip(np.minimum(cells + 1, high) - np.maximum(cells, low), 0, 1)
        tall = np.clip(long * res - y, 0, 1)
        ink[:, cells] = np.maximum(ink[:, cells], tall[:, None] * cover[None, :])
    return np.maximum(ink, ink[::-1]) if ruler.both_edges else ink


def _body(ruler: RulerSpec, shape: tuple[int, int], res: float, rng) -> np.ndarray:
    """(h, w, 3) linear colour of the bare ruler."""
    h, w = shape
    base = linear_from_srgb(BODY[ruler.material]).astype(np.float32)
    grain = np.zeros((h, w), np.float32)
    x = np.arange(w)[None, :] / w
    y = np.arange(h)[:, None] / h
    if ruler.material == "wood":
        grain = 0.09 * _stretched(tile(rng, 512, 1.2, 60.0), shape)
        grain = grain + 0.05 * _stretched(tile(rng, 512, 12.0, 90.0), shape)
    elif ruler.material == "steel":
        grain = 0.03 * _stretched(tile(rng, 512, 0.7, 40.0), shape)
        grain = grain + 0.16 * np.cos(2 * np.pi * (0.8 * x + 0.3 * y + rng.random())) + 0 * y
    elif ruler.material == "tape":
        grain = 0.03 * _stretched(tile(rng, 512, 1.0, 1.0), shape) - 0.08 * (2 * y - 1) ** 2
    edge = np.minimum(np.minimum(y, 1 - y) * ruler.width_mm, 1.0)
    out = base * (1 + grain)[:, :, None] * (0.86 + 0.14 * np.clip(edge * 2, 0, 1))[:, :, None]
    return out.astype(np.float32)


def _stretched(texture: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    h, w = shape
    size = max(h, w, 512)
    big = cv2.resize(texture, (size, size), interpolation=cv2.INTER_LINEAR)
    return big[:h, :w]


def draw(ruler: RulerSpec, px_per_mm: float, rng) -> tuple[np.ndarray, float]:
    """(h, w, 4) linear RGB and opacity of the ruler, and its texels per mm."""
    res = float(np.clip(px_per_mm * 3, 6, 40))
    res = min(res, 24_000 / ruler.length_mm)
    ink = np.maximum(_tick_ink(ruler, res), _numerals(ruler, res))[:, :, None]
    body = _body(ruler, ink.shape[:2], res, rng)
    colour = body * (1 - ink) + 0.02 * ink
    clear = 0.45 if ruler.material == "plastic" else 1.0
    opacity = clear + (1 - clear) * ink
    return np.concatenate([colour, opacity], 2).astype(np.float32), res


def local(ruler: RulerSpec, x, y):
    """Place along (from the body's start) and across (from the tick edge) in mm."""
    a = np.radians(ruler.angle_deg)
    c, s = np.float32(np.cos(a)), np.float32(np.sin(a))
    dx, dy = x - np.float32(ruler.x), y - np.float32(ruler.y)
    along = dx * c + dy * s + np.float32(ruler.length_mm / 2)
    across = -dx * s + dy * c + np.float32(ruler.width_mm / 2)
    return along, across


def plane_points(ruler: RulerSpec, along, across) -> np.ndarray:
    """(N, 2) plane mm of places along and across the ruler: the reverse of `local`."""
    a = np.radians(ruler.angle_deg)
    p = np.asarray(along, float) - ruler.length_mm / 2
    q = np.asarray(across, float) - ruler.width_mm / 2
    return np.stack([ruler.x + p * np.cos(a) - q * np.sin(a),
                     ruler.y + p * np.sin(a) + q * np.cos(a)], -1)  # fmt: skip
