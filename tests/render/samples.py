"""Makes the sample pictures: `python -m tests.render.samples [folder]`."""

from __future__ import annotations

import sys
from pathlib import Path

from tests.render.scene import render
from tests.render.specs import (
    CameraSpec,
    ClothSpec,
    LightSpec,
    RulerSpec,
    Scene,
    YarnSpec,
)
from tests.render.truth import to_text

PEAT = YarnSpec(key="A", name="dark brown", srgb=(62, 46, 38), melange=0.07)
LOCHAN = YarnSpec(key="B", name="blue", srgb=(56, 84, 138), melange=0.05)
LICHEN = YarnSpec(key="C", name="moss", srgb=(122, 126, 66), melange=0.08)
FLEECE = YarnSpec(key="D", name="cream", srgb=(224, 212, 184), melange=0.04)
ROWAN = YarnSpec(key="E", name="red", srgb=(168, 44, 40), melange=0.05)

SWATCH_SETT = (("B", 22), ("A", 6), ("C", 14), ("A", 4), ("C", 14), ("D", 2), ("E", 4))


def close_swatch() -> Scene:
    """A symmetric twill check that fills the frame, seen from close by."""
    cloth = ClothSpec(
        yarns=(PEAT, LOCHAN, LICHEN, FLEECE, ROWAN), warp=SWATCH_SETT, weft=SWATCH_SETT,
        epi=22.0, ppi=21.0, weave="2/2 twill Z", warp_cover=0.95, weft_cover=0.97, wander=0.022,
        jitter=0.035, waviness=0.035, fulling=0.3, hair=0.22, ply_mark=0.2, fibre=0.16,
        drape_mm=0.25, drape_scale_mm=50, phase=(31, 67),
    )  # fmt: skip
    camera = CameraSpec(
        width=2000, height=1500, px_per_mm=8 * 22 / 25.4, focal_px=1900, tilt_deg=1.5,
        tilt_toward_deg=60, roll_deg=-0.8, k1=0.008, defocus_px=0.7, noise=0.006, sharpen=0.5,
        jpeg_quality=72,
    )  # fmt: skip
    light = LightSpec(
        exposure=1.2, cast=(1.03, 1.0, 0.96), gradient=0.14, gradient_deg=200, vignette=0.08,
        azimuth_deg=215, elevation_deg=42, contrast=0.2, veil=0.01,
    )  # fmt: skip
    ruler = RulerSpec(
        unit="mm", x=-8, y=86, angle_deg=0.7, length_mm=216, width_mm=26, material="steel"
    )
    return Scene(cloth=cloth, camera=camera, light=light, rulers=(ruler,))


def tilted_swatch() -> Scene:
    """Another piece, photographed askew by a window."""
    yarns = (
        YarnSpec(key="A", name="charcoal", srgb=(60, 60, 66), melange=0.06),
        YarnSpec(key="B", name="oatmeal", srgb=(200, 186, 156), melange=0.06),
        YarnSpec(key="C", name="teal", srgb=(40, 106, 112), melange=0.05),
        YarnSpec(key="D", name="mustard", srgb=(190, 146, 44), melange=0.05),
    )
    cloth = ClothSpec(
        yarns=yarns, warp=(("A", 20), ("B", 12), ("C", 16), ("D", 4)), warp_kind="repeating",
        weft=(("A", 20), ("B", 12), ("C", 16), ("D", 4)), weft_kind="repeating",
        epi=18.0, ppi=17.0, weave="2/2 twill S", wander=0.028, jitter=0.04, waviness=0.04,
        fulling=0.25, hair=0.2, drape_mm=0.5, drape_scale_mm=60, bow_mm=1.5, bow_span_mm=240,
        phase=(11, 40),
    )  # fmt: skip
    camera = CameraSpec(
        width=1920, height=1440, px_per_mm=5.6, focal_px=1500, tilt_deg=12, tilt_toward_deg=-65,
        roll_deg=8, k1=0.02, defocus_px=0.8, noise=0.009, sharpen=0.7, jpeg_quality=70,
    )  # fmt: skip
    light = LightSpec(
        exposure=1.15, cast=(0.95, 1.0, 1.08), gradient=0.45, gradient_deg=205, vignette=0.12,
        shadow=0.28, shadow_at=0.45, shadow_deg=35, shadow_soft=0.25, azimuth_deg=195,
        elevation_deg=36, contrast=0.15, veil=0.02,
    )  # fmt: skip
    ruler = RulerSpec(
        unit="inch", per_inch=16, x=30, y=88, angle_deg=-3, length_mm=190, width_mm=28,
        material="wood", lead_mm=4,
    )  # fmt: skip
    return Scene(cloth=cloth, camera=camera, light=light, rulers=(ruler,))


