"""How the lying cloth departs from a plane grid: drape, bow, skew, folds, threads that sway."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.render.noise import TILE, smooth_field
from tests.render.specs import ClothSpec, LightSpec


@dataclass(frozen=True, slots=True)
class Bend:
    """Coarse grids over the plane.

    Attributes:
        left, top, step: mm of the first grid point, and spacing.
        shift: (h, w, 2) added to plane mm to give material mm.
        shade: (h, w) factor on the light.
    """

    left: float
    top: float
    step: float
    shift: np.ndarray
    shade: np.ndarray


def lay_bend(spec: ClothSpec, box: tuple[float, float, float, float], light: LightSpec, rng):
    """Drape, bow, skew and folds over the plane box (left, top, right, bottom) in mm."""
    left, top, right, bottom = box
    step = max(spec.drape_scale_mm / 8, max(right - left, bottom - top) / 400)
    if spec.folds:
        step = min(step, min(f.width_mm for f in spec.folds) / 4)
    w, h = int((right - left) / step) + 2, int((bottom - top) / step) + 2
    x = left + step * np.arange(w)[None, :]
    y = top + step * np.arange(h)[:, None]
    corr = spec.drape_scale_mm / step
    shift = np.stack([spec.drape_mm * smooth_field(rng, (h, w), corr) for _ in range(2)], -1)
    height = smooth_field(rng, (h, w), corr)
    slope = np.stack(np.gradient(height), -1) * corr
    a = np.radians(light.azimuth_deg)
    steep = min(0.08, 0.05 * spec.drape_mm)
    shade = 1 - steep * (slope[..., 1] * np.cos(a) + slope[..., 0] * np.sin(a))
    centred = (x - spec.centre_mm[0]) / spec.bow_span_mm * 2
    bow = spec.bow_mm * (1 - centred**2) + np.tan(np.radians(spec.skew_deg)) * x + 0 * y
    if spec.warp_across:
        centred = (y - spec.centre_mm[1]) / spec.bow_span_mm * 2
        bow = spec.bow_mm * (1 - centred**2) + np.tan(np.radians(spec.skew_deg)) * y + 0 * x
    shift[..., 0 if spec.warp_across else 1] -= bow
    for fold in spec.folds:
        across = np.radians(fold.angle_deg + 90)
        d = ((x - fold.x) * np.cos(across) + (y - fold.y) * np.sin(across)) / fold.width_mm
        lost = fold.swallow_mm * 0.5 * np.tanh(2 * d)
        shift += lost[..., None] * np.array([np.cos(across), np.sin(across)])
        facing = np.cos(across - a)
        shade = shade * (1 - fold.depth * facing * 2.3 * d * np.exp(-2 * d**2))
    return Bend(left, top, step, shift.astype(np.float32), shade.astype(np.float32))


def _bilinear(grid: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Values of a (h, w) or (h, w, n) grid between its points, held beyond its borders.

    Written out because cv2.remap rounds places to 1/32 of a step, which would show as stairs.
    """
    h, w = grid.shape[:2]
    x, y = np.clip(x, 0, w - 1.001), np.clip(y, 0, h - 1.001)
    j, i = x.astype(np.int32), y.astype(np.int32)
    fx, fy = x - j, y - i
    if grid.ndim == 3:
        fx, fy = fx[..., None], fy[..., None]
    upper = grid[i, j] * (1 - fx) + grid[i, j + 1] * fx
    lower = grid[i + 1, j] * (1 - fx) + grid[i + 1, j + 1] * fx
    return upper * (1 - fy) + lower * fy


def to_material(laid, x: np.ndarray, y: np.ndarray):
    """Material mm (u, v) and light factor of plane mm (any shape, float64)."""
    bend = laid.bend
    gx, gy = (x - bend.left) / bend.step, (y - bend.top) / bend.step
    shift = _bilinear(bend.shift, gx, gy)
    u, v = x + shift[..., 0], y + shift[..., 1]
    sway = laid.spec.waviness
    if sway:
        # Threads drift sideways together with their neighbours, and not for long.
        a, b = (u / laid.columns.pitch) % TILE, (v / laid.rows.pitch) % TILE
        drift_x = _bilinear(laid.tiles["sway_x"], a, b)
        drift_y = _bilinear(laid.tiles["sway_y"], a, b)
        u = u + sway * laid.columns.pitch * np.clip(drift_x, -2.5, 2.5)
        v = v + sway * laid.rows.pitch * np.clip(drift_y, -2.5, 2.5)
    return u, v, _bilinear(bend.shade, gx, gy)


def to_plane(laid, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """(N, 2) plane mm of material mm (N,): the displacement undone by repeated correction."""
    x, y = np.asarray(u, np.float64).copy(), np.asarray(v, np.float64).copy()
    for _ in range(15):
        mu, mv, _ = to_material(laid, x, y)
        x += u - mu
        y += v - mv
        if max(np.abs(u - mu).max(), np.abs(v - mv).max()) < 1e-4:
            break
    return np.stack([x, y], -1)
