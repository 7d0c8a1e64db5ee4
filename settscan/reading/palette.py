"""The yarns: colours common to both axes, with the mixed squares explained and not listed.

The additive model gives the column effect a = k W + c and the row effect b = (1 - k) F - c with
an unknown share k and an unknown colour c. Two kinds of evidence fix them:

- a yarn that runs both ways: where it crosses itself the square shows its own colour, a + b;
- the weave itself: within a square the picture scatters along W - F, since each point shows
  either the one thread or the other.

Where neither speaks (one colour of weft that the warp does not have, threads not resolved), the
share is taken as even and the doubt is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.colours import difference, steadied, to_lab
from settscan.reading.profiles import Additive
from settscan.reading.stripes import Bands
from settscan.settings import PALETTE, PaletteSettings

Floats = NDArray[Any]
Ints = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """Yarns and which band has which.

    Attributes:
        colours: (m, 3) linear light of each yarn as its own solid cloth would look.
        of_columns, of_rows: yarn index of each band of either axis.
        column_share: k, the weight of the column threads in what is seen.
        offset: (3,) c of the additive model.
        closest: the two most alike yarns and their CIEDE2000; None for a single yarn.
        shared: whether some yarn runs both ways, which is what fixes the colours.
    """

    colours: Floats
    of_columns: Ints
    of_rows: Ints
    column_share: float
    offset: Floats
    closest: tuple[int, int, float] | None
    shared: bool

    def contrast(self) -> Floats:
        """(columns, rows, 3) W - F of each crossing of bands."""
        return self.colours[self.of_columns][:, None] - self.colours[self.of_rows][None]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scatter:
    """Second moments of the residual in each crossing of classes: (I, J, 3, 3) and pixel counts."""

    moments: Floats
    pixels: Floats


def find_palette(
    split: Additive, columns: Bands, rows: Bands, settings: PaletteSettings = PALETTE
) -> Palette:
    """Find the yarns of both axes together."""
    middle = columns.levels.T @ np.diff(columns.edges) / np.diff(columns.edges).sum()
    column_class, column_levels = _classes(columns, middle, settings)
    row_class, row_levels = _classes(rows, middle - rows_mean(rows), settings)
    scatter = _scatter(split, columns, rows, column_class, row_class)
    share, offset = _solve_share(column_levels, row_levels, scatter, settings)
    warp = (column_levels - offset) / share
    weft = (row_levels + offset) / (1 - share)
    colours, of_warp, of_weft = _join(
        warp, weft, _weights(columns, column_class), _weights(rows, row_class), settings
    )
    return Palette(
        colours=colours,
        of_columns=of_warp[column_class],
        of_rows=of_weft[row_class],
        column_share=share,
        offset=offset,
        closest=_closest(colours),
        shared=bool(np.intersect1d(of_warp, of_weft).size),
    )


def rows_mean(bands: Bands) -> Floats:
    """(3,) the mean level of all bands, by width."""
    return np.asarray(bands.levels.T @ bands.widths / bands.widths.sum())


def _weights(bands: Bands, classes: Ints) -> Floats:
    """Total width of each class, pixels."""
    return np.bincount(classes, weights=bands.widths, minlength=int(classes.max()) + 1)


def _classes(bands: Bands, base: Floats, settings: PaletteSettings) -> tuple[Ints, Floats]:
    """Group the bands of one axis by colour: class of each band (n,), level of each class.

    Levels are judged as the yarns they would be at an even share: contrasts doubled round the
    mean colour. Narrow bands, whose level the blur pulls towards their neighbours, weigh less.
    """
    mean = rows_mean(bands)
    apparent = to_lab(np.maximum(base + 2 * (bands.levels - mean), 0.0))
    widths = bands.widths
    inner = _whole_bands(widths / bands.cell, settings)
    labels = np.zeros(len(widths), dtype=np.intp)
    labels[inner] = _agglomerate(apparent[inner], settings.same_yarn)
    labels[inner] = _absorb(
        labels[inner],
        steadied(apparent[inner]),
        widths[inner] / bands.cell,
        2 * bands.spread,
        settings,
    )
    labels = _place_outer(labels, inner, apparent, settings)
    count = int(labels.max()) + 1
    levels = np.zeros((count, 3))
    for k in range(count):
        members = labels == k
        heavy = members & (widths >= 0.5 * widths[members].max())
        levels[k] = np.average(bands.levels[heavy], axis=0, weights=widths[heavy])
    return labels, levels


def _whole_bands(threads: Floats, settings: PaletteSettings) -> NDArray[np.bool_]:
    """Bands whose colour can be trusted: all but narrow ones at the very ends."""
    inner = np.ones(len(threads), dtype=bool)
    for end in (0, len(threads) - 1):
        inner[end] = threads[end] >= settings.trusted_end_threads
    return inner if inner.any() else np.ones(len(threads), dtype=bool)


def _place_outer(
    labels: Ints, inner: NDArray[np.bool_], lab: Floats, settings: PaletteSettings
) -> Ints:
    """Give narrow bands at the ends the most alike yarn, or one of their own if none is near."""
    labels = labels.copy()
    for k in np.flatnonzero(~inner):
        apart = difference(lab[k][None], lab[inner])
        neighbour = labels[1] if k == 0 else labels[len(labels) - 2]
        apart = np.where(labels[inner] == neighbour, np.inf, apart)
        if np.isfinite(apart).any() and apart.min() < settings.near_end:
            labels[k] = labels[inner][int(np.argmin(apart))]
        else:
            labels[k] = labels.max() + 1
    return labels


def _absorb(
    labels: Ints, lab: Floats, threads: Floats, spread: Floats, settings: PaletteSettings
) -> Ints:
    """Join classes that are no more than the chance scatter of a few threads of another class.

    Args:
        labels: (n,) class of each band.
        lab: (n, 3) colour of each band.
        threads: (n,) about how many threads each band has.
        spread: (3,) standard deviation of one thread's colour.
        settings: see `PaletteSettings`.
    """
    labels = labels.copy()
    while len(names := np.unique(labels)) > 1:
        total = np.array([threads[labels == k].sum() for k in names])
        means = np.array(
            [np.average(lab[labels == k], axis=0, weights=threads[labels == k]) for k in names]
        )
        apart = np.linalg.norm((means[:, None] - means[None]) / spread, axis=2)
        apart *= np.sqrt(np.minimum(total[:, None], total[None]))
        apart[np.arange(len(names)), np.arange(len(names))] = np.inf
        i, j = np.unravel_index(int(np.argmin(apart)), apart.shape)
        if apart[i, j] >= settings.least_apart * (1 + 0.6 / max(min(total[i], total[j]), 0.5)):
            break
        small, large = (i, j) if total[i] < total[j] else (j, i)
        labels[labels == names[small]] = names[large]
    return np.unique(labels, return_inverse=True)[1].astype(np.intp)


def _agglomerate(lab: Floats, limit: float) -> Ints:
    """Average-linkage grouping by CIEDE2000; clusters farther apart than `limit` stay apart."""
    from sklearn.cluster import AgglomerativeClustering

    if len(lab) == 1:
        return np.zeros(1, dtype=np.intp)
    apart = difference(lab[:, None], lab[None])
    labels = AgglomerativeClustering(
        n_clusters=None, distance_threshold=limit, metric="precomputed", linkage="average"
    ).fit_predict((apart + apart.T) / 2)
    order: dict[int, int] = {}
    return np.array([order.setdefault(int(v), len(order)) for v in labels], dtype=np.intp)


def _scatter(
    split: Additive, columns: Bands, rows: Bands, column_class: Ints, row_class: Ints
) -> _Scatter:
    """Second moments of the residual in each crossing of a column class with a row class."""
    across, inner_x = _class_of_pixels(columns, column_class, split.columns.shape[0])
    down, inner_y = _class_of_pixels(rows, row_class, split.rows.shape[0])
    ni, nj = int(column_class.max()) + 1, int(row_class.max()) + 1
    step = max(1, int(np.sqrt(split.residual.shape[0] * split.residual.shape[1] / 1.5e6)))
    ys = np.flatnonzero(inner_y)[::step]
    xs = np.flatnonzero(inner_x)[::step]
    part = split.residual[np.ix_(ys, xs)].astype(np.float64)
    code = down[ys][:, None] * ni + across[xs][None]
    code = np.where(split.mask[np.ix_(ys, xs)], code, ni * nj)
    pixels = np.bincount(code.ravel(), minlength=ni * nj + 1)[:-1].reshape(nj, ni).T
    moments = np.zeros((ni, nj, 3, 3))
    for c in range(3):
        for d in range(c, 3):
            product = (part[:, :, c] * part[:, :, d]).ravel()
            total = np.bincount(code.ravel(), weights=product, minlength=ni * nj + 1)[:-1]
            moments[:, :, c, d] = moments[:, :, d, c] = total.reshape(nj, ni).T
    return _Scatter(moments=moments / np.maximum(pixels, 1)[:, :, None, None], pixels=pixels)


def _class_of_pixels(bands: Bands, classes: Ints, length: int) -> tuple[Ints, NDArray[np.bool_]]:
    """Class of each pixel along an axis and whether it lies clear of an edge."""
    x = np.arange(length)
    index = np.clip(np.searchsorted(bands.edges, x) - 1, 0, len(classes) - 1)
    nearest = np.min(np.abs(x[:, None] - bands.edges[None]), axis=1)
    room = np.minimum(2 * bands.blur, 0.25 * bands.widths[index])
    return classes[index], nearest >= room


def _solve_share(
    warp: Floats, weft: Floats, scatter: _Scatter, settings: PaletteSettings
) -> tuple[float, Floats]:
    """Find k and c with the least total cost over yarns that run both ways and the scatter."""
    best = (np.inf, 0.5, np.zeros(3))
    for share in settings.shares:
        for i in range(len(warp)):
            for j in range(len(weft)):
                offset = warp[i] - share * (warp[i] + weft[j])
                cost = _cost(warp, weft, share, offset, scatter, settings)
                if cost < best[0]:
                    best = (cost, share, offset)
    offset = _offset_from_scatter(warp, weft, 0.5, scatter)
    if offset is not None:
        cost = _cost(warp, weft, 0.5, offset, scatter, settings)
        if cost < best[0]:
            best = (cost, 0.5, offset)
    return best[1], best[2]


def _cost(
    warp: Floats,
    weft: Floats,
    share: float,
    offset: Floats,
    scatter: _Scatter,
    settings: PaletteSettings,
) -> float:
    """How badly a share and an offset explain the levels and the scatter.

    Sums: the misfit of each weft class to its nearest warp class (bounded, since a yarn need not
    run both ways), light outside what yarn can reflect, a wide prior on the share, and the part
    of the scatter that does not go with |W - F|^2.
    """
    w = (warp - offset) / share
    f = (weft + offset) / (1 - share)
    outside = np.clip(-w, 0, None).sum() + np.clip(w - 1.1, 0, None).sum()
    outside += np.clip(-f, 0, None).sum() + np.clip(f - 1.1, 0, None).sum()
    if outside > settings.most_outside:
        return np.inf
    root_w, root_f = np.cbrt(np.maximum(w, 0)), np.cbrt(np.maximum(f, 0))
    apart = 100 * np.linalg.norm(root_w[:, None] - root_f[None], axis=2)
    fewer = apart.min(axis=0 if len(weft) <= len(warp) else 1)
    match = np.minimum(fewer / settings.same_yarn, 3.0).mean()
    prior = ((share - 0.5) / settings.share_spread) ** 2
    contrast = w[:, None] - f[None]
    expected = np.einsum("ijc,ijd->ijcd", contrast, contrast)
    weight = np.sqrt(scatter.pixels)[:, :, None, None]
    a, b = (expected * weight).ravel(), (scatter.moments * weight).ravel()
    fit = float(a @ b) / (np.linalg.norm(a) * np.linalg.norm(b) + 1e-12)
    return float(match + prior + outside / 0.02 + settings.scatter_weight * (1 - fit))


def _offset_from_scatter(
    warp: Floats, weft: Floats, share: float, scatter: _Scatter
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


def _join(
    warp: Floats, weft: Floats, warp_width: Floats, weft_width: Floats, settings: PaletteSettings
) -> tuple[Floats, Ints, Ints]:
    """One list of yarns for both axes: colours (m, 3), yarn of each warp and each weft class.

    Classes of one axis are different yarns already. A warp and a weft class are the same yarn if
    each is the other's most alike and they are near; the limit is wider than within an axis,
    since the two come from different sides of the model.
    """
    warp, weft = np.clip(warp, 0.0, 1.1), np.clip(weft, 0.0, 1.1)
    apart = difference(to_lab(warp)[:, None], to_lab(weft)[None])
    of_warp = np.arange(len(warp))
    of_weft = np.full(len(weft), -1)
    colours = list(warp)
    for j in range(len(weft)):
        i = int(np.argmin(apart[:, j]))
        if apart[i, j] < settings.same_both_ways and int(np.argmin(apart[i])) == j:
            of_weft[j] = i
            weights = [warp_width[i], weft_width[j]]
            colours[i] = np.average([warp[i], weft[j]], axis=0, weights=weights)
        else:
            of_weft[j] = len(colours)
            colours.append(weft[j])
    return np.array(colours), of_warp, of_weft


def _closest(colours: Floats) -> tuple[int, int, float] | None:
    """The two most alike yarns and their CIEDE2000."""
    if len(colours) < 2:
        return None
    lab = to_lab(np.clip(colours, 0, 1))
    apart = difference(lab[:, None], lab[None])
    apart[np.arange(len(lab)), np.arange(len(lab))] = np.inf
    i, j = np.unravel_index(int(np.argmin(apart)), apart.shape)
    return (int(min(i, j)), int(max(i, j)), float(apart[i, j]))
