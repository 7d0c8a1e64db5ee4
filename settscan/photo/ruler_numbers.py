"""Rulers read by their numbers, as a person reads one whose ticks are washed out.

Numerals are larger and bolder than ticks, and show where clear plastic or a low resolution leaves
no tick. One that is six pixels high is no letter that anybody could swear to, but numbers count
up: from each to the next the last figure is one more, all along the ruler. So no numeral is read
by itself. For each distance of marks that a body may have, each place of the first and each figure
it may begin with, the likeness of all the figures is summed up, and what other figures in other
places come to tells what chance makes of the same cloth.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_lines import Grey
from settscan.photo.ruler_placed import Places
from settscan.photo.ruler_spectrum import Band, Spectrum, equal_places
from settscan.photo.ruler_unit import CM, INCH
from settscan.settings import MARKS, NUMBERS, NumberSettings

Array = NDArray[np.float64]
Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Numbers:
    """A row of numbers that count up along a band.

    Attributes:
        score: how plainly they do, in standard deviations of what chance makes.
        mm: from one to the next; None where sizes leave the unit open.
        seen: where their middles stand, and what is counted there.
    """

    score: float
    mm: float | None
    seen: Places


def numbers_on(
    grey: Grey, band: Band, spectrum: Spectrum, times: list[float], s: NumberSettings = NUMBERS
) -> Numbers | None:
    """The numbers along a band, if any count up plainly.

    Args:
        grey: (H, W) the picture that the band lies in.
        band: the body, seen from one edge.
        spectrum: its marks.
        times: how many distances of numbers it may hold.
        s: settings.
    """
    flat = _flat(grey, band, spectrum.bend)
    tried = [row for some in times for row in _tried(flat, spectrum.columns / some, s)]
    if not tried or max(row.score for row in tried) < s.sure:
        return None
    # numbers at every second mark count up a little at each mark, too
    period = max(tried, key=_rank).distance
    tried += [row for part in (0.5, 2.0) for row in _tried(flat, part * period, s)]
    best = max(tried, key=_rank)
    others = [_rank(row) for row in tried if not _same(row, best)]
    if best.score < s.sure or _rank(best) < s.ahead * max(others, default=0.0):
        return None
    return _measured(band, spectrum, best, s)


class _View(NamedTuple):
    """A body upright: the picture in which its numerals are `tall` samples high.

    Attributes:
        alike: (10, R, U) likeness to each figure less the mean of all, in standard deviations.
        zoom: samples per px.
        turned: whether it was turned by half a circle.
        mirrored: whether the band runs so that its rows had to be taken in turn.
        shape: of the band in px.
    """

    alike: Floats
    zoom: float
    turned: bool
    mirrored: bool
    shape: tuple[int, int]

    def band_px(self, x: Array, y: float) -> tuple[Array, float]:
        """Columns and the row of the flat band in px that lie at samples x of row y."""
        rows, columns = self.shape
        x, y = (x + 0.5) / self.zoom - 0.5, (y + 0.5) / self.zoom - 0.5
        if self.turned:
            x, y = columns - 1 - x, rows - 1 - y
        return x, rows - 1 - y if self.mirrored else y


@dataclass(frozen=True, slots=True)
class _Row:
    """The likeliest row of numbers at one distance and height.

    Attributes:
        score: as in `Numbers`.
        alike: share of the numbers that are more like what they should be than like all figures.
        view: where it was found.
        period: samples from number to number.
        height: of numerals, px.
        first: sample of the first last figure.
        row: of the view.
        figure: the first last figure.
        count: of numbers.
    """

    score: float
    alike: float
    view: _View
    period: int
    height: float
    first: int
    row: int
    figure: int
    count: int

    @property
    def distance(self) -> float:
        """Px from number to number."""
        return self.period / self.view.zoom


def _rank(row: _Row) -> float:
    """Its score, less where a few bold numbers make it: by chance half are alike."""
    return row.score * (2 * row.alike - 1)


def _flat(grey: Grey, band: Band, bend: float) -> tuple[Grey, bool]:
    """The body in px, its marks equally apart; and whether it is seen as in a mirror."""
    columns = band.detail.shape[1]
    height = float(np.mean(band.heights))
    rows = band.rim - 0.5 + (np.arange(round(band.rows * height), dtype=np.float64) + 0.5) / height
    at = band.photo(equal_places(columns, bend), rows[:, None]).astype(np.float32)
    flat = cv2.remap(
        grey, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    mirrored = bool(band.along[0] * band.across[1] - band.along[1] * band.across[0] < 0)
    return np.asarray(flat, dtype=np.uint8), mirrored


def _tried(flat: tuple[Grey, bool], period: float, s: NumberSettings) -> list[_Row]:
    """The likeliest rows of one distance in px, of numerals of the heights that rulers have."""
    width, length = flat[0].shape
    if length / period < s.least:
        return []
    return [
        row
        for share in s.heights
        if s.least_px <= share * period <= s.most_px and _units(share, width / period, s)
        for row in _rows(flat, period, share * period, s)
    ]


def _units(tall: float, width: float, s: NumberSettings) -> list[float]:
    """What numbers of a height may be apart, mm, on a body of a width, both in their distance."""
    return [
        mm
        for mm, right in ((CM, tall >= s.lowest_cm), (INCH, tall <= s.highest_inch))
        if right and MARKS.width_mm[0] <= mm * width <= MARKS.width_mm[1]
    ]


def _rows(flat: tuple[Grey, bool], period: float, height: float, s: NumberSettings) -> list[_Row]:
    """The likeliest rows of one distance and height of numerals in px, both ways up."""
    picture, mirrored = flat
    samples = round(period * s.tall / height)
    zoom = samples / period
    size = (round(picture.shape[1] * zoom), round(picture.shape[0] * zoom))
    if size[1] < 1.5 * s.tall:
        return []
    way = cv2.INTER_AREA if zoom < 1 else cv2.INTER_LINEAR
    upright = cv2.resize(picture[::-1] if mirrored else picture, size, interpolation=way)
    ink = _ink(np.asarray(upright, dtype=np.float32), s)
    found = []
    for turned in (False, True):
        alike = _alike(np.ascontiguousarray(ink[::-1, ::-1]) if turned else ink, s)
        view = _View(alike, zoom, turned, mirrored, picture.shape)
        found.append(_best_row(view, samples, height, s))
    return found


def _ink(picture: Floats, s: NumberSettings) -> Floats:
    """How much darker than its surroundings each sample is, over how much these vary."""
    dark = cv2.GaussianBlur(picture, (0, 0), 0.6 * s.tall) - picture
    usual = np.sqrt(cv2.GaussianBlur(dark * dark, (0, 0), s.tall)) + _NOISE
    return np.asarray(dark / usual, dtype=np.float32)


_NOISE = 2.0  # grey levels that are nothing


def _alike(ink: Floats, s: NumberSettings) -> Floats:
    """(10, R, U) likeness of each place to each figure less the mean of all, a bold one cut."""
    alike = np.stack(
        [cv2.filter2D(ink, -1, figure, borderType=cv2.BORDER_REFLECT) for figure in _figures(s)]
    )
    alike = alike - alike.mean(axis=0)
    alike = alike / max(float(alike.std()), 1e-6)
    return np.asarray(np.clip(alike, -s.most_at_once, s.most_at_once), dtype=np.float32)


@cache
def _figures(s: NumberSettings) -> tuple[NDArray[Any], ...]:
    """The ten figures of a plain typeface (OpenCV's own) as filters, each of length one."""
    cap = float(np.ptp(np.flatnonzero(_drawn("8", 1).any(axis=1))) + 1)
    reach = round(0.4 * s.tall), round(0.7 * s.tall)
    figures = []
    for figure in "0123456789":
        large = _drawn(figure, max(round(s.stroke * cap), 1)).astype(np.float32)
        (top, bottom), (left, right) = (
            np.flatnonzero(large.any(axis=axis))[[0, -1]] for axis in (1, 0)
        )
        soft = cv2.GaussianBlur(large, (0, 0), s.blur * cap)
        x, y = (np.arange(-r, r + 1) * cap / s.tall for r in reach)
        grid = np.meshgrid(x + (left + right) / 2, y + (top + bottom) / 2)
        at_x, at_y = (g.astype(np.float32) for g in grid)
        small = cv2.remap(soft, at_x, at_y, cv2.INTER_LINEAR)
        small = small - small.mean()
        figures.append(small / np.linalg.norm(small))
    return tuple(figures)


def _drawn(figure: str, thick: int) -> Grey:
    """(240, 240) a figure, large, with room about it."""
    large = np.zeros((240, 240), np.uint8)
    cv2.putText(large, figure, (80, 160), cv2.FONT_HERSHEY_SIMPLEX, 4.0, 255, thick, cv2.LINE_AA)
    return large


def _best_row(view: _View, period: int, height: float, s: NumberSettings) -> _Row:
    """Where, and from which figure on, numbers at one distance count up most plainly."""
    rim = int(0.5 * s.tall)
    alike = view.alike[:, rim : view.alike.shape[1] - rim]
    moved = round(float(_shift(np.array([10]), s, s.advance)[0]))
    one, two = (_in_cells(alike, behind, period) for behind in (0, moved))
    count = one.shape[2]
    each, late = (
        np.stack([cells[:, :, k::10].sum(axis=2) for k in range(10)]) for cells in (one, two)
    )
    total = np.zeros((20, *each.shape[2:]), np.float32)
    for start in range(10):
        figures = (start + np.arange(10)) % 10
        total[start] = each[np.arange(10), figures].sum(axis=0)
        # from 9 to 10 the last figure moves on
        total[10 + start] = late[np.arange(10), figures].sum(axis=0)
        for single in range(min(10 - start, count)):
            figure = start + single
            total[10 + start] += one[figure, :, single] - two[figure, :, single]
    total /= np.sqrt(count)
    best, row, place = np.unravel_index(int(total.argmax()), total.shape)
    here = total[:, row, place]
    # marks that are no numbers in order are like many orders alike
    others = here[np.arange(20) % 10 != best % 10]
    usual = max(
        1.4826 * float(np.median(np.abs(total))),
        float(np.sqrt((others**2).mean())) * s.sure_here / s.sure,
        1e-6,
    )
    k = np.arange(count)
    carried = (best >= 10) & (k >= 10 - best % 10)
    cells = np.where(
        carried,
        two[(best + k) % 10, row, k, place],
        one[(best + k) % 10, row, k, place],
    )
    return _Row(
        score=float(here[best]) / usual,
        alike=float((cells > 0).mean()),
        view=view,
        period=period,
        height=height,
        first=int(place),
        row=int(row) + rim,
        figure=int(best) % 10,
        count=count,
    )


def _in_cells(alike: Floats, behind: int, period: int) -> Floats:
    """(10, rows, numbers, period) of likenesses so many samples further on; beyond them, none."""
    figures, rows, columns = alike.shape
    count = columns // period
    cells = np.zeros((figures, rows, count * period), np.float32)
    part = alike[:, :, behind : behind + count * period]
    cells[:, :, : part.shape[2]] = part
    return cells.reshape(figures, rows, count, period)


def _same(one: _Row, other: _Row) -> bool:
    """Whether two rows are one, seen at two heights of its numerals."""
    apart = abs(np.log(one.distance / other.distance))
    return one.view.turned == other.view.turned and bool(apart < _SAME_PERIOD)


_SAME_PERIOD = 0.04


def _measured(band: Band, spectrum: Spectrum, row: _Row, s: NumberSettings) -> Numbers:
    """The place of each number of a row, and what they are apart."""
    middle, n, last = _counted(row, s)
    # what stands at n and its neighbours together, at each distance from where it should
    reach = np.arange(-int(s.reach * row.period), int(s.reach * row.period) + 1)
    near = np.array([_seen(row, n, middle + last + off) for off in reach])  # (offsets, numbers)
    mates = np.ones(s.together) / s.together
    near = np.stack([np.convolve(line, mates, mode="same") for line in near])
    best = np.clip(near.argmax(axis=0), 1, len(reach) - 2)
    low, peak, high = (near[best + d, np.arange(len(n))] for d in (-1, 0, 1))
    bend = np.minimum(low - 2 * peak + high, -1e-6)
    off = reach[best] + np.clip(0.5 * (low - high) / bend, -0.5, 0.5)
    flat_px, across = row.view.band_px(middle + off, row.row)
    columns = spectrum.columns
    places = np.interp(flat_px, np.arange(columns), equal_places(columns, spectrum.bend))
    shown = (flat_px >= 0) & (flat_px <= columns - 1)
    order = np.argsort(places[shown])
    weight = np.clip(peak / max(float(np.median(peak)), 1e-6), 0.1, 2.0)
    height = float(np.mean(band.heights))
    seen = Places(
        columns=places[shown][order],
        numbers=n[shown][order].astype(np.float64) * (-1 if row.view.turned else 1),
        weight=weight[shown][order],
        row=band.rim - 0.5 + (across + 0.5) / height,
    )
    return Numbers(row.score, _unit(row, across, s), seen)


def _counted(row: _Row, s: NumberSettings) -> tuple[Array, NDArray[np.int64], Array]:
    """(N,) samples of the middles of all numbers, the numbers, and how far on their last figure is.

    A number of more figures has its last one farther from its middle.
    """
    tried = []
    for number in range(row.figure, s.largest, 10):
        n = number + np.arange(row.count)
        for advance in s.advances:
            last = _shift(n, s, advance)
            for back in {0.0, *(-_shift(np.array([11, 111]), s, advance)).tolist()}:
                at = row.first + back + row.period * np.arange(row.count) + last
                tried.append((float(_seen(row, n, at).sum()), -number, advance, back))
    _, number, advance, back = max(tried)
    n = -number + np.arange(row.count)
    middle = row.first + back + row.period * np.arange(row.count)
    return middle, n, _shift(n, s, advance)


def _shift(n: NDArray[np.int64], s: NumberSettings, advance: float) -> Array:
    """By how many samples the last figure of each number lies behind its middle."""
    figures = 1 + (n >= 10).astype(np.int64) + (n >= 100)
    return np.asarray((figures - 1) * advance * s.tall / 2)


def _seen(row: _Row, n: NDArray[np.int64], at: Array) -> Array:
    """(N,) how like the last figure of each number is to what stands at a sample of the row."""
    place = np.round(at).astype(np.int64)
    columns = row.view.alike.shape[2]
    inside = (place >= 0) & (place < columns)
    alike = row.view.alike[n % 10, row.row, np.clip(place, 0, columns - 1)]
    return np.asarray(alike * inside, dtype=np.float64)


def _unit(row: _Row, across: float, s: NumberSettings) -> float | None:
    """What the numbers are apart, 10 or 25.4 mm, by how far from an edge and how high they are.

    Either edge may be that of their ticks: on a tape numerals stand near the other one. What
    hardly misses the depth of a ruler is not excluded by it, and where both fit, the ruler is one
    of inches if it would be a very narrow one of centimetres.
    """
    width = row.view.shape[0]
    depths = [(d + row.height / 2) / row.distance for d in (across, width - 1 - across)]
    low, high = MARKS.depth_mm
    slack = 1 + s.depth_error

    def fit(mm: float, low: float, high: float) -> bool:
        return any(low <= mm * depth <= high for depth in depths)

    possible = [
        mm
        for mm in _units(row.height / row.distance, width / row.distance, s)
        if fit(mm, low / slack, high * slack)
    ]
    if len(possible) > 1 and width / row.distance * CM < MARKS.narrow_cm_mm:
        possible = [INCH]
    sure = [mm for mm in possible if fit(mm, low, high)]
    return sure[0] if len(possible) == 1 and sure else None
