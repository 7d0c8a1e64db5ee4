"""Two photos of one cloth: all of it from afar, and a part of it from close by with a ruler."""

from tests.render.scene import render
from tests.render.specs import CameraSpec, ClothSpec, RulerSpec, Scene, YarnSpec

SETT = (("A", 22), ("B", 4), ("A", 14), ("C", 8), ("A", 10), ("B", 12))
YARNS = (
    YarnSpec(key="A", name="green", srgb=(58, 110, 78)),
    YarnSpec(key="B", name="navy", srgb=(38, 48, 100)),
    YarnSpec(key="C", name="fawn", srgb=(176, 150, 112)),
)
FAR_PX, CLOSE_PX = 1.3, 7  # per thread


def whole_photo(folder):
    """The whole cloth at 1.3 pixels per thread; no ruler could be read in it."""
    return _photographed(folder, "whole", FAR_PX, (560, 420))


def close_photo(folder):
    """A close-up at 7 pixels per thread, with a ruler."""
    ruler = RulerSpec(x=0, y=29, length_mm=75, width_mm=11)
    return _photographed(folder, "close", CLOSE_PX, (600, 460), (ruler,))


def _photographed(folder, name, px_per_thread, size, rulers=()):
    """The farther the camera, the more of the cloth; the same seed lays the same threads."""
    scene = Scene(
        cloth=ClothSpec(yarns=YARNS, warp=SETT, weft=SETT, wander=0.02, jitter=0.03),
        camera=CameraSpec(width=size[0], height=size[1], px_per_mm=px_per_thread * 24 / 25.4),
        rulers=rulers,
    )
    path = folder / f"{name}.jpg"
    path.write_bytes(render(scene, 8).jpeg)
    return path
