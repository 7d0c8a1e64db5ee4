"""Draws scenes at random over all that a weaver's photo may hold."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.render.colours import SHELF, apart
from tests.render.specs import (
    CameraSpec,
    ClothSpec,
    FoldSpec,
    LightSpec,
    RulerSpec,
    Scene,
    StainSpec,
    Stripes,
    YarnSpec,
)

Range = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """The ranges that a level draws from (see the specs for units)."""

    tilt: Range
    roll: Range
    k1: float
    drape: Range  # mm for each 100 mm of picture width
    noise: Range
    quality: tuple[int, int]
    wander: Range
    jitter: Range
    fulling: Range
    waviness: Range
    gradient: Range
    vignette: Range
    cast: float
    defocus: Range
    sharpen: Range
    yarns: tuple[int, int]
    apart: float
    weaves: tuple[str, ...]
    bow: float  # mm for each 100 mm of picture width
    trouble: float  # chance of each of shadow, stain, fold


LEVELS = {
    "easy": Level(
        tilt=(0, 2), roll=(0, 1.5), k1=0.0, drape=(0, 0), noise=(0.003, 0.006), quality=(90, 95),
        wander=(0.005, 0.02), jitter=(0.01, 0.03), fulling=(0, 0.2), waviness=(0.01, 0.03),
        gradient=(0, 0.1), vignette=(0, 0.05), cast=0.03, defocus=(0.4, 0.6), sharpen=(0, 0.4),
        yarns=(2, 4), apart=0.16, weaves=("plain", "2/2 twill Z", "2/2 twill S"), bow=0.0,
        trouble=0.0,
    ),
    "ordinary": Level(
        tilt=(0, 10), roll=(0, 8), k1=0.02, drape=(0, 0.4), noise=(0.005, 0.012), quality=(75, 92),
        wander=(0.015, 0.035), jitter=(0.02, 0.05), fulling=(0, 0.45), waviness=(0.02, 0.05),
        gradient=(0, 0.35), vignette=(0, 0.2), cast=0.08, defocus=(0.5, 0.9), sharpen=(0.2, 0.9),
        yarns=(2, 5), apart=0.11, bow=0.5, trouble=0.08,
        weaves=("plain", "2/2 twill Z", "2/2 twill S", "2/2 twill Z", "2/1 twill Z", "hopsack",
                "herringbone"),
    ),
    "hard": Level(
        tilt=(5, 20), roll=(2, 20), k1=0.05, drape=(0.2, 1.2), noise=(0.01, 0.025),
        quality=(55, 85), wander=(0.03, 0.055), jitter=(0.03, 0.07), fulling=(0.1, 0.8),
        waviness=(0.03, 0.08), gradient=(0.1, 0.6), vignette=(0.05, 0.35), cast=0.18,
        defocus=(0.6, 1.3), sharpen=(0.3, 1.5), yarns=(2, 6), apart=0.05, bow=1.5, trouble=0.3,
        weaves=("plain", "2/2 twill Z", "2/2 twill S", "2/1 twill S", "3/1 twill Z", "1/3 twill Z",
                "herringbone", "hopsack"),
    ),
}  # fmt: skip


def random_scene(
    rng: np.random.Generator,
    *,
    px_per_thread: float = 6.0,
    px_per_mm: float | None = None,
    level: str = "ordinary",
    size: tuple[int, int] = (1600, 1200),
    weave: str | None = None,
    ruler: str = "any",
    fills: bool | None = None,
    kind: str | None = None,
    yarns: int | None = None,
    repeats: float | None = None,
    warp_across: bool | None = None,
) -> Scene:
    """A scene.

    Args:
        rng: source of chance.
        px_per_thread: in the middle of the picture, in the denser of the two directions.
        px_per_mm: in the middle of the picture, instead of `px_per_thread`.
        level: "easy", "ordinary" or "hard".
        size: (width, height) of the picture, pixels.
        weave: one of `weaves.WEAVES`; None: drawn.
        ruler: "mm", "inch", "none", "any" (one of either) or "maybe" (now and then none or two).
        fills: whether the cloth fills the frame; None: drawn.
        kind: "symmetric" or "repeating"; None: drawn.
        yarns: how many; None: drawn.
        repeats: how many repeats of the warp the picture is to hold; None: drawn from 0.8 to 3.
        warp_across: whether the warp runs left to right; None: drawn, mostly not.
    """
    lv = LEVELS[level]
    fills = bool(rng.random() < 0.8) if fills is None else fills
    epi = float(np.exp(rng.uniform(np.log(9), np.log(40))))
    ppi = epi * rng.uniform(0.85, 1.1)
    px_per_mm = px_per_mm or px_per_thread * max(epi, ppi) / 25.4
    frame = (size[0] / px_per_mm, size[1] / px_per_mm)
    cloth = _draw_cloth(rng, lv, (epi, ppi), frame, weave, kind, yarns, repeats)
    cloth = replace(
        cloth,
        warp_across=bool(rng.random() < 0.15) if warp_across is None else warp_across,
        phase=(int(rng.integers(0, 500)), int(rng.integers(0, 500))),
    )
    cloth = _draw_trouble(rng, lv, cloth, frame)
    if not fills:
        cloth = _within(rng, cloth, frame)
    return Scene(
        cloth=cloth,
        camera=_draw_camera(rng, lv, size, px_per_mm),
        light=_draw_light(rng, lv),
        rulers=draw_rulers(rng, level, ruler, frame),
        table=str(rng.choice(["wood", "carpet", "sheet", "plain"])),
        table_srgb=tuple(int(c) for c in rng.choice(TABLES)),
    )


TABLES = ((150, 110, 74), (96, 66, 44), (206, 202, 194), (120, 122, 128), (176, 150, 116))


def _draw_cloth(rng, lv: Level, density, frame, weave, kind, yarns, repeats) -> ClothSpec:
    shelf = draw_yarns(rng, yarns or int(rng.integers(lv.yarns[0], lv.yarns[1] + 1)), lv.apart)
    kinds = [kind or str(rng.choice(["symmetric", "symmetric", "repeating"])) for _ in range(2)]
    held = repeats or rng.uniform(0.8, 3.0)
    threads = frame[0] / 25.4 * density[0]
    warp = draw_sett(rng, shelf, max(8, round(threads / held)), kinds[0])
    weft = warp
    if rng.random() < 0.35:
        threads = frame[1] / 25.4 * density[1]
        weft = draw_sett(rng, shelf, max(8, round(threads / held)), kinds[1])
    else:
        kinds[1] = kinds[0]
    weave = weave or str(rng.choice(lv.weaves))
    wide = frame[0] / 100
    return ClothSpec(
        yarns=shelf, warp=warp, weft=weft, warp_kind=kinds[0], weft_kind=kinds[1],
        epi=density[0], ppi=density[1], weave=weave,
        warp_cover=rng.uniform(0.82, 1.0), weft_cover=rng.uniform(0.82, 1.0),
        crimp=rng.uniform(0.35, 0.65), wander=rng.uniform(*lv.wander),
        wander_mm=rng.uniform(8, 30), jitter=rng.uniform(*lv.jitter),
        waviness=rng.uniform(*lv.waviness), fulling=rng.uniform(*lv.fulling),
        twist=str(rng.choice(["Z", "S"])), ply_mark=rng.uniform(0.05, 0.4),
        fibre=rng.uniform(0.08, 0.22), hair=rng.uniform(0, 0.25),
        bow_mm=rng.uniform(-1, 1) * lv.bow * wide, bow_span_mm=2 * frame[0],
        skew_deg=rng.uniform(-1, 1) * lv.bow, drape_mm=rng.uniform(*lv.drape) * wide,
        drape_scale_mm=frame[0] * rng.uniform(0.15, 0.35),
    )  # fmt: skip


def draw_yarns(rng, count: int, far: float) -> tuple[YarnSpec, ...]:
    """So many yarns that look at least `far` apart (OKLab), with keys from A on."""
    while True:
        picked = [SHELF[k] for k in rng.choice(len(SHELF), count, replace=False)]
        jittered = [
            (name, tuple(int(np.clip(c + rng.integers(-8, 9), 8, 240)) for c in srgb))
            for name, srgb in picked
        ]
        pairs = [(a[1], b[1]) for k, a in enumerate(jittered) for b in jittered[:k]]
        if all(apart(a, b) > far for a, b in pairs):
            return tuple(
                YarnSpec(key="ABCDEF"[k], name=n, srgb=c, melange=float(rng.uniform(0.02, 0.09)))
                for k, (n, c) in enumerate(jittered)
            )


def draw_sett(rng, shelf: tuple[YarnSpec, ...], threads: int, kind: str) -> Stripes:
    """Stripes of 1 to 100 threads whose whole repeat is near so many threads; each yarn occurs."""
    keys = [y.key for y in shelf]
    stripes = len(keys) + int(rng.integers(0, 4))
    if kind == "repeating" and len(keys) == 2 and stripes % 2:
        stripes += 1
    order = _draw_order(rng, keys, stripes, kind)
    goal = threads if kind == "repeating" or stripes == 2 else threads / 2
    sizes = np.exp(rng.uniform(0, np.log(24), stripes))
    counts = np.clip(np.round(sizes / sizes.sum() * goal), 1, 100).astype(int)
    if rng.random() < 0.75:
        counts = np.where(counts > 2, counts + counts % 2, counts)
    return tuple((key, int(n)) for key, n in zip(order, np.minimum(counts, 100), strict=True))


def _draw_order(rng, keys: list[str], stripes: int, kind: str) -> list[str]:
    """Yarn of each stripe: every yarn occurs, neighbours differ (round the repeat as well)."""
    while True:
        order = list(rng.permutation(keys)) + list(rng.choice(keys, stripes - len(keys)))
        order = [str(k) for k in rng.permutation(order)]
        ring = order + order[:1] if kind == "repeating" else order
        if all(a != b for a, b in zip(ring, ring[1:], strict=False)):
            return order


def _draw_trouble(rng, lv: Level, cloth: ClothSpec, frame) -> ClothSpec:
    def spot():
        return rng.uniform(-0.35, 0.35) * frame[0], rng.uniform(-0.35, 0.35) * frame[1]

    if rng.random() < lv.trouble:
        x, y = spot()
        radius = frame[0] * rng.uniform(0.04, 0.1)
        cloth = replace(cloth, stain=StainSpec(x=x, y=y, radius_mm=radius))
    if rng.random() < lv.trouble:
        x, y = spot()
        fold = FoldSpec(
            x=x, y=y, angle_deg=rng.uniform(0, 180), width_mm=0.06 * frame[0],
            depth=rng.uniform(0.2, 0.6), swallow_mm=rng.uniform(0, 0.006) * frame[0],
        )  # fmt: skip
        cloth = replace(cloth, folds=(fold,))
    return cloth


def _within(rng, cloth: ClothSpec, frame) -> ClothSpec:
    size = frame[0] * rng.uniform(0.6, 0.85), frame[1] * rng.uniform(0.6, 0.85)
    return replace(
        cloth,
        size_mm=size,
        centre_mm=(rng.uniform(-0.05, 0.05) * frame[0], rng.uniform(-0.05, 0.05) * frame[1]),
        fringe_mm=float(rng.choice([0.0, rng.uniform(0.03, 0.06) * frame[1]])),
    )


def draw_rulers(rng, level: str, ruler: str, frame) -> tuple[RulerSpec, ...]:
    """Rulers for a picture that spans `frame` mm, near one of its sides."""
    number = 0 if ruler == "none" else 1
    if ruler == "maybe":
        number = int(rng.choice([0, 1, 1, 1, 2]))
    slack = {"easy": 1.0, "ordinary": 6.0, "hard": 20.0}[level]
    out = []
    for side in rng.permutation(4)[:number]:
        unit = ruler if ruler in ("mm", "inch") else str(rng.choice(["mm", "inch"]))
        out.append(_one_ruler(rng, unit, int(side), slack, level, frame))
    return tuple(out)


def _one_ruler(rng, unit: str, side: int, slack: float, level: str, frame) -> RulerSpec:
    flat = side % 2 == 0
    run, deep = (frame[0], frame[1]) if flat else (frame[1], frame[0])
    wide = float(np.clip(0.16 * deep, 8, 30))
    away = (0.5 * deep - wide * rng.uniform(0.9, 1.3)) * (1 if side < 2 else -1)
    share = rng.uniform(0.55, 0.85) if level == "easy" else rng.uniform(0.45, 1.15)
    along = rng.uniform(-0.1, 0.1) * run
    x, y = (along, away) if flat else (away, along)
    turned = int(rng.integers(0, 2)) * 180
    return RulerSpec(
        unit=unit, per_inch=int(rng.choice([8, 16])), x=x, y=y,
        angle_deg=(0 if flat else 90) + turned + rng.uniform(-slack, slack),
        length_mm=max(40.0, share * run), width_mm=wide,
        material=str(rng.choice(["steel", "wood", "plastic", "tape"])),
        numerals_flipped=bool(rng.random() < 0.2), both_edges=bool(rng.random() < 0.25),
    )  # fmt: skip


def _draw_camera(rng, lv: Level, size, px_per_mm: float) -> CameraSpec:
    blur = rng.random() < lv.trouble
    return CameraSpec(
        width=size[0], height=size[1], px_per_mm=px_per_mm,
        focal_px=max(size) * rng.uniform(0.7, 1.0), tilt_deg=rng.uniform(*lv.tilt),
        tilt_toward_deg=rng.uniform(0, 360),
        roll_deg=rng.uniform(*lv.roll) * float(rng.choice([-1, 1])),
        k1=rng.uniform(-lv.k1, lv.k1), defocus_px=rng.uniform(*lv.defocus),
        motion_px=rng.uniform(0.8, 2.0) if blur else 0.0, motion_deg=rng.uniform(0, 180),
        noise=rng.uniform(*lv.noise), sharpen=rng.uniform(*lv.sharpen),
        sharpen_px=rng.uniform(0.8, 1.6),
        bayer=bool(lv.trouble and rng.random() < 0.5),
        jpeg_quality=int(rng.integers(lv.quality[0], lv.quality[1] + 1)),
    )  # fmt: skip


def _draw_light(rng, lv: Level) -> LightSpec:
    warm = rng.uniform(-lv.cast, lv.cast)
    tint = rng.uniform(-lv.cast, lv.cast) / 3
    return LightSpec(
        exposure=rng.uniform(0.95, 1.35), cast=(1 + warm, 1 + tint, 1 - warm),
        gradient=rng.uniform(*lv.gradient), gradient_deg=rng.uniform(0, 360),
        vignette=rng.uniform(*lv.vignette),
        shadow=rng.uniform(0.2, 0.5) if rng.random() < lv.trouble else 0.0,
        shadow_at=rng.uniform(0.0, 0.7), shadow_deg=rng.uniform(0, 360),
        shadow_soft=rng.uniform(0.1, 0.4), azimuth_deg=rng.uniform(0, 360),
        elevation_deg=rng.uniform(35, 75), contrast=rng.uniform(0, 0.5),
        veil=rng.uniform(0, 0.12) * lv.trouble,
    )  # fmt: skip
