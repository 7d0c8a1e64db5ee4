"""The photo's light, reduced for estimating or as it is."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FloatImage, Photo
from settscan.photo.load import linear
from settscan.photo.view import Small

_ROWS = 128  # reduced rows that are worked on at a time, to bound the memory


def light(encoded: NDArray[np.uint8] | NDArray[np.uint16]) -> FloatImage:
    """Linear light of a part of a photo; for 8 bits through OpenCV's table, which is fast."""
    if encoded.dtype == np.uint8:
        table = linear(np.arange(256, dtype=np.uint8))
        return np.asarray(cv2.LUT(np.ascontiguousarray(encoded), table), dtype=np.float32)
    return linear(encoded)


def grey_of(photo: Photo) -> NDArray[np.uint8]:
    """The photo's encoded greys (H, W), 8 bits."""
    pixels = photo.encoded
    if pixels.dtype == np.uint16:
        pixels = (pixels >> 8).astype(np.uint8)
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def reduced_light(photo: Photo, factor: int) -> FloatImage:
    """Mean light of blocks of `factor` x `factor` pixels; what is left over is dropped."""
    height, width = photo.height // factor, photo.width // factor
    if factor == 1:
        return light(photo.encoded)
    out = np.empty((height, width, 3), np.float32)
    for top in range(0, height, _ROWS):
        bottom = min(top + _ROWS, height)
        rows = photo.encoded[top * factor : bottom * factor, : width * factor]
        cv2.resize(
            light(rows), (width, bottom - top), dst=out[top:bottom], interpolation=cv2.INTER_AREA
        )
    return out


def reduced(photo: Photo, pixels: int) -> Small:
    """The photo with about `pixels` pixels, never enlarged."""
    factor = max(1, int(math.sqrt(photo.width * photo.height / pixels)))
    part = reduced_light(photo, factor)
    rest = math.sqrt(pixels / (part.shape[0] * part.shape[1]))
    zoom = (1 / factor, 1 / factor)
    if rest < 0.9:
        size = (round(part.shape[1] * rest), round(part.shape[0] * rest))
        zoom = (size[0] / part.shape[1] / factor, size[1] / part.shape[0] / factor)
        part = np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_AREA), np.float32)
    red, green, blue = cv2.split(part)
    usable = np.minimum(np.minimum(red, green), blue) < _CLIPPED
    return Small(picture=np.sqrt(part), usable=usable, zoom=zoom)


_CLIPPED = 0.97  # light of code 252 of 255: all three channels at the stop


def within(small: Small, corners: NDArray[np.float64]) -> Small:
    """The small picture with all that lies outside the given (N, 2) corners not usable."""
    kept: NDArray[np.uint8] = np.zeros(small.usable.shape, np.uint8)
    at = small.positions(np.asarray(corners, dtype=np.float64).reshape(-1, 2))
    cv2.fillPoly(kept, [np.rint(at).astype(np.int32)], 1)
    return replace(small, usable=small.usable & (kept > 0))


_GROWN = 15  # small pixels across by which bodies are widened: outlines err, bodies cast shadows


def without(small: Small, outlines: tuple[NDArray[np.float64], ...]) -> Small:
    """The small picture with the bodies of rulers and cards marked as not usable."""
    hidden: NDArray[np.uint8] = np.zeros(small.usable.shape, np.uint8)
    for outline in outlines:
        corners = small.positions(np.asarray(outline, dtype=np.float64))
        cv2.fillPoly(hidden, [np.rint(corners).astype(np.int32)], 1)
    if hidden.any():
        hidden = np.asarray(cv2.dilate(hidden, np.ones((_GROWN, _GROWN), np.uint8)), dtype=np.uint8)
    return replace(small, usable=small.usable & (hidden == 0))
