"""The sensor, the ruler, chance and the random scenes."""

import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.render import camera as cam
from tests.render import ruler as rule
from tests.render.random_scene import LEVELS, draw_sett, draw_yarns, random_scene
from tests.render.samples import SAMPLES
from tests.render.scene import render, truth_of
from tests.render.specs import (
    CameraSpec,
    CardSpec,
    ClothSpec,
    LightSpec,
    RulerSpec,
    Scene,
    linear_from_srgb,
)
from tests.render.truth import to_text

COUNTS = ("index", "yarn", "threads", "full_threads", "cut")
SMALL = CameraSpec(width=500, height=360, px_per_mm=8)


@pytest.mark.parametrize("noise", [0.004, 0.02])
def test_noise_is_as_strong_as_stated(noise):
    grey = np.full((300, 300, 3), 0.18, np.float32)
    camera = CameraSpec(noise=noise, defocus_px=0, sharpen=0)
    seen = cam.develop(grey, camera, LightSpec(exposure=1.0), np.random.default_rng(1))
    spread = linear_from_srgb(seen).std()
    rounding = 0.0017  # a step of the code at this grey is 0.0058 wide in linear light; / sqrt(12)
    assert spread == pytest.approx(np.hypot(noise, rounding), rel=0.06)


def test_shot_noise_grows_with_the_root_of_light():
    camera = CameraSpec(noise=0.02, defocus_px=0, sharpen=0)
    spread = []
    for level in (0.1, 0.4):
        flat = np.full((300, 300, 3), level, np.float32)
        seen = cam.develop(flat, camera, LightSpec(exposure=1.0), np.random.default_rng(1))
        spread.append(linear_from_srgb(seen).std())
    expected = np.sqrt((0.4 / 0.18 * 2 / 3 + 1 / 3) / (0.1 / 0.18 * 2 / 3 + 1 / 3))
    assert spread[1] / spread[0] == pytest.approx(expected, rel=0.05)


def test_mosaic_keeps_a_smooth_picture():
    """Of a soft ramp in each colour nothing is lost, and red stays red."""
    ramp = np.linspace(0.2, 0.6, 80, dtype=np.float32)
    level = np.full((80, 80), 0.3, np.float32)
    across = level * 0 + ramp
    smooth = np.stack([across, (across + across.T) / 2, level], -1)
    camera = CameraSpec(noise=0, defocus_px=0, sharpen=0)
    light = LightSpec(exposure=1)
    seen = cam.develop(smooth, camera, light, None)
    mosaic = cam.develop(smooth, replace(camera, bayer=True), light, None)
    gap = np.abs(seen.astype(int) - mosaic)[4:-4, 4:-4]
    assert gap.max() <= 2


def test_stray_light_keeps_the_mean():
    flat = np.zeros((40, 40, 3), np.float32)
    flat[:, :20] = 0.5
    camera = CameraSpec(noise=0, defocus_px=0, sharpen=0)
    seen = cam.develop(flat, camera, LightSpec(exposure=1, veil=0.1), None)
    light = linear_from_srgb(seen)
    assert light[5, 30, 0] == pytest.approx(0.025, abs=0.002)
    assert light.mean() == pytest.approx(0.25, abs=0.003)


def test_blur_and_gradient():
    edge = np.zeros((60, 200, 3), np.float32)
    edge[:, 100:] = 0.5
    camera = CameraSpec(width=200, height=60, defocus_px=3, noise=0, sharpen=0)
    soft = linear_from_srgb(cam.develop(edge, camera, LightSpec(exposure=1), None))[30, :, 1]
    rise = np.diff(soft)
    centre = np.sum(rise * np.arange(199)) / rise.sum()
    width = np.sqrt(np.sum(rise * (np.arange(199) - centre) ** 2) / rise.sum())
    assert width == pytest.approx(3, rel=0.05)
    field = cam.light_field(camera, LightSpec(gradient=0.3, gradient_deg=0))
    assert field[30, -1] / field[30, 0] == pytest.approx(1.287 / 0.713, rel=0.01)


@pytest.mark.parametrize("unit, per_inch, step", [("mm", 16, 1.0), ("inch", 16, 1.5875),
                                                  ("inch", 8, 3.175)])  # fmt: skip
