"""How far the body of a small ruler goes on beyond the lines that its edges made.

A line ends where what lies beside it is as light as the body. The body itself goes on there.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_lines import Grey
from settscan.settings import MARKS, MarkSettings

Array = NDArray[np.float64]


def gone_on(grey: Grey, corners: Array, s: MarkSettings = MARKS) -> Array:
    """(4, 2) px: a body's corners, moved outwards as long as its columns look like its ends.

    Args:
        grey: (H, W) the picture.
        corners: (4, 2) px: along one edge, and back along the other.
        s: settings.
    """
    longer = corners.copy()
    for near, far in (((0, 3), (1, 2)), ((1, 2), (0, 3))):
        more = _more(grey, corners[[*near]], corners[[*far]], s)
        longer[[*near]] += more * (corners[[*near]] - corners[[*far]])
    return longer


def _more(grey: Grey, near: Array, far: Array, s: MarkSettings) -> float:
    """By what share of its length a body goes on beyond its near end (2, 2)."""
    length = float(np.linalg.norm(near.mean(axis=0) - far.mean(axis=0)))
    step = s.step_px / 2
    known = int(s.end_px / step)
    u = np.arange(-known, int(np.hypot(*grey.shape) / step)) * step / length
    across = np.linspace(0, 1, s.end_rows + 2)[1:-1, None, None]
    edge = near[:, None] + u[None, :, None] * (near - far)[:, None]  # (2, U, 2)
    at = (edge[0] + across * (edge[1] - edge[0])).astype(np.float32)
    strip = cv2.remap(grey, at[..., 0], at[..., 1], cv2.INTER_LINEAR).astype(np.float64)
    shown = ((at >= 0) & (at <= np.array(grey.shape[::-1]) - 1)).all(axis=2)
    usual = np.median(strip[:, :known], axis=1, keepdims=True)
    spread = 1.4826 * np.median(np.abs(strip[:, :known] - usual), axis=1, keepdims=True) + 2
    alike = ((np.abs(strip - usual) < s.end_spread * spread) & shown).sum(axis=0)
    seen = shown.sum(axis=0)
    # where the frame hides most of a column the body ends
    good = (seen >= 0.2 * len(strip)) & (alike > s.end_alike * seen)
    gap = int(s.end_gap_px / step)
    held = np.convolve(good, np.ones(gap), mode="full")[: len(good)] > 0  # no gap so long before
    held[:known] = True
    stop = int((~held).argmax()) if (~held).any() else len(held)
    last = np.flatnonzero(good[:stop])
    return max(float(u[last[-1]]), 0.0) if len(last) else 0.0
