"""The camera and the plane: checked against plane trigonometry and against OpenCV's camera."""

import cv2
import numpy as np
import pytest

from tests.render import camera as cam
from tests.render.bend import to_material, to_plane
from tests.render.cloth import lay_cloth
from tests.render.scene import plane_box
from tests.render.specs import CameraSpec, ClothSpec, FoldSpec, LightSpec

SQUARE = np.array([[-40.0, -40], [40, -40], [40, 40], [-40, 40]])


def test_square_camera_only_scales():
    camera = CameraSpec(width=801, height=601, px_per_mm=5)
    expected = SQUARE * 5 + (400, 300)
    np.testing.assert_allclose(cam.to_photo(camera, SQUARE), expected, atol=1e-9)


def test_tilted_square_by_trigonometry():
    """A camera at distance D, tilted by t to the right: x' = f x cos t / (D + x sin t)."""
    camera = CameraSpec(width=1000, height=800, px_per_mm=5, focal_px=900, tilt_deg=15)
    distance, t = 900 / 5, np.radians(15)
    depth = distance + SQUARE[:, 0] * np.sin(t)
    x = 499.5 + 900 * SQUARE[:, 0] * np.cos(t) / depth
    y = 399.5 + 900 * SQUARE[:, 1] / depth
    np.testing.assert_allclose(cam.to_photo(camera, SQUARE), np.c_[x, y], atol=1e-9)


def test_tilt_downwards_shrinks_the_lower_side():
    camera = CameraSpec(tilt_deg=12, tilt_toward_deg=90)
    px = cam.to_photo(camera, SQUARE)
    upper, lower = px[1] - px[0], px[2] - px[3]
    assert np.linalg.norm(lower) < np.linalg.norm(upper)
    assert upper[1] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("tilt, toward, roll, k1", [(20, 30, 0, 0.05), (8, 200, -17, -0.05)])
def test_agrees_with_opencv_camera(tilt, toward, roll, k1):
    """Reference library: cv2.projectPoints (its k1 is in units of the focal length)."""
    camera = CameraSpec(
        width=1600, height=1200, px_per_mm=6, tilt_deg=tilt, tilt_toward_deg=toward,
        roll_deg=roll, k1=k1,
    )  # fmt: skip
    f, radius = 0.75 * 1600, np.hypot(1600, 1200) / 2
    phi = np.radians(toward)
    # Looking towards phi is a turn about the axis at right angles to it, in the plane.
    lean, _ = cv2.Rodrigues(np.radians(tilt) * np.array([np.sin(phi), -np.cos(phi), 0]))
    turn, _ = cv2.Rodrigues(np.array([0, 0, np.radians(roll)]))
    matrix = np.array([[f, 0, 799.5], [0, f, 599.5], [0, 0, 1]])
    points = np.c_[SQUARE, np.zeros(4)]
    lens = np.array([k1 * (f / radius) ** 2, 0, 0, 0])
    expected, _ = cv2.projectPoints(
        points, cv2.Rodrigues(turn @ lean)[0], np.array([0, 0, f / 6]), matrix, lens
    )
    np.testing.assert_allclose(cam.to_photo(camera, SQUARE), expected[:, 0], atol=1e-6)


@pytest.mark.parametrize("k1", [0.05, -0.05, 0.0])
def test_way_back_from_the_corners(k1):
    camera = CameraSpec(k1=k1, tilt_deg=18, tilt_toward_deg=140, roll_deg=9)
    x, y = np.array([0.0, 1199, 600, 3, 1190]), np.array([0.0, 899, 450, 890, 8])
    back = cam.to_photo(camera, np.stack(cam.to_plane(camera, x, y), -1))
    np.testing.assert_allclose(back, np.c_[x, y], atol=2e-3)


def test_lens_moves_the_corner_by_its_share():
    camera = CameraSpec(k1=0.05)
    middle = np.array(cam.centre_px(camera))
    corner = middle + np.array([camera.width, camera.height]) / 2
    np.testing.assert_allclose(cam.bend(camera, corner) - middle, (corner - middle) * 1.05)


def test_material_and_plane_are_inverse():
    spec = ClothSpec(drape_mm=1.0, bow_mm=3, skew_deg=1, folds=(FoldSpec(x=5, y=0, angle_deg=70),))
    box = plane_box(CameraSpec())
    laid = lay_cloth(spec, box, LightSpec(), np.random.default_rng(4))
    u = np.random.default_rng(1).uniform(-50, 50, 700)
    v = np.random.default_rng(2).uniform(-40, 40, 700)
    mm = to_plane(laid, u, v)
    back_u, back_v, _ = to_material(laid, mm[:, 0], mm[:, 1])
    np.testing.assert_allclose(back_u, u, atol=0.002)
    np.testing.assert_allclose(back_v, v, atol=0.002)
