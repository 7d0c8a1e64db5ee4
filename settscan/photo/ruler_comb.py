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
class Choice:
    """A spacing that varies smoothly along one band of a strip: perhaps ticks, perhaps threads.

    Attributes:
        strip: where.
        rank: summed share of its pieces, times the share of the strip's rows like it that lie in
            its own band and its neighbours; threads go on beyond.
        band: its number.
        model: root of the spacing in piece w is model[0] + model[1] w.
        middle: that root in the middle of the strip.
        root: (W,) root of the spacing in each piece.
        share: (W,) share of variation that equal ticks explain there.
    """

    strip: Strip
    rank: float
    band: int
    model: Array
    middle: float
    root: Array
    share: Array


def choices(strips: list[Strip]) -> list[Choice]:
    """The likeliest spacings in each of the strips, at most `RULER.combs_per_strip` of each."""
    found: list[Choice] = []
    for window in {strip.window for strip in strips}:
        alike = [strip for strip in strips if strip.window == window]
        for first in range(0, len(alike), _AT_ONCE):
            some = alike[first : first + _AT_ONCE]
            root, share = _local_spacing([_bands(strip.rows) for strip in some], window)
            for strip, r, s in zip(some, root, share, strict=True):
                found += _different(_choices(strip, r, s))
    return found


def _different(likely: list[Choice]) -> list[Choice]:
    """The first of the choices, without those that are hardly other than an earlier one."""
    taken: list[Choice] = []
    for choice in likely:
        if len(taken) >= RULER.combs_per_strip:
            break
        if not any(_alike(choice, other) for other in taken):
            taken.append(choice)
    return taken


_AT_ONCE = 16  # strips whose pieces are transformed together: large enough to pay, small to hold


def sharpened(choice: Choice) -> Comb | None:
    """The comb of a choice, or None where its ticks have no end or lose count."""
    groups = choice.strip.rows.reshape(-1, RULER.row_px, choice.strip.rows.shape[1])
    band = _even(groups[choice.band].mean(axis=0, keepdims=True))[0]
    comb = _sharpened(choice, band)
    return comb if comb is not None and comb.residual < RULER.largest_residual else None


def _alike(one: Choice, other: Choice) -> bool:
    apart = abs(one.middle / other.middle - 1)
    return abs(one.band - other.band) <= 1 and apart < RULER.end_match / 2


def _choices(strip: Strip, root: Array, share: Array) -> list[Choice]:
    """The smooth spacings of all bands that have an end within the strip, likeliest first."""
    weight = np.where(share > RULER.least_comb, share, 0.0)
    found: list[Choice] = []
    for _ in range(2):  # a ruler shorter than the strip may share its rows with cloth
        some = np.flatnonzero(weight.sum(axis=1) >= RULER.least_score)
        if not len(some):
            break
        scores, models, inside = _common_perspective(root[some], weight[some])
        good = scores >= RULER.least_score
        narrow = _narrowness(root, share, some[good], models[good])
        for i, k in zip(np.flatnonzero(good).tolist(), narrow.tolist(), strict=True):
            if k > 0:
                band, model = int(some[i]), models[i]
                middle = float(model[0] + model[1] * root.shape[1] / 2)
                rank = float(scores[i]) * k
                found.append(Choice(strip, rank, band, model, middle, root[band], share[band]))
        weight[some] = np.where(inside, 0.0, weight[some])
    return sorted(found, key=lambda choice: -choice.rank)


def _narrowness(root: Array, share: Array, bands: NDArray[np.int64], models: Array) -> Array:
    """Share of the strip's like rows that are in each band and its neighbours; 0 without an end.

    The shortest ticks of a scale are no taller than some spacings.

    Args:
        root: (G, W) of all bands of the strip.
        share: (G, W).
        bands: (C,) numbers of the bands that are asked about.
        models: (C, 2) their spacings.
    """
    predicted = np.maximum(models[:, :1] + models[:, 1:] * np.arange(root.shape[1]), 0.5)
    like = np.abs(root[None] / predicted[:, None] - 1) < RULER.end_match
    follows = (like * share[None]).sum(axis=2)
    index = np.arange(len(bands))
    alike = follows > RULER.most_outside * follows[index, bands][:, None]
    spacing = np.median(predicted, axis=1) ** 2
    out = np.zeros(len(bands))
    for c, band in enumerate(bands.tolist()):
        others = np.flatnonzero(~alike[c])
        if not len(others):
            continue  # without end on either side
        below, above = others[others < band], others[others > band]
        low = below[-1] + 1 if len(below) else 0
        high = above[0] - 1 if len(above) else len(alike[c]) - 1
        if (high - low - 1) * RULER.row_px <= RULER.tallest_core * spacing[c]:
            near = follows[c, max(0, band - 1) : band + 2].sum()
            out[c] = near / max(follows[c].sum(), 1e-9)
    return out


def _bands(rows: NDArray[np.float32]) -> NDArray[np.float32]:
    """(G, U) means of `row_px` rows, made even."""
    height = len(rows) // RULER.row_px
    groups = cv2.resize(rows, (rows.shape[1], height), interpolation=cv2.INTER_AREA)
    return _even(np.asarray(groups, dtype=np.float32))


