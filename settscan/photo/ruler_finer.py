"""Finer ticks under coarse ones: where numerals and long ticks show, what stands between them?

In a small picture the ticks of every 5 or 10 mm stand out of the short ones and are found first.
The short ones divide their distance evenly, so they are looked for there alone, and at the
photo's full size.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_comb import Choice, sharpened
from settscan.photo.ruler_core import Core, core, lock_in, thirds_of
from settscan.photo.ruler_lines import Grey, Line
from settscan.photo.ruler_numbering import Numbering
from settscan.photo.ruler_strip import Comb, Strip, strip_along
from settscan.settings import RULER

Array = NDArray[np.float64]
DIVISIONS = (10, 5, 2)  # of a centimetre, of half of one, and of a centimetre into halves


def finer_combs(levels: tuple[Grey, ...], comb: Comb) -> Iterator[tuple[Comb, Core]]:
    """Combs whose ticks divide the spacing of a coarse one, finest first."""
    for parts in DIVISIONS:
        pitch = comb.pitch_px / parts
        if pitch < RULER.finest_divided_px:
            continue
        level = max(0, int(math.log2(pitch / RULER.finest_divided_px)))
        choice = _divided(levels, comb, parts, min(level, comb.strip.level))
        found = None if choice is None else sharpened(choice)
        where = None if found is None else core(found)
        if found is not None and where is not None and where.outside < RULER.most_outside:
            yield found, where


def laid_along(levels: tuple[Grey, ...], comb: Comb, ends: Array) -> tuple[Comb, Core] | None:
    """The same ticks in a strip along another line, from end to end (2, 2) in photo px."""
    choice = _divided(levels, comb, 1, comb.strip.level, ends)
    found = None if choice is None else sharpened(choice)
    where = None if found is None else core(found)
    return None if found is None or where is None else (found, where)


def _divided(
    levels: tuple[Grey, ...], comb: Comb, parts: int, level: int, ends: Array | None = None
) -> Choice | None:
    """The band of rows in which ticks that divide the comb's spacing show most plainly.

    Looked for along the comb's own row, or a line from end to end (2, 2) in photo px.
    """
    strip = comb.strip
    if ends is None:
        ends = strip.photo(np.array(comb.span), np.full(2, comb.v))
    own = strip_along(levels[level], Line(ends, float(np.linalg.norm(ends[1] - ends[0]))), level)
    count = 1 + (own.rows.shape[1] - own.window) // own.hop
    if count < 4:
        return None
    numbering = _in_strip(comb, own)
    low, high = (float((e - own.origin) @ own.along / (own.along @ own.along)) for e in ends)
    u = np.arange(max(low, 0), min(high, own.rows.shape[1] - 1))
    if len(u) < 2 * own.window:
        return None
    part = own.rows[:, int(u[0]) : int(u[0]) + len(u)]
    detail = part - cv2.blur(part, (15, 1), borderType=cv2.BORDER_REFLECT)
    n, thirds = numbering.number(u), thirds_of(len(u))
    wave = np.abs(lock_in(detail, parts * n, thirds)).mean(axis=1)
    # what chance makes of the same rows, at spacings that divide nothing
    noise = np.mean([np.abs(lock_in(detail, (parts + d) * n, thirds)) for d in _BESIDE], axis=0)
    clear = wave / (noise.mean(axis=1) + 0.05)
    band = int(clear.reshape(-1, RULER.row_px).mean(axis=1).argmax())
    if clear[band * RULER.row_px : (band + 1) * RULER.row_px].mean() < RULER.clear_wave:
        return None
    at = np.arange(count) * own.hop + (own.window - 1) / 2
    step = numbering.place(numbering.number(at) + 0.5) - numbering.place(numbering.number(at) - 0.5)
    inside = (at > low) & (at < high)
    root = np.where(inside, np.sqrt(np.abs(step) / parts), 1e-3)
    if inside.sum() < 2:
        return None
    slope, start = np.polyfit(np.flatnonzero(inside), root[inside], 1)
    model = np.array([start, slope])
    return Choice(own, 1.0, band, model, float(start + slope * count / 2), root, np.ones(count))


_BESIDE = (-0.43, -0.29, 0.31, 0.41)


def _in_strip(comb: Comb, own: Strip) -> Numbering:
    """The comb's numbering for places of another strip along the same line."""
    old, numbering = comb.strip, comb.numbering
    ratio = float(np.linalg.norm(old.along) / np.linalg.norm(own.along))
    zero = old.photo(0.0, comb.v) - own.origin
    start = float(zero @ own.along / (own.along @ own.along))
    lens = replace(
        numbering.lens,
        middle=numbering.lens.middle * ratio + start,
        reach=numbering.lens.reach * ratio,
    )
    return replace(
        numbering, middle=numbering.middle * ratio + start, half=numbering.half * ratio, lens=lens
    )
