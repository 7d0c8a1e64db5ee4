"""From light to a phone's picture: lens, blur, sensor noise, colours, tone and sharpening."""

from __future__ import annotations

import cv2
import numpy as np

from .camera import Camera


def develop(light: np.ndarray, camera: Camera, spec: dict, rng) -> np.ndarray:
    """8-bit RGB photo of traced linear light.

    Args:
        light: (h, w, 3), with its middle where the photo's is and a margin around.
        camera: of the photo.
        spec: of the scene.
        rng: random numbers.
    """
    image = _through_lens(light, camera)
    image = image * _exposure(image, spec["exposure"])
    image = image * np.array(spec["cast"], np.float32)
    if spec["blur"] > 0:
        image = cv2.GaussianBlur(image, (0, 0), spec["blur"])
    image = _falloff(image, spec["vignette"])
    image = _sensor(image, spec, rng)
    image = _smooth_colour(image, spec["colour_smooth"])
    seen = _tone(np.clip(image, 0, None), spec["contrast"])
    if spec["sharpen"] > 0:
        soft = cv2.GaussianBlur(seen, (0, 0), spec["sharpen_reach"])
        seen = seen + spec["sharpen"] * (seen - soft)
    return np.clip(seen * 255 + 0.5, 0, 255).astype(np.uint8)


def _through_lens(light: np.ndarray, camera: Camera) -> np.ndarray:
    """The photo's own pixels, bent by the lens."""
    w, h = camera.size
    x, y = np.meshgrid(np.arange(w) + 0.5, np.arange(h) + 0.5)
    flat = camera.straight(np.stack([x, y], -1))
    at = (flat + np.array(light.shape[1::-1]) / 2 - 0.5).astype(np.float32)
    edge = cv2.BORDER_REPLICATE
    bent = cv2.remap(light, at[..., 0], at[..., 1], cv2.INTER_CUBIC, borderMode=edge)
    return np.maximum(bent, 0)  # cubic interpolation may go below nothing


def _exposure(image: np.ndarray, stops: float) -> float:
    """The gain that brings the mean to middle grey and keeps most highlights."""
    grey = image.mean(-1)
    gain = 0.2 * 2**stops / grey.mean()
    return float(min(gain, 1.05 / np.percentile(grey, 98.5)))


def _falloff(image: np.ndarray, strength: float) -> np.ndarray:
    """Darker towards the corners, by a share of `strength` there."""
    h, w = image.shape[:2]
    y, x = np.mgrid[:h, :w]
    r2 = ((x - w / 2) ** 2 + (y - h / 2) ** 2) / (w * w + h * h) * 4
    return image * (1 - strength * r2)[..., None].astype(np.float32)


def _sensor(image: np.ndarray, spec: dict, rng) -> np.ndarray:
    """Shot and read noise, on a mosaic of red, green and blue where the scene says so."""
    noise = spec["noise"]
    spread = np.sqrt(np.maximum(image, 0) * noise + (0.6 * noise) ** 2 + 1e-7)
    noisy = image + spread * rng.standard_normal(image.shape).astype(np.float32)
    noisy = np.clip(noisy, 0, 1)
    if not spec["mosaic"]:
        return noisy
    raw = np.empty(image.shape[:2], np.float32)
    raw[0::2, 0::2] = noisy[0::2, 0::2, 0]
    raw[0::2, 1::2] = noisy[0::2, 1::2, 1]
    raw[1::2, 0::2] = noisy[1::2, 0::2, 1]
    raw[1::2, 1::2] = noisy[1::2, 1::2, 2]
    levels = (np.sqrt(raw) * 65535).astype(np.uint16)
    # OpenCV names a mosaic by its second pixel of the second row: this one is BG to it.
    full = cv2.cvtColor(levels, cv2.COLOR_BayerBG2RGB_EA)
    return (full.astype(np.float32) / 65535) ** 2


def _smooth_colour(image: np.ndarray, reach: float) -> np.ndarray:
    """Colour is smoothed more than brightness, as phones do against coloured noise."""
    if reach <= 0:
        return image
    root = np.sqrt(np.clip(image, 0, None))
    grey = root @ np.float32([0.3, 0.6, 0.1])
    tint = cv2.GaussianBlur(root - grey[..., None], (0, 0), reach)
    return np.clip(grey[..., None] + tint, 0, None) ** 2


def _tone(light: np.ndarray, contrast: float) -> np.ndarray:
    """SRGB 0..1, with highlights that roll off and a soft S."""
    x = np.where(light > 0.7, 0.7 + 0.3 * (1 - np.exp(-(light - 0.7) / 0.3)), light)
    s = np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-6) ** (1 / 2.4) - 0.055)
    s = np.clip(s, 0, 1)
    return (1 - contrast) * s + contrast * s * s * (3 - 2 * s)