BLANKET_SETT = (("B", 40), ("A", 8), ("B", 8), ("A", 8), ("C", 36), ("D", 4), ("C", 6), ("E", 4))


def whole_blanket(width: int = 1050, quality: int = 78) -> Scene:
    """The whole blanket on the boards of the weaving room, with a tape laid along it."""
    cloth = ClothSpec(
        yarns=(PEAT, LOCHAN, LICHEN, FLEECE, ROWAN), warp=BLANKET_SETT, weft=BLANKET_SETT,
        epi=9.0, ppi=8.6, weave="2/2 twill Z", warp_cover=0.98, weft_cover=0.98, wander=0.02,
        wander_mm=60, jitter=0.04, waviness=0.04, fulling=0.4, hair=0.3, drape_mm=2.6,
        drape_scale_mm=170, size_mm=(1200.0, 1500.0), fringe_mm=55, bow_mm=7, bow_span_mm=1200,
        phase=(20, 20), centre_mm=(0.0, 8.0),
    )  # fmt: skip
    share = width / 3000
    camera = CameraSpec(
        width=width, height=width * 4 // 3, px_per_mm=2.18 * share, focal_px=3200 * share,
        tilt_deg=2.5, tilt_toward_deg=95, roll_deg=1.2, k1=0.012, defocus_px=0.5 + 0.3 * share,
        noise=0.004 + 0.002 * share, sharpen=0.5, bayer=width > 2000, jpeg_quality=quality,
        samples=3 if width > 2000 else 6,
    )  # fmt: skip
    light = LightSpec(
        exposure=1.2, cast=(1.05, 1.0, 0.93), gradient=0.2, gradient_deg=-70, vignette=0.12,
        azimuth_deg=250, elevation_deg=48, contrast=0.2, veil=0.01,
    )  # fmt: skip
    tape = RulerSpec(
        unit="mm", x=-30, y=420, angle_deg=0.5, length_mm=1000, width_mm=16, material="tape"
    )
    return Scene(
        cloth=cloth, camera=camera, light=light, rulers=(tape,), table="wood",
        table_srgb=(146, 106, 72),
    )  # fmt: skip


def whole_blanket_large() -> Scene:
    """The same photo as the camera wrote it, before it was made smaller for sending."""
    return whole_blanket(3000, 42)


def plain_check() -> Scene:
    """A plain-weave check in two colours whose threads lie unevenly."""
    yarns = (
        YarnSpec(key="A", name="white", srgb=(232, 228, 216), melange=0.03),
        YarnSpec(key="B", name="blue", srgb=(52, 78, 138), melange=0.05),
    )
    cloth = ClothSpec(
        yarns=yarns, warp=(("A", 16), ("B", 16)), weft=(("A", 16), ("B", 16)),
        warp_kind="repeating", weft_kind="repeating", epi=24.0, ppi=22.0, weave="plain",
        warp_cover=0.86, weft_cover=0.84, wander=0.045, wander_mm=12, jitter=0.06, waviness=0.06,
        fulling=0.05, hair=0.08, ply_mark=0.15, fibre=0.1, drape_mm=0.3, drape_scale_mm=40,
        phase=(5, 9),
    )  # fmt: skip
    camera = CameraSpec(
        width=1600, height=1200, px_per_mm=7 * 24 / 25.4, focal_px=1500, tilt_deg=3,
        tilt_toward_deg=160, roll_deg=2, k1=-0.01, defocus_px=0.7, noise=0.007, sharpen=0.6,
        jpeg_quality=72,
    )  # fmt: skip
    light = LightSpec(
        exposure=1.05, gradient=0.2, gradient_deg=20, vignette=0.1, azimuth_deg=300,
        elevation_deg=45, contrast=0.1, veil=0.01,
    )  # fmt: skip
    ruler = RulerSpec(
        unit="mm", x=0, y=-76, angle_deg=180.5, length_mm=170, width_mm=26, material="plastic"
    )
    return Scene(cloth=cloth, camera=camera, light=light, rulers=(ruler,))


SAMPLES = {
    "close_swatch": (close_swatch, 11),
    "tilted_swatch": (tilted_swatch, 12),
    "whole_blanket": (whole_blanket, 13),
    "whole_blanket_large": (whole_blanket_large, 13),
    "plain_check": (plain_check, 14),
}


def main(folder: str = "sample_images", *names: str) -> None:
    """Write every sample, or those named, with its truth beside it."""
    Path(folder).mkdir(parents=True, exist_ok=True)
    for name, (scene, seed) in SAMPLES.items():
        if names and name not in names:
            continue
        picture = render(scene(), seed)
        (Path(folder) / f"{name}.jpg").write_bytes(picture.jpeg)
        (Path(folder) / f"{name}.truth.json").write_text(to_text(picture.truth), encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])
