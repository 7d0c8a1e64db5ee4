"""What stands off the yarns: loose fibres, and the stitches of a hem."""

from __future__ import annotations

import numpy as np

from .cloth import Box, Height, linear
from .tubes import Mesh, faces_of, sweep

POINTS = 5  # along a fibre


def fibres(mesh: Mesh, middle: np.ndarray, spec: dict, count: int, rng) -> Mesh:
    """Loose fibres that stand or lie off the tubes: thin three-sided tubes.

    Args:
        mesh: of the yarns.
        middle: (threads, samples, 3) their middles in mm.
        spec: of the scene.
        count: of the fibres.
        rng: random numbers.
    """
    n, length = middle.shape[:2]
    sides = spec["sides"]
    points = mesh.points.reshape(n, length, sides, 3)
    i, k = rng.integers(0, n, count), rng.integers(0, length, count)
    s = rng.integers(0, sides // 2 + 1, count)  # the upper half
    start, root = points[i, k, s], middle[i, k]
    out = start - root
    out /= np.linalg.norm(out, axis=1, keepdims=True) + 1e-9
    angle = rng.uniform(0, 2 * np.pi, count)
    if spec["nap"] is not None:
        angle = np.radians(spec["nap"]) + 0.5 * rng.standard_normal(count)
    flat = np.stack([np.cos(angle), np.sin(angle), np.zeros(count)], 1)
    stand = rng.uniform(0.05, spec["stand"], (count, 1))
    long = spec["fibre_mm"] * rng.gamma(3, 1 / 3, (count, 1))
    curl = rng.standard_normal((count, 3)) * 0.5
    t = np.linspace(0, 1, POINTS)[None, :, None]
    way = (flat + out * stand)[:, None] * t + curl[:, None] * t**2 * 0.5
    way[..., 2] = np.maximum(way[..., 2], 0) * (1 - 0.5 * t[..., 0])
    centre = start[:, None] + way * long[:, None]
    theta = np.array([0, 2.1, 4.2])
    thin = np.full((count, POINTS, 3), 1.0) * rng.uniform(0.7, 1.4, (count, 1, 1))
    body = sweep(centre, thin, theta, spec["fibre_r"], spec["fibre_r"])
    colour = mesh.colours.reshape(n, length, sides, 3)[i, k, s]
    colour = colour * rng.uniform(0.8, 1.35, (count, 1))
    colours = np.repeat(np.clip(colour, 0.004, 0.92), POINTS * 3, 0).astype(np.float32)
    return Mesh(body.reshape(-1, 3), faces_of(count, POINTS, 3), colours)


def stitches(inner: float, box: Box, height: Height, pitch: float, srgb, rng) -> Mesh:
    """A row of running stitches along a hem.

    Args:
        inner: y of the hem's inner edge in mm.
        box: of the cloth in mm.
        height: of the cloth.
        pitch: of the ends in mm.
        srgb: colour of the sewing thread, 0..255.
        rng: random numbers.
    """
    starts = np.arange(box[0], box[1], 5.5 * pitch)
    x = starts[:, None] + np.linspace(0, 3.2 * pitch, 7)[None]
    x = x + 0.3 * pitch * rng.standard_normal((len(starts), 1))
    slant = np.stack([np.linspace(1, 0, 7), np.linspace(0, 1, 7)])
    y = np.full_like(x, inner - 1.5 * pitch)
    y = y + 0.25 * pitch * rng.standard_normal((len(starts), 2)) @ slant
    lift = pitch * (0.75 - 1.1 * np.abs(np.linspace(-1, 1, 7)) ** 4)
    middle = np.stack([x, y, height(x, y) + lift], -1)
    theta = np.linspace(0, 2 * np.pi, 8, endpoint=False)
    points = sweep(middle, np.ones((*x.shape, 8)), theta, 0.22 * pitch, 0.2 * pitch)
    colours = np.tile(linear(srgb), (points.size // 3, 1)).astype(np.float32)
    return Mesh(points.reshape(-1, 3), faces_of(*x.shape, 8), colours)
