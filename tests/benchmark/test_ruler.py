"""The ruler table's own sums, on hand-made rulers whose error is known."""

from dataclasses import replace

import numpy as np
import pytest

from settscan.photo.flat import RulerFound
from tests.benchmark.ruler import RulerResult, along_error, ruler_tables, scene_of
from tests.render import camera as cam
from tests.render import ruler as rule
from tests.render.specs import CameraSpec, RulerSpec


def test_the_error_is_that_of_the_distances_on_the_ruler():
    ruler = RulerSpec(length_mm=120, angle_deg=20, height_mm=8.0)
    camera = CameraSpec(tilt_deg=15, tilt_toward_deg=40, k1=0.02)
    mm = np.arange(80.0)
    for share in (1.0, 1.02):
        plane = rule.plane_points(ruler, camera, 20 + mm / share, np.full(80, 5.0))
        found = RulerFound(
            origin_px=np.zeros(2), direction=np.array([1.0, 0.0]), a=8.0, c=0.0, length_mm=79.0,
            tick_mm=1.0, ticks_px=cam.to_photo(camera, plane), ticks_mm=mm,
            outline_px=np.zeros((4, 2)), relative_error=0.001, unit="mm",
        )  # fmt: skip
        assert along_error(found, ruler, camera) == pytest.approx(share - 1, abs=1e-4)


def test_misses_and_faults_are_counted():
    drawn = {"kind": "mm", "material": "wood", "level": "easy", "special": "", "px_per_mm": 5.0}
    good = RulerResult(
        name="1", drawn=drawn, errors=(0.001,), stray=0, axes=(0.002, -0.004), inside=(True, False),
        doubted=(), seconds=1.0,
    )  # fmt: skip
    missed = replace(good, errors=(None,), axes=(None, None), inside=(), doubted=("ruler-missing",))
    wrong = replace(good, errors=(0.5,), stray=2)
    off = replace(
        good, drawn=drawn | {"special": "raised"}, axes=(0.5, 0.5), doubted=("ruler-off-plane",)
    )
    last = ruler_tables([good, missed, wrong, off]).splitlines()
    wood = next(line for line in last if line.startswith("| wood"))
    assert wood.split(" | ")[1:5] == ["4", "1", "1", "2"]
    # of rulers that do not lie flat the error along the axes is their own affair
    assert wood.split(" | ")[6] == "0.30 / 0.40 / 0.40"
    assert "1 of 1; flat 0 of 2" in wood


def test_scenes_depend_on_seed_and_number_alone():
    assert scene_of(3, 5) == scene_of(3, 5)
    assert scene_of(3, 5)[0] != scene_of(4, 5)[0]
    sizes = [scene_of(1, k)[1]["px_per_mm"] for k in range(40)]
    assert min(sizes) < 2 and max(sizes) > 12
