"""What the marks of a small ruler are: centimetres, inches, or nothing that is sure.

Ticks stand in families: every one, every second, every tenth of a centimetre; every one, second,
fourth, eighth of an inch. In a row that only the shorter ticks reach, only the harmonics of their
family show: those of a half without a quarter, of a quarter without an eighth never tell a
centimetre. Besides, ticks and numerals together reach about a centimetre from the edge on any
ruler, so that a period of half of that is no centimetre and a period of its double no inch.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_spectrum import (
    Band,
    Spectrum,
    harmonics,
    periods,
    resampled,
    searched_rows,
)
from settscan.settings import MARKS, MarkSettings

Array = NDArray[np.float64]
CM, INCH = 10.0, 25.4
CM_FAMILIES = (1, 2, 10, 20)
INCH_FAMILIES = (1, 2, 4, 8, 16, 32)


@dataclass(frozen=True, slots=True)
class Marks:
    """Equal marks along a band, counted from its first edge.

    Attributes:
        times: periods in the band.
        score: how much the harmonics of the period explain.
        rows: (first, last) in which marks show.
        depth: how far they reach from the edge, in periods.
        width: of the body, in periods.
        beyond: how strong they are just beyond that edge and the other, over their strength on
            the body; nan where the frame hides it.
        odd: harmonics 1, 3, 5, 7, 9 that show: they tell the period from its half.
        odd_double: the same of the double period.
        halved: share that its odd harmonics have, at most, in rows where marks are plain: none if
            all marks are alike, half or more if every second is another.
        for_cm: by how much log likelihood the families of a centimetre fit better than those of
            an inch, in the rows that no longest tick reaches.
        tick_rows: how many rows these are.
    """

    times: float
    score: float
    rows: tuple[int, int]
    depth: float
    width: float
    beyond: tuple[float, float]
    odd: int
    odd_double: int
    halved: float
    for_cm: float
    tick_rows: int


def marks(band: Band, spectrum: Spectrum, s: MarkSettings = MARKS) -> list[Marks]:
    """The likeliest marks that begin at the band's first edge, likeliest first.

    Several are described, for the likeliest need not be a ruler's: cloth that shines through a
    body, or a stain, repeats a few times as well.
    """
    described = (_described(band, spectrum, *some, s) for some in likely_times(band, spectrum, s))
    return [some for some in described if some is not None]


def likely_times(
    band: Band, spectrum: Spectrum, s: MarkSettings = MARKS
) -> list[tuple[float, float]]:
    """How many marks the band may hold, and the score of each number; the likeliest first."""
    times, score = periods(spectrum, searched_rows(band, s), s)
    return [(float(times[best]), float(score[best])) for best in _peaks(times, score, s)]


def _peaks(times: Array, score: Array, s: MarkSettings) -> list[int]:
    """The places of the best scores, each of another number of periods."""
    peaks: list[int] = []
    for place in np.argsort(-score, kind="stable").tolist():
        if score[place] < s.least_score or len(peaks) >= s.most_periods:
            break
        if all(abs(times[place] / times[peak] - 1) > s.same_period for peak in peaks):
            peaks.append(place)
    return peaks


def _described(
    band: Band, spectrum: Spectrum, times: float, score: float, s: MarkSettings
) -> Marks | None:
    period = spectrum.columns / times
    row = float(np.mean(band.heights)) / period  # periods per row
    count = min(s.harmonics, int(s.highest * period))
    power = harmonics(spectrum, times, count)[band.rim : len(spectrum.ratio) - band.rim]
    smooth = _smooth(power)
    searched = int(s.searched * band.rows)
    shown_everywhere = np.sort(smooth, axis=1)[:, -2:].mean(axis=1) > s.shown
    at = np.flatnonzero(shown_everywhere[:searched])
    if not len(at):
        return None
    first, last = _extent(at, max(2, s.gap / row))
    odd, plain = _odd(smooth[:searched], period, s)
    strong = plain.max(axis=1) > s.odd_shown
    long = np.flatnonzero(strong[:-2] & strong[1:-1] & strong[2:])
    stop = max((int(long[0]) if len(long) else searched) - 1, first + 1)
    amplitude = np.sqrt(np.maximum(power[first:stop] - 1, 0))
    amplitude /= np.hypot(1, s.uneven * amplitude.max(axis=1, keepdims=True))
    shows = int((odd.max(axis=0) > s.odd_shown).sum())
    # marks that differ by a trace alone from one to the next are equal: the period is its half
    if shows < min(s.least_odd, odd.shape[1] - 1) or not strong.any():
        return None
    # where another scale begins at the far edge, the two share the body
    shared = bool(shown_everywhere[int(0.85 * band.rows) :].mean() > 0.5)
    depth = min((last + 1) / band.rows, s.shared if shared else 1.0) * band.rows * row
    near = max(2, band.rim // 4)  # the line may lie so many rows off the edge
    whole = np.log(np.maximum(harmonics(spectrum, times, count), 1)).sum(axis=1)
    inside = float(whole[band.rim + first : band.rim + last + 1].mean())
    hidden = np.asarray(~np.any(band.detail, axis=1))
    for_cm = _misfit(amplitude, period, INCH_FAMILIES) - _misfit(amplitude, period, CM_FAMILIES)
    double = _smooth(harmonics(spectrum, times / 2, 9))[band.rim :][:searched]
    return Marks(
        times=times,
        score=score,
        rows=(first + band.rim, last + band.rim),
        depth=depth,
        width=band.rows * row,
        beyond=(
            _strength(whole, hidden, slice(0, band.rim - near), inside),
            _strength(whole, hidden, slice(band.rim + band.rows + near, None), inside),
        ),
        odd=shows,
        odd_double=int((_odd(double, 2 * period, s)[1].max(axis=0) > s.odd_shown).sum()),
        halved=_halved(double[first : last + 1], s),
        for_cm=for_cm / 2,
        tick_rows=len(amplitude),
    )


def _extent(shown: NDArray[np.int64], gap: float) -> tuple[int, int]:
    """The first row in which marks show, and the last before a gap."""
    first = last = int(shown[0])
    for index in shown[1:].tolist():
        if index - last <= gap:
            last = index
    return first, last


def _strength(whole: Array, hidden: NDArray[np.bool_], rows: slice, inside: float) -> float:
    """Mean strength of marks in rows over that inside; nan where most of them are hidden."""
    if hidden[rows].mean() > 0.5:
        return float("nan")
    return float(whole[rows][~hidden[rows]].mean()) / max(inside, 1e-6)


def _smooth(power: Array) -> Array:
    """Means of three rows."""
    return np.asarray(cv2.blur(power, (1, 3)), dtype=np.float64)


def _odd(power: Array, period: float, s: MarkSettings) -> tuple[Array, Array]:
    """(rows, O) power of the odd harmonics that a picture can hold, as it is and as it tells.

    Print that is not quite even gives each row a little of every harmonic, which tells nothing.
    """
    places = [k for k in range(1, power.shape[1] + 1, 2) if k <= min(9, period / s.finest_wave)]
    odd = power[:, [k - 1 for k in places or [1]]]
    strongest = np.maximum(power.max(axis=1, keepdims=True), 1.0)
    return odd, odd * np.minimum(s.odd_shown / (s.uneven * strongest), 1)


def _halved(double: Array, s: MarkSettings) -> float:
    """Share of the odd harmonics in power above noise (rows, K), of the plainest rows the most."""
    above = np.maximum(double - 1, 0)
    odd, whole = above[:, ::2].sum(axis=1), above.sum(axis=1)
    plain = whole >= s.plain_row * whole.max()
    return float((odd[plain] / np.maximum(whole[plain], 1e-6)).max())


def _misfit(amplitude: Array, period: float, families: tuple[int, ...]) -> float:
    """Summed squares of what families of ticks leave of the amplitudes (rows, K), in noise."""
    k = np.arange(1, amplitude.shape[1] + 1)
    best = np.inf
    for blur in (0.5, 0.8, 1.2, 1.8):  # px
        fade = np.exp(-2 * (np.pi * blur * k / period) ** 2)
        columns = [(k % of == 0) * fade for of in families if of <= len(k)]
        basis = np.stack(columns, axis=1)
        rest = amplitude - _never_negative(basis, amplitude) @ basis.T
        best = min(best, float((rest**2).sum()))
    return best


def _never_negative(basis: Array, rows: Array) -> Array:
    """(R, C) least-squares weights of the columns of a basis (K, C) that are not below 0.

    By coordinate descent, all rows (R, K) at once; SciPy's routine takes one at a time, and its
    import longer than all else here.
    """
    normal, right = basis.T @ basis, rows @ basis
    weights = np.zeros(right.shape)
    for _ in range(30):
        for c in range(basis.shape[1]):
            rest = right[:, c] - weights @ normal[:, c] + weights[:, c] * normal[c, c]
            weights[:, c] = np.maximum(rest / max(normal[c, c], 1e-12), 0.0)
    return weights


def upright(band: Band, spectrum: Spectrum, found: Marks) -> float:
    """How nearly marks lie in the same place in all their rows, 0 to 1; lines of a twill run on."""
    first, last = found.rows
    detail = resampled(band.detail[first : last + 1], spectrum.bend)
    turns = np.arange(spectrum.columns) * found.times / spectrum.columns
    window = np.hanning(spectrum.columns)
    row = np.arange(len(detail)) * float(np.mean(band.heights)) * found.times / spectrum.columns
    best = 0.0
    for k in (1, 2):
        wave = (detail * window) @ np.exp(-2j * np.pi * k * turns)
        lean = np.exp(-2j * np.pi * k * np.outer(_LEANS, row))
        best = max(best, float(np.abs(lean @ wave).max()) / max(float(np.abs(wave).sum()), 1e-9))
    return best


_LEANS = np.linspace(-0.25, 0.25, 11)  # px along per px across: the edge is known so far


def period_mm(found: Marks, s: MarkSettings = MARKS) -> float | None:
    """What the period is, 10 or 25.4 mm, or None where that is not sure."""
    if not is_ruler(found, s) or found.halved > s.most_halved:
        return None
    if _is_inch(found, s):
        return INCH
    return CM if _is_cm(found, s) else None


def is_ruler(found: Marks, s: MarkSettings = MARKS) -> bool:
    """Whether the marks may be those of a ruler: plain, and only on the body.

    Beyond a strip within a ruler, as between its edge and the feet of its numerals, they go on.
    """
    seen = [part for part in found.beyond if part == part]
    if found.score < s.least_score or not seen:
        return False
    return seen[0] < s.most_beyond and max(seen) < s.most_beyond_far


def is_surely_ruler(found: Marks, s: MarkSettings = MARKS) -> bool:
    """Whether they can be nothing else: plain, beginning and ending with the body."""
    both = all(part < s.most_beyond_sure for part in found.beyond)  # nan is no
    return found.score >= s.sure_score and both


def _is_inch(found: Marks, s: MarkSettings) -> bool:
    """Whether the period is an inch: by the families of its ticks, and sizes that fit one."""
    depth, width = found.depth * INCH, found.width * INCH
    low, high = s.depth_mm
    # No scale of centimetres is so shallow, if the frame hides nothing of it: then less must speak
    # for the inch.
    shallow = found.depth * CM < low and not np.isnan(found.beyond[0])
    narrow = found.width * CM < s.narrow_cm_mm
    sure = s.sure_families
    if shallow:
        sure = s.leaning_families if narrow else s.doubtful_families
    return (
        -found.for_cm >= sure
        and found.tick_rows >= s.least_tick_rows
        and found.times >= s.least_inches
        and found.odd >= s.least_odd_inches
        and low <= depth <= high
        and s.width_mm[0] <= width <= s.widest_inch_mm
    )


def _is_cm(found: Marks, s: MarkSettings) -> bool:
    """Whether the period is a centimetre: by its families, or because it can be no inch."""
    depth, width = found.depth * CM, found.width * CM
    low, high = s.depth_mm
    if not (low < depth <= high and s.width_mm[0] <= width <= s.width_mm[1]):
        return False
    if found.times < s.least_cm:
        return False
    if found.for_cm >= s.sure_families:
        return True
    if found.for_cm <= -s.most_against or np.isnan(found.beyond[0]):
        return False
    # sizes tell what marks are if marks are there: chance repeats a little, but not for long
    if width < s.narrow_cm_mm or (found.score < s.plain_score and found.times < s.many_times):
        return False
    # Too small for millimetres to show: the scale must be too deep for inches, from an edge that
    # the frame does not hide. And either halves begin before wholes do, as ticks are longer the
    # fewer there are, or the body, which ends with its marks, is too wide for inches as well, and
    # nothing is halved.
    too_deep = found.depth * INCH > high
    too_wide = found.width * INCH > s.widest_inch_mm and found.odd_double == 0
    too_wide &= found.beyond[1] < s.most_beyond_sure  # nan is no
    return too_deep and (found.tick_rows >= s.least_tick_rows - 1 or too_wide)
