"""Compares a flattened photo with the rendered cloth's truth."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from settscan.photo.flat import FlatCloth, Photo, RulerFound


def photo_of(rendered, focal_35mm: float | None = None) -> Photo:
    """The rendered JPEG as a loaded photo."""
    pixels = np.asarray(Image.open(io.BytesIO(rendered.jpeg)).convert("RGB"))
    return Photo(encoded=pixels, file="rendered.jpg", sha256="", focal_35mm=focal_35mm)


def flat_points(flat: FlatCloth, photo: np.ndarray) -> np.ndarray:
    """Flat positions (N, 2) of photo pixels, by searching with `FlatCloth.photo_points` alone."""
    inverse = np.linalg.inv(flat.to_photo)

    def plain(points):
        out = np.c_[points, np.ones(len(points))] @ inverse.T
        return out[:, :2] / out[:, 2:]

    wanted = plain(np.asarray(photo, dtype=float))
    guess = wanted.copy()
    for _ in range(20):
        guess = guess + wanted - plain(flat.photo_points(guess))
    return guess


def edge_offsets(flat: FlatCloth, truth: dict, runs: str) -> np.ndarray:
    """How far points of stripe edges lie from their edge's median, flat pixels.

    Args:
        flat: the flattened cloth.
        truth: of the renderer.
        runs: "down" or "across", the edges that are looked at.
    """
    part = next(p for p in (truth["warp"], truth["weft"]) if p["runs"] == runs)
    height, width = flat.mask.shape
    axis = 0 if runs == "down" else 1
    offsets = []
    for stripe in part["stripes"]:
        line = np.array(stripe["start_line_px"], dtype=float).reshape(-1, 2)
        if len(line) < 3:
            continue
        at = flat_points(flat, line)
        x, y = np.rint(at).astype(int).T
        inside = (x >= 0) & (y >= 0) & (x < width) & (y < height)
        inside[inside] = flat.mask[y[inside], x[inside]]
        if inside.sum() >= 3:
            place = at[inside, axis]
            offsets.append(place - np.median(place))
    return np.concatenate(offsets) if offsets else np.zeros(0)


def ruler_of(truth: dict, number: int = 0) -> RulerFound:
    """The rendered ruler as if it had been found without error."""
    ruler = truth["rulers"][number]
    ticks = np.array(ruler["ticks_px"])
    width, height = truth["size_px"]
    inside = (ticks > 0).all(axis=1) & (ticks[:, 0] < width - 1) & (ticks[:, 1] < height - 1)
    ticks = ticks[inside]
    direction = (ticks[-1] - ticks[0]) / np.hypot(*(ticks[-1] - ticks[0]))
    along = (ticks - ticks[0]) @ direction
    mm = np.arange(len(ticks)) * ruler["tick_mm"]
    a, c = np.linalg.lstsq(np.c_[mm, -along * mm], along, rcond=None)[0]
    return RulerFound(
        origin_px=ticks[0],
        direction=direction,
        a=float(a),
        c=float(c),
        length_mm=float(mm[-1]),
        tick_mm=ruler["tick_mm"],
        ticks_px=ticks,
        outline_px=np.array(ruler["outline_px"]),
        relative_error=0.001,
        unit=ruler["unit"],
    )
