"""Renders a scene: a photograph as JPEG and as array, and the truth about it.

The way from a pixel to the cloth is worked out once per pixel; light is then gathered at jittered
places spread evenly over the pixel's area, as a sensor gathers it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.render import camera as cam
from tests.render import cloth as weave
from tests.render import things, truth
from tests.render.bend import to_material
from tests.render.specs import (  # noqa: F401  (handed on: this is the package's front)
    CameraSpec,
    CardSpec,
    ClothSpec,
    FoldSpec,
    LightSpec,
    RulerSpec,
    Scene,
    StainSpec,
    YarnSpec,
)


@dataclass(frozen=True, slots=True)
class Rendered:
    """A photograph and its truth.

    Attributes:
        image: (H, W, 3) uint8 sRGB before JPEG.
        jpeg: the file's bytes.
        truth: what is known about it, ready for JSON (see `truth.py`).
        linear: (H, W, 3) float32 light that entered the lens, at exposure 1 and without the
            light's unevenness; before blur and noise.
    """

    image: np.ndarray
    jpeg: bytes
    truth: dict
    linear: np.ndarray


def plane_box(camera: CameraSpec, margin: float = 0.03) -> tuple[float, float, float, float]:
    """(left, top, right, bottom) mm on the plane that the frame sees, a little widened."""
    edge = np.linspace(-0.5, 1, 2)
    x = np.linspace(-0.5, camera.width - 0.5, 33)
    y = np.linspace(-0.5, camera.height - 0.5, 33)
    px = np.r_[x, x, np.full(33, edge[0]), np.full(33, camera.width - 0.5)]
    py = np.r_[np.full(33, edge[0]), np.full(33, camera.height - 0.5), y, y]
    mx, my = cam.to_plane(camera, px, py)
    grow = margin * max(np.ptp(mx), np.ptp(my))
    return mx.min() - grow, my.min() - grow, mx.max() + grow, my.max() + grow


def samples_per_side(scene: Scene) -> int:
    """Enough that a thread gets about eight samples across."""
    if scene.camera.samples:
        return scene.camera.samples
    px = 25.4 / max(scene.cloth.epi, scene.cloth.ppi) * scene.camera.px_per_mm
    return int(np.clip(np.ceil(8 / px), 2, 5))


def lay(scene: Scene, seed: int) -> tuple[weave.LaidCloth, tuple[float, float, float, float]]:
    """The cloth of the picture, and the plane box (mm) in which it was laid."""
    box = plane_box(scene.camera)
    reach = 4 * scene.cloth.drape_mm + 1.5 * abs(scene.cloth.bow_mm) + 2
    reach += abs(np.tan(np.radians(scene.cloth.skew_deg))) * max(box[2] - box[0], box[3] - box[1])
    reach += sum(f.swallow_mm for f in scene.cloth.folds)
    wide = (box[0] - reach, box[1] - reach, box[2] + reach, box[3] + reach)
    return weave.lay_cloth(scene.cloth, wide, scene.light, _chance(seed, 0)), wide


def _chance(seed: int, part: int) -> np.random.Generator:
    """Each part of the work has its own chance, so that a change of one leaves the others be."""
    return np.random.default_rng([seed, part])


def truth_of(scene: Scene, seed: int = 0) -> dict:
    """The truth of `render(scene, seed)`, without taking the photograph."""
    laid, _ = lay(scene, seed)
    return truth.facts(scene, laid, _chance(seed, 4))


def render(scene: Scene, seed: int = 0) -> Rendered:
    """Take the photograph."""
    laid, box = lay(scene, seed)
    around = things.lay_things(scene, box, _chance(seed, 1))
    linear = expose(scene, laid, around, _chance(seed, 2))
    lit = linear * cam.light_field(scene.camera, scene.light)[:, :, None]
    image = cam.develop(lit, scene.camera, scene.light, _chance(seed, 3))
    facts = truth.facts(scene, laid, _chance(seed, 4))
    return Rendered(image, cam.jpeg_bytes(image, scene.camera.jpeg_quality), facts, linear)


def expose(scene: Scene, laid: weave.LaidCloth, around, rng) -> np.ndarray:
    """(H, W, 3) float32 light of the scene, averaged over each pixel's area."""
    height, width = scene.camera.height, scene.camera.width
    n = samples_per_side(scene)
    out = np.empty((height, width, 3), np.float32)
    rows = max(4, 150_000 // width)
    for top in range(0, height, rows):
        bottom = min(top + rows, height)
        y, x = np.mgrid[top - 1 : bottom + 1, -1 : width + 1].astype(np.float64)
        plane = cam.to_plane(scene.camera, x, y)
        out[top:bottom] = _gather(scene, laid, around, plane, n, rng)
    return out


def _gather(scene: Scene, laid: weave.LaidCloth, around, plane, n: int, rng) -> np.ndarray:
    """Mean light of a strip of pixels, given plane mm at their centres and one pixel around."""
    material = to_material(laid, *plane)
    centre = [np.ascontiguousarray(p[1:-1, 1:-1]) for p in (*plane, *material[:2])]
    across = [(p[1:-1, 2:] - p[1:-1, :-2]) / 2 for p in (*plane, *material[:2])]
    down = [(p[2:, 1:-1] - p[:-2, 1:-1]) / 2 for p in (*plane, *material[:2])]
    shade = material[2][1:-1, 1:-1].ravel()
    size = centre[0].size
    flat = [[np.asarray(p, np.float32).ravel() for p in group] for group in (centre, across, down)]
    total = np.zeros((size, 3), np.float32)
    for sy in range(n):
        for sx in range(n):
            dx = ((sx + rng.random(size, dtype=np.float32)) / n - 0.5).astype(np.float32)
            dy = ((sy + rng.random(size, dtype=np.float32)) / n - 0.5).astype(np.float32)
            at = [c + a * dx + d * dy for c, a, d in zip(*flat, strict=True)]
            total += things.radiance(scene, laid, around, at, shade)
    return (total / (n * n)).reshape(*centre[0].shape, 3)
