"""Rulers: their picture, drawn with exact tick positions, and their place on the cloth."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from tests.render import camera as cam
from tests.render.noise import tile
from tests.render.specs import CameraSpec, RulerSpec, linear_from_srgb

BODY = {
    "steel": (196, 198, 200),
    "wood": (214, 178, 116),
    "plastic": (225, 232, 236),
    "tape": (240, 214, 92),
}
TICK_MM = 0.22  # width of a printed or engraved line


METRIC = (7.5, 5.5, 3.5, 2.3)  # mm: ticks of 10, 5, 1 and 1/2 mm
INCHES = (9.5, 7.5, 5.5, 4.2, 3.0, 2.2)  # whole, half, quarter ... inch


def ticks(ruler: RulerSpec) -> list[tuple[float, float, str]]:
    """(mm from the body's start, length in mm, numeral or "") of each tick."""
    metric = ruler.unit == "mm"
    step = 1.0 / ruler.per_mm if metric else 25.4 / ruler.per_inch
    group = 10 * ruler.per_mm if metric else ruler.per_inch
    longest = METRIC[0] if metric else INCHES[0]
    shrink = min(1.0, 0.45 * ruler.width_mm / longest)  # narrow rulers have shorter ticks
    count = int((ruler.length_mm - 2 * ruler.lead_mm) / step + 1e-6)
    written = 10 if metric and ruler.numerals == "mm" else 1
    out = []
    for k in range(count + 1):
        part = k % group
        if metric:
            rank = (
                0 if part == 0 else 1 if part * 2 == group else 2 if part % ruler.per_mm == 0 else 3
            )
            long = METRIC[rank]
        else:
            rank = next(r for r in range(6) if part * 2**r % group == 0)
            long = INCHES[rank]
        numeral = str(k // group * written) if part == 0 else ""
        out.append((ruler.lead_mm + k * step, long * shrink, numeral))
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
        left, top = round(at * res - stamp.width / 2), round((long + 0.8) * res)
        if ruler.numerals_beside:
            left, top = (
                round((at - 0.4) * res - stamp.width),
                round(long * res - 0.6 * stamp.height),
            )
        ink.paste(stamp, (left, top))
    return np.asarray(ink, dtype=np.float32) / 255


def _ink(ruler: RulerSpec, res: float) -> np.ndarray:
    """(h, w) ink of all scales and numerals."""
    ink = np.maximum(_tick_ink(ruler, res), _numerals(ruler, res))
    if ruler.other_unit:
        other = replace(ruler, unit=ruler.other_unit, other_unit="", both_edges=False)
        ink = np.maximum(ink, _ink(other, res)[::-1, ::-1])
    return ink


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
    ink = _ink(ruler, res)[:, :, None]
    body = _body(ruler, ink.shape[:2], res, rng)
    colour = body * (1 - ink) + 0.02 * ink
    clear = 0.45 if ruler.material == "plastic" else 1.0
    opacity = clear + (1 - clear) * ink
    return np.concatenate([colour, opacity], 2).astype(np.float32), res


def over(ruler: RulerSpec, camera: CameraSpec, x, y):
    """Place along (from the body's start) and across (from the tick edge), mm, on the ruler.

    Args:
        ruler: perhaps above the plane.
        camera: that looks at it.
        x: plane mm at which the camera looks; on a raised ruler its view ends before them.
        y: the same.
    """
    a = np.radians(ruler.angle_deg)
    c, s = np.float32(np.cos(a)), np.float32(np.sin(a))
    dx, dy = x - np.float32(ruler.x), y - np.float32(ruler.y)
    along, across = dx * c + dy * s, -dx * s + dy * c
    half, wide = np.float32(ruler.length_mm / 2), np.float32(ruler.width_mm / 2)
    if ruler.height_mm or ruler.lift_mm:
        eye = cam.position(camera) - [ruler.x, ruler.y, 0.0]
        eye_along, eye_across = eye[0] * c + eye[1] * s, -eye[0] * s + eye[1] * c
        # a point of the ray eye + t (plane point - eye) is eye_height (1 - t) above the plane
        rise, run = _slope(ruler)
        base = ruler.height_mm + rise / run * (eye_along + half)
        t = (eye[2] - base) / (eye[2] + rise / run * (along - eye_along))
        along = (eye_along + t * (along - eye_along) + half) / run - half
        across = eye_across + t * (across - eye_across)
    return (along + half).astype(np.float32), (across + wide).astype(np.float32)


def _slope(ruler: RulerSpec) -> tuple[float, float]:
    """Sine and cosine of the angle at which it stands off the plane."""
    rise = ruler.lift_mm / ruler.length_mm
    return rise, float(np.sqrt(1 - rise**2))


def plane_points(ruler: RulerSpec, camera: CameraSpec, along, across) -> np.ndarray:
    """(N, 2) plane mm that the camera sees behind places of the ruler: the reverse of `over`."""
    a = np.radians(ruler.angle_deg)
    rise, run = _slope(ruler)
    along = np.asarray(along, float)
    p = along * run - ruler.length_mm / 2
    q = np.asarray(across, float) - ruler.width_mm / 2
    at = np.stack([ruler.x + p * np.cos(a) - q * np.sin(a),
                   ruler.y + p * np.sin(a) + q * np.cos(a)], -1)  # fmt: skip
    eye = cam.position(camera)
    t = eye[2] / (eye[2] - ruler.height_mm - along * rise)
    return eye[:2] + t[:, None] * (at - eye[:2])


def covered(ruler: RulerSpec, along, across) -> np.ndarray:
    """(N,) how far inside a thing that lies across the ruler: 0 at its rim, 1 in its middle."""
    inside = np.zeros(np.shape(along), np.float32)
    for start, end in ruler.hidden:
        p = (along - (start + end) / 2) / (end - start) * 2
        q = (across - ruler.width_mm / 2) / (ruler.width_mm / 2 + 5)
        inside = np.maximum(inside, 1 - (p**4 + q**4))
    return inside
