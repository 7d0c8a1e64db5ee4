"""The photo resampled once into the flat cloth."""

from __future__ import annotations

from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FloatImage, Mask, Photo
from settscan.photo.plane import apply
from settscan.photo.source import light
from settscan.photo.view import View, between_nodes

Array = NDArray[np.float64]
SHIFT_STEP = 33  # odd, so that OpenCV's half-pixel grid and ours coincide; errs < 0.02 px
_TILE = 1024


def flat_grid(view: View, sampling: float) -> tuple[Array, NDArray[np.float32], tuple[int, int]]:
    """The homography and the shift grid of a flat picture of the view's box, and its (w, h)."""
    width = max(8, round(view.box.width * sampling))
    height = max(8, round(view.box.height * sampling))
    place = np.array([
        [1 / sampling, 0.0, view.box.left],
        [0.0, 1 / sampling, view.box.top],
        [0.0, 0.0, 1.0],
    ])  # fmt: skip
    matrix = view.plane.matrix() @ place
    matrix /= matrix[2, 2]
    xs = np.arange(0, width + SHIFT_STEP, SHIFT_STEP, dtype=np.float64)
    ys = np.arange(0, height + SHIFT_STEP, SHIFT_STEP, dtype=np.float64)
    flat_x, flat_y = xs / sampling + view.box.left, ys / sampling + view.box.top
    points = np.stack(np.meshgrid(flat_x, flat_y), axis=2)
    if view.field is not None:
        points = points + view.field.at_grid(flat_x, flat_y)
    photo = view.plane.to_photo(points.reshape(-1, 2))
    back = apply(np.linalg.inv(matrix), photo).reshape(points.shape)
    shift = back - np.stack(np.meshgrid(xs, ys), axis=2)
    return matrix, shift.astype(np.float32), (width, height)


def pull(
    photo: Photo, matrix: Array, shift: NDArray[np.float32], size: tuple[int, int], factor: int
) -> tuple[FloatImage, Mask]:
    """Light (h, w, 3) at every flat pixel, 0 outside the photo, and whether it lies in it.

    Args:
        photo: the source.
        matrix: (3, 3) flat to photo.
        shift: (gh, gw, 2) flat pixels to add before, every `SHIFT_STEP` pixels.
        size: (w, h).
        factor: photo pixels per flat pixel, whole.
    """
    width, height = size
    pixels = np.zeros((height, width, 3), np.float32)
    inside = np.zeros((height, width), dtype=bool)

    def fill(corner: tuple[int, int]) -> None:
        top, left = corner
        part = np.s_[top : min(top + _TILE, height), left : min(left + _TILE, width)]
        x, y = _tile_map(matrix, shift, part)
        inside[part] = (x > 0) & (y > 0) & (x < photo.width - 1) & (y < photo.height - 1)
        _pull_tile(photo, x, y, factor, pixels[part])
        if not inside[part].all():
            pixels[part][~inside[part]] = 0.0

    for corner in product(range(0, height, _TILE), range(0, width, _TILE)):
        fill(corner)
    return pixels, inside


def _tile_map(
    matrix: Array, shift: NDArray[np.float32], part: tuple[slice, slice]
) -> tuple[FloatImage, FloatImage]:
    """Photo x and y of the flat pixels of a tile: `matrix` applied to position plus shift."""
    rows, columns = part
    dense = between_nodes(shift, SHIFT_STEP, rows, columns)
    x = dense[..., 0] + np.arange(columns.start, columns.stop, dtype=np.float32)
    y = dense[..., 1] + np.arange(rows.start, rows.stop, dtype=np.float32)[:, None]
    m = matrix.astype(np.float32)
    depth = m[2, 0] * x + m[2, 1] * y + m[2, 2]
    photo_x = (m[0, 0] * x + m[0, 1] * y + m[0, 2]) / depth
    photo_y = (m[1, 0] * x + m[1, 1] * y + m[1, 2]) / depth
    return photo_x, photo_y


def _pull_tile(photo: Photo, x: FloatImage, y: FloatImage, factor: int, out: FloatImage) -> None:
    """Interpolates the photo's light at (x, y) into `out`, decoding only what is needed.

    Args:
        photo: the source.
        x: (h, w) photo pixels.
        y: (h, w) photo pixels.
        factor: blocks of so many photo pixels each way are averaged first.
        out: (h, w, 3).
    """
    margin = 5 * factor  # the kernel's reach
    x0 = max(0, int(x.min()) - margin) // factor * factor
    y0 = max(0, int(y.min()) - margin) // factor * factor
    columns = (min(photo.width, int(x.max()) + margin + 1) - x0) // factor
    rows = (min(photo.height, int(y.max()) + margin + 1) - y0) // factor
    if columns < 2 or rows < 2:
        return
    source = light(photo.encoded[y0 : y0 + rows * factor, x0 : x0 + columns * factor])
    if factor > 1:
        source = np.asarray(
            cv2.resize(source, (columns, rows), interpolation=cv2.INTER_AREA), np.float32
        )
    at_x = (x - np.float32(x0 - 0.5)) / np.float32(factor) - np.float32(0.5)
    at_y = (y - np.float32(y0 - 0.5)) / np.float32(factor) - np.float32(0.5)
    # Straight into its place: as large as it is, a copy of its own would cost as much again.
    cv2.remap(source, at_x, at_y, cv2.INTER_LANCZOS4, dst=out, borderMode=cv2.BORDER_REPLICATE)


def grown_mask(mask: Mask, size: tuple[int, int]) -> Mask:
    """A small mask at the flat picture's (w, h)."""
    grown = cv2.resize(mask.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    return np.asarray(grown > 0)
