"""Where one yarn gives way to the next along an axis: change points, then sub-pixel edges.

Positions are in pixels with the centre of the first element at 0; an edge at 9.5 lies between
elements 9 and 10. Differences are judged in CIELAB, edges are fitted in linear light, where a
blurred edge is a straight mixture of its two sides.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.colours import as_coded, as_light, steadied, to_lab
from settscan.settings import STRIPES, StripeSettings

Floats = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bands:
    """Stripes of one axis as bands of even colour.

    Attributes:
        edges: (n + 1,) positions; the first and last are the ends of the profile.
        levels: (n, 3) column or row effect of each band, linear light.
        edge_errors: (n + 1,) standard deviation of each edge, pixels; the two ends have 0.
        blur: standard deviation of the picture's blur along the axis, pixels.
        cell: the detail it was cut at, about one thread, pixels.
        spread: (3,) steadied CIELAB standard deviation of single cells of one yarn.
    """

    edges: Floats
    levels: Floats
    edge_errors: Floats
    blur: float
    cell: float
    spread: Floats

    def own_share(self) -> Floats:
        """(n,) share of the light in each band's middle that is its own; blur brings the rest."""
        return np.asarray(2 * _ramp(self.widths / 2, self.cell, self.blur)[0] - 1)

    @property
    def widths(self) -> Floats:
        """(n,) pixels."""
        return np.diff(self.edges)

    def of_pixels(self, length: int) -> NDArray[np.intp]:
        """(length,) the band of each pixel; beyond the ends that of the outermost."""
        inside = np.searchsorted(self.edges, np.arange(length)) - 1
        return np.clip(inside, 0, len(self.edges) - 2)


def find_bands(
    profile: Floats,
    cell: float,
    shown: Floats | None = None,
    settings: StripeSettings = STRIPES,
) -> Bands:
    """Cut a profile into bands of even colour.

    Args:
        profile: (N, 3) linear light along the axis, physical (not centred on zero).
        cell: about one thread in pixels, or the smallest detail to be told apart.
        shown: (N,) pixels of cloth that each element is the mean of; 0 where it is made up; equally
            many if None.
        settings: see `StripeSettings`.
    """
    lab = steadied(to_lab(profile))
    shown = np.ones(len(profile)) if shown is None else shown
    say = np.minimum(shown / max(settings.full_say * float(np.median(shown)), 1.0), 1.0)
    inner = _choose_edges(lab, max(cell, settings.least_cell_px), say, settings)
    edges = np.concatenate([[-0.5], inner, [len(profile) - 0.5]])
    return fit_edges(profile, edges, cell, settings=settings)


def _jump(values: Floats, reach: float) -> Floats:
    """Mean over (x, x + reach) less mean over (x - reach, x) at x = i - 0.5, for i in 0..N."""
    total = np.vstack([np.zeros(values.shape[1]), np.cumsum(values, axis=0)])
    at = np.arange(len(total), dtype=float)

    def upto(position: Floats) -> Floats:
        position = np.clip(position, 0, len(values))
        return np.stack([np.interp(position, at, column) for column in total.T], axis=1)

    right = np.clip(at + reach, 0, len(values)) - at
    left = at - np.clip(at - reach, 0, len(values))
    ahead = (upto(at + reach) - total) / np.maximum(right, 0.5)[:, None]
    behind = (total - upto(at - reach)) / np.maximum(left, 0.5)[:, None]
    jump = ahead - behind
    jump[(right < 0.5) | (left < 0.5)] = 0
    return np.asarray(jump)


def _choose_edges(lab: Floats, cell: float, say: Floats, settings: StripeSettings) -> Floats:
    """Change points by optimal partition among the local peaks of the jump.

    Each element (N, 3) has its `say` (N,): the mean of a few pixels tells less than that of many.
    """
    size = np.linalg.norm(_jump(lab, cell), axis=1)
    gap = max(1, round(cell * settings.least_gap_cells))
    peaks = _local_peaks(size, gap)
    # Within a thread of the picture's border the average over a thread is not complete.
    peaks = peaks[(peaks >= cell) & (peaks <= len(lab) - cell)]
    peaks = peaks[size[peaks] > settings.least_jump]
    if len(peaks) == 0:
        return np.zeros(0)
    if len(peaks) > settings.most_candidates:
        peaks = np.sort(peaks[np.argsort(size[peaks])[-settings.most_candidates :]])
    return _partition(lab, say, peaks, cell, _thread_spread(lab, cell), settings) - 0.5


