"""What a rendered picture is made of: cloth, ruler, card, camera, light.

Lengths are millimetres on the table's plane, whose origin is the point in the middle of the
picture, x to the right and y down as the photo is shown. Angles are degrees, clockwise as seen.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

Stripes = tuple[tuple[str, int], ...]


def linear_from_srgb(srgb) -> np.ndarray:
    """Linear light (0..1) of sRGB codes 0..255 (IEC 61966-2-1)."""
    code = np.asarray(srgb, dtype=np.float64) / 255.0
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def srgb_from_linear(light) -> np.ndarray:
    """SRGB codes 0..255, unrounded, of linear light (IEC 61966-2-1), clipped to 0..1."""
    x = np.clip(np.asarray(light), 0.0, 1.0)
    return 255.0 * np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)


@dataclass(frozen=True, slots=True, kw_only=True)
class YarnSpec:
    """A yarn.

    Attributes:
        key: one letter.
        name: its colour in words.
        srgb: colour of its fibre, lit evenly.
        melange: relative spread of lightness from thread to thread and along a thread.
    """

    key: str
    name: str
    srgb: tuple[int, int, int]
    melange: float = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldSpec:
    """A soft crease across the cloth: through (x, y), running at `angle_deg`."""

    x: float
    y: float
    angle_deg: float
    width_mm: float = 12.0
    depth: float = 0.5  # share of the light that its slopes win and lose
    swallow_mm: float = 1.0  # cloth lost in it


@dataclass(frozen=True, slots=True, kw_only=True)
class StainSpec:
    """A blot: middle, radius, colour that the cloth is multiplied with."""

    x: float
    y: float
    radius_mm: float
    tint: tuple[float, float, float] = (0.75, 0.6, 0.4)


DEFAULT_YARNS = (
    YarnSpec(key="A", name="green", srgb=(38, 84, 58)),
    YarnSpec(key="B", name="navy", srgb=(30, 40, 86)),
    YarnSpec(key="C", name="cream", srgb=(226, 214, 184)),
)
DEFAULT_SETT: Stripes = (("A", 24), ("B", 4), ("A", 8), ("C", 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothSpec:
    """A cloth.

    Attributes:
        warp, weft: stripes (yarn key, threads): half a sett from pivot to pivot ("symmetric"),
            or one repeat ("repeating").
        warp_border, weft_border: stripes laid once at the first edge and mirrored at the last
            edge, outside the repeat; only for a cloth with `size_mm`.
        epi, ppi: mean threads per inch, finished.
        weave: see `weaves.WEAVES`.
        warp_cover, weft_cover: yarn diameter over pitch.
        crimp: share of the bending that the warp takes (0..1).
        wander: rms of the slow relative change of density; `wander_mm` its correlation length.
        jitter: rms shift of each thread, in pitches.
        waviness: rms sideways drift of a thread along its length, in pitches.
        fulling: 0 clear-finished .. 1 napped until the weave drowns.
        twist: "Z" or "S" of the plied yarn; `ply_mark` how strongly plies show.
        fibre, hair: strength of fibre texture, share of surface crossed by stray hair.
        relief: strength of the shading by the threads' roundness (1 natural).
        bow_mm: how far a pick sags in the middle of `bow_span_mm`; `skew_deg` its slope.
        drape_mm: rms smooth displacement of the lying cloth; `drape_scale_mm` its scale.
        size_mm: (width, height) as it lies; None: it fills the frame.
        phase: threads (columns, rows) by which the sequence is moved on.
        warp_across: the warp runs left to right (the scene is turned by a quarter).
        fringe_mm: length of the fringe at both ends of the warp.
    """

    yarns: tuple[YarnSpec, ...] = DEFAULT_YARNS
    warp: Stripes = DEFAULT_SETT
    weft: Stripes = DEFAULT_SETT
    warp_kind: str = "symmetric"
    weft_kind: str = "symmetric"
    warp_border: Stripes = ()
    weft_border: Stripes = ()
    epi: float = 24.0
    ppi: float = 24.0
    weave: str = "2/2 twill Z"
    warp_cover: float = 0.95
    weft_cover: float = 0.95
    crimp: float = 0.5
    wander: float = 0.03
    wander_mm: float = 15.0
    jitter: float = 0.04
    waviness: float = 0.05
    fulling: float = 0.2
    twist: str = "S"
    ply_mark: float = 0.25
    fibre: float = 0.15
    hair: float = 0.1
    relief: float = 1.0
    bow_mm: float = 0.0
    bow_span_mm: float = 200.0
    skew_deg: float = 0.0
    drape_mm: float = 0.0
    drape_scale_mm: float = 40.0
    folds: tuple[FoldSpec, ...] = ()
    stain: StainSpec | None = None
    size_mm: tuple[float, float] | None = None
    centre_mm: tuple[float, float] = (0.0, 0.0)
    phase: tuple[int, int] = (0, 0)
    warp_across: bool = False
    fringe_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RulerSpec:
    """A ruler on the cloth. At angle 0 it runs left to right and its ticks hang from its top edge.

    Attributes:
        unit: "mm" (`per_mm` ticks in each) or "inch" (`per_inch` ticks).
        x, y: its middle; `angle_deg` its direction.
        length_mm, width_mm: of its body; the scale begins `lead_mm` from its end.
        material: "steel", "wood", "plastic", "tape".
        numerals: what is written at the long metric ticks: "cm" (1, 2, 3) or "mm" (10, 20, 30).
        numerals_beside: numerals stand beside the long ticks, not beyond their ends.
        numerals_flipped: numerals are upside down (read from the far side).
        both_edges: a second row of the same ticks on the other edge.
        other_unit: unit of a scale on the other edge, read from that side; "" for none.
        hidden: (from, to) mm along the body over which something lies across it.
        height_mm: how far it lies above the cloth's plane; `lift_mm` by how much more at its end.
    """

    unit: str = "mm"
    per_mm: int = 1
    per_inch: int = 16
    x: float = 0.0
    y: float = 0.0
    angle_deg: float = 0.0
    length_mm: float = 160.0
    width_mm: float = 25.0
    lead_mm: float = 5.0
    material: str = "steel"
    numerals: str = "cm"
    numerals_beside: bool = False
    numerals_flipped: bool = False
    both_edges: bool = False
    other_unit: str = ""
    hidden: tuple[tuple[float, float], ...] = ()
    height_mm: float = 0.0
    lift_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CardSpec:
    """A printed card: `image` (H, W, 3) sRGB uint8 at `px_per_mm`, laid with its middle at x, y."""

    image: np.ndarray
    px_per_mm: float
    x: float = 0.0
    y: float = 0.0
    angle_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraSpec:
    """A phone camera.

    Attributes:
        width, height: of the picture, pixels.
        px_per_mm: in the middle of the picture.
        focal_px: focal length in pixels; None: 0.75 of the longer side (a phone's main camera).
        tilt_deg: off the plane's normal; `tilt_toward_deg` which way the far side lies.
        roll_deg: turn of the picture: the cloth appears turned clockwise by it.
        k1: radial lens term: a point at the corner moves outward by this share.
        defocus_px: standard deviation of the blur of the lens; `motion_px` length of the smear.
        noise: sensor noise (linear, standard deviation at light 0.18 of white 1.0).
        sharpen: amount of the unsharp mask; `sharpen_px` its radius.
        jpeg_quality: 1..95.
        bayer: whether each pixel sees one colour only and the others are filled in from around.
        samples: n for n x n light samples in each pixel; None: chosen by the threads' size.
    """

    width: int = 1200
    height: int = 900
    px_per_mm: float = 8.0
    focal_px: float | None = None
    tilt_deg: float = 0.0
    tilt_toward_deg: float = 0.0
    roll_deg: float = 0.0
    k1: float = 0.0
    defocus_px: float = 0.5
    motion_px: float = 0.0
    motion_deg: float = 0.0
    noise: float = 0.008
    sharpen: float = 0.4
    sharpen_px: float = 1.2
    jpeg_quality: int = 88
    bayer: bool = False
    samples: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LightSpec:
    """The light.

    Attributes:
        exposure: light of a flat white surface in the middle.
        cast: gain of red, green, blue (1, 1, 1 neutral).
        gradient: relative change from the middle to the edge towards `gradient_deg`.
        vignette: share lost in the corner.
        shadow: depth (0..1) of a soft shadow whose edge passes at `shadow_at` (share of the
            half-diagonal from the middle) across direction `shadow_deg`; `shadow_soft` likewise.
        azimuth_deg, elevation_deg: where the main light comes from.
        veil: share of the picture's mean light that strays all over it (flare).
        contrast: 0 plain sRGB .. 1 strong S-shaped curve on top.
    """

    exposure: float = 1.25
    cast: tuple[float, float, float] = (1.0, 1.0, 1.0)
    gradient: float = 0.0
    gradient_deg: float = 30.0
    vignette: float = 0.0
    shadow: float = 0.0
    shadow_at: float = 0.6
    shadow_deg: float = 0.0
    shadow_soft: float = 0.2
    azimuth_deg: float = 225.0
    elevation_deg: float = 50.0
    veil: float = 0.0
    contrast: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """All of it. `table` is "wood", "carpet", "sheet" or "plain"."""

    cloth: ClothSpec = field(default_factory=ClothSpec)
    camera: CameraSpec = field(default_factory=CameraSpec)
    light: LightSpec = field(default_factory=LightSpec)
    rulers: tuple[RulerSpec, ...] = ()
    card: CardSpec | None = None
    table: str = "wood"
    table_srgb: tuple[int, int, int] = (150, 110, 74)
