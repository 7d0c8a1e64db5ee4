"""Where numerals stand beside a row of ticks, told from all else that is printed there."""

from __future__ import annotations

import cv2
import numpy as np

from settscan.photo.ruler_fold import PHASES, ROWS, Fold, depth
from settscan.photo.ruler_scheme import Array, Ladder, Mask, Whole
from settscan.settings import RULER


def ink_beyond(steps: Ladder, folded: Fold, longest: float) -> Array:
    """(N,) share of what lies about each tick, beyond the second longest, that is as dark as ticks.

    Numerals stand there, a quarter of an inch high at most, and the thin ends of the longest
    ticks, which may run into them: what is right on a tick counts beyond the longest alone.
    Looked at is an eighth of an inch to either side, where there is most. (Of light ticks, as
    light as they.)
    """
    period = steps.scheme.period
    start = folded.core[1] if steps.side > 0 else folded.core[0]
    beyond = (folded.rows - start) * steps.side - steps.classes[-2]
    inch = 25.4 / steps.scheme.tick_mm if steps.scheme.unit == "mm" else float(period)
    longer = min(longest - steps.classes[-2], 0.3 * inch)
    rows = (beyond > 0.3) & (beyond < 0.3 + longer + inch / 4) & _on_body(folded, steps.side)
    index = np.searchsorted(folded.numbers, steps.numbers)
    if not rows.any():
        return np.zeros(len(index))
    dark = _as_dark_as_ticks(steps, folded, rows, index)
    beside = np.abs(np.arange(PHASES) / PHASES - 0.5) > max(0.2, RULER.thin_px * folded.pixel)
    aside = dark[:, :, beside].mean(axis=2) if beside.any() else np.zeros(dark.shape[:2])
    whole = np.where((beyond[rows] > longer + 0.3)[:, None], dark.mean(axis=2), 0.0)
    share = np.maximum(aside, whole)
    # What is in a row all along, like ticks of the other edge, is no numeral.
    share = np.maximum(share - np.median(share[:, index], axis=1, keepdims=True), 0.0)
    tall = max(1, min(round(ROWS * inch / 8), len(share)))
    per_tick = cv2.blur(share, (1, tall), borderType=cv2.BORDER_CONSTANT).max(axis=0)
    width = 2 * (period // 8) + 1
    around = np.convolve(per_tick, np.ones(width) / width, mode="same")
    return np.asarray(around[index], dtype=np.float64)


def _on_body(folded: Fold, side: int) -> Mask:
    """(V,) the rows that the ruler's body reaches, from the core on to where most look otherwise.

    Stripes of the cloth beyond would stand in for numerals.
    """
    beside = np.abs(np.arange(PHASES) / PHASES - 0.5) > max(0.2, RULER.thin_px * folded.pixel)
    if not beside.any():
        return np.ones(len(folded.rows), dtype=np.bool_)
    ground = folded.grey.reshape(len(folded.rows), -1, PHASES)[:, :, beside].mean(axis=2)
    ticked = ground[folded.in_core]
    usual = np.median(ticked, axis=0)
    grain = float(np.median(np.abs(ticked - usual))) + _GRAIN * float(np.median(usual)) + 2
    other = (np.abs(ground - usual) > 4 * grain).mean(axis=1) > 0.5
    outwards = np.argsort(side * folded.rows)
    outwards = outwards[np.argmax(folded.in_core[outwards]) :]
    # A line that is printed along the body does not end it.
    lasting = np.convolve(other[outwards], np.ones(ROWS // 2), mode="valid") > ROWS // 2 - 0.5
    body = np.ones(len(other), dtype=np.bool_)
    if lasting.any():
        body[outwards[np.argmax(lasting) :]] = False
    return body


_GRAIN = 0.03  # of wood, as a share of its light


def _as_dark_as_ticks(steps: Ladder, folded: Fold, rows: Mask, index: Whole) -> Array:
    """(rows, ticks, 8) 1 where the ruler is about as dark as on the ticks, else 0."""
    grey = folded.grey[rows]
    # glare and grain change slowly along the ruler
    width = PHASES * max(steps.scheme.period // 2, 2) + 1
    ground = cv2.blur(grey, (width, 1), borderType=cv2.BORDER_REFLECT)
    darker = (grey - ground) * (1.0 if steps.light else -1.0)
    own = depth(folded, steps.light)[:, folded.in_core].mean(axis=1)
    dark = darker > RULER.as_dark * float(np.median(own[index - 1]))
    return np.asarray(dark.reshape(len(grey), -1, PHASES), dtype=np.float64)
