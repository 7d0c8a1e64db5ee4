"""Rows of single ticks: rulers so large in the picture that few ticks fit into a row.

A spectrum needs many ticks. Eighths of an inch are few, but each is a thin dark line that stands
alone: here such lines are found one by one, in a band of rows beside a long edge, and those that
stand at whole numbers of one perspective numbering are a comb.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_numbering import Numbering, fitted
from settscan.photo.ruler_strip import Comb, Strip
from settscan.settings import RULER, SINGLE

Array = NDArray[np.float64]
Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Row:
    """Single ticks of one band.

    Attributes:
        comb: their numbering.
        lean: samples along per row by which ticks lean.
        numbers: (N,) of the ticks that were seen.
        u: (N,) where they cross the comb's row.
    """

    comb: Comb
    lean: float
    numbers: Array
    u: Array

    @property
    def rank(self) -> float:
        """How unlikely it is that chance made it: many ticks, none that misses, all in place."""
        count = len(self.numbers)
        even = float(np.log(SINGLE.off / max(self.comb.residual, RULER.tick_noise / 2)))
        return count**2 / (float(np.ptp(self.numbers)) + 1) * even


@dataclass(frozen=True, slots=True)
class _Run:
    """Lines of a band that are evenly apart.

    Attributes:
        band: its number.
        lean: of the lines.
        places: (P,) where all lines of the band cross its middle row.
        dark: (P,) how dark they are.
        index: (M,) which of them make the run.
        rank: how unlikely it is that chance made it.
    """

    band: int
    lean: float
    places: Array
    dark: Array
    index: NDArray[np.int64]
    rank: float

    @property
    def v(self) -> int:
        """The band's middle row."""
        return SINGLE.first_row + SINGLE.band_step * self.band


def rows_of_ticks(strip: Strip) -> list[Row]:
    """The rows of single ticks in a strip, each at its best lean, likeliest first."""
    ridges = np.stack([_ridges(strip.rows, lean) for lean in SINGLE.leans])  # (L, G, U)
    strength = (np.clip(ridges, 0, None) ** 2).sum(axis=2)
    runs: list[_Run] = []
    for band, best in enumerate(strength.argmax(axis=0).tolist()):
        runs += _runs(ridges[best], band, SINGLE.leans[best])
    runs.sort(key=lambda run: -run.rank)
    found = (_row(strip, run) for run in runs[: SINGLE.runs_per_strip])
    return sorted((row for row in found if row is not None), key=lambda row: -row.rank)


def _ridges(grey: Floats, lean: float) -> Floats:
    """(G, U) how much darker than either side each place of each band is.

    Bands are `band_rows` high, of rows laid along the lean about their own middle.
    """
    half = len(grey) // 2
    turn = np.array([[1.0, lean, -lean * half], [0.0, 1.0, 0.0]])
    sheared = cv2.warpAffine(
        grey, turn, (grey.shape[1], grey.shape[0]),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    mean = cv2.blur(sheared, (1, SINGLE.band_rows))
    at = np.arange(half + SINGLE.first_row, half - SINGLE.first_row + 1, SINGLE.band_step)
    bands = cv2.GaussianBlur(mean[at], (3, 1), 0.6)
    far = SINGLE.flank
    padded = np.pad(bands, ((0, 0), (far, far)), mode="edge")
    sides = np.minimum(padded[:, : -2 * far], padded[:, 2 * far :])
    return np.asarray(sides - bands, dtype=np.float32)


def _runs(ridges: Floats, band: int, lean: float) -> list[_Run]:
    """The runs of a band (ridges are (G, U) of all) whose lines end close to it."""
    ridge = ridges[band]
    middle = ridge[1:-1]
    peak = (middle >= ridge[:-2]) & (middle > ridge[2:]) & (middle > SINGLE.least_dark)
    at = np.flatnonzero(peak) + 1
    if len(at) < SINGLE.least_ticks:
        return []
    left, top, right = (ridge[at + d].astype(np.float64) for d in (-1, 0, 1))
    v = SINGLE.first_row + SINGLE.band_step * band
    u = at + np.clip(0.5 * (left - right) / np.minimum(left - 2 * top + right, -1e-6), -0.5, 0.5)
    u = u + lean * v
    found: list[_Run] = []
    seen: set[tuple[int, ...]] = set()
    order = np.sort(top)[::-1]
    for share in SINGLE.shares:
        use = top > share * order[len(order) // 10]
        if use.sum() < SINGLE.least_ticks:
            continue
        places, dark, column = u[use], top[use], at[use]
        for index in _even_runs(places):
            key = tuple(column[index].tolist())
            if key not in seen and _ends(ridges, band, column[index]):
                seen.add(key)
                rank = _unlikely(places[index])
                found.append(_Run(band, lean, places, dark, index, rank))
    return found


def _even_runs(places: Array) -> list[NDArray[np.int64]]:
    """The longest runs of places that are evenly apart."""
    gap = np.diff(places)
    even = (np.abs(gap[1:] / gap[:-1] - 1) < SINGLE.even) & (gap[1:] >= SINGLE.least_gap)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], even, [False]]).astype(np.int8)))
    starts, stops = edges[::2], edges[1::2]
    size = stops - starts
    order = np.argsort(-size)[: SINGLE.seeds]
    return [np.arange(starts[k], stops[k] + 2) for k in order if size[k] + 2 >= SINGLE.least_run]


