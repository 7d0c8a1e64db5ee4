"""What the column threads weigh in the picture: the share k and the offset c.

The additive model leaves them open: a = k W + c for columns, b = (1 - k) F - c for rows. Yarns
that run both ways fix them, and so does the weave: within a crossing the picture scatters along
W - F, and hardly at all where a yarn crosses itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.reading.colours import difference, to_lab
from settscan.reading.profiles import Additive
from settscan.reading.stripes import Bands
from settscan.settings import PaletteSettings

Floats = NDArray[Any]
Ints = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Levels of the classes, linear light (I, 3) and (J, 3), and how many threads each has."""

    warp: Floats
    weft: Floats
    threads: tuple[Floats, Floats]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Second moments of the residual in each crossing of classes: (I, J, 3, 3) and pixel counts."""

    moments: Floats
    pixels: Floats


def scatter_of(
    split: Additive, columns: Bands, rows: Bands, column_class: Ints, row_class: Ints
) -> Scatter:
    """Second moments of the residual in each crossing of a column class with a row class."""
    across, inner_x = _class_of_pixels(columns, column_class, split.columns.shape[0])
    down, inner_y = _class_of_pixels(rows, row_class, split.rows.shape[0])
    ni, nj = int(column_class.max()) + 1, int(row_class.max()) + 1
    step = max(1, int(np.sqrt(split.residual.shape[0] * split.residual.shape[1] / 1.5e6)))
    ys = np.flatnonzero(inner_y)[::step]
    xs = np.flatnonzero(inner_x)[::step]
    of_x, of_y = np.eye(ni)[across[xs]], np.eye(nj)[down[ys]]

    def summed(values: Floats) -> Floats:
        return of_x.T @ (of_y.T @ values).T

    pixels = summed(split.mask[np.ix_(ys, xs)])
    # What is masked is zero.
    part = [plane.astype(np.float64) for plane in cv2.split(split.residual[np.ix_(ys, xs)])]
    moments = np.zeros((ni, nj, 3, 3))
    for c in range(3):
        for d in range(c, 3):
            moments[:, :, c, d] = moments[:, :, d, c] = summed(part[c] * part[d])
    return Scatter(moments=moments / np.maximum(pixels, 1)[:, :, None, None], pixels=pixels)


def _class_of_pixels(bands: Bands, classes: Ints, length: int) -> tuple[Ints, NDArray[np.bool_]]:
    """Class of each pixel along an axis and whether it lies clear of an edge."""
    index = bands.of_pixels(length)
    nearest = np.min(np.abs(np.arange(length)[:, None] - bands.edges[None]), axis=1)
    room = np.minimum(2 * bands.blur, 0.25 * bands.widths[index])
    return classes[index], nearest >= room


def likely_shares(
    levels: Levels, scatter: Scatter, settings: PaletteSettings
) -> list[tuple[float, Floats]]:
    """Find k and c with the least total cost over yarns that run both ways and the scatter.

    Every pair of a warp and a weft class is tried as one yarn at every share, then the best
    trials are refined by all pairs that they bring together.

    Returns:
        The best, and others at another c that cost hardly more, in the order of their costs.
    """
    warp, weft = levels.warp, levels.weft
    trials: list[tuple[float, float, Floats]] = []
    for share in settings.shares:
        for i in range(len(warp)):
            for j in range(len(weft)):
                offset = warp[i] - share * (warp[i] + weft[j])
                cost = _cost(levels, share, offset, scatter, settings)
                trials.append((cost, share, offset))
    trials.sort(key=lambda t: t[0])
    best = trials[: settings.refined_trials]
    for share, _ in settings.usual_shares:
        lined_up = _offset_from_scatter(warp, weft, share, scatter)
        if lined_up is not None:
            best.append((_cost(levels, share, lined_up, scatter, settings), share, lined_up))
    refined = [_refine(levels, t, scatter, settings) for t in best]
    every = sorted([*best, *refined], key=lambda t: t[0])
    likely: list[tuple[float, Floats]] = []
    for cost, share, offset in every:
        other = all(np.abs(offset - known).max() > settings.same_offset for _, known in likely)
        if other and cost <= every[0][0] + settings.hardly_more:
            likely.append((share, offset))
    return likely


def _refine(
    levels: Levels,
    trial: tuple[float, float, Floats],
    scatter: Scatter,
    settings: PaletteSettings,
) -> tuple[float, float, Floats]:
    """Least squares of k and c over the pairs that a trial makes one yarn.

    For a yarn that runs both ways a = k A + c and b = (1 - k) A - c, so the spread of b over the
    pairs is (1 - k) / k times that of a.
    """
    _, share, offset = trial
    for _ in range(settings.refinements):
        w = np.clip((levels.warp - offset) / share, 0, 1.1)
        f = np.clip((levels.weft + offset) / (1 - share), 0, 1.1)
        apart = difference(to_lab(w)[:, None], to_lab(f)[None])
        pairs = [
            (i, int(np.argmin(apart[i])))
            for i in range(len(w))
            if int(np.argmin(apart[:, np.argmin(apart[i])])) == i
            and apart[i].min() < settings.same_both_ways
        ]
        if len(pairs) < 2:
            break
        first, second = np.array(pairs).T
        say = np.sqrt(np.minimum(levels.threads[0][first], levels.threads[1][second]))[:, None]
        a, b = levels.warp[first], levels.weft[second]
        spread_a = a - np.average(a, axis=0, weights=say[:, 0])
        spread_b = b - np.average(b, axis=0, weights=say[:, 0])
        # Both are measured, so neither is the regressor: the ratio of their joint spread.
        length = np.array([(say * spread_a**2).sum(), (say * spread_b**2).sum()])
        together = float((say * spread_a * spread_b).sum())
        if together <= 0.5 * float(np.sqrt(length.prod())):
            break
        share = float(1 / (1 + np.sqrt(length[1] / length[0])))
        share = float(np.clip(share, settings.shares[0], settings.shares[-1]))
        offset = np.average(a - share * (a + b), axis=0, weights=say[:, 0])
    return _cost(levels, share, offset, scatter, settings), share, offset


def _cost(
    levels: Levels,
    share: float,
    offset: Floats,
    scatter: Scatter,
    settings: PaletteSettings,
) -> float:
    """How badly a share and an offset explain the levels and the scatter.

    Sums: the misfit of each weft class to its nearest warp class (bounded, since a yarn need not
    run both ways), light outside what yarn can reflect, how far the share is from those of usual
    weaves, and the part of the scatter that does not go with |W - F|^2.
    """
    w = (levels.warp - offset) / share
    f = (levels.weft + offset) / (1 - share)
    both = np.vstack([w, f])
    beyond = np.minimum((np.clip(-both, 0, None) + np.clip(both - 1.1, 0, None)).sum(axis=1), 0.3)
    outside = np.average(beyond, weights=np.sqrt(np.concatenate(levels.threads)))
    root_w, root_f = np.cbrt(np.maximum(w, 0)), np.cbrt(np.maximum(f, 0))
    apart = 100 * np.linalg.norm(root_w[:, None] - root_f[None], axis=2)
    side = 0 if len(f) <= len(w) else 1
    # A class of a few threads, whose level is not well known, has little say.
    say = np.sqrt(levels.threads[1 - side])
    match = np.average(
        np.minimum(apart.min(axis=side) / settings.same_yarn, settings.new_yarn), weights=say
    )
    prior = min(
        ((share - usual) / settings.share_spread) ** 2 + price
        for usual, price in settings.usual_shares
    )
    fit = _scatter_explained(w, f, share, scatter)
    return float(
        match + prior + outside / settings.most_outside + settings.scatter_weight * (1 - fit)
    )


def _offset_from_scatter(
    warp: Floats, weft: Floats, share: float, scatter: Scatter
) -> Floats | None:
    """Find c for which each W - F lies along the main direction of its crossing's scatter.

    With g = c / (k (1 - k)) and e = a / k - b / (1 - k), the condition (e - g) x d = 0 is linear
    in g. None where the directions do not fix it.
    """
    normal, right = np.zeros((3, 3)), np.zeros(3)
    for i, a in enumerate(warp):
        for j, b in enumerate(weft):
            values, vectors = np.linalg.eigh(scatter.moments[i, j])
            strength = (values[2] - values[1]) * scatter.pixels[i, j]
            away = np.eye(3) - np.outer(vectors[:, 2], vectors[:, 2])
            normal += strength * away
            right += strength * away @ (a / share - b / (1 - share))
    if np.linalg.cond(normal) > 1e4:
        return None
    return np.asarray(np.linalg.solve(normal, right) * share * (1 - share))


def _scatter_explained(w: Floats, f: Floats, share: float, scatter: Scatter) -> float:
    """Share (0..1) of the scatter's size that the weave's contrast and its relief explain.

    In each crossing the picture scatters along W - F, since a point shows either thread, and,
    less, along the crossing's own colour, since threads are round and shade each other.
    """
    contrast = w[:, None] - f[None]
    colour = share * w[:, None] + (1 - share) * f[None]
    weight = np.sqrt(scatter.pixels)[:, :, None, None]
    seen = (scatter.moments * weight).ravel()
    parts = [(np.einsum("ijc,ijd->ijcd", v, v) * weight).ravel() for v in (contrast, colour)]
    gram = np.array([[p @ q for q in parts] for p in parts]) + 1e-24 * np.eye(2)
    right = np.array([p @ seen for p in parts])
    best = max(float(max(right[k], 0.0) ** 2 / gram[k, k]) for k in range(2))
    if gram[0, 1] ** 2 < 0.999 * gram[0, 0] * gram[1, 1]:
        amounts = np.linalg.solve(gram, right)
        if (amounts >= 0).all():
            best = max(best, float(amounts @ right))
    return float(np.sqrt(min(best / (float(seen @ seen) + 1e-24), 1.0)))
