"""Numerals beside single ticks: how much ink stands about each, beside and beyond its end."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_lines import Grey
from settscan.photo.ruler_rows import Row
from settscan.photo.ruler_scheme import Ladder
from settscan.photo.ruler_thin import Thin
from settscan.settings import RULER, SINGLE

Array = NDArray[np.float64]
FINE = 12  # samples per tick along and across


def inches_are_numbered(
    levels: tuple[Grey, ...], row: Row, thin: Thin, steps: Ladder
) -> bool | None:
    """Whether the longest ticks of an order are whole inches, as their numerals say.

    Each of them has a numeral then. Were they halves and wholes of one length, every second had
    none. None: there are no numerals to tell.
    """
    period = steps.scheme.period
    first, last = steps.whole.min(), steps.whole.max()
    tops = np.arange(-(-first // period), last // period + 1) * period
    mids = np.arange(first, last + 1)
    mids = mids[mids % period == period // 2]
    ink = _ink(levels, row, thin, steps, np.concatenate([tops, mids]).astype(np.float64))
    known = ink < SINGLE.most_area
    top, bare = ink[: len(tops)], ink[len(tops) :][known[len(tops) :]]
    usual = float(np.median(bare)) if len(bare) else 0.0
    numbered = top > max(SINGLE.numeral_area, SINGLE.numeral_over * usual)
    told = known[: len(tops)]
    odd = (tops // period) % 2 == 1
    groups = [numbered[told & odd], numbered[told & ~odd]]
    if numbered[told].sum() < 2 or not all(len(g) for g in groups):
        return None
    return all(float(g.mean()) > SINGLE.most_numbered for g in groups)


def _ink(levels: tuple[Grey, ...], row: Row, thin: Thin, steps: Ladder, whole: Array) -> Array:
    """(N,) ink about ticks where their numerals stand, in squares of an inch.

    A numeral stands beyond the end of its tick or beside it, a quarter of an inch high at most.
    """
    comb, core = row.comb, thin.core
    period = float(steps.scheme.period)
    start = (core.high if steps.side > 0 else core.low) - comb.v
    n = whole + steps.phase
    across = np.arange(0.0, 0.45 * period, 1 / FINE) + steps.classes[-1] - 0.15 * period
    along = np.arange(-0.25 * period, 0.25 * period, 1 / FINE)
    pitch = np.abs(comb.place(n + 0.5) - comb.place(n - 0.5))
    dv = start + steps.side * across[None, :, None] * pitch[:, None, None]
    u = comb.place((n[:, None] + along).ravel()).reshape(len(n), 1, len(along))
    u = u + (core.slant[0] + core.slant[1] * u) * dv
    strip = comb.strip
    level = strip.level
    while level > 0 and float(np.median(pitch)) * 2.0 ** (strip.level - level) < FINE:
        level -= 1
    at = strip.origin + u[..., None] * strip.along + (comb.v + dv)[..., None] * strip.across
    at = ((at + 0.5) * 2.0**-level - 0.5).astype(np.float32)
    flat = at.reshape(len(n) * len(across), len(along), 2)
    grey = cv2.remap(
        levels[level], np.ascontiguousarray(flat[..., 0]), np.ascontiguousarray(flat[..., 1]),
        cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0.0,
    ).astype(np.float32).reshape(len(n), len(across), len(along))  # fmt: skip
    size = np.array(levels[level].shape[::-1])
    shown = ((at > 0) & (at < size - 1)).all(axis=3)
    # Where nothing shows there is no ground, and no ink either.
    seen = shown.reshape(len(n), -1)
    nothing = np.asarray(seen.sum(axis=1) == 0)[:, None]
    usual = np.where(seen | nothing, grey.reshape(len(n), -1), np.nan)
    ground = np.nanmedian(usual, axis=1)[:, None, None]
    dark = (ground - grey) > 0.5 * core.contrast
    # ticks that reach into the place are none of it
    near = np.round(n[:, None] + along)
    thin_part = max(0.2, (RULER.thin_px + 0.5) * thin.fold.pixel)
    place = np.abs(n[:, None] + along - near) < thin_part
    kinds = steps.scheme.classes(near.astype(np.int64).ravel() - steps.phase).reshape(near.shape)
    ends = np.array(steps.classes)[kinds] + 0.3
    tick = place[:, None, :] & (across[None, :, None] < ends[:, None, :])
    dark &= shown & ~tick
    enough = shown.mean(axis=(1, 2)) > 0.6
    area = dark.sum(axis=(1, 2)) / FINE**2 / period**2
    return np.where(enough, area, np.inf)
