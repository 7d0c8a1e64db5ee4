"""How far the body of a ruler reaches beside its ticks, so that it can be masked."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_comb import Comb
from settscan.photo.ruler_lines import Grey
from settscan.settings import RULER

Array = NDArray[np.float64]


def body_outline(
    levels: tuple[Grey, ...], comb: Comb, feet: float, side: int, ticks: Array, mm: float
) -> Array:
    """(4, 2) photo px of the corners of the ruler's body.

    From the feet of the ticks the body goes on as long as its rows look like each other; it ends
    where a row differs from the body in most places along it.

    Args:
        levels: the grey pyramid.
        comb: the ticks.
        feet: row v of their feet.
        side: +1 where ticks stand towards larger v.
        ticks: positions u of the ticks at their feet.
        mm: one mm is 1 / mm strip samples.
    """
    step = 0.5 / mm  # rows half a mm apart
    count = int(2 * RULER.widest_mm)
    rows = feet + side * step * np.arange(-12, count)
    u = np.linspace(ticks.min(), ticks.max(), 240)
    level = len(levels) - 1
    while level > 0 and np.linalg.norm(comb.strip.along) * step < 2.0**level:
        level -= 1
    points = (comb.strip.photo(u[None, :], rows[:, None]) + 0.5) / 2.0**level - 0.5
    maps = points.astype(np.float32)
    grey = cv2.remap(
        levels[level],
        maps[:, :, 0],
        maps[:, :, 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    ).astype(np.float32)
    zero = 12
    near = grey[zero + 2 : zero + 18]  # 1 to 9 mm: ticks on body
    usual = np.median(near, axis=0)
    spread = np.median(np.abs(near - usual)) + 0.04 * np.median(usual) + 2
    like = (np.abs(grey - usual) < 4 * spread).mean(axis=1) > 0.5
    far = _last_of(like[zero + 2 :]) + 2
    before = _last_of(like[: zero + 2][::-1]) - 2
    low = float(np.clip(before, 0, 12)) * step
    high = float(max(far, 12)) * step
    margin = 1 / mm
    ends = np.array([u[0] - margin, u[-1] + margin])
    edges = np.array([feet - side * low, feet + side * high])
    corners = [(ends[0], edges[0]), (ends[1], edges[0]), (ends[1], edges[1]), (ends[0], edges[1])]
    return np.array([comb.strip.photo(a, b) for a, b in corners])


def _last_of(like: NDArray[np.bool_]) -> int:
    """How many rows at the start are alike, up to the first three in a row that are not."""
    unlike = ~like
    stop = unlike[:-2] & unlike[1:-1] & unlike[2:] if len(unlike) > 2 else unlike
    return int(stop.argmax()) if stop.any() else len(like)
