"""Yarns as geometry: each end and pick a tube that goes over and under the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import noise
from .cloth import Grid, Height, linear, sizes


@dataclass
class Mesh:
    """Triangles.

    Attributes:
        points: (n, 3) mm.
        faces: (m, 3) indices of points.
        colours: (n, 3) linear reflectance at each point.
    """

    points: np.ndarray
    faces: np.ndarray
    colours: np.ndarray


def tubes(grid: Grid, spec: dict, height: Height, rng, warp: bool) -> tuple[Mesh, np.ndarray]:
    """All ends (or picks) as tubes; also their (threads, samples, 3) middles in mm."""
    gx, gy, up = (grid.x, grid.y, grid.above) if warp else (grid.x.T, grid.y.T, ~grid.above.T)
    letters = grid.ends if warp else grid.picks
    pitch, other = grid.pitch if warp else grid.pitch[::-1]
    fill, other_fill = spec["fill"], spec["weft_fill"]
    if not warp:
        fill, other_fill = other_fill, fill
    thick, other_thick = pitch * fill * spec["flat"] / 2, other * other_fill * spec["flat"] / 2
    share = spec["crimp"] if warp else 1 - spec["crimp"]
    lift = (thick + other_thick) * share * (2 * up - 1.0)
    gx, gy, lift = _ended(gx, gy, lift, (pitch, other), spec, rng, warp)
    middle, along_mm = _middles(gx, gy, lift, spec["rings"], height, warp)
    size = _thickness(letters, middle.shape[1], spec, rng)
    theta = np.linspace(0, 2 * np.pi, spec["sides"], endpoint=False)
    turn = 2 * np.pi * along_mm / (spec["twist"] * pitch) + rng.uniform(0, 6.3, (len(middle), 1))
    lobes = theta[None, None, :] + (1 if spec["ply_twist"] == "S" else -1) * turn[..., None]
    radius = size[..., None] * np.ones(spec["sides"])
    if spec["plies"] == 2:
        radius = radius * (1.08 - spec["groove"] * (1 - np.abs(np.cos(lobes))))
    radius = radius * (1 + spec["rough"] * rng.standard_normal(radius.shape).astype(np.float32))
    points = sweep(middle, radius, theta, pitch * fill / 2, thick)
    colours = _paint(letters, spec, lobes, rng)
    mesh = Mesh(points.reshape(-1, 3), faces_of(*lobes.shape), colours.reshape(-1, 3))
    return mesh, middle


def _thickness(letters: np.ndarray, length: int, spec: dict, rng) -> np.ndarray:
    """(threads, samples) thickness beside the common one: slubs, and each thread its own."""
    n = len(letters)
    size = 1 + spec["slub"] * noise.along(rng, (n, length), spec["rings"] * 9)
    size = size * (1 + spec["thread_size"] * rng.standard_normal((n, 1)))
    return np.clip(size, 0.55, 1.6) * sizes(letters, spec)[:, None]


def _ended(gx, gy, lift, pitches: tuple[float, float], spec: dict, rng, warp: bool):
    """Places of crossings, led on past the last where an edge of the cloth shows.

    Args:
        gx: (threads, crossings) x in mm.
        gy: the same for y.
        lift: and for the height above the cloth's middle.
        pitches: of these threads and of those that cross them, in mm.
        spec: of the scene; its `edges` say what kind each edge is.
        rng: random numbers.
        warp: whether these threads are ends.
    """
    for at_end, name in enumerate(("top", "bottom") if warp else ("left", "right")):
        kind = spec["edges"].get(name)
        if kind is None:
            continue
        away, across, up = _led_on(len(gx), kind, at_end, pitches, spec["fringe_mm"], rng)
        sign = (-1 if warp else 1) * (1 if at_end else -1)
        edge = -1 if at_end else 0
        more_x = gx[:, [edge]] + (across if warp else sign * away)
        more_y = gy[:, [edge]] + (sign * away if warp else across)
        pairs = ((gx, more_x), (gy, more_y), (lift, up))
        if at_end:
            gx, gy, lift = (np.concatenate([old, new], 1) for old, new in pairs)
        else:
            gx, gy, lift = (np.concatenate([new[:, ::-1], old], 1) for old, new in pairs)
    return gx, gy, lift


def _led_on(n: int, kind: str, at_end: int, pitches, fringe_mm: float, rng):
    """(threads, steps) mm away from the edge, along it, and up, of threads led past it."""
    pitch, other = pitches
    if kind == "selvedge":  # neighbours meet, as one pick turns into the next
        by_turns = np.where((np.arange(n) + at_end) % 2 == 0, -1, 1)
        return np.full((1, 1), other * 0.75), pitch * 0.42 * by_turns[:, None], np.zeros((n, 1))
    count = max(2, int(fringe_mm / other))
    away = other * np.arange(1, count + 1)[None, :]
    drift = rng.standard_normal((n, count)) * 0.22 + 0.12 * rng.standard_normal((n, 1))
    away = away * rng.uniform(0.7, 1.1, (n, 1))
    return away, pitch * np.cumsum(drift, 1), pitch * 0.2 * rng.standard_normal((n, count))


def _middles(gx, gy, lift, rings: int, height: Height, warp: bool):
    """(threads, samples, 3) middles of tubes, and (threads, samples) the way along them, in mm.

    Args:
        gx: (threads, crossings) x in mm.
        gy: the same for y.
        lift: and for the height above the cloth's middle.
        rings: samples from one crossing to the next.
        height: of the cloth.
        warp: whether these threads are ends.
    """
    n, crossings = gx.shape
    k = np.arange((crossings - 1) * rings + 1)
    j = np.minimum(k // rings, crossings - 2)
    part = (k - j * rings) / rings
    soft = 0.5 - 0.5 * np.cos(np.pi * part)

    def between(a, w):
        return a[:, j] * (1 - w) + a[:, j + 1] * w

    x = between(gx, soft if warp else part)
    y = between(gy, part if warp else soft)
    middle = np.stack([x, y, between(lift, soft) + height(x, y)], -1)
    steps = np.linalg.norm(np.diff(middle, axis=1), axis=-1)
    return middle, np.concatenate([np.zeros((n, 1)), np.cumsum(steps, 1)], 1)


def sweep(middle, radius, theta, wide: float, thick: float) -> np.ndarray:
    """(threads, samples, sides, 3) points around the middles, square to the way of the yarn.

    Args:
        middle: (threads, samples, 3) mm.
        radius: (threads, samples, sides) beside the common one.
        theta: (sides,) angles around the yarn in radians.
        wide: half the yarn's width in mm.
        thick: half its height.
    """
    way = np.gradient(middle, axis=1)
    way /= np.linalg.norm(way, axis=-1, keepdims=True)
    side = np.cross(way, [0.0, 0, 1.0])
    side /= np.linalg.norm(side, axis=-1, keepdims=True)
    out = np.cross(side, way)
    c = (radius * np.cos(theta) * wide)[..., None]
    s = (radius * np.sin(theta) * thick)[..., None]
    return (middle[:, :, None] + c * side[:, :, None] + s * out[:, :, None]).astype(np.float32)


def faces_of(n: int, length: int, sides: int) -> np.ndarray:
    """(m, 3) triangles of n tubes with so many samples and sides."""
    a = np.arange(n)[:, None, None] * length * sides
    k = np.arange(length - 1)[None, :, None] * sides
    s = np.arange(sides)[None, None, :]
    p, q = a + k + s, a + k + (s + 1) % sides
    first = np.stack(np.broadcast_arrays(p, q, p + sides), -1)
    second = np.stack(np.broadcast_arrays(q, q + sides, p + sides), -1)
    return np.concatenate([first.reshape(-1, 3), second.reshape(-1, 3)]).astype(np.uint32)


def _paint(letters: np.ndarray, spec: dict, lobes: np.ndarray, rng) -> np.ndarray:
    """(threads, samples, sides, 3) reflectance: dye lots, heather, marl and the twist's shade.

    Args:
        letters: (threads,) the yarn of each.
        spec: of the scene.
        lobes: (threads, samples, sides) angle around the yarn from its first ply, in radians.
        rng: random numbers.
    """
    n, length, sides = lobes.shape
    rings = spec["rings"]
    out = np.empty((n, length, sides, 3), np.float32)
    for key in np.unique(letters):
        yarn = spec["yarns"][key]
        rows = np.flatnonzero(letters == key)
        base, other = linear(yarn["srgb"]), linear(yarn.get("alt", yarn["srgb"]))
        size, shape = (len(rows), length), (len(rows), length, sides)
        mix = np.zeros(shape, np.float32)
        if yarn.get("how") == "melange":
            mix = noise.along(rng, size, rings * 0.7)[..., None] + 0.8 * rng.standard_normal(shape)
            mix = np.clip(yarn["amount"] + 0.45 * mix, 0, 1)
        elif yarn.get("how") == "marl":
            mix = (np.cos(lobes[rows]) > 0).astype(np.float32)
        colour = base + (other - base) * mix[..., None]
        shade = 1 + spec["dye_along"] * noise.along(rng, size, rings * 25)[..., None]
        shade = shade * (1 + spec["dye_thread"] * rng.standard_normal((len(rows), 1, 1)))
        shade = shade * (1 - spec["stripe"] * (0.5 + 0.5 * np.cos(2 * lobes[rows])))
        shade = shade * (1 + 0.05 * rng.standard_normal(shape))
        out[rows] = colour * np.clip(shade, 0.3, 1.8)[..., None]
    return np.clip(out, 0.004, 0.92)
