"""A reduced flat picture to estimate on: the photo through a plane and a smooth shift."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FloatImage, Mask
from settscan.photo.plane import Plane

Array = NDArray[np.float64]
_NODE_STEP = 17  # small pixels between exact map positions; bilinear between them errs < 0.02 px


@dataclass(frozen=True, slots=True, kw_only=True)
class Small:
    """The photo reduced for estimating.

    Attributes:
        picture: (h, w, 3) square root of linear light, evenly stepped to eye and noise alike.
        usable: (h, w) False on rulers, cards and clipped pixels.
        zoom: small pixels per photo pixel, (x, y).
    """

    picture: FloatImage
    usable: Mask
    zoom: tuple[float, float]

    def positions(self, photo: Array) -> Array:
        """Small-picture positions (N, 2) of photo pixels (N, 2)."""
        return np.asarray((photo + 0.5) * np.array(self.zoom) - 0.5)


def shrunk(small: Small, factor: float) -> Small:
    """The small picture made smaller still by `factor` below 1."""
    height, width = small.usable.shape
    size = (round(width * factor), round(height * factor))
    picture = cv2.resize(small.picture, size, interpolation=cv2.INTER_AREA)
    usable = cv2.resize(small.usable.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    zoom = (small.zoom[0] * size[0] / width, small.zoom[1] * size[1] / height)
    return Small(picture=np.asarray(picture, np.float32), usable=usable > 0, zoom=zoom)


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A part of the plane in flat pixels from the photo's middle: left, top, right, bottom."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """In flat pixels."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """In flat pixels."""
        return self.bottom - self.top


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A smooth displacement over a box: cubic B-splines (de Boor, A Practical Guide to Splines).

    Attributes:
        box: where it is defined; outside it is held at the border.
        coefficients: (ky, kx, 2) displacements in flat pixels.
    """

    box: Box
    coefficients: Array

    def at_grid(self, xs: Array, ys: Array) -> Array:
        """(len(ys), len(xs), 2) displacements at the crossings of the given flat positions."""
        rows, columns, _ = self.coefficients.shape
        by = spline_basis((ys - self.box.top) / self.box.height, rows)
        bx = spline_basis((xs - self.box.left) / self.box.width, columns)
        return np.asarray(np.einsum("yi,ijc,xj->yxc", by, self.coefficients, bx, optimize=True))


def spline_basis(at: Array, count: int) -> Array:
    """(N, count) uniform cubic B-splines on 0..1 at positions `at`, which are held to 0..1."""
    spans = count - 3
    position = np.clip(at, 0.0, 1.0) * spans
    distance = np.abs(position[:, None] - (np.arange(count)[None, :] - 1))
    near = 2 / 3 - distance**2 + distance**3 / 2
    far = (2 - distance) ** 3 / 6
    return np.where(distance < 1, near, np.where(distance < 2, far, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """How to look at a part of the cloth: plane, shift, part, and small pixels per flat pixel."""

    plane: Plane
    box: Box
    zoom: float
    field: Field | None = None

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) of the small flat picture."""
        return (
            max(8, round(self.box.width * self.zoom)),
            max(8, round(self.box.height * self.zoom)),
        )

    def flat(self, xs: Array, ys: Array) -> tuple[Array, Array]:
        """Flat coordinates of columns `xs` and rows `ys` of the small flat picture."""
        return (xs + 0.5) / self.zoom + self.box.left, (ys + 0.5) / self.zoom + self.box.top

    def photo_grid(self, xs: Array, ys: Array) -> Array:
        """(len(ys), len(xs), 2) photo pixels at crossings of small columns and rows."""
        flat_x, flat_y = self.flat(xs, ys)
        points = np.stack(np.meshgrid(flat_x, flat_y), axis=2)
        if self.field is not None:
            points = points + self.field.at_grid(flat_x, flat_y)
        return self.plane.to_photo(points.reshape(-1, 2)).reshape(points.shape)


def look(small: Small, view: View) -> tuple[FloatImage, Mask]:
    """The small flat picture (h, w, 3) of a view, and where it shows usable photo."""
    width, height = view.size
    nodes_x = np.arange(0, width + 2 * _NODE_STEP, _NODE_STEP, dtype=np.float64)
    nodes_y = np.arange(0, height + 2 * _NODE_STEP, _NODE_STEP, dtype=np.float64)
    photo = view.photo_grid(nodes_x, nodes_y)
    nodes = small.positions(photo.reshape(-1, 2)).reshape(photo.shape)
    maps = np.clip(nodes, -1e4, 1e4).astype(np.float32)
    maps = between_nodes(maps, _NODE_STEP, slice(0, height), slice(0, width))
    x, y = np.ascontiguousarray(maps[..., 0]), np.ascontiguousarray(maps[..., 1])
    picture = cv2.remap(small.picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    shown = cv2.remap(
        small.usable.astype(np.uint8), x, y, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT
    )
    return np.asarray(picture, dtype=np.float32), shown > 0


def between_nodes(nodes: FloatImage, step: int, rows: slice, columns: slice) -> FloatImage:
    """Bilinear values (h, w, 2) at the given pixels of node values `step` pixels apart.

    OpenCV enlarges about the middles of pixels; an odd step makes its grid fall on ours.
    """
    top, left = rows.start // step, columns.start // step
    part = nodes[top : (rows.stop - 1) // step + 2, left : (columns.stop - 1) // step + 2]
    size = (part.shape[1] * step, part.shape[0] * step)
    large = cv2.resize(np.ascontiguousarray(part), size, interpolation=cv2.INTER_LINEAR)
    y, x = rows.start - top * step + step // 2, columns.start - left * step + step // 2
    high, wide = rows.stop - rows.start, columns.stop - columns.start
    return np.asarray(large[y : y + high, x : x + wide], dtype=np.float32)


def photo_box(plane: Plane, width: int, height: int) -> Box:
    """The part of the plane that a photo of this size shows."""
    xs, ys = np.linspace(-0.5, width - 0.5, 9), np.linspace(-0.5, height - 0.5, 9)
    rim = [(x, y) for x in xs for y in (ys[0], ys[-1])]
    rim += [(x, y) for x in (xs[0], xs[-1]) for y in ys]
    flat = plane.to_flat(np.array(rim, dtype=np.float64))
    limit = 2.0 * math.hypot(width, height)  # against vanishing points close to the photo
    return around(np.clip(flat, -limit, limit))


def around(flat: Array) -> Box:
    """The box that holds the flat positions (N, 2)."""
    (left, top), (right, bottom) = flat.min(axis=0), flat.max(axis=0)
    return Box(left=float(left), top=float(top), right=float(right), bottom=float(bottom))
