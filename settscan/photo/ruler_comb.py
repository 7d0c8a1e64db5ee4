"""Equal ticks along a line, however the camera saw them: combs.

Along a ruler the number of a tick is a projective function of its place u in the photo (see
`ruler_numbering`), so the local spacing of ticks, 1 / (dn/du), is the square of a linear
function of u. Short pieces
of the strip beside an edge tell their local spacing by their spectrum; pieces that agree with one
such function are a comb, and the phases in the pieces then make it sharp.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_core import core
from settscan.photo.ruler_numbering import Numbering, fitted
from settscan.photo.ruler_strip import Comb, Strip
from settscan.settings import RULER

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Choice:
    """A spacing that varies smoothly along one band: perhaps ticks, perhaps threads.

    Attributes:
        rank: summed share of its pieces, times the share of the strip's rows like it that lie in
            its own band and its neighbours; threads go on beyond.
        band: its number.
        model: root of the spacing in piece w is model[0] + model[1] w.
        middle: that root in the middle of the strip.
    """

    rank: float
    band: int
    model: Array
    middle: float


def combs(strip: Strip) -> list[Comb]:
    """The combs in a strip; of many only the likeliest `RULER.combs_per_strip` are tried."""
    bands = _bands(strip.rows)
    root, share = _local_spacing(bands)
    found: list[Comb] = []
    taken: list[_Choice] = []
    for choice in _choices(root, share):
        if len(taken) >= RULER.combs_per_strip:
            break
        if any(_alike(choice, other) for other in taken):
            continue
        taken.append(choice)
        band = choice.band
        comb = _sharpened(strip, bands[band], band, choice.model, root[band], share[band])
        if comb is not None and comb.residual < RULER.largest_residual:
            found.append(comb)
    return found


def _alike(one: _Choice, other: _Choice) -> bool:
    apart = abs(one.middle / other.middle - 1)
    return abs(one.band - other.band) <= 1 and apart < RULER.end_match / 2


def _choices(root: Array, share: Array) -> list[_Choice]:
    """The smooth spacings of all bands that have an end within the strip, likeliest first."""
    weight = np.where(share > RULER.least_comb, share, 0.0)
    choices: list[_Choice] = []
    for _ in range(2):  # a ruler shorter than the strip may share its rows with cloth
        scores, models, inside = _common_perspective(root, weight)
        for band in np.flatnonzero(scores >= RULER.least_score).tolist():
            narrow = _narrowness(root, share, band, models[band])
            middle = float(models[band][0] + models[band][1] * root.shape[1] / 2)
            if narrow > 0:
                choices.append(_Choice(float(scores[band]) * narrow, band, models[band], middle))
        weight = np.where(inside, 0.0, weight)
    return sorted(choices, key=lambda choice: -choice.rank)


def _narrowness(root: Array, share: Array, band: int, model: Array) -> float:
    """Share of the strip's like rows that are in the band and its neighbours; 0 without an end.

    The shortest ticks of a scale are no taller than some spacings.
    """
    predicted = np.maximum(model[0] + model[1] * np.arange(root.shape[1]), 0.5)
    follows = ((np.abs(root / predicted - 1) < RULER.end_match) * share).sum(axis=1)
    alike = follows > RULER.most_outside * follows[band]
    low, high = band, band
    while low > 0 and alike[low - 1]:
        low -= 1
    while high < len(alike) - 1 and alike[high + 1]:
        high += 1
    endless = low == 0 and high == len(alike) - 1
    spacing = float(np.median(predicted)) ** 2
    if endless or (high - low - 1) * RULER.row_px > RULER.tallest_core * spacing:
        return 0.0
    return float(follows[max(0, band - 1) : band + 2].sum() / max(follows.sum(), 1e-9))


def _bands(rows: NDArray[np.float32]) -> NDArray[np.float32]:
    """(G, U) means of `row_px` rows, freed of slow changes of light and made equally strong."""
    groups = rows.reshape(-1, RULER.row_px, rows.shape[1]).mean(axis=1)
    smooth = cv2.blur(groups, (2 * int(RULER.widest_px) + 1, 1), borderType=cv2.BORDER_REFLECT)
    detail = groups - smooth
    strength = cv2.blur(detail**2, (RULER.window, 1), borderType=cv2.BORDER_REFLECT)
    return np.asarray(detail / np.sqrt(strength + 1.0), dtype=np.float32)


def _local_spacing(bands: NDArray[np.float32]) -> tuple[Array, Array]:
    """Root of the tick spacing (G, W) in each piece, and the share of variation it explains."""
    pieces = np.lib.stride_tricks.sliding_window_view(bands, RULER.window, axis=1)
    pieces = pieces[:, :: RULER.hop]
    window = np.hanning(RULER.window).astype(np.float32)
    pad = 2 * RULER.window
    power = np.abs(np.fft.rfft(pieces * window, pad, axis=2)) ** 2
    low, high = int(pad / RULER.widest_px), int(pad / RULER.finest_px) + 1
    inside = power[:, :, low:high]
    peak = inside.argmax(axis=2) + low
    grid = np.take_along_axis
    left, top, right = (grid(power, (peak + d)[:, :, None], 2)[:, :, 0] for d in (-1, 0, 1))
    bend = np.minimum(left - 2 * top + right, -1e-12)
    shift = np.clip(0.5 * (left - right) / bend, -0.5, 0.5)
    total = power[:, :, 2:].sum(axis=2) + 1e-9
    near = sum(
        grid(power, np.clip(peak + d, 0, pad // 2)[:, :, None], 2)[:, :, 0]
        for d in (-3, -2, -1, 0, 1, 2, 3)
    )
    frequency = (peak + shift) / pad
    return np.asarray(1 / np.sqrt(frequency)), np.asarray(near / total)


def _common_perspective(root: Array, weight: Array) -> tuple[Array, Array, NDArray[np.bool_]]:
    """The best `root = g0 + g1 w` over the pieces w of each band.

    Returns:
        (G,) scores, (G, 2) models (g0, g1), (G, W) which pieces follow the model.
    """
    groups, count = root.shape
    pick = min(8, count)
    strong = np.sort(np.argpartition(-weight, pick - 1, axis=1)[:, :pick], axis=1)
    first, second = np.triu_indices(pick, 1)
    w0, w1 = strong[:, first], strong[:, second]
    at = np.arange(groups)[:, None]
    gap = np.maximum(w1 - w0, 1)
    slope = (root[at, w1] - root[at, w0]) / gap
    start = root[at, w0] - slope * w0
    w = np.arange(count)
    predicted = start[:, :, None] + slope[:, :, None] * w
    # the spacing goes with the square of its root
    match = np.abs(root[:, None, :] / np.maximum(predicted, 0.5) - 1) < RULER.spacing_match / 2
    scores = (match * weight[:, None, :]).sum(axis=2)
    # pieces far apart fix the perspective; neighbours might invent one
    scores = np.where(np.abs(slope) * count > 0.6 * np.abs(start + slope * count / 2), 0, scores)
    best = scores.argmax(axis=1)
    index = np.arange(groups)
    models = np.stack([start[index, best], slope[index, best]], axis=1)
    return scores[index, best], models, match[index, best]


def _sharpened(
    strip: Strip, band: NDArray[np.float32], group: int, model: Array, root: Array, share: Array
) -> Comb | None:
    """The comb's n(u) from the phases of the pieces that follow the model, grown outward."""
    count = len(root)
    w = np.arange(count)
    predicted = model[0] + model[1] * w
    good = (np.abs(root / np.maximum(predicted, 0.5) - 1) < RULER.spacing_match) & (
        share > RULER.least_comb / 2
    )
    seeds = _longest_run(good)
    if len(seeds) < 2:
        return None
    if len(seeds) > 3:
        model = np.polyfit(seeds, root[seeds], 1, w=share[seeds])[::-1]
    middle = seeds[len(seeds) // 2]
    here = float(model[0] + model[1] * middle)
    lens = strip.lens
    numbering = Numbering.at(float(_centre(middle)), here, float(model[1]) / RULER.hop, lens)
    phases = _Phases(band)
    joined, residual, first = seeds, 1.0, True
    for low, high in _growing(middle, seeds[0], seeds[-1], count):
        near = np.flatnonzero(good[low : high + 1]) + low
        numbers = phases.numbers(numbering, near)
        fit = fitted(_centre(near), numbers, share[near], lens, rounds=2)
        if fit.residual > RULER.most_slip:
            return None
        numbering, residual, joined = fit.numbering, fit.residual, near[fit.kept]
        if first:
            comb = _described(strip, group, numbering, joined, share, residual)
            start = None if comb is None else core(comb)
            if start is None or start.outside > RULER.most_outside_short:
                return None
            first = False
    return _described(strip, group, numbering, joined, share, residual)


def _described(
    strip: Strip,
    group: int,
    numbering: Numbering,
    joined: NDArray[np.int64],
    share: Array,
    residual: float,
) -> Comb | None:
    if len(joined) < 2:
        return None
    reach = RULER.window / 2
    span = (float(_centre(joined[0])) - reach, float(_centre(joined[-1])) + reach)
    v = (group + 0.5) * RULER.row_px - 0.5 - RULER.strip_half
    return Comb(strip, v, numbering, span, float(share[joined].sum()), residual)


def _centre(piece: NDArray[np.int64] | np.int64 | int) -> Array:
    return np.asarray(piece * RULER.hop + (RULER.window - 1) / 2, dtype=np.float64)


def _longest_run(good: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Indices of the longest run of pieces, single gaps bridged."""
    index = np.flatnonzero(good)
    if not len(index):
        return index
    parts = np.split(index, np.flatnonzero(np.diff(index) > 2) + 1)
    return max(parts, key=len)


def _growing(middle: int, first: int, last: int, count: int) -> list[tuple[int, int]]:
    """Ranges of pieces about `middle`, growing to the whole run and then to all pieces.

    They begin small and grow by a quarter on either side, so that each prediction is sure to
    a fraction of a tick.
    """
    low, high = max(first, middle - 2), min(last, middle + 2)
    ranges = [(low, high)]
    while low > 0 or high < count - 1:
        more = max(1, (high - low) // 2)
        low, high = max(0, low - more), min(count - 1, high + more)
        ranges.append((low, high))
    return [*ranges, ranges[-1]]


class _Phases:
    """Phases of the pieces of one band against a numbering."""

    def __init__(self, band: NDArray[np.float32]) -> None:
        self.pieces = np.lib.stride_tricks.sliding_window_view(band, RULER.window)[:: RULER.hop]
        self.window = np.hanning(RULER.window)

    def numbers(self, numbering: Numbering, which: NDArray[np.int64]) -> Array:
        """Tick number at the middle of each piece, as its own phase says, nearest to the given."""
        u = _centre(which)[:, None] + np.arange(RULER.window) - (RULER.window - 1) / 2
        turns = numbering.number(u)
        wave = (self.pieces[which] * self.window * np.exp(-2j * np.pi * turns)).sum(axis=1)
        # dark ticks are counted: a tick is where the wave is lowest, half a turn from its top
        return np.asarray(numbering.number(_centre(which)) + _half_turn(wave))


def _half_turn(wave: NDArray[np.complex128]) -> Array:
    """Phase of -wave in turns, made steady against the first: -0.5 to 0.5 about the mean."""
    turned = -wave
    steady = np.angle(turned.sum())
    return np.asarray((np.angle(turned * np.exp(-1j * steady)) + steady) / (2 * np.pi))
