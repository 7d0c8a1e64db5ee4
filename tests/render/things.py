"""What lies around and on the cloth: table, edges and fringe, stain, rulers, card, shadows."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from tests.render import cloth as weave
from tests.render import ruler as rule
from tests.render.noise import smooth_field, smooth_line, tile
from tests.render.specs import CameraSpec, CardSpec, RulerSpec, Scene, linear_from_srgb


@dataclass(frozen=True, slots=True)
class Laid:
    """A flat thing on the cloth: its spec (for its place), RGB and opacity, texels per mm."""

    spec: RulerSpec | CardSpec
    picture: np.ndarray
    res: float


@dataclass(frozen=True, slots=True)
class Around:
    """Everything but the cloth.

    Attributes:
        left, top, table_res: where the table's picture begins, and its texels per mm.
        table: (h, w, 3) linear.
        flat: rulers and card.
        ragged: (4, N) mm that the cloth's left, top, right, bottom edge wanders.
        bundles: (2, N) random numbers for the fringe.
    """

    left: float
    top: float
    table_res: float
    table: np.ndarray
    flat: tuple[Laid, ...]
    ragged: np.ndarray
    bundles: np.ndarray


def lay_things(scene: Scene, box: tuple[float, float, float, float], rng) -> Around:
    """Draw the table, rulers and card."""
    span = max(box[2] - box[0], box[3] - box[1])
    res = min(1.5 * scene.camera.px_per_mm, 3500 / span)
    shape = (int((box[3] - box[1]) * res) + 2, int((box[2] - box[0]) * res) + 2)
    if scene.cloth.size_mm is None:
        table = np.zeros((2, 2, 3), np.float32)
    else:
        table = draw_table(scene, shape, res, rng)
    flat = []
    for ruler in scene.rulers:
        picture, at = rule.draw(ruler, scene.camera.px_per_mm, rng)
        flat.append(Laid(ruler, picture, at))
    if scene.card is not None:
        colour = linear_from_srgb(scene.card.image[..., :3]).astype(np.float32)
        opaque = np.ones((*colour.shape[:2], 1), np.float32)
        flat.append(Laid(scene.card, np.concatenate([colour, opaque], 2), scene.card.px_per_mm))
    ragged = np.stack([0.8 * smooth_line(rng, 2048, 60) for _ in range(4)])
    return Around(box[0], box[1], res, table, tuple(flat), ragged, rng.random((4, 1024)))


def draw_table(scene: Scene, shape: tuple[int, int], res: float, rng) -> np.ndarray:
    """(h, w, 3) linear picture of the table, floor or bed."""
    base = linear_from_srgb(scene.table_srgb).astype(np.float32)
    h, w = shape
    if scene.table == "wood":
        tone = _planks(shape, res, rng)
    elif scene.table == "carpet":
        tufts = _wide(tile(rng, 512, 1.1, 1.1), shape) * 0.22
        tone = 1 + tufts + 0.10 * _wide(tile(rng, 512, 6.0, 6.0), shape)
    elif scene.table == "sheet":
        wrinkle = smooth_field(rng, (h // 8 + 2, w // 8 + 2), 45 * res / 8)
        slope = np.gradient(wrinkle, axis=1) * 45 * res / 8
        tone = 1 + 0.06 * cv2.resize(slope, (w, h)) + 0.02 * _wide(tile(rng, 512, 0.8, 0.8), shape)
    else:
        tone = 1 + 0.02 * _wide(tile(rng, 512, 1.0, 1.0), shape)
    return np.maximum(base * tone[:, :, None], 0.003).astype(np.float32)


def _wide(texture: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    """A tile repeated over an area, starting anywhere."""
    reps = (shape[0] // texture.shape[0] + 1, shape[1] // texture.shape[1] + 1)
    return np.tile(texture, reps)[: shape[0], : shape[1]]


def _planks(shape: tuple[int, int], res: float, rng) -> np.ndarray:
    """Boards that run left to right, each with its own tone and grain, and dark joints."""
    h, w = shape
    tone = np.ones(shape, np.float32)
    top = 0.0
    while top < h:
        high = rng.uniform(85, 125) * res
        a, b = int(top), min(h, int(top + high) + 1)
        n = b - a
        yy = np.linspace(0, high / res, n)[:, None]
        sway = 6 * smooth_line(rng, w, 120 * res)[None, :] * np.ones((n, 1))
        rings = np.sin((yy + sway) * 0.9 + 2.0 * smooth_line(rng, n, 8 * res)[:, None])
        grain = cv2.resize(tile(rng, 512, 0.9, 40.0), (w, max(n, 2)))[:n]
        tone[a:b] = rng.uniform(0.8, 1.2) * (1 + 0.13 * rings + 0.08 * grain)
        tone[a : a + max(1, int(1.2 * res))] *= 0.25
        top += high
    return tone


def radiance(scene: Scene, laid: weave.LaidCloth, around: Around, at, shade) -> np.ndarray:
    """(N, 3) light from the plane points `at` = (x, y, u, v), each (N,) float32."""
    x, y, u, v = at
    if scene.cloth.size_mm is None:
        out = _cloth_light(scene, laid, at, shade)
    else:
        out = _table_light(laid, around, x, y, u, v)
        on = on_cloth(laid, around, u, v)
        if on.any():
            out[on] = _cloth_light(scene, laid, [p[on] for p in at], shade[on])
        if scene.cloth.fringe_mm:
            _add_fringe(scene, laid, around, u, v, out)
    for thing in around.flat:
        _add_flat(thing, scene.camera, x, y, out)
    return out


def on_cloth(laid: weave.LaidCloth, around: Around | None, u, v) -> np.ndarray:
    """Whether the material point is woven cloth; edges wander a little if `around` is given."""
    c, r = laid.columns, laid.rows
    left, right = c.position[0] - c.pitch / 2, c.position[-1] + c.pitch / 2
    top, bottom = r.position[0] - r.pitch / 2, r.position[-1] + r.pitch / 2
    if around is None:
        return (u > left) & (u < right) & (v > top) & (v < bottom)
    along_v = np.clip((v - top).astype(np.int32), 0, 2047)
    along_u = np.clip((u - left).astype(np.int32), 0, 2047)
    e = np.abs(around.ragged.astype(np.float32)) * np.float32(0.4 * c.pitch)
    return (
        (u > left - e[0][along_v])
        & (u < right + e[2][along_v])
        & (v > top - e[1][along_u])
        & (v < bottom + e[3][along_u])
    )


def _cloth_light(scene: Scene, laid: weave.LaidCloth, at, shade) -> np.ndarray:
    x, y, u, v = at
    column, thread, own = weave.surface(laid, u, v, scene.light)
    out = weave.colour_of(laid, column, thread) * (own * shade)[:, None]
    stain = scene.cloth.stain
    if stain is not None:
        near = np.hypot(x - stain.x, y - stain.y) / stain.radius_mm
        wet = 1 / (1 + np.exp(np.minimum((near - 1) * 12, 60)))
        out *= 1 - wet[:, None] * (1 - np.array(stain.tint, np.float32))
    return out


def _table_light(laid: weave.LaidCloth, around: Around, x, y, u, v) -> np.ndarray:
    """The table, with the soft shadow at the foot of the cloth."""
    j = np.clip((x - around.left) * around.table_res, 0, around.table.shape[1] - 1).astype(int)
    i = np.clip((y - around.top) * around.table_res, 0, around.table.shape[0] - 1).astype(int)
    c, r = laid.columns.position, laid.rows.position
    dx = np.maximum(np.maximum(c[0] - u, u - c[-1]), 0)
    dy = np.maximum(np.maximum(r[0] - v, v - r[-1]), 0)
    foot = 1 - 0.5 * np.exp(-np.hypot(dx, dy) / 3.0)
    return around.table[i, j] * foot[:, None].astype(np.float32)


def _add_fringe(scene: Scene, laid: weave.LaidCloth, around: Around, u, v, out) -> None:
    """Bundles of warp ends that hang out beyond the first and the last pick."""
    across = scene.cloth.warp_across
    ends, picks = (laid.rows, laid.columns) if across else (laid.columns, laid.rows)
    p, q = (v, u) if across else (u, v)
    before = picks.position[0] - picks.pitch / 2 - q
    after = q - picks.position[-1] - picks.pitch / 2
    far = np.maximum(before, after)
    near = (far > 0) & (far < 1.3 * scene.cloth.fringe_mm)
    near &= (p > ends.position[0] - 20) & (p < ends.position[-1] + 20)
    if not near.any():
        return
    hit, colour = _fringe(scene, ends, around, p[near], far[near], after[near] > 0)
    index = np.flatnonzero(near)[hit]
    out[index] = colour


def _fringe(scene: Scene, ends: weave.Axis, around: Around, p, far, last):
    """(which points show fringe, their colour): twisted bundles of six ends."""
    held = np.clip(p, ends.position[0], ends.position[-1])
    s = ends.thread_at(held.astype(np.float32)) + (p - held) / ends.pitch
    size = 6
    best = np.zeros(len(p), bool)
    colour = np.zeros((len(p), 3), np.float32)
    rel = far / scene.cloth.fringe_mm
    for side in (-1, 0, 1):
        k = np.floor(s / size).astype(int) + side
        r1 = around.bundles[0, (k * 7 + last * 411) & 1023]
        r2 = around.bundles[1, (k * 7 + last * 411) & 1023]
        sway = (r1 - 0.5) * 9 * rel**1.5 + 1.6 * np.sin(rel * (3 + 4 * r2) + r1 * 6) * rel
        half = np.maximum(0.5 - 1.1 * rel, 0.24 - 0.06 * rel) * size
        off = s - (k + 0.5) * size - sway
        hit = (np.abs(off) < half) & (rel < 0.85 + 0.3 * r2) & ~best
        hit &= (k >= 0) & (k < len(ends.position) // size)
        turn = far * 0.55 + off / half * 1.1 + r2 * 6
        strand = np.clip((k + 0.5) * size + 2.4 * np.sin(turn), 0, len(ends.colour) - 1)
        round_ = np.sqrt(np.maximum(1 - (off / half) ** 2, 0))
        tone = (0.25 + 0.7 * round_) * (0.8 + 0.2 * np.cos(turn * 2))
        colour[hit] = (ends.colour[strand.astype(int)] * tone[:, None])[hit]
        best |= hit
    return best, colour[best]


def _extent(thing: Laid) -> tuple[float, float]:
    h, w = thing.picture.shape[:2]
    return w / thing.res, h / thing.res


def local(spec: RulerSpec | CardSpec, size: tuple[float, float], camera: CameraSpec, x, y):
    """Place in mm along and across a flat thing of so many mm, where the camera sees (x, y)."""
    if isinstance(spec, RulerSpec):
        return rule.over(spec, camera, x, y)
    return _turned(spec, size, x, y)


def _turned(spec: RulerSpec | CardSpec, size: tuple[float, float], x, y):
    a = np.radians(spec.angle_deg)
    c, s = np.float32(np.cos(a)), np.float32(np.sin(a))
    dx, dy = x - np.float32(spec.x), y - np.float32(spec.y)
    return dx * c + dy * s + np.float32(size[0] / 2), -dx * s + dy * c + np.float32(size[1] / 2)


SKIN = (200, 150, 124)


def _add_flat(thing: Laid, camera: CameraSpec, x, y, out) -> None:
    """Lay a ruler or card over what is there, with its shadow, and what hides parts of it."""
    w, h = _extent(thing)
    along, across = local(thing.spec, (w, h), camera, x, y)
    outside = np.maximum(np.abs(along - w / 2) - w / 2, np.abs(across - h / 2) - h / 2)
    near = np.flatnonzero(outside < 16)
    if not len(near):
        return
    _add_shadow(thing, x[near], y[near], out, near)
    over = np.flatnonzero(outside < 0)
    j = np.minimum((along[over] * thing.res).astype(int), thing.picture.shape[1] - 1)
    i = np.minimum((across[over] * thing.res).astype(int), thing.picture.shape[0] - 1)
    texel = thing.picture[i, j]
    opacity = texel[:, 3:]
    out[over] = out[over] * (1 - opacity) + texel[:, :3] * opacity
    if isinstance(thing.spec, RulerSpec) and thing.spec.hidden:
        inside = rule.covered(thing.spec, along[near], across[near])
        hit = inside > 0
        tone = 0.45 + 0.55 * np.sqrt(inside[hit])  # round, as a finger is
        out[near[hit]] = linear_from_srgb(SKIN).astype(np.float32) * tone[:, None]


def _add_shadow(thing: Laid, x, y, out, near) -> None:
    w, h = _extent(thing)
    above = 0.0
    if isinstance(thing.spec, RulerSpec):
        above = thing.spec.height_mm + thing.spec.lift_mm / 2
    far, soft = np.float32(0.8 + 0.6 * above), 0.35 + 0.1 * above
    sx, sy = _turned(thing.spec, (w, h), x - far, y - far)
    away = np.maximum(np.abs(sx - w / 2) - w / 2, np.abs(sy - h / 2) - h / 2)
    out[near] *= (1 - 0.5 / (1 + np.exp(np.clip(away / soft, -30, 30))))[:, None]
