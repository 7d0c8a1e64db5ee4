"""Draws photographs of rulers at random: every kind, every size, on any cloth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.render.random_scene import random_scene
from tests.render.specs import RulerSpec, Scene

KINDS = {
    "mm": {"unit": "mm"},
    "half mm": {"unit": "mm", "per_mm": 2},
    "inch/8": {"unit": "inch", "per_inch": 8},
    "inch/16": {"unit": "inch", "per_inch": 16},
    "inch/32": {"unit": "inch", "per_inch": 32},
}
MATERIALS = ("steel", "wood", "plastic", "tape")
LEVELS = ("easy", "ordinary", "hard")
SIZE = (1200, 900)


def random_ruler_scene(rng: np.random.Generator) -> tuple[Scene, dict]:
    """A scene with a ruler or two, and what was drawn: kind, material, level, special.

    1 to 20 px per mm, evenly by ratio. `special` is "" or "hidden", "two", "raised" (1 to 3 cm
    above the cloth) or "lifted" (one end stands up by 8 to 20 degrees).
    """
    px_per_mm = float(np.exp(rng.uniform(0, np.log(20))))
    level = str(rng.choice(LEVELS, p=[0.2, 0.5, 0.3]))
    kind = str(rng.choice(list(KINDS), p=[0.4, 0.1, 0.2, 0.2, 0.1]))
    special = str(rng.choice(["", "hidden", "two", "raised", "lifted"],
                             p=[0.5, 0.2, 0.14, 0.08, 0.08]))  # fmt: skip
    scene = random_scene(rng, px_per_mm=px_per_mm, level=level, size=SIZE, ruler="none")
    frame = (SIZE[0] / px_per_mm, SIZE[1] / px_per_mm)
    material = str(rng.choice(MATERIALS))
    slack = {"easy": 1.0, "ordinary": 6.0, "hard": 20.0}[level]
    side = int(rng.integers(4))
    ruler = _laid(rng, kind, material, side, slack, frame)
    if special == "hidden":
        ruler = replace(ruler, hidden=_hidden(rng, ruler))
    if special == "raised":
        ruler = replace(ruler, height_mm=rng.uniform(10, 30))
    if special == "lifted":
        ruler = replace(ruler, lift_mm=ruler.length_mm * np.sin(np.radians(rng.uniform(8, 20))))
    rulers = (ruler,)
    if special == "two":
        rulers += (_laid(rng, kind, material, (side + 1) % 4, slack, frame),)
    camera = replace(scene.camera, samples=3 if px_per_mm < 4 else 2)  # enough for ticks
    drawn = {"kind": kind, "material": material, "level": level, "special": special}
    return replace(scene, rulers=rulers, camera=camera), drawn


def _laid(rng, kind: str, material: str, side: int, slack: float, frame) -> RulerSpec:
    """A ruler near a side of the frame (0 below, 1 right, 2 above, 3 left), either way round."""
    flat = side % 2 == 0
    run, deep = frame if flat else frame[::-1]
    wide = float(np.clip(0.16 * deep, 12 if material == "tape" else 15, 30))
    away = (0.5 * deep - wide * rng.uniform(0.6, 1.3)) * (1 if side < 2 else -1)
    along = rng.uniform(-0.1, 0.1) * run
    unit = KINDS[kind]["unit"]
    double = material != "tape" and wide > 20 and rng.random() < 0.3
    return RulerSpec(
        **KINDS[kind], material=material, width_mm=wide,
        x=along if flat else away, y=away if flat else along,
        angle_deg=(0 if flat else 90) + 180 * rng.integers(2) + rng.uniform(-slack, slack),
        length_mm=max(60.0, rng.uniform(0.45, 1.15) * run), lead_mm=rng.uniform(0.5, 6),
        numerals=str(rng.choice(["cm", "mm"])), numerals_beside=bool(rng.random() < 0.2),
        numerals_flipped=bool(rng.random() < 0.25), both_edges=bool(rng.random() < 0.2),
        other_unit={"mm": "inch", "inch": "mm"}[unit] if double else "",
    )  # fmt: skip


def _hidden(rng, ruler: RulerSpec) -> tuple[tuple[float, float], ...]:
    """One or two fingers or weights, a tenth to a fifth of the ruler each."""
    spans = []
    for _ in range(int(rng.integers(1, 3))):
        start = rng.uniform(0.05, 0.8) * ruler.length_mm
        spans.append((start, start + rng.uniform(0.08, 0.2) * ruler.length_mm))
    return tuple(spans)