def _local_peaks(values: Floats, gap: int) -> NDArray[np.intp]:
    """Indices that are the largest within `gap` on both sides."""
    padded = np.pad(values, gap, constant_values=-1.0)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * gap + 1)
    return np.flatnonzero((windows.max(axis=1) == values) & (values > 0))


def _thread_spread(lab: Floats, cell: float) -> Floats:
    """(3,) standard deviation of one cell's colour among cells of one yarn: melange, light, ripple.

    Taken from neighbouring cells, of which at least every third pair is of one yarn: the 35 %
    quantile of a normal variable's modulus is 0.454 of its standard deviation.
    """
    jump = _jump(lab, cell)[:: max(1, round(cell))]
    spread = np.quantile(np.abs(jump[1:-1]), 0.35, axis=0) / (0.454 * np.sqrt(2))
    return np.asarray(np.maximum(spread, 0.2))


def _partition(
    lab: Floats,
    say: Floats,
    cuts: NDArray[np.intp],
    cell: float,
    spread: Floats,
    settings: StripeSettings,
) -> NDArray[np.intp]:
    """The subset of `cuts` with the least squared error plus a price for each cut (exact)."""
    bounds = np.concatenate([[0], cuts, [len(lab)]])
    scaled = lab / spread
    weight = np.concatenate([[0.0], np.cumsum(say)])[bounds]
    first = np.vstack([np.zeros(3), np.cumsum(say[:, None] * scaled, axis=0)])[bounds]
    second = np.concatenate([[0.0], np.cumsum(say * (scaled**2).sum(axis=1))])[bounds]
    n = len(bounds)
    best = np.full(n, np.inf)
    best[0] = -settings.cut_price
    back = np.zeros(n, dtype=int)
    for j in range(1, n):
        length = np.maximum(weight[j] - weight[:j], 1e-6)
        misfit = second[j] - second[:j] - ((first[j] - first[:j]) ** 2).sum(axis=1) / length
        cost = best[:j] + misfit / cell + settings.cut_price
        back[j] = int(np.argmin(cost))
        best[j] = cost[back[j]]
    kept = []
    j = int(back[n - 1])
    while j > 0:
        kept.append(int(bounds[j]))
        j = int(back[j])
    return np.array(sorted(kept), dtype=np.intp)


def fit_edges(
    profile: Floats,
    edges: Floats,
    cell: float,
    *,
    levels: Floats | None = None,
    settings: StripeSettings = STRIPES,
) -> Bands:
    """Refine inner edges by least squares: bands convolved with one thread and the blur.

    The profile is first averaged over one cell, which cancels the ripple of single threads and
    moves no edge.

    Args:
        profile: (N, 3) linear light.
        edges: (n + 1,) starting positions, the outer two fixed.
        cell: averaging length, one thread, pixels.
        levels: (n, 3) known levels; None to fit them too.
        settings: see `StripeSettings`.
    """
    smooth = boxed(profile, cell)
    weight = 1.0 / np.sqrt(np.maximum(profile.mean(axis=0), 0.02))
    trials = []
    for blur in settings.blur_cells:
        fitted, fitted_levels, misfit = _refine(
            smooth * weight,
            edges.copy(),
            levels if levels is None else levels * weight,
            cell,
            max(blur * cell, 0.4),
            settings.rounds,
        )
        trials.append((float((misfit**2).mean()), fitted, fitted_levels, misfit, blur * cell))
    _, fitted, fitted_levels, misfit, blur_px = min(trials, key=lambda t: t[0])
    errors = _edge_errors(fitted, fitted_levels, misfit, cell, max(blur_px, 0.4))
    return Bands(
        edges=fitted,
        levels=fitted_levels / weight,
        edge_errors=errors,
        blur=max(blur_px, 0.4),
        cell=cell,
        spread=_thread_spread(steadied(to_lab(profile)), cell),
    )