def _unlikely(places: Array) -> float:
    """Log odds against chance: by how much gaps change less than those of any even lines do."""
    gap = np.diff(places)
    change = np.diff(gap) / gap.mean()
    rough = float(np.sqrt((change**2).mean() / 6))
    return len(change) * float(np.log(SINGLE.even / max(rough, RULER.tick_noise / 2)))


def _ends(ridges: Floats, band: int, column: NDArray[np.int64]) -> bool:
    """Whether lines seen at these columns of a band end within two or three bands of it."""
    near = np.clip(column[:, None] + np.array([-1, 0, 1]), 0, ridges.shape[1] - 1)
    own = float(np.median(ridges[band][column]))
    sides = []
    for away in (-1, 1):
        index = [band + k * away for k in SINGLE.beyond_bands]
        if min(index) >= 0 and max(index) < len(ridges):
            level = np.clip(ridges[index][:, near].max(axis=2), 0, own)
            sides.append(float(level.mean()) / own)
    return bool(sides) and min(sides) < SINGLE.most_beyond


def _row(strip: Strip, run: _Run) -> Row | None:
    """The row that grows from a run."""
    places = run.places
    grown = _grown(strip, places, run.index)
    if grown is None:
        return None
    index, numbers, numbering, residual = grown
    if len(index) < SINGLE.least_ticks:
        return None
    inside = (places > places[index[0]]) & (places < places[index[-1]])
    others = inside & ~np.isin(np.arange(len(places)), index)
    others &= run.dark > 0.6 * float(np.median(run.dark[index]))
    if others.sum() > SINGLE.most_others * len(index):
        return None
    pitch = float(np.median(np.diff(places[index]) / np.diff(numbers)))
    span = (places[index[0]] - pitch / 2, places[index[-1]] + pitch / 2)
    comb = Comb(strip, float(run.v), numbering, span, float(len(index)), residual)
    return Row(comb, run.lean, numbers, places[index])


def _grown(
    strip: Strip, places: Array, index: NDArray[np.int64]
) -> tuple[NDArray[np.int64], Array, Numbering, float] | None:
    """Members of a row, their numbers, the numbering and its residual."""
    numbers = np.arange(len(index), dtype=np.float64)
    for _ in range(SINGLE.rounds):
        fit = fitted(places[index], numbers, np.ones(len(index)), strip.lens, bent=False, rounds=3)
        n = fit.numbering.number(places)
        low, high = numbers.min(), numbers.max()
        reach = max(2.0, SINGLE.reach * len(index))
        nearest = np.round(n)
        away = np.abs(n - nearest)
        near = (away < SINGLE.off) & (nearest >= low - reach) & (nearest <= high + reach)
        if not _rising(fit.numbering, places):
            near &= (nearest >= low - 2) & (nearest <= high + 2)
        members = np.flatnonzero(near)
        order = members[np.lexsort((away[members], nearest[members]))]
        _, firsts = np.unique(nearest[order], return_index=True)
        again = np.sort(order[firsts])
        again = again[_in_company(nearest[again])]
        if len(again) < 3:
            return None
        done = len(again) == len(index) and bool((again == index).all())
        index, numbers = again, nearest[again]
        if (np.diff(numbers) <= 0).any():
            return None
        if done:
            break
    if fit.residual > SINGLE.most_residual:
        return None
    return index, numbers, fit.numbering, fit.residual


def _rising(numbering: Numbering, places: Array) -> bool:
    """Whether no place of the strip lies behind the horizon."""
    x = (places - numbering.middle) / numbering.half
    return bool((1 + numbering.q[2] * x > 0.3).all())


def _in_company(numbers: Array) -> NDArray[np.bool_]:
    """Numbers with a neighbour among the next two on either side."""
    gap = np.diff(numbers)
    near = gap <= 2
    return np.asarray(np.append(False, near) | np.append(near, False))