def test_ticks_in_the_picture(unit, per_inch, step):
    """One inch is 25.4 mm exactly (international yard and pound agreement, 1959)."""
    ruler = RulerSpec(unit=unit, per_inch=per_inch, length_mm=50, material="wood", angle_deg=0)
    camera = CameraSpec(width=600, height=400, px_per_mm=10, noise=0, sharpen=0)
    picture = render(Scene(rulers=(ruler,), camera=camera), 2)
    truth = picture.truth["ruler"]
    feet = np.array(truth["ticks_px"])
    assert np.diff(feet[:, 0]) == pytest.approx(step * 10, abs=2e-3)
    row = round(feet[0, 1] + 15)
    dark = picture.linear[row - 3 : row + 4, :, 1].mean(axis=0)
    for x, _ in feet:
        near = np.arange(round(x) - 4, round(x) + 5)
        ink = np.clip(np.median(dark[near]) - dark[near], 0, None)
        assert np.sum(ink * near) / np.sum(ink) == pytest.approx(x, abs=0.35)


def test_ruler_between_its_ends_by_the_homography():
    ruler = RulerSpec(unit="mm", length_mm=60, angle_deg=25, x=3, y=4)
    camera = replace(SMALL, tilt_deg=14, tilt_toward_deg=70, roll_deg=5)
    truth = render(Scene(rulers=(ruler,), camera=camera), 2).truth
    feet = np.c_[np.array(truth["ruler"]["ticks_px"]), np.ones(51)]
    mm = feet @ np.linalg.inv(np.array(truth["homography_mm_to_px"])).T
    mm = mm[:, :2] / mm[:, 2:]
    assert np.linalg.norm(np.diff(mm, axis=0), axis=1) == pytest.approx(1.0, abs=1e-3)
    assert np.degrees(np.arctan2(*(mm[-1] - mm[0])[::-1])) == pytest.approx(25, abs=0.01)


def test_a_raised_ruler_is_seen_nearer_and_a_lifted_one_grows_towards_its_end():
    """Similar triangles: h above the table at distance D, all lengths grow by D / (D - h)."""
    camera = CameraSpec(width=1000, height=800, px_per_mm=5, focal_px=900)
    low, raised, lifted = (
        RulerSpec(length_mm=60, angle_deg=90, x=4, **more)
        for more in ({}, {"height_mm": 18.0}, {"lift_mm": 12.0})
    )
    steps = []
    for ruler in (low, raised, lifted):
        truth = render(Scene(rulers=(ruler,), camera=camera), 2).truth["ruler"]
        steps.append(np.linalg.norm(np.diff(truth["ticks_px"], axis=0), axis=1))
    assert steps[1] / steps[0] == pytest.approx(180 / (180 - 18), abs=1e-3)
    assert steps[2][-1] > 1.05 * steps[2][0]
    # at tilt too, what is seen at a plane point goes back to where it came from
    tilted = replace(camera, tilt_deg=15, tilt_toward_deg=30)
    both = replace(lifted, height_mm=5.0, angle_deg=20)
    along, across = np.array([1.0, 30.0, 59.0]), np.array([0.0, 12.0, 25.0])
    at = rule.plane_points(both, tilted, along, across)
    back = rule.over(both, tilted, *at.T)
    np.testing.assert_allclose(back, (along, across), atol=1e-3)


def test_hidden_ticks_do_not_show_and_the_truth_says_so():
    ruler = RulerSpec(length_mm=60, hidden=((20.0, 32.0),), other_unit="inch", width_mm=30)
    camera = CameraSpec(width=800, height=400, px_per_mm=10, noise=0, sharpen=0)
    picture = render(Scene(rulers=(ruler,), camera=camera), 2)
    truth = picture.truth["ruler"]
    seen, feet = np.array(truth["ticks_seen"]), np.array(truth["ticks_px"])
    assert 37 <= seen.sum() <= 42 and truth["ticks_in_frame"] == seen.sum()
    row = round(feet[0, 1] + 15)
    dark = picture.linear[row - 3 : row + 4, :, 1].mean(axis=0)
    contrast = [np.ptp(dark[round(x) - 5 : round(x) + 6]) for x, _ in feet]
    assert np.min(np.array(contrast)[seen]) > 5 * np.median(np.array(contrast)[18:25])
    # the other edge has the other unit, counted from the other end
    far = picture.linear[round(feet[0, 1] + 285) - 3 :, :, 1][:7].mean(axis=0)
    for k in (0, 1, 4, 26):
        x = round(feet[0, 0] + 500 - k * 25.4 / 16 * 10)
        assert far[x - 2 : x + 3].min() < 0.6 * np.median(far[x - 7 : x + 8])


def test_narrow_rulers_keep_three_lengths_of_ticks():
    for width in (8.0, 30.0):
        lengths = [long for _, long, _ in rule.ticks(RulerSpec(width_mm=width, length_mm=60))]
        assert lengths[0] > 1.2 * lengths[5] > 1.4 * lengths[1]


