"""Small rulers: read by all their marks together where single millimetres cannot be seen.

A body is sought (`ruler_bodies`), its marks by their spectrum (`ruler_spectrum`), what they are
by their families and sizes (`ruler_unit`), and here their places, to a part of a pixel.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import RulerFound
from settscan.photo.ruler_bodies import Body, bodies, holds
from settscan.photo.ruler_goes_on import gone_on
from settscan.photo.ruler_lines import Grey, Line
from settscan.photo.ruler_placed import Places, ruler_along
from settscan.photo.ruler_spectrum import (
    Band,
    Sides,
    Spectrum,
    equal_places,
    resampled,
)
from settscan.photo.ruler_unit import (
    Marks,
    is_ruler,
    is_surely_ruler,
    marks,
    period_mm,
    upright,
)
from settscan.settings import MARKS, RULER, MarkSettings

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SmallRuler:
    """A body with marks.

    Attributes:
        outline_px: (4, 2) photo px.
        found: its scale, where that is sure.
        evidence: how plain its marks are.
        period_px: photo px between the marks that the scale counts.
        halves_px: between marks of which every second alone is alike.
    """

    outline_px: Array
    found: RulerFound | None
    evidence: float
    period_px: float
    halves_px: tuple[float, ...]


def likely_bodies(
    levels: tuple[Grey, ...], lines: tuple[Line, ...], first: int, s: MarkSettings = MARKS
) -> list[Body]:
    """The likeliest bodies at the level `first`, in its pixels, likeliest first.

    Args:
        levels: the grey pyramid.
        lines: long edges in photo px.
        first: the finest level that is looked at.
        s: settings.
    """
    zoom = 2.0**first
    here = tuple(Line((ln.ends + 0.5) / zoom - 0.5, ln.support / zoom) for ln in lines)
    return bodies(levels[first], here, s)


def small_rulers(
    levels: tuple[Grey, ...], likely: list[Sides], first: int, s: MarkSettings = MARKS
) -> list[SmallRuler]:
    """The bodies that hold a ruler's marks, that of most evidence first.

    Args:
        levels: the grey pyramid.
        likely: both sides of what may be a body, from `likely_bodies`.
        first: the finest level that is looked at.
        s: settings.
    """
    read = [_read(levels[first], sides, 2.0**first, s) for sides in likely]
    found = sorted((r for r in read if r is not None), key=lambda r: -r.evidence)
    scaled = [r for r in found if r.found is not None]
    apart: list[SmallRuler] = []
    for ruler in [*scaled, *(r for r in found if r.found is None)]:
        if not any(_overlap(ruler.outline_px, other.outline_px) for other in apart):
            doubtful = any(_contradicts(other, ruler) for other in scaled)
            doubtful = doubtful or any(divides(ruler, other, s) for other in found)
            apart.append(replace(ruler, found=None) if doubtful else ruler)
    return apart


def _contradicts(one: SmallRuler, other: SmallRuler) -> bool:
    """Whether a scale of weight gives the photo another size than another one does."""
    if one.found is None or other.found is None or one.evidence < RULER.overruled * other.evidence:
        return False
    sizes = [
        float(np.linalg.norm(r.ticks_px[-1] - r.ticks_px[0])) / r.length_mm
        for r in (one.found, other.found)
    ]
    same_body = _overlap(one.outline_px, other.outline_px)
    most = RULER.agree if same_body else np.log(RULER.most_apart)
    return bool(abs(np.log(sizes[0] / sizes[1])) > most)


def divides(one: SmallRuler, other: SmallRuler, s: MarkSettings) -> bool:
    """Whether the inches of one ruler are halves by the marks of a wider body in its place.

    An edge within a ruler, as at the feet of its numerals, makes a narrower body of it, which
    lacks what tells halves from wholes.
    """
    if one.found is None or one.found.unit != "inch" or _width(other) <= _width(one):
        return False
    if other.found is not None and abs(other.period_px / one.period_px - 1) < s.same_part:
        return False
    alike = np.abs(np.array(other.halves_px) / one.period_px - 1) < s.same_part
    return bool(alike.any()) and _overlap(one.outline_px, other.outline_px)


def _width(ruler: SmallRuler) -> float:
    first, second, third, fourth = ruler.outline_px
    return float(np.linalg.norm(fourth - first) + np.linalg.norm(third - second)) / 2


def _read(grey: Grey, sides: Sides, zoom: float, s: MarkSettings) -> SmallRuler | None:
    """What a body's marks are, from that edge where they are plainest; None if it has none."""
    outline = (gone_on(grey, sides.body.corners, s) + 0.5) * zoom - 0.5
    likely: list[tuple[Band, Spectrum, Marks]] = []
    for side, spectrum in sides.each:
        likely += [(side, spectrum, m) for m in marks(side, spectrum, s) if is_ruler(m, s)]
    if not likely:
        return None
    likely.sort(key=lambda item: -item[2].score)
    length = likely[0][1].columns * zoom
    halves = tuple(length / m.times for _, _, m in likely if m.halved > s.most_halved)
    for side, spectrum, some in likely:
        mm = period_mm(some, s)
        # Of so large a ruler single ticks would have been read, had they been where this has them;
        # in a bad light perhaps not all of a ruler whose families are sure.
        plain = abs(some.for_cm) >= s.sure_families
        most = s.most_px_per_mm * (s.plain_larger if plain else 1.0)
        if mm is None or spectrum.columns / some.times >= most * mm:
            continue
        if any(_is_but_a_wave_of(some, plainer, s) for _, _, plainer in likely):
            continue
        if upright(side, spectrum, some) < s.least_upright:
            continue
        found = _placed(side, spectrum, some, mm, grey.shape, zoom, outline, s)
        if found is not None:
            return SmallRuler(outline, found, some.score, length / some.times, halves)
    sure = [some for _, _, some in likely if is_surely_ruler(some, s)]
    if not sure:
        return None
    return SmallRuler(outline, None, sure[0].score, length / sure[0].times, halves)


