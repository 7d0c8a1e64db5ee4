"""Where the threads of a cloth lie and cross, and the waves of the cloth as a whole.

Lengths are in mm, x to the right and y upwards on the table, z towards the camera. Ends run along
y and picks along x; a pitch is the mean way from one thread to the next.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from . import noise
from .weave import threads_of, warp_above

Height = Callable[[np.ndarray, np.ndarray], np.ndarray]
Box = tuple[float, float, float, float]  # left, right, bottom, top in mm


@dataclass
class Grid:
    """The crossings of a cloth.

    Attributes:
        x, y: (ends, picks) their places in mm; picks are numbered downwards.
        above: (ends, picks) whether the end lies above the pick.
        ends, picks: the yarn letter of each thread.
        pitch: of the ends and of the picks in mm.
    """

    x: np.ndarray
    y: np.ndarray
    above: np.ndarray
    ends: np.ndarray
    picks: np.ndarray
    pitch: tuple[float, float]


def linear(srgb) -> np.ndarray:
    """Linear reflectance of an sRGB colour 0..255."""
    v = np.asarray(srgb, float) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def lay(spec: dict, box: Box, rng: np.random.Generator) -> Grid:
    """Ends and picks that fill a box, unevenly as by hand."""
    left, right, bottom, top = box
    pitch = 25.4 / spec["epi"], 25.4 / spec["ppi"]
    shape = int((right - left) / pitch[0]) + 1, int((top - bottom) / pitch[1]) + 1
    ends = threads_of(spec["warp"], spec["warp_kind"], shape[0], spec["warp_phase"])
    picks = threads_of(spec["weft"], spec["weft_kind"], shape[1], spec["weft_phase"])
    # The reed holds ends apart whatever their size; picks are beaten up to one another.
    x = _places(left, right, sizes(ends, spec) ** 0.3, spec, rng)
    y = -_places(-top, -bottom, sizes(picks, spec) ** 0.8, spec, rng)
    grid_x = x[:, None] + pitch[0] * _sway(shape, spec, rng)
    grid_y = y[None, :] + pitch[1] * _sway(shape[::-1], spec, rng).T
    off = x - x.mean()
    across = off / max(np.ptp(x), 1)
    grid_y = grid_y + (spec["bow"] * pitch[1] * 4 * across**2)[:, None]
    grid_y = grid_y + spec["skew"] * off[:, None]
    above = warp_above(spec["weave"], *shape, turn=spec["turn"])
    if "hopsack" in spec["weave"]:  # threads that go side by side draw together
        grid_x = grid_x + pitch[0] * 0.08 * _by_turns(shape[0])[:, None]
        grid_y = grid_y - pitch[1] * 0.08 * _by_turns(shape[1])[None, :]
    above ^= rng.random(above.shape) < spec["flaws"]
    return Grid(grid_x, grid_y, above, ends, picks, pitch)


def sizes(letters: np.ndarray, spec: dict) -> np.ndarray:
    """(threads,) how thick each thread is beside the common one."""
    return np.array([spec["yarns"][key].get("size", 1.0) for key in letters])


def _by_turns(n: int) -> np.ndarray:
    return np.where(np.arange(n) % 2 == 0, 1, -1)


def _places(low: float, high: float, room: np.ndarray, spec: dict, rng) -> np.ndarray:
    """(threads,) mm: spacing drifts slowly, and each thread is a little off.

    Args:
        low: left or upper edge of the cloth in mm.
        high: right or lower edge.
        room: share of the way that each thread takes.
        spec: of the scene.
        rng: random numbers.
    """
    n = len(room)
    pitch = (high - low) / n
    drift = spec["uneven"] * noise.along(rng, (1, n), spec["uneven_reach"])[0]
    steps = room * np.clip(1 + drift, 0.75, 1.3)
    at = low + np.cumsum(steps) * (high - low) / steps.sum()
    return at + pitch * spec["jitter"] * rng.standard_normal(n)


def _sway(shape: tuple[int, int], spec: dict, rng) -> np.ndarray:
    """(threads, crossings) sideways wander in pitches, shared by neighbours and each its own."""
    shared = spec["sway"] * noise.field(rng, shape, 70)
    own = spec["wander"] * noise.along(rng, shape, 14)
    return shared + own


def surface(spec: dict, rng: np.random.Generator, width: float) -> Height:
    """The height in mm of the cloth's middle at x, y: soft waves, flat under the ruler.

    Args:
        spec: of the scene, with `flat_line` (x, y, cos, sin, half width) of a ruler and
            `hem_line` (y of its inner edge, thickness) where there are any.
        rng: random numbers.
        width: of what the photo shows, in mm.
    """
    waves = [(rng.uniform(0, 6.3), rng.uniform(0, 6.3), rng.uniform(0.7, 1.6)) for _ in range(4)]
    flat = spec.get("flat_line")

    def height(x, y):
        z = 0.0
        for angle, phase, rate in waves:
            way = x * np.cos(angle) + y * np.sin(angle)
            z = z + np.sin(way * 2 * np.pi * rate / spec["wave_mm"] + phase) / 4
        z = spec["wave"] * (z + 1) / 2
        if spec["crease"]:
            high, angle, at, reach = spec["crease"]
            off = x * np.cos(angle) + y * np.sin(angle) - at * width
            z = z + high * np.exp(-np.sqrt(off**2 + (0.15 * reach) ** 2) / reach)
        if flat is not None:
            off = np.abs(-(x - flat[0]) * flat[3] + (y - flat[1]) * flat[2]) - flat[4]
            part = np.clip(off / (0.12 * width), 0, 1)
            z = z * part * part * (3 - 2 * part)
        if spec.get("hem_line"):
            inner, layer = spec["hem_line"]
            z = z + layer / (1 + np.exp((y - inner) / (0.35 * layer)))
        return z

    return height
