"""The ruler table's own sums, on hand-made rulers whose error is known."""

from dataclasses import replace

import numpy as np
import pytest

from settscan.photo.flat import RulerFound
from tests.benchmark.ruler import RulerResult, along_error, ruler_tables, scene_of

TRUE = {
    "ticks_px": [[100 + 5 * k, 50.0] for k in range(101)],
    "tick_mm": 1.0,
    "outline_px": [[75, 50], [625, 50], [625, 150], [75, 150]],
}


def found(px_per_mm):
    at = np.arange(80.0)
    return RulerFound(
        origin_px=np.array([120.0, 50.0]), direction=np.array([1.0, 0.0]), a=px_per_mm, c=0.0,
        length_mm=79.0, tick_mm=1.0, ticks_px=np.stack([120 + px_per_mm * at, 0 * at + 50], 1),
        outline_px=np.array(TRUE["outline_px"], float), relative_error=0.001, unit="mm",
    )  # fmt: skip


def test_the_error_is_that_of_the_whole_length():
    assert along_error(found(5.0), TRUE) == pytest.approx(0, abs=1e-6)
    assert along_error(found(4.9), TRUE) == pytest.approx(5 / 4.9 - 1, abs=1e-6)


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
