"""A tilted and turned perspective camera with a little lens distortion, and its projection."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Camera:
    """Camera over the plane z = 0, looking at its origin.

    Attributes:
        size: width and height of the photo in pixels.
        focal: focal length in pixels.
        eye: its place in mm.
        axes: (3, 3) unit vectors in rows: right, down and forward.
        bend: distortion; a distorted point p comes from p (1 + bend r^2), r = 1 at the corners.
    """

    size: tuple[int, int]
    focal: float
    eye: np.ndarray
    axes: np.ndarray
    bend: float

    def project(self, points: np.ndarray) -> np.ndarray:
        """(..., 2) pixels in the photo of (..., 3) points in mm."""
        seen = (points - self.eye) @ self.axes.T
        flat = self.focal * seen[..., :2] / seen[..., 2:]
        half = np.hypot(*self.size) / 2
        bent = flat.copy()
        for _ in range(8):
            r2 = (bent**2).sum(-1, keepdims=True) / half**2
            bent = flat / (1 + self.bend * r2)
        return bent + np.array(self.size) / 2

    def on_plane(self, pixels: np.ndarray, z: float = 0.0) -> np.ndarray:
        """(..., 2) x and y on the plane at height z of pixels of the photo."""
        flat = self.straight(pixels)
        rays = np.concatenate([flat / self.focal, np.ones((*flat.shape[:-1], 1))], -1) @ self.axes
        return (self.eye + rays * ((z - self.eye[2]) / rays[..., 2:]))[..., :2]

    def straight(self, pixels: np.ndarray) -> np.ndarray:
        """Undistorted places, from the middle, of pixels of the photo."""
        off = np.asarray(pixels, float) - np.array(self.size) / 2
        half = np.hypot(*self.size) / 2
        return off * (1 + self.bend * (off**2).sum(-1, keepdims=True) / half**2)


def place(
    size: tuple[int, int],
    px_per_mm: float,
    field_deg: float,
    tilt: float,
    towards: float,
    turn: float,
    bend: float,
) -> Camera:
    """A camera that shows the plane's origin in its middle.

    Args:
        size: width and height of the photo in pixels.
        px_per_mm: in the middle.
        field_deg: angle of view along the longer side in degrees.
        tilt: how far from straight above, in degrees.
        towards: to which side, in degrees.
        turn: how far the photo is turned, in degrees.
        bend: distortion, as of `Camera`.
    """
    focal = max(size) / 2 / np.tan(np.radians(field_deg) / 2)
    t, a, r = np.radians([tilt, towards, turn])
    out = np.array([np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.cos(t)])
    forward = -out
    up = np.array([np.sin(r), np.cos(r), 0.0])
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    return Camera(size, focal, out * focal / px_per_mm, np.stack([right, down, forward]), bend)
