"""The camera: where a point of the plane lands in the picture, and what the sensor makes of it."""

from __future__ import annotations

import cv2
import numpy as np
from PIL import Image

from tests.render.specs import CameraSpec, LightSpec, srgb_from_linear


def focal_px(camera: CameraSpec) -> float:
    """Focal length in pixels."""
    return camera.focal_px or 0.75 * max(camera.width, camera.height)


def centre_px(camera: CameraSpec) -> tuple[float, float]:
    """Middle of the picture: the optical axis. The top-left pixel's centre is (0, 0)."""
    return (camera.width - 1) / 2, (camera.height - 1) / 2


def _rotation(camera: CameraSpec) -> np.ndarray:
    """Rows are the camera's right, down and viewing axes in the plane's frame (z into the table).

    A camera without tilt looks along +z. Tilted by theta towards phi, its view leans to phi.
    """
    theta = np.radians(camera.tilt_deg)
    phi = np.radians(camera.tilt_toward_deg)
    toward = np.array([np.cos(phi), np.sin(phi), 0.0])
    aside = np.array([-np.sin(phi), np.cos(phi), 0.0])
    down = np.array([0.0, 0.0, 1.0])
    view = np.cos(theta) * down + np.sin(theta) * toward
    lean = np.cos(theta) * toward - np.sin(theta) * down
    basis = np.stack([np.cos(phi) * lean - np.sin(phi) * aside,
                      np.sin(phi) * lean + np.cos(phi) * aside, view])  # fmt: skip
    a = np.radians(camera.roll_deg)
    roll = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1.0]])
    return roll @ basis


def position(camera: CameraSpec) -> np.ndarray:
    """Plane x and y of the camera's eye and its height above the plane, mm."""
    place = -_rotation(camera)[2] * focal_px(camera) / camera.px_per_mm
    return place * [1, 1, -1]


def homography(camera: CameraSpec) -> np.ndarray:
    """(3, 3) from plane millimetres (x, y, 1) to picture pixels, lens distortion left out."""
    f = focal_px(camera)
    cx, cy = centre_px(camera)
    rotation = _rotation(camera)
    place = -rotation[2] * f / camera.px_per_mm
    matrix = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1.0]])
    h = matrix @ np.c_[rotation[:, 0], rotation[:, 1], -rotation @ place]
    return h / h[2, 2]


def half_diagonal(camera: CameraSpec) -> float:
    """Pixels from the middle to the corner: the unit of the lens term."""
    return float(np.hypot(camera.width, camera.height) / 2)


def bend(camera: CameraSpec, xy: np.ndarray) -> np.ndarray:
    """Photo pixels of ideal (pinhole) pixels (..., 2): p = c + (q - c)(1 + k1 |q - c|^2 / R^2)."""
    d = xy - np.array(centre_px(camera))
    r2 = np.sum(d**2, axis=-1, keepdims=True) / half_diagonal(camera) ** 2
    return np.array(centre_px(camera)) + d * (1 + camera.k1 * r2)


def unbend_gain(camera: CameraSpec) -> np.ndarray:
    """Table over r^2 (photo radius over half diagonal, 0..1.5, 4097 entries) of ideal / photo."""
    photo = np.sqrt(np.linspace(0, 1.5, 4097))
    ideal = photo.copy()
    for _ in range(50):
        ideal = photo / (1 + camera.k1 * ideal**2)
    return np.where(photo > 0, ideal / np.maximum(photo, 1e-12), 1.0)


def to_photo(camera: CameraSpec, mm: np.ndarray) -> np.ndarray:
    """Photo pixels (N, 2) of plane points (N, 2) in millimetres, with the lens."""
    q = np.c_[mm, np.ones(len(mm))] @ homography(camera).T
    return bend(camera, q[:, :2] / q[:, 2:3])