def boxed(profile: Floats, cell: float) -> Floats:
    """Mean over one cell centred on each element, exact for fractional cells."""
    total = np.vstack([np.zeros(profile.shape[1]), np.cumsum(profile, axis=0)])
    at = np.arange(len(total)) - 0.5
    low = np.clip(np.arange(len(profile)) - cell / 2, -0.5, len(profile) - 0.5)
    high = np.clip(np.arange(len(profile)) + cell / 2, -0.5, len(profile) - 0.5)
    columns = [np.interp(high, at, c) - np.interp(low, at, c) for c in total.T]
    return np.asarray(np.stack(columns, axis=1) / (high - low)[:, None])


def _ramp(distance: Floats, cell: float, blur: float) -> tuple[Floats, Floats]:
    """A step averaged over a cell and blurred, and its slope, at distances from the edge.

    A Gaussian of the same variance stands for the box and the blur together.
    """
    from scipy.special import ndtr

    width = np.sqrt(blur**2 + cell**2 / 12)
    z = distance / width
    step, slope = (z > 0).astype(float), np.zeros_like(z)
    near = np.abs(z) < _FAR
    step[near] = ndtr(z[near])
    slope[near] = np.exp(-0.5 * z[near] ** 2) / (width * np.sqrt(2 * np.pi))
    return step, slope


_FAR = 8.0  # sigmas, beyond which a step differs from 0 or 1 by less than numbers tell


def _refine(
    smooth: Floats, edges: Floats, levels: Floats | None, cell: float, blur: float, rounds: int
) -> tuple[Floats, Floats, Floats]:
    """Gauss-Newton on the inner edges, with the levels solved in between."""
    x = np.arange(len(smooth), dtype=float)
    fixed = levels
    current = fixed if fixed is not None else np.zeros((len(edges) - 1, 3))
    misfit = smooth
    for _ in range(rounds):
        steps, slopes = _ramp(x[:, None] - edges[None, 1:-1], cell, blur)
        share = np.empty((len(x), len(edges) - 1))
        share[:, 0], share[:, -1] = 1.0, 0.0
        share[:, 1:] = steps
        share[:, :-1] -= steps
        if fixed is None:
            gram = share.T @ share + 1e-3 * np.eye(share.shape[1])
            seen = _mean_inside(smooth, edges)
            current = np.linalg.solve(gram, share.T @ smooth + 1e-3 * seen)
        misfit = smooth - share @ current
        if len(edges) == 2:
            break
        contrast = np.diff(current, axis=0)
        power = (contrast @ contrast.T) * (slopes.T @ slopes)
        pull = -((misfit @ contrast.T) * slopes).sum(axis=0)
        damping = 0.05 * np.diag(power).mean() + 1e-9
        move = np.linalg.solve(power + damping * np.eye(len(power)), pull)
        room = 0.3 * np.minimum(np.diff(edges)[:-1], np.diff(edges)[1:])
        edges[1:-1] += np.clip(move, -np.minimum(room, cell / 2), np.minimum(room, cell / 2))
    return edges, current, misfit


def _mean_inside(values: Floats, edges: Floats) -> Floats:
    """Means (n, 3) of the elements between neighbouring edges, at least one element each."""
    starts = np.clip(np.round(edges[:-1] + 0.5).astype(int), 0, len(values) - 1)
    stops = np.clip(np.round(edges[1:] + 0.5).astype(int), starts + 1, len(values))
    total = np.vstack([np.zeros(values.shape[1]), np.cumsum(values, axis=0)])
    return np.asarray((total[stops] - total[starts]) / (stops - starts)[:, None])


