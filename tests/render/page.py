"""A page of swatches: several cloths in one photograph, on one table, under one light.

Each cloth is laid and exposed with the same chance, so that all but the cloth itself comes out
alike in every pixel; what a cloth changes is then added up, in linear light.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tests.render import camera as cam
from tests.render import things
from tests.render.scene import Rendered, _chance, expose, lay
from tests.render.scene import truth_of as truth_of
from tests.render.specs import ClothSpec, Scene


def render_page(scene: Scene, cloths: Sequence[ClothSpec], seed: int = 0) -> Rendered:
    """Photograph several cloths that do not overlap.

    Args:
        scene: table, rulers, camera and light; its own cloth is left out.
        cloths: each with a size and a place of its own.
        seed: of chance.

    Returns:
        The photograph; its truth is {"cloths": [truth of each]}.
    """
    far = replace(scene.cloth, size_mm=(5.0, 5.0), centre_mm=(1e4, 1e4))
    bare = _light_of(replace(scene, cloth=far), seed)
    linear = bare.copy()
    truths = []
    for n, cloth in enumerate(cloths):
        one = replace(scene, cloth=cloth)
        linear += _light_of(one, seed, cloth_seed=seed + 1000 * n) - bare
        truths.append(truth_of(one, seed + 1000 * n))
    lit = linear * cam.light_field(scene.camera, scene.light)[:, :, None]
    image = cam.develop(lit, scene.camera, scene.light, _chance(seed, 3))
    data = cam.jpeg_bytes(image, scene.camera.jpeg_quality)
    return Rendered(image, data, {"cloths": truths}, linear)


def _light_of(scene: Scene, seed: int, cloth_seed: int | None = None) -> np.ndarray:
    """(H, W, 3) light of the scene; table and sampling follow `seed` alone."""
    laid, box = lay(scene, seed if cloth_seed is None else cloth_seed)
    wide = _wide_box(scene)
    around = things.lay_things(scene, wide or box, _chance(seed, 1))
    return expose(scene, laid, around, _chance(seed, 2))


def _wide_box(scene: Scene):
    """The box of the table, which must not depend on the cloth."""
    from tests.render.scene import plane_box

    left, top, right, bottom = plane_box(scene.camera)
    return left - 20, top - 20, right + 20, bottom + 20
