"""The truth file: the stripes that show, where they lie, and how far their edges show.

Its form is that of "Photos of your own" in `settscan/docs/accuracy.md`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .camera import Camera
from .cloth import Grid, Height
from .weave import unfold

Hidden = Callable[[np.ndarray, np.ndarray], np.ndarray]
OUTER = {"warp": ("left", "right"), "weft": ("top", "bottom")}


def truth_of(spec: dict, grid: Grid, camera: Camera, height: Height, hidden: Hidden) -> dict:
    """What the photo shows.

    Args:
        spec: of the scene.
        grid: the crossings.
        camera: of the photo.
        height: of the cloth in mm.
        hidden: whether something lies on the cloth at x, y in mm.
    """
    at = camera.project(np.stack([grid.x, grid.y, height(grid.x, grid.y)], -1))
    w, h = camera.size
    inside = (at[..., 0] >= 0) & (at[..., 0] < w) & (at[..., 1] >= 0) & (at[..., 1] < h)
    inside &= ~hidden(grid.x, grid.y)
    down = -grid.y.T  # places of picks, rising from the top
    out = {
        "warp": _axis(grid.x, inside, at, grid.ends, spec, "warp"),
        "weft": _axis(down, inside.T, at.transpose(1, 0, 2), grid.picks, spec, "weft"),
    }
    out["warp"]["epi"] = _density(grid.x, inside)
    out["weft"]["ppi"] = _density(down, inside.T)
    scale = camera.focal / np.linalg.norm(camera.eye)
    out["px_per_mm"] = round(float(scale), 4)
    for axis, name in (("warp", "epi"), ("weft", "ppi")):
        out[axis]["px_per_thread"] = round(float(scale * 25.4 / out[axis][name]), 3)
    weave = spec["weave"]
    out["weave"] = weave if "twill" in weave else weave.removeprefix("2/2 ")
    out["yarns"] = [{"key": k, "srgb": _mixed(y)} for k, y in spec["yarns"].items()]
    out["rulers"] = [r["design"] for r in spec["rulers"]]
    out["group"] = spec["group"]
    return out


def _mixed(yarn: dict) -> list[int]:
    """The mean sRGB of a yarn's fibres."""
    share = {"melange": yarn.get("amount", 0), "marl": 0.5}.get(yarn.get("how"), 0.0)
    mean = np.array(yarn["srgb"]) * (1 - share) + np.array(yarn.get("alt", yarn["srgb"])) * share
    return [int(v) for v in mean]


def _axis(place, inside, at, letters, spec: dict, name: str) -> dict:
    """Stripes of one axis.

    Args:
        place: (threads, crossings) mm, rising.
        inside: (threads, crossings) whether they show.
        at: (threads, crossings, 2) pixels.
        letters: (threads,) the yarn of each.
        spec: of the scene.
        name: "warp" or "weft".
    """
    shown = inside.any(1)
    first, last = np.flatnonzero(shown)[[0, -1]]
    outer = [spec["edges"].get(side) for side in OUTER[name]]
    starts = np.r_[0, np.flatnonzero(letters[1:] != letters[:-1]) + 1]
    ends = np.r_[starts[1:], len(letters)]
    stripes = []
    for index, (a, b) in enumerate(zip(starts, ends, strict=True), 1):
        if b <= first or a > last:
            continue
        from_px, to_px = _edge_px(a, inside, at, outer[0]), _edge_px(b, inside, at, outer[1])
        stripe = {
            "yarn": str(letters[a]),
            "threads": int(shown[a:b].sum()),
            "full_threads": int(b - a),
            "cut": not (from_px > 0 and to_px > 0),
            "index": index,
            "start_mm": _edge_mm(a, place),
            "end_mm": _edge_mm(b, place),
            "start_shown_px": round(from_px, 1),
            "end_shown_px": round(to_px, 1),
        }
        stripes.append(stripe)
    out = {"runs": "down" if name == "warp" else "across", "stripes": stripes}
    if len(set(letters)) > 1:
        sequence = [[key, n] for key, n in unfold(spec[name], "repeating")]
        out |= {"kind": spec[f"{name}_kind"], "sequence": sequence}
    return out


def _edge_px(k: int, inside, at, outer: str | None) -> float:
    """How many pixels of the edge before thread k show; at the cloth's own edge its thread's.

    Args:
        k: number of the thread.
        inside: (threads, crossings) whether they show.
        at: (threads, crossings, 2) pixels.
        outer: kind of the cloth's own edge there, or None where the cloth goes on.
    """
    if k in (0, len(inside)):
        if outer is None:
            return 0.0
        thread = min(k, len(inside) - 1)
        both, line = inside[thread], at[thread]
    else:
        both, line = inside[k - 1] & inside[k], (at[k - 1] + at[k]) / 2
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    return float(steps[both[1:] & both[:-1]].sum())


def _edge_mm(k: int, place) -> float:
    """Mean place in mm of the edge before thread k."""
    pitch = (place[-1].mean() - place[0].mean()) / (len(place) - 1)
    if k == 0:
        return float(place[0].mean() - pitch / 2)
    if k == len(place):
        return float(place[-1].mean() + pitch / 2)
    return float((place[k - 1].mean() + place[k].mean()) / 2)


def _density(place, inside) -> float:
    """Threads per inch of what shows."""
    middles = place.mean(1)[inside.any(1)]
    return round(float(25.4 * (len(middles) - 1) / (middles[-1] - middles[0])), 3)
