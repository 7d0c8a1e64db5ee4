"""The spectrum of a body along its length: which equal marks stand in which of its rows.

All marks are measured together, over the whole length, so single ones need not be seen. In a
photo their spacing changes along the ruler as the square of its width does (both shrink with
distance), so the band is resampled until they are equal, near the taper that its edges have.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_bodies import Body
from settscan.photo.ruler_lines import Grey
from settscan.settings import MARKS, MarkSettings

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
PAD = 2  # so many times finer than its length asks a spectrum is sampled


@dataclass(frozen=True, slots=True)
class Band:
    """A body laid flat: row r, column u lies at start + u along + across (r - rim + 0.5) row(u).

    Attributes:
        start: (2,) px of column 0 on the first edge.
        along: (2,) px per column.
        across: (2,) unit vector from the first edge to the second.
        heights: (U,) px per row at each column.
        rim: rows before the first edge and behind the second.
        detail: (rows, U) grey values without slow changes of light, outliers cut.
    """

    start: Array
    along: Array
    across: Array
    heights: Array
    rim: int
    detail: Floats

    @property
    def rows(self) -> int:
        """Rows between the edges."""
        return len(self.detail) - 2 * self.rim

    @property
    def taper(self) -> float:
        """Half the relative change of the width from end to end."""
        first, last = self.heights[0], self.heights[-1]
        return float((last - first) / (last + first))

    def photo(self, u: Array, row: Array | float) -> Array:
        """(N, 2) px of places along one row, or (R, N, 2) along rows (R, 1)."""
        slope = (self.heights[-1] - self.heights[0]) / (len(self.heights) - 1)
        reach = (np.asarray(row) - self.rim + 0.5) * (self.heights[0] + slope * u)
        return np.asarray(self.start + u[:, None] * self.along + reach[..., None] * self.across)

    def turned(self) -> Band:
        """The same band seen from its second edge."""
        far = self.start + self.rows * self.heights[0] * self.across
        slope = (self.heights[-1] - self.heights[0]) / (len(self.heights) - 1)
        along = self.along + self.rows * slope * self.across
        return Band(far, along, -self.across, self.heights, self.rim, self.detail[::-1])


@dataclass(frozen=True, slots=True)
class Spectrum:
    """Power along a band.

    Attributes:
        bend: of the resampling that makes marks equal (see `equal_places`).
        ratio: (rows, F) power over that of noise, for frequencies 0, 1, 2, ... over PAD U.
        columns: U.
    """

    bend: float
    ratio: Floats
    columns: int


def band_of(grey: Grey, body: Body, s: MarkSettings = MARKS) -> Band | None:
    """The body as a band of rows as far as the picture shows it; None where that is too short."""
    first, second, third, fourth = body.corners
    length = float(np.linalg.norm(second - first))
    along = (second - first) / length
    across = np.array([-along[1], along[0]])
    across = across * np.sign((fourth - first) @ across)
    widths = np.array([(fourth - first) @ across, (third - second) @ across])
    rows = int(np.clip(round(float(widths.mean())), s.least_width, s.most_rows))
    rim = rows // 4
    u = np.arange(int(length), dtype=np.float64)
    heights = np.interp(u, [0, length], widths) / rows
    if heights.min() <= 0:
        return None
    band = Band(first, along, across, heights, rim, np.empty((rows + 2 * rim, 0), np.float32))
    at = band.photo(u, np.arange(rows + 2.0 * rim)[:, None]).astype(np.float32)
    size = np.array(grey.shape[::-1])
    shown = np.all((at >= 0) & (at <= size - 1), axis=2)
    columns = np.flatnonzero(shown[rim : rim + rows].mean(axis=0) > s.least_seen)
    if len(columns) < s.least_columns:
        return None
    low, high = int(columns[0]), int(columns[-1]) + 1
    at = at[:, low:high]
    picture = cv2.remap(
        grey, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    start = first + low * along
    detail = _detail(np.asarray(picture, dtype=np.uint8)) * (
        shown[:, low:high].mean(axis=1, keepdims=True) > 0.5
    )
    return Band(start, along, across, heights[low:high], rim, detail.astype(np.float32))


def _detail(picture: NDArray[np.uint8]) -> Floats:
    """Rows without slow changes of light; a finger or a stripe counts for little."""
    rows = picture.astype(np.float32)
    detail = rows - cv2.blur(rows, (81, 1), borderType=cv2.BORDER_REFLECT)
    usual = 1.4826 * np.median(np.abs(detail), axis=1, keepdims=True) + 1
    return np.asarray(np.clip(detail, -5 * usual, 5 * usual), dtype=np.float32)


def equal_places(columns: int, bend: float) -> Array:
    """(U,) columns at equal steps of tick number: x = (t + bend) / (1 + bend t), -1 to 1."""
    t = np.linspace(-1, 1, columns)
    return np.asarray(((t + bend) / (1 + bend * t) + 1) / 2 * (columns - 1))


def resampled(detail: Floats, bend: float) -> Floats:
    """The rows at `equal_places`."""
    rows, columns = detail.shape
    u = np.tile(equal_places(columns, bend).astype(np.float32), (rows, 1))
    v = np.repeat(np.arange(rows, dtype=np.float32)[:, None], columns, axis=1)
    return np.asarray(cv2.remap(detail, u, v, cv2.INTER_LINEAR), dtype=np.float32)


def best_spectra(band: Band, s: MarkSettings = MARKS) -> tuple[Spectrum, Spectrum]:
    """The spectra seen from the first and from the second edge, each at its best taper.

    The edges tell the taper roughly; the marks are plainest at the true one.
    """
    width = float(np.mean(band.heights)) * band.rows
    reach = min(s.most_bend, s.edge_error / width)
    coarse = np.arange(-np.ceil(reach / s.bend_step), reach / s.bend_step + 1) * s.bend_step
    power = _power(band, -band.taper, s)
    noise = _noise(power)  # it hardly changes with the taper
    tried = {0.0: Spectrum(-band.taper, power / noise, band.detail.shape[1])}
    best: list[tuple[float, float]] = [(-np.inf, 0.0)] * 2
    for steps in (coarse, np.array([-0.5, 0.5]) * s.bend_step):
        for step in sorted({round(b[1] + d, 6) for b in best for d in steps}):
            if step not in tried:
                bend = -band.taper + step
                ratio = _power(band, bend, s) / noise
                tried[step] = Spectrum(bend, ratio, band.detail.shape[1])
            for side in (0, 1):
                score = periods(seen_from(tried[step], side), searched_rows(band, s), s)[1]
                if len(score) and score.max() > best[side][0]:
                    best[side] = (float(score.max()), step)
    first, second = (seen_from(tried[b[1]], side) for side, b in enumerate(best))
    return first, second


class Sides(NamedTuple):
    """A body seen from its first edge and from its second, each with its spectrum."""

    body: Body
    each: tuple[tuple[Band, Spectrum], tuple[Band, Spectrum]]


def sides_of(grey: Grey, some: list[Body], s: MarkSettings = MARKS) -> list[Sides]:
    """Both sides of each body that the picture shows far enough."""
    found = []
    for body in some:
        band = band_of(grey, body, s)
        if band is not None:
            first, second = best_spectra(band, s)
            found.append(Sides(body, ((band, first), (band.turned(), second))))
    return found


def seen_from(spectrum: Spectrum, side: int) -> Spectrum:
    """The spectrum from the first edge (0) or the second (1)."""
    return spectrum if side == 0 else replace(spectrum, ratio=spectrum.ratio[::-1])


def searched_rows(band: Band, s: MarkSettings = MARKS) -> slice:
    """The rows that ticks and numerals of one edge may take."""
    return slice(band.rim, band.rim + int(s.searched * band.rows))


def _power(band: Band, bend: float, s: MarkSettings) -> Floats:
    """(rows, F) power of the resampled rows."""
    columns = band.detail.shape[1]
    window = np.hanning(columns).astype(np.float32)
    wave = np.fft.rfft(resampled(band.detail, bend) * window, PAD * columns, axis=1)
    wave = wave[:, : int(PAD * columns * s.highest)]
    return np.asarray(wave.real**2 + wave.imag**2, dtype=np.float32)


def _noise(power: Floats) -> Floats:
    """Power of what does not repeat: a low quantile of that in the neighbourhood."""
    width = 32 * PAD
    middles, levels = [], []
    for first in range(0, power.shape[1], width):
        part = power[:, max(0, first - width // 2) : first + 3 * width // 2 : PAD]
        levels.append(np.quantile(part, 0.35, axis=1) / -np.log(0.65))
        middles.append(min(first + width / 2, power.shape[1]))
    at = np.arange(power.shape[1])
    noise = np.stack([np.interp(at, middles, row) for row in np.array(levels).T])
    floor = 0.02 * np.median(noise, axis=1, keepdims=True) + 1
    return np.asarray(np.maximum(noise, floor), dtype=np.float32)


def periods(spectrum: Spectrum, rows: slice, s: MarkSettings = MARKS) -> tuple[Array, Array]:
    """How many marks the band may hold, (M,), and the score of each (M,).

    Each harmonic counts by the logarithm of its power in the three rows where it is strongest,
    less what it must bring at least: else the double or fivefold period would explain as much.
    """
    ratio = cv2.blur(spectrum.ratio[rows], (1, 3))
    peak = np.log(ratio.max(axis=0) + 1e-3)
    peak = peak - np.median(peak)
    peak[1:-1] = np.maximum(np.maximum(peak[1:-1], peak[:-2]), peak[2:])
    gain = np.clip(peak - s.harmonic_cost, -s.harmonic_cost, s.most_gain)
    most = spectrum.columns / s.finest_period
    times = np.arange(s.least_times, most, 0.5 / PAD)
    bins = PAD * times
    total, best = np.zeros(len(times)), np.full(len(times), -np.inf)
    for k in range(1, s.harmonics + 1):
        at = np.round(k * bins).astype(np.int64)
        seen = at < len(gain)
        total[seen] += gain[at[seen]]
        if k > 1:
            best = np.maximum(best, total)
    return times, best


def harmonics(spectrum: Spectrum, times: float, count: int) -> Array:
    """(rows, K) power over noise of the harmonics 1 to K, as far as the spectrum holds them."""
    out: list[Floats] = []
    for k in range(1, count + 1):
        at = round(PAD * k * times)
        if at >= spectrum.ratio.shape[1] and out:
            break
        out.append(spectrum.ratio[:, max(at - 1, 0) : at + 2].max(axis=1))
    return np.stack(out, axis=1).astype(np.float64)