def _even(groups: NDArray[np.float32]) -> NDArray[np.float32]:
    """Rows of grey values freed of slow changes of light and made equally strong."""
    smooth = cv2.blur(groups, (2 * int(RULER.widest_px) + 1, 1), borderType=cv2.BORDER_REFLECT)
    detail = groups - smooth
    strength = cv2.blur(detail**2, (RULER.window, 1), borderType=cv2.BORDER_REFLECT)
    return np.asarray(detail / np.sqrt(strength + 1.0), dtype=np.float32)


def _local_spacing(
    bands: list[NDArray[np.float32]], window: int
) -> tuple[list[Array], list[Array]]:
    """Root of the tick spacing (G, W) in each piece, and the share of variation it explains.

    The transforms of all strips are taken together; a Hann window's peak has the form of a
    parabola in the logarithm of the power.
    """
    cut = np.lib.stride_tricks.sliding_window_view
    views = [cut(b, window, axis=1)[:, :: window // 2] for b in bands]
    sizes = [view.shape[:2] for view in views]
    pieces = np.concatenate([view.reshape(-1, window) for view in views])
    spectrum = np.fft.rfft(pieces * np.hanning(window).astype(np.float32), axis=1)
    power = spectrum.real**2 + spectrum.imag**2
    low, high = int(window / RULER.widest_px), int(window / RULER.finest_px) + 1
    peak = power[:, low:high].argmax(axis=1) + low
    index = np.arange(len(power))
    left, top, right = (power[index, peak + d] + 1e-9 for d in (-1, 0, 1))
    a, b, c = np.log(left), np.log(top), np.log(right)
    shift = np.clip(0.5 * (a - c) / np.minimum(a - 2 * b + c, -1e-6), -0.5, 0.5)
    root = np.sqrt(window / (peak + shift)).astype(np.float64)
    share = ((left + top + right) / (power[:, 1:].sum(axis=1) + 1e-9)).astype(np.float64)
    ends = np.cumsum([g * w for g, w in sizes])[:-1]
    roots = [r.reshape(n) for r, n in zip(np.split(root, ends), sizes, strict=True)]
    return roots, [s.reshape(n) for s, n in zip(np.split(share, ends), sizes, strict=True)]


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


def _sharpened(choice: Choice, band: NDArray[np.float32]) -> Comb | None:
    """The comb's n(u) from the phases of the pieces that follow the model, grown outward."""
    strip, model, root, share = choice.strip, choice.model, choice.root, choice.share
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
    slope = float(model[1]) / strip.hop
    numbering = Numbering.at(float(_centre(strip, middle)), here, slope, lens)
    phases = _Phases(strip, band)
    joined, residual, first = seeds, 1.0, True
    for low, high in _growing(middle, seeds[0], seeds[-1], count):
        near = np.flatnonzero(good[low : high + 1]) + low
        numbers = phases.numbers(numbering, near)
        fit = fitted(_centre(strip, near), numbers, share[near], lens, rounds=2)
        if fit.residual > RULER.most_slip:
            return None
        numbering, residual, joined = fit.numbering, fit.residual, near[fit.kept]
        if first:
            comb = _described(strip, choice.band, numbering, joined, share, residual)
            start = None if comb is None else core(comb)
            if start is None or start.outside > RULER.most_outside_short:
                return None
            first = False
    return _described(strip, choice.band, numbering, joined, share, residual)


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
    reach = strip.window / 2
    span = (float(_centre(strip, joined[0])) - reach, float(_centre(strip, joined[-1])) + reach)
    v = (group + 0.5) * RULER.row_px - 0.5 - RULER.strip_half
    return Comb(strip, v, numbering, span, float(share[joined].sum()), residual)


def _centre(strip: Strip, piece: NDArray[np.int64] | np.int64 | int) -> Array:
    return np.asarray(piece * strip.hop + (strip.window - 1) / 2, dtype=np.float64)


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

    def __init__(self, strip: Strip, band: NDArray[np.float32]) -> None:
        self.strip = strip
        cut = np.lib.stride_tricks.sliding_window_view
        self.pieces = cut(band, strip.window)[:: strip.hop]
        self.window = np.hanning(strip.window)

    def numbers(self, numbering: Numbering, which: NDArray[np.int64]) -> Array:
        """Tick number at the middle of each piece, as its own phase says, nearest to the given."""
        middle, size = _centre(self.strip, which), self.strip.window
        turns = numbering.number(middle[:, None] + np.arange(size) - (size - 1) / 2)
        wave = (self.pieces[which] * self.window * np.exp(-2j * np.pi * turns)).sum(axis=1)
        # dark ticks are counted: a tick is where the wave is lowest, half a turn from its top
        return np.asarray(numbering.number(middle) + _half_turn(wave))


def _half_turn(wave: NDArray[np.complex128]) -> Array:
    """Phase of -wave in turns, made steady against the first: -0.5 to 0.5 about the mean."""
    turned = -wave
    steady = np.angle(turned.sum())
    return np.asarray((np.angle(turned * np.exp(-1j * steady)) + steady) / (2 * np.pi))