def _is_but_a_wave_of(some: Marks, plainer: Marks, s: MarkSettings) -> bool:
    """Whether marks divide plainer ones by 3, 6, 7, ..., as no scale does but harmonics do."""
    ratio = some.times / plainer.times
    parts = round(ratio)
    if parts < 1 or plainer.score <= some.score or abs(ratio / parts - 1) > s.same_period:
        return False
    for scale in (2, 5):
        while parts % scale == 0:
            parts //= scale
    return parts > 1


def _placed(
    band: Band,
    spectrum: Spectrum,
    found: Marks,
    mm: float,
    shape: tuple[int, ...],
    zoom: float,
    outline: Array,
    s: MarkSettings,
) -> RulerFound | None:
    """The scale by the places of all marks, piece by piece."""
    places, numbers, weight = _pieces(band, spectrum, found, s)
    if len(places) < s.least_pieces:
        return None
    measured = Places(places, numbers, weight, float(np.mean(found.rows)))
    return ruler_along(band, measured, mm, shape, zoom, outline, s.least_pieces, s.most_wander)


def _pieces(
    band: Band, spectrum: Spectrum, found: Marks, s: MarkSettings
) -> tuple[Array, Array, Array]:
    """Places u of pieces of the band, the tick numbers there, and their weights.

    Each piece is laid over the mean of all: where all harmonics in all rows agree best is its
    place. A numeral that is unlike the others counts for little in that mean.
    """
    first, last = found.rows
    detail = resampled(band.detail[first : last + 1], spectrum.bend).astype(np.float64)
    columns = spectrum.columns
    period = columns / found.times
    size = int(max(s.piece_periods * period, columns / 16))
    starts = np.arange(0, columns - size + 1, size // 2)
    k = np.arange(1, min(s.harmonics, int(s.highest * period)) + 1)
    n = np.arange(size) / period
    waves = np.hanning(size)[:, None] * np.exp(-2j * np.pi * n[:, None] * k)
    # (P, rows, K), each turned back to the start of the band
    z = np.stack([detail[:, i : i + size] @ waves for i in starts])
    z *= np.exp(-2j * np.pi * (starts / period)[:, None, None] * k)
    z /= np.sqrt((np.abs(z) ** 2).mean(axis=(0, 2), keepdims=True)) + 1e-9
    shift = _shifts(z, k)
    middles = starts + (size - 1) / 2
    mean = (z * _turned(k, shift)).mean(axis=0)
    agree = np.abs((np.conj(mean) * z * _turned(k, shift)).sum(axis=(1, 2)))
    weight = agree / max(float(np.median(agree)), 1e-9)
    places = np.interp(middles, np.arange(columns), equal_places(columns, spectrum.bend))
    numbers = middles / period - shift - _origin(mean, k)
    return places, numbers, np.clip(weight, 0.1, 2.0)


def _turned(k: NDArray[np.int64], shift: Array) -> NDArray[np.complex128]:
    return np.asarray(np.exp(2j * np.pi * shift[:, None, None] * k))


_TRIALS = np.linspace(-0.5, 0.5, 201)[:-1]


def _shifts(z: NDArray[np.complex128], k: NDArray[np.int64]) -> Array:
    """By how many periods each piece lies further on than the mean of all does.

    Long waves first: the fine ones look alike at every tick.
    """
    shift = np.zeros(len(z))
    for last in (1, 2, 4, 8, int(k[-1])):
        use = k <= last
        part, order = z[:, :, use], k[use]
        trials = _TRIALS / last if last < 8 else _TRIALS / 8
        wave = np.exp(2j * np.pi * trials[:, None] * order)
        for _ in range(2):
            turned = part * _turned(order, shift)
            mean = turned.mean(axis=0)
            # only what all pieces share tells their places
            spread = np.maximum((np.abs(part) ** 2).mean(axis=0) - np.abs(mean) ** 2, 1e-6)
            match = ((np.conj(mean) / spread * turned).sum(axis=1) @ wave.T).real
            shift = shift + trials[match.argmax(axis=1)]
            shift -= np.median(shift)
    return np.asarray(shift)


def _origin(mean: NDArray[np.complex128], k: NDArray[np.int64]) -> float:
    """Fraction of a period at which the mean piece is darkest."""
    dark = -(mean.sum(axis=0) @ np.exp(2j * np.pi * np.outer(k, _TRIALS))).real
    return float(_TRIALS[dark.argmax()])


def _overlap(one: Array, other: Array) -> bool:
    """Whether either outline holds the middle of the other."""
    return holds(one, other.mean(axis=0)) or holds(other, one.mean(axis=0))
