"""How far the body of a ruler reaches beside and beyond its ticks, so that it can be masked."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_lines import Grey
from settscan.photo.ruler_strip import Comb
from settscan.settings import RULER

Array = NDArray[np.float64]
STEP_MM = 0.5


def body_outline(
    levels: tuple[Grey, ...], comb: Comb, feet: float, side: int, ticks: Array, per_mm: float
) -> Array:
    """(4, 2) photo px of the corners of the ruler's body.

    From the ticks the body goes on as long as its rows look like each other, and beyond the
    last ticks as long as its columns do: where it lies in shade or glare, or the frame hides the
    edge that bears them, no ticks are seen.

    Args:
        levels: the grey pyramid.
        comb: the ticks.
        feet: row v of their feet.
        side: +1 where ticks stand towards larger v.
        ticks: positions u of the ticks at their feet.
        per_mm: strip samples per mm.
    """
    step = STEP_MM * per_mm
    depth, spare = int(RULER.widest_mm / STEP_MM), int(RULER.margin_mm / STEP_MM)
    rows: Array = feet + side * step * np.arange(-spare, depth, dtype=np.float64)
    length = max(int(np.ptp(ticks) / step), 1)
    most = int(np.hypot(*levels[0].shape) / (step * float(np.linalg.norm(comb.strip.along))))
    more = max(most - length, spare)
    columns: Array = ticks.min() + step * np.arange(-more, length + more, dtype=np.float64)
    grey, _ = _sampled(levels, comb, columns[more:-more], rows, step)
    ticked = grey[spare + 2 : spare + 18]  # 1 to 9 mm beside the feet
    usual = np.median(ticked, axis=0)
    noise = np.median(np.abs(ticked - usual)) + 0.03 * np.median(usual) + 2
    like = (np.abs(grey - usual) < 4 * noise).mean(axis=1) > 0.5
    high = max(_run(like[spare + 2 :]) + 2, 12)
    rim = int(RULER.inset_mm / STEP_MM)
    low = min(max(_run(like[: spare + 2][::-1]) - 2, 0), rim)
    body = rows[spare : spare + high]
    before, after = (
        _going_on(*_sampled(levels, comb, outwards, body, step), noise) - _FIRST
        for outwards in (columns[: more + _FIRST][::-1], columns[-more - _FIRST :])
    )
    ends = (ticks.min() - max(before, 2) * step, ticks.max() + max(after, 2) * step)
    edges = (feet - side * low * step, feet + side * high * step)
    corners = [(ends[0], edges[0]), (ends[1], edges[0]), (ends[1], edges[1]), (ends[0], edges[1])]
    return np.array([comb.strip.photo(u, v) for u, v in corners])


def _sampled(
    levels: tuple[Grey, ...], comb: Comb, columns: Array, rows: Array, step: float
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """(rows, columns) grey values from the level whose pixels are nearest to the step.

    And whether they lie in the picture.
    """
    level = len(levels) - 1
    while level > 0 and float(np.linalg.norm(comb.strip.along)) * step < 2.0**level:
        level -= 1
    u, v = np.meshgrid(columns, rows)
    at = ((comb.strip.photo(u, v) + 0.5) / 2.0**level - 0.5).astype(np.float32)
    grey = cv2.remap(
        levels[level], at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    height, width = levels[level].shape
    shown = ((at >= 0) & (at <= np.array([width - 1, height - 1]))).all(axis=2)
    return np.asarray(grey, dtype=np.float32), np.asarray(shown)


def _going_on(grey: NDArray[np.float32], shown: NDArray[np.bool_], noise: float) -> int:
    """How many columns (M, N) go on to look alike, up to the first three in a row that do not.

    Each is compared with the first few. What the frame hides is left out; where it hides most
    of a column the body ends.
    """
    usual = np.median(grey[:, :_FIRST], axis=1, keepdims=True)
    near = (np.abs(grey - usual) < 4 * noise) & shown
    seen = shown.sum(axis=0)
    enough = seen >= max(_FEWEST, 0.2 * len(shown))
    return _run(enough & (near.sum(axis=0) > 0.6 * seen))


_FIRST = 4  # columns of half a millimetre; a numeral's stroke is narrower
_FEWEST = 6  # places of half a millimetre


def _run(like: NDArray[np.bool_]) -> int:
    """How many at the start are alike, up to the first three in a row that are not."""
    unlike = ~like
    stop = unlike[:-2] & unlike[1:-1] & unlike[2:]
    return int(stop.argmax()) if stop.any() else len(like)
