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

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.colours import difference, steadied, to_lab
from settscan.reading.grouping import Groups, Samples, group
from settscan.reading.profiles import Additive
from settscan.reading.samples import OFFSETS, SHARE, SIDES, mean_colour, samples_of
from settscan.reading.share import Levels, likely_shares, scatter_of
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
        strange_ends: of the first and last column band and the first and last row band, whether
            it is narrow and like no yarn: the rim of the picture or of the cloth.
        shift: (3,) by which the grouping of the bands found the offset to be off.
        sides: by which it found the weft lighter than the warp, relative.
        base: (3,) mean of the column effect, on which the row effect stands.
        stretch: by which it found the share to be off; `pivot` (3,) the mean of all yarns.
    """

    colours: Floats
    of_columns: Ints
    of_rows: Ints
    column_share: float
    offset: Floats
    closest: tuple[int, int, float] | None
    shared: bool
    strange_ends: tuple[bool, bool, bool, bool]
    shift: Floats = field(default_factory=lambda: np.zeros(3))
    sides: float = 0.0
    base: Floats = field(default_factory=lambda: np.zeros(3))
    stretch: float = 0.0
    pivot: Floats = field(default_factory=lambda: np.zeros(3))

    def column_levels(self) -> Floats:
        """(m, 3) the column effect that each yarn gives."""
        turned = self.stretch * (self.colours - self.pivot)
        return np.asarray(self.column_share * self.colours + self.offset + self.shift - turned)

    def row_levels(self) -> Floats:
        """(m, 3) the row effect that each yarn gives."""
        plain = (1 - self.column_share) * self.colours - self.offset
        turned = self.stretch * (self.colours - self.pivot)
        return np.asarray(plain - self.shift + turned + self.sides * (plain + self.base))

    def with_levels(self, levels: Floats) -> Palette:
        """The same with yarns more, given by the column effect (k, 3) that each would give."""
        if not len(levels):
            return self
        plain = levels - self.offset - self.shift - self.stretch * self.pivot
        more = np.maximum(plain / (self.column_share - self.stretch), 0.0)
        colours = np.vstack([self.colours, more])
        return replace(self, colours=colours, closest=_closest(colours))

    def contrast(self) -> Floats:
        """(columns, rows, 3) W - F of each crossing of bands."""
        return self.colours[self.of_columns][:, None] - self.colours[self.of_rows][None]


def find_palette(
    split: Additive, columns: Bands, rows: Bands, settings: PaletteSettings = PALETTE
) -> Palette:
    """Find the yarns of both axes together.

    Each axis is grouped alone first, which is enough to find the share and the offset, or a few
    that are as likely; with them the bands of both axes are colours of yarns, and are grouped
    together.
    """
    middle = columns.levels.T @ np.diff(columns.edges) / np.diff(columns.edges).sum()
    column_class, column_levels = _classes(columns, middle, settings)
    row_class, row_levels = _classes(rows, middle - rows_mean(rows), settings)
    scatter = scatter_of(split, columns, rows, column_class, row_class)
    threads = (
        _weights(columns, column_class, split.mask.mean(axis=0)) / columns.cell,
        _weights(rows, row_class, split.mask.mean(axis=1)) / rows.cell,
    )
    likely = likely_shares(
        Levels(warp=column_levels, weft=row_levels, threads=threads), scatter, settings
    )
    sure = np.concatenate([_whole_bands(b.widths / b.cell, settings) for b in (columns, rows)])
    tried = [_at_share(split, columns, rows, sure, each, settings) for each in likely]
    # Of models that explain the picture alike, that of fewest yarns.
    best = min(range(len(tried)), key=lambda k: len(tried[k][2].colours))
    (share, offset), (samples, lab, groups) = likely[best], tried[best]
    of, strange = _with_outer(groups, sure, lab, settings)
    n = len(columns.widths)
    of_columns, of_rows = of[:n], of[n:]
    return Palette(
        colours=groups.colours,
        of_columns=of_columns,
        of_rows=of_rows,
        column_share=share,
        offset=offset,
        closest=_closest(groups.colours),
        shared=bool(np.intersect1d(of_columns, of_rows).size),
        shift=groups.trends[OFFSETS],
        sides=float(groups.trends[SIDES]),
        base=split.columns.mean(axis=0),
        stretch=float(groups.trends[SHARE]),
        pivot=mean_colour(samples.colours, np.concatenate([columns.widths, rows.widths])),
        strange_ends=(bool(strange[0]), bool(strange[n - 1]), bool(strange[n]), bool(strange[-1])),
    )


def _at_share(
    split: Additive,
    columns: Bands,
    rows: Bands,
    sure: NDArray[np.bool_],
    likely: tuple[float, Floats],
    settings: PaletteSettings,
) -> tuple[Samples, Floats, Groups]:
    """The colours of the bands at a share and an offset, the same in CIELAB, and their yarns."""
    samples = samples_of(split, columns, rows, *likely)
    lab = to_lab(np.clip(samples.colours, 0, 1))
    return samples, lab, group(samples.part(sure), _agglomerate(lab[sure], settings.start_apart))


def regrouped(
    split: Additive,
    columns: Bands,
    rows: Bands,
    palette: Palette,
    settings: PaletteSettings = PALETTE,
) -> Palette:
    """With yarns joined that are one, now that the bands are known thread by thread.

    A narrow stripe that had a line of another colour in it when the yarns were grouped had the
    colour of no yarn. Yarns are joined only, by the same measure, and none that meet at an edge:
    what they have in common is the light there.

    Args:
        split: the separated picture.
        columns: bands of the columns, at levels of their own.
        rows: the same of the rows.
        palette: the yarns of these bands.
        settings: see `PaletteSettings`.
    """
    samples = samples_of(split, columns, rows, palette.column_share, palette.offset)
    yarns = np.concatenate([palette.of_columns, palette.of_rows])
    sure = np.concatenate([_whole_bands(b.widths / b.cell, settings) for b in (columns, rows)])
    known, labels = np.unique(yarns[sure], return_inverse=True)
    groups = group(samples.part(sure), labels, neighbours_differ=True)
    if len(groups.colours) == len(known):
        return palette
    # What only shows at an end that the frame cuts stays as it was.
    ends = np.setdiff1d(yarns, known)
    new = np.zeros(len(palette.colours), dtype=np.intp)
    new[yarns[sure]] = groups.of
    new[ends] = len(groups.colours) + np.arange(len(ends))
    colours = np.vstack([groups.colours, palette.colours[ends]])
    return replace(
        palette,
        colours=colours,
        of_columns=new[palette.of_columns],
        of_rows=new[palette.of_rows],
        closest=_closest(colours),
        shift=groups.trends[OFFSETS],
        sides=float(groups.trends[SIDES]),
        stretch=float(groups.trends[SHARE]),
        pivot=mean_colour(samples.colours, np.concatenate([columns.widths, rows.widths])),
    )


def _with_outer(
    groups: Groups, sure: NDArray[np.bool_], lab: Floats, settings: PaletteSettings
) -> tuple[Ints, NDArray[np.bool_]]:
    """The yarn of every band, the unsure ones as the most alike, and which are like none.

    What the picture cuts may hold threads of two yarns: a colour between two is not strange.
    """
    of = np.zeros(len(sure), dtype=np.intp)
    of[sure] = groups.of
    strange = np.zeros(len(sure), dtype=bool)
    known = to_lab(np.clip(groups.colours, 0, 1))
    for k in np.flatnonzero(~sure):
        apart = difference(lab[k][None], known)
        of[k] = int(np.argmin(apart))
        strange[k] = apart.min() >= settings.near_end
        if strange[k] and len(groups.colours) > 1:
            mixed = to_lab(np.clip(_mixtures(groups.colours), 0, 1))
            strange[k] = difference(lab[k][None], mixed).min() >= settings.near_end
    return of, strange


def _mixtures(colours: Floats, steps: int = 8) -> Floats:
    """(N, 3) colours on the straight lines, in linear light, between any two."""
    one, two = np.triu_indices(len(colours), 1)
    share = np.linspace(0, 1, steps + 1)[:, None, None]
    return np.asarray((share * colours[one] + (1 - share) * colours[two]).reshape(-1, 3))


def merged(palette: Palette, settings: PaletteSettings = PALETTE) -> Palette:
    """With yarns joined that are one to the eye, whichever axis they were found on."""
    while (near := _closest(palette.colours)) is not None and near[2] < settings.same_yarn:
        palette = joined(palette, near[0], near[1])
    return palette


def joined(palette: Palette, keep: int, drop: int) -> Palette:
    """With one yarn taken for another and left out of the list."""
    of_columns, of_rows = palette.of_columns, palette.of_rows
    uses = [int((of_columns == k).sum() + (of_rows == k).sum()) for k in (keep, drop)]
    colours = palette.colours.copy()
    colours[keep] = np.average(colours[[keep, drop]], axis=0, weights=np.maximum(uses, 1))
    colours = np.delete(colours, drop, axis=0)
    return replace(
        palette,
        colours=colours,
        of_columns=_without(of_columns, keep, drop),
        of_rows=_without(of_rows, keep, drop),
        closest=_closest(colours),
    )


def with_chance_lines(
    palette: Palette,
    column_threads: Floats,
    row_threads: Floats,
    settings: PaletteSettings = PALETTE,
) -> Palette:
    """With lines of a thread or two that hardly differ from their neighbours given to these.

    Single threads vary, and a design line of one thread is woven to be seen. A yarn that has no
    wide band must differ the more from its neighbours, the fewer threads it has.

    Args:
        palette: yarns and the bands that have them.
        column_threads: about how many threads each column band has.
        row_threads: the same for the row bands.
        settings: see `PaletteSettings`.
    """
    lab = to_lab(np.clip(palette.colours, 0, 1))
    widest = np.zeros(len(palette.colours))
    for yarns, threads in ((palette.of_columns, column_threads), (palette.of_rows, row_threads)):
        # What the frame cuts tells little of its colour, unless it is wide.
        sure = _whole_bands(threads, settings)
        np.maximum.at(widest, yarns[sure], threads[sure])
    fixed = []
    for yarns, threads in ((palette.of_columns, column_threads), (palette.of_rows, row_threads)):
        yarns = yarns.copy()
        for k in np.argsort(threads):
            own = int(yarns[k])
            near = [int(yarns[j]) for j in (k - 1, k + 1) if 0 <= j < len(yarns)]
            near = [n for n in near if n != own and widest[n] > widest[own]]
            limit = settings.line_difference / max(widest[own], 0.5)
            if not near or limit <= settings.same_yarn:
                continue
            apart = difference(lab[own][None], lab[near])
            if apart.min() < limit:
                yarns[k] = near[int(np.argmin(apart))]
            elif widest[own] < settings.single_thread:
                diluted = _diluted(palette.colours, own, near, widest, settings)
                yarns[k] = own if diluted is None else diluted
        fixed.append(yarns)
    return replace(palette, of_columns=fixed[0], of_rows=fixed[1])


def _diluted(
    colours: Floats, own: int, near: list[int], widest: Floats, settings: PaletteSettings
) -> int | None:
    """The yarn of which a line of one thread is the blurred image between its neighbours.

    Blur mixes a single thread with what lies beside it: its colour then lies on the straight
    line, in linear light, from the neighbours to its yarn, most of the way along.
    """
    beside = colours[near].mean(axis=0)
    best: tuple[float, int | None] = (settings.dilution_off, None)
    for yarn in np.flatnonzero(widest > widest[own]).tolist():
        line = colours[yarn] - beside
        length = float(np.linalg.norm(line))
        if yarn in near or length < 1e-3:
            continue
        share = float((colours[own] - beside) @ line) / length**2
        off = float(np.linalg.norm(colours[own] - beside - share * line)) / length
        if settings.least_undiluted < share < 1 / settings.least_undiluted and off < best[0]:
            best = (off, yarn)
    return best[1]


def _without(yarns: Ints, keep: int, drop: int) -> Ints:
    """Yarn numbers after `drop` was joined to `keep` and taken out of the list."""
    left = np.where(yarns == drop, keep, yarns)
    return np.where(left > drop, left - 1, left)


def only_used(palette: Palette) -> Palette:
    """Without the yarns that no band has any more, in the order in which the bands use them."""
    used = list(dict.fromkeys([*palette.of_columns.tolist(), *palette.of_rows.tolist()]))
    place = {old: new for new, old in enumerate(used)}
    colours = palette.colours[used]
    return replace(
        palette,
        colours=colours,
        of_columns=np.array([place[i] for i in palette.of_columns.tolist()]),
        of_rows=np.array([place[i] for i in palette.of_rows.tolist()]),
        closest=_closest(colours),
    )


def rows_mean(bands: Bands) -> Floats:
    """(3,) the mean level of all bands, by width."""
    return np.asarray(bands.levels.T @ bands.widths / bands.widths.sum())


def _weights(bands: Bands, classes: Ints, cover: Floats) -> Floats:
    """Total width of each class, pixels; less of what hardly shows beside a ruler.

    Args:
        bands: of one axis.
        classes: of each band.
        cover: (N,) share of each column or row of the picture that shows cloth.
    """
    index = bands.of_pixels(len(cover))
    total = np.bincount(index, weights=cover, minlength=len(bands.widths))
    shown = total / np.maximum(np.bincount(index, minlength=len(bands.widths)), 1)
    say = bands.widths * np.minimum(shown / max(float(np.median(cover)), 1e-6), 1.0)
    return np.bincount(classes, weights=say, minlength=int(classes.max()) + 1)


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
    for j in np.flatnonzero(~inner):
        nearest = int(np.argmin(difference(apparent[j][None], apparent[inner])))
        labels[j] = labels[inner][nearest]
    count = int(labels.max()) + 1
    levels = np.zeros((count, 3))
    for k in range(count):
        members = labels == k
        heavy = members & inner
        heavy &= widths >= 0.5 * widths[heavy].max()
        levels[k] = np.average(bands.levels[heavy], axis=0, weights=widths[heavy])
    return labels, levels


def _whole_bands(threads: Floats, settings: PaletteSettings) -> NDArray[np.bool_]:
    """Bands whose colour can be trusted: all but narrow ones at the very ends."""
    inner = np.ones(len(threads), dtype=bool)
    for end in (0, len(threads) - 1):
        inner[end] = threads[end] >= settings.trusted_end_threads
    return inner if inner.any() else np.ones(len(threads), dtype=bool)


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
        fewer = np.maximum(np.minimum(total[:, None], total[None]), 0.5)
        doubt = np.sqrt(spread**2 / fewer[:, :, None] + settings.level_doubt**2)
        apart = np.linalg.norm((means[:, None] - means[None]) / doubt, axis=2)
        apart[np.arange(len(names)), np.arange(len(names))] = np.inf
        i, j = np.unravel_index(int(np.argmin(apart)), apart.shape)
        if apart[i, j] >= settings.least_apart * (1 + 0.6 / fewer[i, j]):
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


def _closest(colours: Floats) -> tuple[int, int, float] | None:
    """The two most alike yarns and their CIEDE2000."""
    if len(colours) < 2:
        return None
    lab = to_lab(np.clip(colours, 0, 1))
    apart = difference(lab[:, None], lab[None])
    apart[np.arange(len(lab)), np.arange(len(lab))] = np.inf
    i, j = np.unravel_index(int(np.argmin(apart)), apart.shape)
    return (int(min(i, j)), int(max(i, j)), float(apart[i, j]))
