"""The baseline: what a first attempt would do, given more than it could know.

k-means (scikit-learn) on the pixels of the middle rows of the photo as it is, with the true number
of yarns given; every run of one colour is a stripe; its count is its length times the true threads
per pixel of this photo. The middle columns give the weft.
"""

from __future__ import annotations

import numpy as np
from PIL import Image
from scipy.ndimage import median_filter

from tests.benchmark.cases import Case

# Middle rows that are averaged, as a share of the picture.
BAND = 0.03


def read_naively(case: Case) -> dict:
    """A reading of the JSON's form, as far as the scorer needs it."""
    with Image.open(case.photo) as photo:
        pixels = np.asarray(photo.convert("RGB"), float)
    used = {s["yarn"] for axis in ("warp", "weft") for s in case.truth[axis]["stripes"]}
    lines = {axis: _line(pixels, case.truth[axis]) for axis in ("warp", "weft")}
    centres, labels = _clusters(np.concatenate(list(lines.values())), len(used))
    first = len(lines["warp"])
    parts = {"warp": labels[:first], "weft": labels[first:]}
    return {
        "status": "read",
        "scale": {"source": "none"},
        "yarns": [
            {"key": chr(65 + k), "srgb": "#" + "".join(f"{int(round(v)):02x}" for v in centre)}
            for k, centre in enumerate(centres)
        ],
        "weave": {"name": "unknown", "twill_direction": None},
        **{axis: _axis(parts[axis], case.truth[axis]) for axis in parts},
    }


def _line(pixels: np.ndarray, truth: dict) -> np.ndarray:
    """(N, 3) mean of the middle rows (or columns), freed from specks of half a thread."""
    if truth["runs"] == "across":
        pixels = pixels.transpose(1, 0, 2)
    height = pixels.shape[0]
    half = max(1, round(BAND * height / 2))
    line = pixels[height // 2 - half : height // 2 + half].mean(axis=0)
    return median_filter(line, size=(max(1, round(truth.get("px_per_thread") or 1)), 1))


def _clusters(colours: np.ndarray, number: int) -> tuple[np.ndarray, np.ndarray]:
    from sklearn.cluster import KMeans

    found = KMeans(number, n_init=4, random_state=0).fit(colours)
    return found.cluster_centers_, found.labels_


def _axis(labels: np.ndarray, truth: dict) -> dict:
    px, density = truth.get("px_per_thread"), truth.get("epi")
    if not (px and density):
        return {"stripes": [], "bands": [], "repeat": {"kind": "partial", "sequence": ""}}
    cuts = np.flatnonzero(np.diff(labels)) + 1
    edges = np.r_[0, cuts, len(labels)]
    runs = [(a, b) for a, b in zip(edges, edges[1:], strict=False) if b - a >= px / 2]
    stripes = [
        {
            "yarn": chr(65 + int(labels[a])),
            "threads": max(1, round((b - a) / px)),
            "cut": k in (0, len(runs) - 1),
            "start_mm": float(a) / px * 25.4 / density,
            "end_mm": float(b) / px * 25.4 / density,
        }
        for k, (a, b) in enumerate(runs)
    ]
    return {"stripes": stripes, "bands": [], "repeat": {"kind": "partial", "sequence": ""}}
