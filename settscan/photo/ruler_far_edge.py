"""The far edge of a body of which one edge shows plainly.

Where a ruler lies on light cloth, or beside something else, the other long edge is often too faint,
or too broken by what it crosses, for a line detector. Along a line at a given distance from the
plain edge, though, all places together tell whether the light steps there.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_lines import Grey, Line
from settscan.settings import MARKS, MarkSettings

Array = NDArray[np.float64]


def far_edges(
    grey: Grey, line: Line, way: Array, s: MarkSettings = MARKS
) -> list[tuple[float, float]]:
    """How far from each end of an edge the other edge may lie, in px; none where little shows.

    The plainest is one; but a stripe beyond the body may have a plainer edge, so the nearest that
    is not much less plain is another.

    Args:
        grey: (H, W) the picture.
        line: the edge that is known, in its pixels.
        way: (2,) unit vector across it, into the body.
        s: settings.
    """
    step = _steps(grey, line, way, s)
    places = step.shape[1]
    near = np.arange(int(s.least_width), int(s.widest_alone), dtype=np.float64)
    most = min(s.most_turn * line.length, s.least_width)
    turns = np.arange(-most, most + 1, 2.0)
    tried = np.stack([a.ravel() for a in np.meshgrid(near, turns, indexing="ij")], axis=1)
    ends = tried[:, :1] + np.array([-0.5, 0.5]) * tried[:, 1:]  # at both ends of the line
    ends = ends[(ends >= s.least_width).all(axis=1) & (ends < s.widest_alone).all(axis=1)]
    x = np.linspace(0, 1, places)
    rows = np.rint(ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * x).astype(np.int64)
    seen = step[rows, np.arange(places)]
    enough = np.isfinite(seen).sum(axis=1) >= s.least_places
    if not enough.any():
        return []
    ends, seen = ends[enough], seen[enough]
    # the median: some of what the edge crosses may be as light as the body
    plain = np.nanmedian(seen, axis=1)
    away = ends.mean(axis=1)
    found: dict[int, None] = {}
    for share in s.nearly_plain:
        strong = np.flatnonzero(plain >= share * plain.max())
        close = strong[away[strong] < away[strong].min() + 2 * _FLANK]
        found[int(close[plain[close].argmax()])] = None
    return [(float(ends[k, 0]), float(ends[k, 1])) for k in found]


def _steps(grey: Grey, line: Line, way: Array, s: MarkSettings) -> Array:
    """(D, T) step of the light across rows at distance d from the line; nan beyond the frame."""
    length = line.length
    t = np.linspace(0, length, int(np.clip(length / s.step_px, s.least_places, s.most_places)))
    d = np.arange(int(s.widest_alone) + _FLANK, dtype=np.float64)
    fine = t[:, None] + np.arange(-4.0, 5.0)  # threads and ticks fade in the mean along the line
    at = line.ends[0] + fine[None, ..., None] * line.direction + d[:, None, None, None] * way
    at = at.reshape(len(d), -1, 2).astype(np.float32)
    strip = cv2.remap(grey, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    strip = strip.reshape(len(d), len(t), -1).mean(axis=2) / 255
    size = np.array(grey.shape[::-1])
    shown = ((at > 1) & (at < size - 2)).all(axis=2).reshape(len(d), len(t), -1).all(axis=2)
    strip[~shown] = np.nan
    total = np.cumsum(np.vstack([np.zeros((1, len(t))), strip]), axis=0)
    step = np.full(strip.shape, np.nan)
    after = total[2 * _FLANK : -1] - total[_FLANK : -_FLANK - 1]
    before = total[_FLANK : -_FLANK - 1] - total[: -2 * _FLANK - 1]
    step[_FLANK:-_FLANK] = np.abs(after - before) / _FLANK
    return step


_FLANK = 3  # rows on either side whose mean light is compared