def to_plane(camera: CameraSpec, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Plane millimetres of photo pixels (any shape), with the lens."""
    cx, cy = centre_px(camera)
    dx, dy = x - cx, y - cy
    if camera.k1:
        r2 = (dx**2 + dy**2) / half_diagonal(camera) ** 2
        gain = np.interp(r2, np.linspace(0, 1.5, 4097), unbend_gain(camera))
        dx, dy = dx * gain, dy * gain
    h = np.linalg.inv(homography(camera))
    px, py = dx + cx, dy + cy
    w = h[2, 0] * px + h[2, 1] * py + h[2, 2]
    return (h[0, 0] * px + h[0, 1] * py + h[0, 2]) / w, (h[1, 0] * px + h[1, 1] * py + h[1, 2]) / w


def light_field(camera: CameraSpec, light: LightSpec) -> np.ndarray:
    """(H, W) float32 light on a white surface at exposure 1, over the picture."""
    cx, cy = centre_px(camera)
    radius = half_diagonal(camera)
    x = ((np.arange(camera.width) - cx) / radius).astype(np.float32)[None, :]
    y = ((np.arange(camera.height) - cy) / radius).astype(np.float32)[:, None]
    g = np.radians(light.gradient_deg)
    field = 1 + light.gradient * (x * np.float32(np.cos(g)) + y * np.float32(np.sin(g)))
    field = field * (1 - light.vignette * (x**2 + y**2) ** 1.25)
    if light.shadow:
        s = np.radians(light.shadow_deg)
        ahead = x * np.float32(np.cos(s)) + y * np.float32(np.sin(s)) - light.shadow_at
        field = field * (1 - light.shadow / (1 + np.exp(-ahead / (light.shadow_soft / 4))))
    return np.maximum(field, 0.02).astype(np.float32)


def _smear(camera: CameraSpec) -> np.ndarray:
    """Kernel of the hand's motion."""
    reach = int(np.ceil(camera.motion_px / 2)) + 1
    kernel = np.zeros((2 * reach + 1, 2 * reach + 1), np.float32)
    a = np.radians(camera.motion_deg)
    end = np.array([np.cos(a), np.sin(a)]) * camera.motion_px / 2
    points = np.round((np.array([-end, end]) + reach) * 256).astype(np.int32)
    canvas = np.zeros_like(kernel, dtype=np.uint8)
    cv2.line(canvas, tuple(points[0].tolist()), tuple(points[1].tolist()), 255, 1, cv2.LINE_AA, 8)
    kernel += canvas
    return kernel / kernel.sum()


def develop(
    linear: np.ndarray, camera: CameraSpec, light: LightSpec, rng: np.random.Generator
) -> np.ndarray:
    """(H, W, 3) uint8 picture from linear light: blur, noise, tone curve, sharpening."""
    picture = linear * (np.array(light.cast, np.float32) * np.float32(light.exposure))
    if light.veil:
        picture = picture + light.veil * (picture.mean(axis=(0, 1)) - picture)
    if camera.defocus_px > 0:
        picture = cv2.GaussianBlur(picture, (0, 0), camera.defocus_px)
    if camera.motion_px > 0:
        picture = cv2.filter2D(picture, -1, _smear(camera))
    if camera.noise > 0:
        # Shot noise grows with the root of the light; a third of the variance at mid grey is
        # read noise.
        spread = camera.noise * np.sqrt(np.maximum(picture, 0) / 0.18 * (2 / 3) + 1 / 3)
        picture = picture + spread * rng.standard_normal(picture.shape, dtype=np.float32)
    if camera.bayer:
        picture = _one_colour_each(picture)
    encoded = srgb_from_linear(picture).astype(np.float32) / 255
    if light.contrast:
        curve = encoded * encoded * (3 - 2 * encoded)
        encoded = encoded + light.contrast * 0.5 * (curve - encoded)
    if camera.sharpen > 0:
        luma = encoded @ np.array([0.299, 0.587, 0.114], np.float32)
        crisp = luma - cv2.GaussianBlur(luma, (0, 0), camera.sharpen_px)
        encoded = encoded + camera.sharpen * crisp[:, :, None]
    return np.clip(np.round(encoded * 255), 0, 255).astype(np.uint8)


def _one_colour_each(picture: np.ndarray) -> np.ndarray:
    """Keep red, green or blue in each pixel (RGGB) and fill in the rest, as cameras do."""
    mosaic = picture[..., 1].copy()
    mosaic[0::2, 0::2] = picture[0::2, 0::2, 0]
    mosaic[1::2, 1::2] = picture[1::2, 1::2, 2]
    full = np.clip(mosaic * 32768 + 2048, 0, 65535).astype(np.uint16)
    # OpenCV names patterns by the second row's second and third pixel: RGGB is "BG", red first.
    filled = cv2.cvtColor(full, cv2.COLOR_BayerBG2RGB_EA)
    return (filled.astype(np.float32) - 2048) / 32768


def jpeg_bytes(picture: np.ndarray, quality: int) -> bytes:
    """The picture as a JPEG file."""
    import io

    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=quality, subsampling=2, optimize=True)
    return out.getvalue()