def _edge_errors(edges: Floats, levels: Floats, misfit: Floats, cell: float, blur: float) -> Floats:
    """Standard deviation of each edge from the misfit and the contrast across it."""
    contrast = np.linalg.norm(np.diff(levels, axis=0), axis=1)
    noise = 1.4826 * np.median(np.abs(misfit - np.median(misfit, axis=0)), axis=0)
    spread = float(np.linalg.norm(noise) / np.sqrt(3)) + 1e-6
    width = np.sqrt(blur**2 + cell**2 / 12)
    # Neighbouring elements of the averaged profile share one cell: one independent look a cell.
    information = contrast**2 / (2 * np.sqrt(np.pi) * width) / max(cell, 1.0)
    inner = spread / np.sqrt(np.maximum(information, 1e-12))
    return np.concatenate([[0.0], np.minimum(inner, cell), [0.0]])


def without_mixtures(profile: Floats, bands: Bands, settings: StripeSettings = STRIPES) -> Bands:
    """Leave out bands of about one thread that are only the blurred edge between two others.

    Such a band's level lies on the straight line between its neighbours' levels. The edge is put
    where the two neighbours together have the same sum.
    """
    # Hues as levels have them before yarns are known are too unsure to tell a rim by.
    widest = max(settings.mixture_px, settings.mixture_blurs * bands.blur)
    cells = min(settings.mixture_cells, widest / bands.cell)
    sharp = replace(settings, hue_px=0.0, mixture_cells=cells)
    edges, kept = without_blurs(bands.edges, bands.levels, bands.cell, sharp)
    if len(kept) == len(bands.levels):
        return bands
    return fit_edges(profile, edges, bands.cell)


def without_blurs(
    edges: Floats, levels: Floats, cell: float, settings: StripeSettings = STRIPES
) -> tuple[Floats, NDArray[np.intp]]:
    """Edges (n + 1,) without bands that are blurred edges, and the bands (n', ) that are kept.

    Args:
        edges: (m + 1,) of all bands.
        levels: (m, 3) of the bands.
        cell: pixels of a thread.
        settings: see `StripeSettings`.
    """
    cuts, kept = list(edges), list(range(len(levels)))
    k = 1
    while k < len(kept) - 1:
        before, own, after = (levels[kept[j]] for j in (k - 1, k, k + 1))
        width = cuts[k + 1] - cuts[k]
        share = None
        if width < settings.mixture_cells * cell:
            share = _mixed_share(before, own, after, settings)
        if share is None and width < settings.hue_px:
            share = _share_of_one_hue(before, own, after, settings)
        if share is None:
            k += 1
            continue
        cuts[k : k + 2] = [cuts[k] + (1 - share) * width]
        del kept[k]
        k = max(k - 1, 1)
    return np.array(cuts), np.array(kept, dtype=np.intp)


def _mixed_share(before: Floats, own: Floats, after: Floats, s: StripeSettings) -> float | None:
    """How far a level (3,) lies on the straight way between two others; None where it does not."""
    share, off = _on_way(before, own, after)
    return share if 0.02 < share < 0.98 and off < s.mixture_off else None


def _share_of_one_hue(
    before: Floats, own: Floats, after: Floats, s: StripeSettings
) -> float | None:
    """How far a level is on that way if it is as bright as one end, its hue between the two.

    Cameras and JPEG keep colour at half the detail of brightness or less, so that a stripe that
    ends sharply has a rim whose hue is a mixture. None where it is no such rim.
    """
    luma, hue = zip(*(as_coded(level) for level in (before, own, after)), strict=True)
    share, _ = _on_way(*(as_light(grey, np.zeros(2)) for grey in luma))
    end = round(min(max(share, 0.0), 1.0))
    if abs(share - end) > s.rim_bright:
        return None
    between, off = _on_way(*hue)
    # Hue spreads to both sides of an edge alike, so that on each its own is the greater part.
    mixed = 0 < between < 1 and abs(between - end) < 0.5
    return float(end) if mixed and off < s.mixture_off else None


def _on_way(before: Floats, own: Floats, after: Floats) -> tuple[float, float]:
    """The share of the way from one level to another, and the distance from it over its length."""
    way = after - before
    length = float(way @ way) + 1e-12
    share = float((own - before) @ way) / length
    return share, float(np.linalg.norm(own - before - share * way)) / float(np.sqrt(length))
