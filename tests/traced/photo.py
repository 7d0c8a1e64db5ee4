"""One photo with its truth: the cloth laid and woven, rulers put on it, traced and developed."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from . import rulers
from .camera import Camera, place
from .cloth import Box, lay, surface
from .develop import develop
from .fibres import fibres, stitches
from .mitsuba_scene import trace
from .truth import Hidden, truth_of
from .tubes import tubes

# Where each side of the cloth is in shares of the photo, in the order of a box.
SIDES = {"left": (0, 0.5), "right": (1, 0.5), "bottom": (0.5, 1), "top": (0.5, 0)}


def picture(spec: dict) -> tuple[bytes, dict]:
    """The photo as JPEG and its truth."""
    rng = np.random.default_rng(spec["seed"])
    pitch = 25.4 / spec["epi"]
    view = place(
        tuple(spec["size"]),
        spec["px_per_thread"] / pitch,
        spec["field"],
        spec["tilt"],
        spec["towards"],
        spec["roll"],
        spec["bend"],
    )
    top = pitch * spec["fill"] * spec["flat"]
    under = -1.6 * top  # where the table is
    placed = [_laid_ruler(rule, view, spec) for rule in spec["rulers"]]
    for ruler in placed:
        ruler["z"] = 0.95 * top if ruler["on_cloth"] else under
    box = _box(view, spec, pitch)
    spec = {**spec, **_lines(spec, placed, box, pitch)}
    height = surface(spec, rng, spec["size"][0] / spec["px_per_thread"] * pitch)
    grid = lay(spec, box, rng)
    meshes = _yarns(grid, spec, height, box, pitch, rng)
    light = trace(spec, meshes, placed, view, under, rng)
    photo = develop(light, view, spec, rng)
    data = io.BytesIO()
    Image.fromarray(photo).save(data, "JPEG", quality=spec["jpeg"], subsampling=2)
    return data.getvalue(), truth_of(spec, grid, view, height, _under_rulers(placed))


def _yarns(grid, spec: dict, height, box: Box, pitch: float, rng) -> dict:
    """All that is yarn, as meshes by name."""
    warp, ends_at = tubes(grid, spec, height, rng, warp=True)
    weft, picks_at = tubes(grid, spec, height, rng, warp=False)
    meshes = {"warp": warp, "weft": weft}
    if spec["fibres"]:
        half = int(spec["fibres"] / 2)
        meshes["fuzz1"] = fibres(warp, ends_at, spec, half, rng)
        meshes["fuzz2"] = fibres(weft, picks_at, spec, half, rng)
    if spec["hem_mm"]:
        inner = spec["hem_line"][0]
        meshes["hem"] = stitches(inner, box, height, pitch, spec["hem_srgb"], rng)
    return meshes


def _laid_ruler(rule: dict, view: Camera, spec: dict) -> dict:
    """Where a ruler lies, in mm and radians, from its place in shares of the photo."""
    w, h = spec["size"]
    at = view.on_plane(np.array([rule["x"] * w, rule["y"] * h]))
    angle = float(np.radians(rule["angle"]))
    return {**rule, "at": at.tolist(), "angle": angle}


def _lines(spec: dict, placed: list[dict], box: Box, pitch: float) -> dict:
    """Where the first ruler presses the cloth flat, and where the hem begins."""
    out = {}
    if placed and placed[0]["on_cloth"]:
        half = rulers.DESIGNS[placed[0]["design"]].width / 2
        c, s = np.cos(placed[0]["angle"]), np.sin(placed[0]["angle"])
        x, y = np.array(placed[0]["at"]) + np.array([s, -c]) * half
        out["flat_line"] = (x, y, c, s, half)
    if spec["hem_mm"]:
        out["hem_line"] = (box[2] + spec["hem_mm"], 1.5 * pitch)
    return out


def _under_rulers(placed: list[dict]) -> Hidden:
    """Whether a place on the cloth, in mm, lies under a ruler."""

    def hidden(x, y):
        out = np.zeros(np.shape(x), bool)
        for ruler in placed:
            design = rulers.DESIGNS[ruler["design"]]
            dx, dy = x - ruler["at"][0], y - ruler["at"][1]
            c, s = np.cos(ruler["angle"]), np.sin(ruler["angle"])
            u, v = dx * c + dy * s, dx * s - dy * c
            out |= (u > 0) & (u < design.length) & (v > 0) & (v < design.width)
        return out

    return hidden


def _box(view: Camera, spec: dict, pitch: float) -> Box:
    """The cloth in mm: what the photo shows and a margin, or its edges."""
    w, h = spec["size"]
    corners = [(0, 0), (w, 0), (w, h), (0, h)]
    rim = np.array([*corners, (w / 2, 0), (w / 2, h), (0, h / 2), (w, h / 2)], float)
    seen = view.on_plane(rim)
    margin = 6 * pitch + 0.02 * np.ptp(seen[:, 0]) + spec["wave"]
    low, high = seen.min(0) - margin, seen.max(0) + margin
    box = [low[0], high[0], low[1], high[1]]
    for k, (side, share) in enumerate(SIDES.items()):
        if side in spec["edges"]:
            at = np.array(share) + (np.array([0.5, 0.5]) - share) * 2 * spec["edge_share"]
            box[k] = view.on_plane(at * [w, h])[k // 2]
    return tuple(box)