def test_scale_in_the_middle_is_that_of_the_homography():
    camera = replace(SMALL, tilt_deg=17, tilt_toward_deg=0)
    truth = render(Scene(camera=camera), 2).truth
    assert truth["px_per_mm"]["x"] == pytest.approx(8 * np.cos(np.radians(17)), rel=1e-4)
    assert truth["px_per_mm"]["y"] == pytest.approx(8, rel=1e-4)


def test_card_lies_where_the_truth_says():
    art = np.full((100, 150, 3), 255, np.uint8)
    art[:50] = (255, 0, 0)
    card = CardSpec(image=art, px_per_mm=5, x=2, y=-3, angle_deg=90)
    picture = render(Scene(card=card, camera=SMALL), 2)
    outline = np.array(picture.truth["card"]["outline_px"])
    assert np.ptp(outline, axis=0) == pytest.approx((160, 240), abs=0.01)
    x, y = outline.mean(axis=0)
    # Turned a quarter clockwise, its red upper half lies to the right.
    np.testing.assert_allclose(picture.linear[round(y), round(x) + 40], (1, 0, 0), atol=1e-3)
    np.testing.assert_allclose(picture.linear[round(y), round(x) - 40], (1, 1, 1), atol=1e-3)


def test_same_seed_same_picture():
    scene = Scene(camera=SMALL, cloth=ClothSpec(drape_mm=0.5))
    first, again, other = render(scene, 7), render(scene, 7), render(scene, 8)
    assert first.jpeg == again.jpeg
    assert first.truth == again.truth
    assert first.jpeg != other.jpeg


def test_jpeg_is_the_picture():
    picture = render(Scene(camera=replace(SMALL, jpeg_quality=95)), 1)
    read = np.asarray(Image.open(io.BytesIO(picture.jpeg))).astype(float)
    assert read.shape == picture.image.shape
    assert np.abs(read.mean(axis=(0, 1)) - picture.image.mean(axis=(0, 1))).max() < 1.0


@pytest.mark.parametrize("level", sorted(LEVELS))
def test_random_scenes_render_and_keep_their_word(level):
    scene = random_scene(np.random.default_rng(5), px_per_thread=5, level=level, size=(480, 360))
    truth = render(scene, 5).truth
    json.dumps(truth)
    assert min(truth["px_per_thread"].values()) == pytest.approx(5, rel=0.12)
    for axis in ("warp", "weft"):
        keys = [(s["index"], s["yarn"]) for s in truth[axis]["stripes"]]
        # A stripe may be wholly hidden under the ruler: its index is then missing.
        pairs = zip(keys, keys[1:], strict=False)
        assert all(a[1] != b[1] or b[0] - a[0] == 2 for a, b in pairs)
        assert all(s["threads"] <= s["full_threads"] for s in truth[axis]["stripes"])


def test_random_setts():
    rng = np.random.default_rng(3)
    for _ in range(100):
        yarns = draw_yarns(rng, int(rng.integers(2, 7)), 0.05)
        kind = str(rng.choice(["symmetric", "repeating"]))
        sett = draw_sett(rng, yarns, 200, kind)
        assert {k for k, _ in sett} == {y.key for y in yarns}
        assert all(1 <= n <= 100 for _, n in sett)


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_sample_truths_are_those_of_their_scenes(name):
    """The pictures themselves are too slow to make again here; their truth is not."""
    make, seed = SAMPLES[name]
    folder = Path(__file__).parents[2] / "sample_images"
    kept = json.loads((folder / f"{name}.truth.json").read_text(encoding="utf-8"))
    fresh = json.loads(to_text(truth_of(make(), seed)))
    assert fresh.keys() == kept.keys()
    for axis in ("warp", "weft"):
        for now, then in zip(fresh[axis]["stripes"], kept[axis]["stripes"], strict=True):
            assert {k: now[k] for k in COUNTS} == {k: then[k] for k in COUNTS}
            assert now["start_mm"] == pytest.approx(then["start_mm"], abs=1e-3)
        assert fresh[axis]["epi"] == pytest.approx(kept[axis]["epi"], abs=1e-3)
    with Image.open(folder / f"{name}.jpg") as picture:
        assert list(picture.size) == kept["size_px"]


@pytest.mark.parametrize("name, px", [("close_swatch", 8), ("whole_blanket", 2.2)])
def test_samples_have_the_size_of_thread_that_the_readme_tells(name, px):
    make, seed = SAMPLES[name]
    assert truth_of(make(), seed)["px_per_thread"]["warp"] == pytest.approx(px, rel=0.05)
