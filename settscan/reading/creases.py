"""Light that changes within a stripe, as at a fold: told from another yarn by the stripes across.

Light multiplies: where a part of a stripe is brighter, all colours are by the same factor, and so
is the contrast of the stripes that cross it. Another yarn changes the level alone. So a part of
the profile that has the hue of another part is lit otherwise if both differ alike.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from settscan.reading.profiles import Additive
from settscan.reading.stripes import Bands, find_bands
from settscan.settings import CREASES, CreaseSettings

Floats = NDArray[Any]
Mask = NDArray[np.bool_]


class _Parts(NamedTuple):
    """Bands of even level along y.

    Attributes:
        edges: (n + 1,) between them, pixels.
        level: (n,) natural logarithm of the mean of the three channels.
        same: (n, n) True for two of one hue, whose levels light might explain.
        hue: (n, n) by how much the ratios of the channels differ from one to another.
        slope: (n,) logarithm of the slope with which the columns show in them.
        error: (n,) standard error of that; infinite where a band is too narrow to tell.
    """

    edges: Floats
    level: Floats
    same: Mask
    hue: Floats
    slope: Floats
    error: Floats


def evenly_lit(
    split: Additive, cells: tuple[float, float], settings: CreaseSettings = CREASES
) -> Additive:
    """The separated picture without the light that changes within its stripes.

    Args:
        split: the separated picture; its residual is spoilt where light is found.
        cells: about one thread along x and y, pixels.
        settings: see `CreaseSettings`.
    """
    split = _rows_evenly_lit(split, cells[1], settings)
    turned = _turned(split)
    found = _rows_evenly_lit(turned, cells[0], settings)
    return split if found is turned else _levelled(_turned(found))


def _turned(split: Additive) -> Additive:
    """With x and y exchanged."""
    base = split.columns.mean(axis=0)
    return replace(
        split,
        columns=split.rows + base,
        rows=split.columns - base,
        residual=split.residual.swapaxes(0, 1),
        mask=split.mask.T,
        x0=split.y0,
        y0=split.x0,
        blind_columns=split.blind_rows,
        blind_rows=split.blind_columns,
        noise_columns=split.noise_rows,
        noise_rows=split.noise_columns,
        steady_columns=split.steady_rows,
        steady_rows=split.steady_columns,
    )


def _rows_evenly_lit(split: Additive, cell: float, settings: CreaseSettings) -> Additive:
    """The same along y alone."""
    profile = split.rows + split.columns.mean(axis=0)
    bands = find_bands(profile, cell, split.shown()[1])
    level = np.log(np.maximum(bands.levels, 1e-4))
    apart = level[:, None] - level[None]
    factor = np.abs(apart.mean(axis=2))
    hue = np.ptp(apart, axis=2)
    same = hue < np.maximum(settings.hue, settings.hue_share * factor)
    same &= factor < settings.most
    if not (same & (factor > settings.least)).any():
        return split
    slope, error = _slopes_of(bands, _slopes(split), cell, settings)
    parts = _Parts(bands.edges, level.mean(axis=1), same, hue, slope, error)
    lit = [_lit(i, parts, settings.errors, settings) for i in range(len(slope))]
    if not any(found is not None for found in lit):
        return split
    _lit_beside(parts, lit, settings)
    return _divided(split, _light(profile, parts, lit, cell, settings))


def _slopes(split: Additive) -> Floats:
    """(H,) with which the columns show in each row; nan where few of its pixels show."""
    across = (split.columns - split.columns.mean(axis=0)).astype(np.float32)
    shown = split.mask.astype(np.float32)
    number, sums, squares = shown.sum(axis=1), shown @ across, shown @ across**2
    many = np.maximum(number, 1.0)[:, None]
    light = np.einsum("yxc,xc->yc", split.residual, across)
    own = (light - split.residual.sum(axis=1) * sums / many).sum(axis=1)
    power = (squares - sums**2 / many).sum(axis=1)
    told = number > 0.1 * float(number.max())
    return np.where(told, 1 + own / np.maximum(power, 1e-9), np.nan)


def _slopes_of(
    bands: Bands, slopes: Floats, cell: float, settings: CreaseSettings
) -> tuple[Floats, Floats]:
    """Logarithm (n,) of the slope in each band, and its standard error."""
    slope, error = np.zeros(len(bands.widths)), np.full(len(bands.widths), np.inf)
    for i, (start, stop) in enumerate(pairwise(bands.edges)):
        own = slopes[math.ceil(start + cell / 2) : math.floor(stop - cell / 2) + 1]
        own = own[np.isfinite(own)]
        if len(own) < settings.least_threads * cell or own.mean() <= 0:
            continue
        # Neighbouring rows of one thread, and of the next, err alike.
        free = len(own) / (2 * cell)
        slope[i] = np.log(own.mean())
        error[i] = np.hypot(own.std() / own.mean() / np.sqrt(free), settings.least_error)
    return slope, error


class _Usual(NamedTuple):
    """The level (a logarithm) that bands of one hue mostly have, with their slope and its error."""

    level: float
    slope: float
    error: float

    def lights(self, index: int, parts: _Parts, settings: CreaseSettings) -> bool:
        """Whether a band differs from these as it would in another light."""
        brighter, steeper = parts.level[index] - self.level, parts.slope[index] - self.slope
        error = float(np.hypot(parts.error[index], self.error))
        slack = settings.agree * error + settings.share * abs(brighter)
        return bool(abs(steeper - brighter) < slack)

    def steeper(self, index: int, parts: _Parts) -> float:
        """By how many standard errors the slope of a band differs from these."""
        error = float(np.hypot(parts.error[index], self.error))
        return float(abs(parts.slope[index] - self.slope)) / error


def _lit(index: int, parts: _Parts, errors: float, settings: CreaseSettings) -> _Usual | None:
    """How bands of its hue mostly are, if a band lies in another light than they do.

    Its slope must differ from theirs by so many standard errors.
    """
    if not np.isfinite(parts.error[index]):
        return None
    wide = np.diff(parts.edges)
    left = parts.same[index].copy()
    while left.any():
        # Bands of one hue may be of several yarns, each with a level of its own.
        others = np.flatnonzero(left)
        near = np.abs(parts.level[others, None] - parts.level[others]) < settings.least
        usual = others[near[np.argmax(near @ wide[others])]]
        if index in usual:
            return None
        left[usual] = False
        told = usual[np.isfinite(parts.error[usual])]
        if len(told):
            found = _Usual(
                float(np.average(parts.level[usual], weights=wide[usual])),
                float(np.average(parts.slope[told], weights=wide[told])),
                float(parts.error[told].min()),
            )
            if found.lights(index, parts, settings):
                return found if found.steeper(index, parts) > errors else None
    return None


def _lit_beside(parts: _Parts, lit: list[_Usual | None], settings: CreaseSettings) -> None:
    """Adds to `lit` what borders on it and lies less plainly in the same light."""
    told = np.flatnonzero(np.isfinite(parts.error)).tolist()
    spreads = True
    while spreads:
        spreads = False
        for one, two in pairwise(told):
            for index, other in ((one, two), (two, one)):
                if lit[index] is None and lit[other] is not None:
                    lit[index] = _lit(index, parts, settings.errors_beside, settings)
                    spreads |= lit[index] is not None


def _light(
    profile: Floats,
    parts: _Parts,
    lit: list[_Usual | None],
    cell: float,
    settings: CreaseSettings,
) -> Floats:
    """(H,) the light of each row over that of most: what is lit otherwise by its own level."""
    light = np.ones(len(profile))
    bright = profile.mean(axis=1)
    for index, usual in enumerate(lit):
        if usual is None:
            continue
        first, last = _run_about(index, usual, parts, lit, settings)
        start, stop = parts.edges[first] + 0.5, parts.edges[last + 1] + 0.5
        # The blur of a stripe's own ends is no light.
        inside = slice(math.ceil(start + cell / 2), max(math.floor(stop - cell / 2), 1))
        rows = slice(max(math.floor(start), 0), min(math.ceil(stop), len(profile)))
        own = _followed(bright[inside] if inside.stop > inside.start else bright[rows], cell)
        at = np.clip(np.arange(rows.start, rows.stop) - inside.start, 0, len(own) - 1)
        light[rows] = own[at] / np.exp(usual.level)
    return light


def _run_about(
    index: int,
    usual: _Usual,
    parts: _Parts,
    lit: list[_Usual | None],
    settings: CreaseSettings,
) -> tuple[int, int]:
    """First and last of the bands about a lit one that go on in its light.

    What is too narrow to be told by its slope goes with what it borders on.
    """

    def goes_on(to: int, beside: int) -> bool:
        step = abs(parts.level[to] - parts.level[beside])
        if lit[to] is not None or step > settings.most_step:
            return False
        if not np.isfinite(parts.error[to]):
            return bool(parts.hue[to, beside] < settings.narrow_hue)
        aside = abs(parts.level[to] - usual.level) > settings.least
        return bool(parts.same[to, beside] and aside and usual.lights(to, parts, settings))

    first = last = index
    while first > 0 and goes_on(first - 1, first):
        first -= 1
    while last < len(lit) - 1 and goes_on(last + 1, last):
        last += 1
    return first, last


def _followed(bright: Floats, cell: float) -> Floats:
    """How bright a part is from row to row, single threads of another yarn left out (medians)."""
    from scipy.ndimage import median_filter, uniform_filter1d  # a part of scikit-image's own needs

    steady = median_filter(bright, size=2 * round(2 * cell) + 1, mode="reflect")
    return np.asarray(uniform_filter1d(steady, 2 * max(1, round(cell / 2)) + 1, mode="nearest"))


def _divided(split: Additive, light: Floats) -> Additive:
    """The picture with each row (H,) divided by its light."""
    base = split.columns.mean(axis=0)
    gain = 1 / light
    rows = (base + split.rows) * gain[:, None] - base
    across = (split.columns - base).astype(np.float32)
    residual = split.residual
    for y in np.flatnonzero(light != 1.0):
        line = residual[y] * np.float32(gain[y]) + across * np.float32(gain[y] - 1)
        residual[y] = np.where(split.mask[y][:, None], line, 0)
    return _levelled(replace(split, rows=rows, residual=residual))


def _levelled(split: Additive) -> Additive:
    """With rows of mean zero over all that shows; what they had is of the columns."""
    mean = np.average(split.rows, axis=0, weights=np.maximum(split.mask.sum(axis=1), 1e-9))
    return replace(split, columns=split.columns + mean, rows=split.rows - mean)
