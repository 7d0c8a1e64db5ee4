"""Flattening measured on rendered photos, whose every thread is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image, ImageFilter

from settscan.errors import Refusal
from settscan.photo.flat import Photo
from settscan.photo.given import GivenScale
from settscan.photo.plane import Plane
from settscan.photo.rectify import flatten
from settscan.settings import FLATTEN
from tests.photo.flat_truth import edge_offsets, flat_points, photo_of, ruler_of
from tests.render.scene import CameraSpec, ClothSpec, LightSpec, RulerSpec, Scene, render

SETT = (("A", 22), ("B", 6), ("A", 6), ("B", 14), ("C", 3))


def scene(camera: dict, cloth: dict | None = None, **more) -> Scene:
    fabric = {
        "warp": SETT,
        "weft": SETT,
        "wander": 0.0,
        "jitter": 0.0,
        "waviness": 0.0,
        **(cloth or {}),
    }
    view = {"width": 900, "height": 700, "px_per_mm": 5.0, "samples": 2, **camera}
    return Scene(cloth=ClothSpec(**fabric), camera=CameraSpec(**view), **more)


@pytest.fixture(scope="module")
def tilted():
    picture = render(
        scene(
            {"tilt_deg": 16.0, "tilt_toward_deg": 70.0, "roll_deg": 14.0, "k1": 0.03},
            rulers=(RulerSpec(length_mm=90.0, y=-20.0, angle_deg=4.0),),
        ),
        3,
    )
    return picture, flatten(photo_of(picture), rulers=(ruler_of(picture.truth),))


def test_a_plane_and_its_lens_lead_there_and_back():
    plane = Plane(
        centre=(799.5, 599.5),
        reach=1000.0,
        roll=0.3,
        lean_down=0.05,
        meet_down=0.2,
        lean_across=-0.04,
        meet_across=-0.1,
        lens=0.05,
    )
    photo = np.random.default_rng(1).uniform([0, 0], [1599, 1199], (200, 2))
    assert np.abs(plane.to_photo(plane.to_flat(photo)) - photo).max() < 1e-4


def test_stripe_edges_become_straight_in_a_steep_photo_with_a_bent_lens(tilted):
    picture, flat = tilted
    for runs in ("down", "across"):
        offsets = np.abs(edge_offsets(flat, picture.truth, runs))
        assert len(offsets) > 30
        assert np.median(offsets) < 0.3
        assert np.percentile(offsets, 90) < 1.0  # the rest lies in the photo's corners


def test_equal_distances_stay_equal_along_each_axis(tilted):
    picture, flat = tilted
    for runs, axis in (("down", 0), ("across", 1)):
        part = next(p for p in (picture.truth["warp"], picture.truth["weft"]) if p["runs"] == runs)
        places, mm = [], []
        for stripe in part["stripes"]:
            line = np.array(stripe["start_line_px"], dtype=float).reshape(-1, 2)
            if len(line) >= 3:
                places.append(np.median(flat_points(flat, line)[:, axis]))
                mm.append(stripe["start_mm"])
        rest = np.array(places) - np.polyval(np.polyfit(mm, places, 1), mm)
        assert np.abs(rest).max() < 2.5  # of 900 pixels


def test_the_ruler_gives_both_scales_and_says_that_it_lay_one_way(tilted):
    picture, flat = tilted
    for runs, axis in (("down", 0), ("across", 1)):
        part = next(p for p in (picture.truth["warp"], picture.truth["weft"]) if p["runs"] == runs)
        line = [s for s in part["stripes"] if len(s["start_line_px"]) >= 3]
        first, last = line[0], line[-1]
        px = [np.median(flat_points(flat, s["start_line_px"])[:, axis]) for s in (first, last)]
        true = (px[1] - px[0]) / (last["start_mm"] - first["start_mm"])
        found = flat.scale.px_per_mm_x if axis == 0 else flat.scale.px_per_mm_y
        assert found.low < true < found.high
        assert found.value == pytest.approx(true, rel=0.015)
    assert flat.scale.source == "ruler"
    assert "one-scale" in [d.name for d in flat.doubts]


def test_the_ruler_is_masked_and_the_cloth_is_not(tilted):
    picture, flat = tilted
    height, width = flat.mask.shape
    ruler = picture.truth["rulers"][0]["outline_px"]
    middle = flat_points(flat, [np.mean(ruler, axis=0)])[0].astype(int)
    assert not flat.mask[middle[1], middle[0]]
    assert flat.mask[height * 6 // 10 : height * 8 // 10, width // 3 : 2 * width // 3].mean() > 0.9
    assert flat.reaches_edge == (True, True, True, True)


def test_flat_pixels_are_the_photo_at_the_place_that_they_name(tilted):
    picture, flat = tilted
    photo = photo_of(picture).encoded.astype(float)
    height, width = flat.mask.shape
    rng = np.random.default_rng(2)
    xy = np.c_[rng.integers(50, width - 50, 400), rng.integers(50, height - 50, 400)]
    xy = xy[flat.mask[xy[:, 1], xy[:, 0]]]
    at = np.rint(flat.photo_points(xy)).astype(int)
    seen = (photo[at[:, 1], at[:, 0]] / 255).mean(axis=1) ** 2.2
    flat_light = flat.pixels[xy[:, 1], xy[:, 0]].mean(axis=1)
    assert np.corrcoef(seen, flat_light)[0, 1] > 0.95


def test_the_top_of_the_photo_stays_up():
    picture = render(scene({"roll_deg": -40.0}), 5)
    flat = flatten(photo_of(picture))
    ends = flat.photo_points(np.array([[100.0, 100.0], [100.0, 300.0], [300.0, 100.0]]))
    down, right = ends[1] - ends[0], ends[2] - ends[0]
    assert down[1] > abs(down[0]) * 0.9
    assert right[0] > abs(right[1]) * 0.9


def test_drape_is_straightened():
    picture = render(scene({"roll_deg": 4.0}, {"drape_mm": 1.2, "drape_scale_mm": 60.0}), 7)
    flat = flatten(photo_of(picture))
    for runs in ("down", "across"):
        offsets = np.abs(edge_offsets(flat, picture.truth, runs))
        assert np.median(offsets) < 0.5
        assert np.percentile(offsets, 90) < 1.5
    # the drape itself was some pixels
    assert np.abs(flat.shift).max() > 2.0


@pytest.mark.parametrize("fringe", [0.0, 8.0])
def test_a_cloth_on_a_table_is_cut_out_at_its_edges(fringe):
    cloth = {"size_mm": (120.0, 90.0), "fringe_mm": fringe}
    picture = render(scene({"roll_deg": 6.0, "tilt_deg": 6.0}, cloth, table="wood"), 8)
    flat = flatten(photo_of(picture))
    height, width = flat.mask.shape
    corners = flat_points(flat, np.array(picture.truth["corners_px"]))
    left, top = flat.margin[:2]
    right, bottom = width - flat.margin[2], height - flat.margin[3]
    wanted = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    assert np.abs(corners - wanted).max() < 14
    assert flat.reaches_edge == (False, False, False, False)
    assert flat.mask[top:bottom, left:right].mean() > 0.9
    assert not flat.mask[:top].any()
    assert not flat.mask[:, :left].any()


def test_stripes_one_way_only():
    picture = render(scene({"roll_deg": 9.0}, {"weft": (("C", 10), ("C", 10))}), 9)
    flat = flatten(photo_of(picture))
    offsets = np.abs(edge_offsets(flat, picture.truth, "down"))
    assert np.median(offsets) < 0.3
    assert np.percentile(offsets, 90) < 1.0


def test_a_distance_that_the_person_gives_wins(tilted):
    picture, _ = tilted
    ends = picture.truth["rulers"][0]["ticks_px"]
    (x0, y0), (x1, y1) = ends[10], ends[50]
    given = GivenScale(x0=x0, y0=y0, x1=x1, y1=y1, length_mm=40.0)
    ruler = ruler_of(picture.truth)
    flat = flatten(photo_of(picture), rulers=(ruler,), given=(given,))
    by_ruler = flatten(photo_of(picture), rulers=(ruler,))
    assert flat.scale.source == "given"
    assert flat.scale.px_per_mm_x.value == pytest.approx(by_ruler.scale.px_per_mm_x.value, rel=0.01)


def test_without_a_ruler_there_is_no_scale():
    flat = flatten(photo_of(render(scene({}), 1)))
    assert flat.scale.px_per_mm_x is None and flat.scale.px_per_mm_y is None
    assert "ruler-missing" in [d.name for d in flat.doubts]


@pytest.mark.parametrize("kind", ["even", "noise"])
def test_what_is_no_cloth_is_refused_with_advice(kind):
    rng = np.random.default_rng(0)
    pixels = np.full((500, 700, 3), 128, np.uint8)
    if kind == "noise":
        pixels = rng.integers(0, 255, (500, 700, 3), dtype=np.uint8)
    with pytest.raises(Refusal, match="[Pp]hotograph"):
        flatten(Photo(encoded=pixels, file="x.png", sha256=""))


def test_uneven_light_is_divided_out():
    light = LightSpec(gradient=0.5, gradient_deg=20.0, vignette=0.15)
    even = flatten(photo_of(render(scene({}), 11)))
    uneven = flatten(photo_of(render(scene({}, light=light), 11)))
    for flat, most in ((even, 0.06), (uneven, 0.12)):
        height, width = flat.mask.shape
        tops = [
            np.percentile(flat.pixels[y : y + height // 2, x : x + width // 2].mean(axis=2), 97)
            for y in (0, height // 2)
            for x in (0, width // 2)
        ]
        assert np.std(np.log(tops)) < most


def test_given_corners_bound_what_is_read():
    picture = render(scene({}), 12)
    corners = np.array([[200.0, 150.0], [700.0, 150.0], [700.0, 550.0], [200.0, 550.0]])
    flat = flatten(photo_of(picture), corners=corners)
    ends = flat.photo_points(np.array([[0.0, 0.0], [flat.mask.shape[1], flat.mask.shape[0]]]))
    assert np.abs(ends - corners[[0, 2]]).max() < 25


def test_a_huge_photo_is_sampled_coarser_and_says_so():
    photo = photo_of(render(scene({}), 12))
    fine = flatten(photo)
    coarse = flatten(photo, settings=replace(FLATTEN, most_pixels=200_000))
    assert fine.sampling == 1.0
    assert coarse.sampling == 0.5
    xy = np.array([[100.0, 90.0], [300.0, 200.0]])
    assert coarse.photo_points(xy) == pytest.approx(fine.photo_points(xy * 2 + 0.5), abs=1.5)
    one, two = (f.pixels[20:-20, 20:-20].mean() for f in (fine, coarse))
    assert one == pytest.approx(two, rel=0.05)


def test_blur_and_glare_are_noticed():
    sharp = photo_of(render(scene({}), 12))
    assert {"blurred", "glare", "clipped"}.isdisjoint(d.name for d in flatten(sharp).doubts)
    lit = sharp.encoded.copy()
    y, x = np.mgrid[: lit.shape[0], : lit.shape[1]]
    lit[(x - 300) ** 2 + (y - 300) ** 2 < 80**2] = 255
    soft = np.asarray(Image.fromarray(lit).filter(ImageFilter.GaussianBlur(5)))
    names = [d.name for d in flatten(replace(sharp, encoded=soft)).doubts]
    assert {"blurred", "glare", "clipped"} <= set(names)


def test_the_ticks_of_a_ruler_tell_a_tilt_that_few_bowed_stripes_do_not():
    wide = (("A", 150), ("B", 150))
    uneven = {"wander": 0.05, "jitter": 0.05, "waviness": 0.04}
    laid = {"drape_mm": 1.2, "drape_scale_mm": 60.0, "bow_mm": 3.0, "bow_span_mm": 300.0}
    picture = render(
        scene(
            {"tilt_deg": 18.0, "roll_deg": 6.0, "noise": 0.02},
            {"warp": wide, "weft": wide, **uneven, **laid},
            rulers=(RulerSpec(length_mm=150.0, x=-75.0, y=-50.0, angle_deg=4.0),),
        ),
        3,
    )
    flat = flatten(photo_of(picture), rulers=(ruler_of(picture.truth),))
    across = np.linspace(-60.0, 60.0, 9)
    plane = np.array(picture.truth["homography_mm_to_px"])
    photo = plane @ np.stack([across, np.zeros(9), np.ones(9)])
    places = flat_points(flat, (photo[:2] / photo[2]).T)[:, 0]
    bent, even, _ = np.polyfit(across / 60, places, 2)
    assert abs(bent / even) < 0.005  # without its ticks 0.03: the scale changes by 12 %


def test_a_ruler_with_one_end_in_the_air_does_not_tilt_the_cloth_and_is_doubted():
    ruler = RulerSpec(length_mm=120.0, x=-60.0, y=-20.0, angle_deg=4.0, lift_mm=16.0)
    picture = render(scene({"tilt_deg": 10.0}, rulers=(ruler,)), 3)
    flat = flatten(photo_of(picture), rulers=(ruler_of(picture.truth),))
    assert "ruler-off-plane" in [d.name for d in flat.doubts]
    test_equal_distances_stay_equal_along_each_axis((picture, flat))
