"""Random fields, all of unit variance unless said otherwise."""

from __future__ import annotations

import cv2
import numpy as np

TILE = 1024  # side of the tiles, a power of two


def smooth_line(rng: np.random.Generator, n: int, correlation: float) -> np.ndarray:
    """(n,) Gaussian noise smoothed to a correlation length of so many entries."""
    sigma = max(correlation, 1e-3)
    reach = int(np.ceil(3 * sigma)) + 1
    white = rng.standard_normal(n + 2 * reach)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    kernel /= np.sqrt(np.sum(kernel**2))
    return np.convolve(white, kernel, mode="valid")[:n]


def tile(rng: np.random.Generator, size: int, sigma_y: float, sigma_x: float) -> np.ndarray:
    """(size, size) float32 noise that joins itself at its borders."""
    fy = np.fft.fftfreq(size)[:, None]
    fx = np.fft.rfftfreq(size)[None, :]
    gain = np.exp(-2 * np.pi**2 * ((fy * sigma_y) ** 2 + (fx * sigma_x) ** 2))
    white = np.fft.rfft2(rng.standard_normal((size, size)))
    out = np.fft.irfft2(white * gain, s=(size, size))
    return ((out - out.mean()) / out.std()).astype(np.float32)


def hair_tile(rng: np.random.Generator, size: int, hairs: int, length: float) -> np.ndarray:
    """(size, size) float32 in 0..1: curved thin lines on nothing; joins itself at its borders."""
    picture = np.zeros((3 * size, 3 * size), np.uint8)
    for _ in range(hairs):
        start = rng.uniform(0, size, 2)
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.25, 12))
        steps = np.c_[np.cos(heading), np.sin(heading)] * length / 12
        line = start + np.cumsum(steps, axis=0)
        for ox in (0, size, 2 * size):
            for oy in (0, size, 2 * size):
                points = np.round((line + (ox, oy)) * 16).astype(np.int32)
                cv2.polylines(picture, [points], False, 255, 1, cv2.LINE_AA, 4)
    return picture[size : 2 * size, size : 2 * size].astype(np.float32) / 255.0


def smooth_field(
    rng: np.random.Generator, shape: tuple[int, int], correlation: float
) -> np.ndarray:
    """(h, w) float32 Gaussian noise smoothed to a correlation length of so many entries."""
    reach = int(np.ceil(3 * correlation)) + 1
    white = rng.standard_normal((shape[0] + 2 * reach, shape[1] + 2 * reach))
    soft = cv2.GaussianBlur(white, (0, 0), correlation)
    soft = soft[reach : reach + shape[0], reach : reach + shape[1]]
    return (soft * 2 * np.sqrt(np.pi) * correlation).astype(np.float32)
