"""One look at the cloth: bands, yarns and thread lattices of both axes, at one size of detail."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.carriers import Carrier
from settscan.reading.chance import without_chance_yarns
from settscan.reading.creases import evenly_lit
from settscan.reading.diagonals import Diagonals
from settscan.reading.fold import Crossings, parts_of
from settscan.reading.lattices import Expected, as_expected, find_lattices, left_out
from settscan.reading.lines import split_lines
from settscan.reading.palette import (
    Palette,
    find_palette,
    merged,
    only_used,
    regrouped,
    with_chance_lines,
)
from settscan.reading.profiles import Additive
from settscan.reading.single_threads import Axis
from settscan.reading.stripes import (
    Bands,
    find_bands,
    fit_edges,
    without_blurs,
    without_mixtures,
)
from settscan.reading.texture import without_weave
from settscan.reading.threads import Lattice, Signals, first_carriers, weave_signals
from settscan.settings import LINES, ReadSettings

Floats = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One look at the cloth at a given size of detail: bands, yarns and lattices of both axes.

    `unlike` are the pitches in pixels, along x and y, of lattices that were seen and left out, as
    they cannot be those of the densities that somebody gave.
    """

    columns: Bands
    rows: Bands
    palette: Palette
    signals: Signals
    column_lattice: Lattice | None
    row_lattice: Lattice | None
    diagonals: Diagonals | None
    unlike: tuple[float | None, float | None]


def look_closely(
    split: Additive, expected: Expected, settings: ReadSettings, cycle: int | None = None
) -> Look:
    """Look at the detail that the weave suggests, and again at the threads that were found.

    Args:
        split: the separated picture; its residual is spoilt.
        expected: pixels per thread along x and y, where somebody gave the density.
        settings: see `ReadSettings`.
        cycle: threads in one cycle of the weave's wave, if somebody named the weave.
    """
    cells = _first_cells(first_carriers(split), settings, cycle)
    cells = (expected[0] or cells[0], expected[1] or cells[1])
    split = evenly_lit(split, cells)
    look = _look_at(split, cells, expected, settings, cycle)
    for _ in range(settings.looks - 1):
        found = _cells_of(look, cells)
        if max(abs(np.log(a / b)) for a, b in zip(cells, found, strict=True)) <= 0.15:
            break
        cells = found
        look = _look_at(split, cells, expected, settings, cycle)
    return look


def _first_cells(
    carriers: tuple[Carrier, ...], settings: ReadSettings, cycle: int | None
) -> tuple[float, float]:
    """About one thread along x and y, from the weave's waves: a half or a quarter of a cycle."""
    if not carriers:
        return settings.unknown_cell_px, settings.unknown_cell_px
    multiple = cycle or (4 if _one_diagonal(carriers) else 2)
    main = carriers[0]
    return 1 / (multiple * main.fx), 1 / (multiple * abs(main.fy))


def _one_diagonal(carriers: tuple[Carrier, ...]) -> bool:
    """Whether the main wave has no mirror image of like strength, as in a twill."""
    main = carriers[0]
    for other in carriers[1:]:
        same = abs(other.fx - main.fx) < 0.12 * main.fx
        mirrored = abs(other.fy + main.fy) < 0.12 * abs(main.fy)
        if same and mirrored and other.power > 0.3 * main.power:
            return False
    return True


def _cells_of(look: Look, cells: tuple[float, float]) -> tuple[float, float]:
    """Threads in pixels as the lattices have them, else as they were."""
    lattices = (look.column_lattice, look.row_lattice)
    return (
        lattices[0].mean_pitch if lattices[0] else cells[0],
        lattices[1].mean_pitch if lattices[1] else cells[1],
    )


def _look_at(
    split: Additive,
    cells: tuple[float, float],
    expected: Expected,
    settings: ReadSettings,
    cycle: int | None,
) -> Look:
    """Bands, yarns and lattices for detail of the given size."""
    base = split.columns.mean(axis=0)
    shown = split.shown()
    columns = find_bands(split.columns, cells[0], shown[0])
    rows = _lowered(find_bands(split.rows + base, cells[1], shown[1]), base)
    columns = without_mixtures(split.columns, columns)
    rows = _lowered(without_mixtures(split.rows + base, _lowered(rows, -base)), base)
    palette = merged(find_palette(split, columns, rows))
    palette = without_chance_yarns(palette, (split.columns, split.rows), (columns, rows))
    palette = with_chance_lines(palette, columns.widths / cells[0], rows.widths / cells[1])
    strange = palette.strange_ends
    columns, column_yarns = _without_strangers(columns, palette.of_columns, strange[:2])
    rows, row_yarns = _without_strangers(rows, palette.of_rows, strange[2:])
    reach = settings.rim_threads
    least = settings.vouching_threads
    column_rim = _rim(columns, column_yarns, _vouching(rows, row_yarns, least), reach * cells[0])
    row_rim = _rim(rows, row_yarns, _vouching(columns, column_yarns, least), reach * cells[1])
    columns, column_yarns = _without_ends(columns, column_yarns, *column_rim)
    rows, row_yarns = _without_ends(rows, row_yarns, *row_rim)
    columns, column_yarns = _tidy(columns, column_yarns, cells[0] * settings.sliver_threads)
    rows, row_yarns = _tidy(rows, row_yarns, cells[1] * settings.sliver_threads)
    palette = only_used(replace(palette, of_columns=column_yarns, of_rows=row_yarns))
    columns, physical, palette = _at_yarns(split, columns, rows, palette, cells)
    rows = _lowered(physical, base)
    signals = weave_signals(split, columns, rows, palette)
    crossings = Crossings.of(split, columns, rows, palette, signals)
    *seen, diagonals = find_lattices(
        split, columns, rows, signals, crossings, cells, expected, cycle
    )
    lattices = as_expected(seen[0], expected[0]), as_expected(seen[1], expected[1])
    parts = parts_of(split.mask.shape, diagonals)
    clean = without_weave(split, crossings, parts, lattices)
    columns, physical, palette = _by_threads(clean, base, columns, physical, palette, lattices)
    fewer = regrouped(split, *_own_levels(split, columns, physical), palette)
    if len(fewer.colours) < len(palette.colours):
        columns, physical, palette = _by_threads(
            clean, base, *_joined_bands(split, columns, physical, fewer), lattices
        )
    return Look(
        columns=columns,
        rows=_lowered(physical, base),
        palette=palette,
        signals=signals,
        column_lattice=lattices[0],
        row_lattice=lattices[1],
        diagonals=diagonals,
        unlike=(left_out(seen[0], lattices[0]), left_out(seen[1], lattices[1])),
    )


def _at_yarns(
    split: Additive, columns: Bands, rows: Bands, palette: Palette, cells: tuple[float, float]
) -> tuple[Bands, Bands, Palette]:
    """Columns and (physical) rows with edges at the levels that the yarns give.

    That frees narrow lines of their blur. Where threads are too narrow to be told one by one, a
    line as wide as one between two others whose light it mixes is the edge between the two, and
    so is what is left much narrower than a thread: the halo of a sharpened picture.
    """
    both = _fitted(split, (columns, rows), palette)
    levels = (palette.column_levels(), palette.row_levels() + split.columns.mean(axis=0))
    yarns = (palette.of_columns, palette.of_rows)
    sharper = [
        _without_rims(bands, level[of], cell)
        if cell < LINES.least_pitch
        else (bands.edges, np.arange(len(of)))
        for bands, level, of, cell in zip(both, levels, yarns, cells, strict=True)
    ]
    if all(len(keep) == len(old) for (_, keep), old in zip(sharper, yarns, strict=True)):
        return *both, palette
    (columns, along_x), (rows, along_y) = (
        _one_band_each(replace(bands, edges=edges, levels=bands.levels[keep]), of[keep])
        for bands, of, (edges, keep) in zip(both, yarns, sharper, strict=True)
    )
    palette = only_used(replace(palette, of_columns=along_x, of_rows=along_y))
    return *_fitted(split, (columns, rows), palette), palette


def _without_rims(bands: Bands, levels: Floats, cell: float) -> tuple[Floats, NDArray[np.intp]]:
    """Edges without the bands that are but the rims of others, and which bands are left."""
    edges, kept = without_blurs(bands.edges, levels, cell)
    narrow = np.diff(edges) < LINES.least_line * cell
    narrow[[0, -1]] = False  # these the frame cuts
    middles = (edges[:-1] + edges[1:]) / 2
    for k in np.flatnonzero(narrow):
        edges[k : k + 2] = middles[k]
    return np.delete(edges, np.flatnonzero(narrow)), kept[~narrow]


def _fitted(split: Additive, bands: tuple[Bands, Bands], palette: Palette) -> tuple[Bands, Bands]:
    """Columns and (physical) rows with edges at the levels that the yarns give."""
    base = split.columns.mean(axis=0)
    along_x = palette.column_levels()[palette.of_columns]
    along_y = (palette.row_levels() + base)[palette.of_rows]
    return (
        fit_edges(split.columns, bands[0].edges, bands[0].cell, levels=along_x),
        fit_edges(split.rows + base, bands[1].edges, bands[1].cell, levels=along_y),
    )


def _by_threads(
    clean: Additive,
    base: Floats,
    columns: Bands,
    rows: Bands,
    palette: Palette,
    lattices: tuple[Lattice | None, Lattice | None],
) -> tuple[Bands, Bands, Palette]:
    """Columns and (physical) rows as their single threads tell them, and the yarns left."""
    along_x, along_y = split_lines(
        (
            Axis(
                profile=clean.columns,
                cover=np.where(clean.blind_columns, 0.0, clean.mask.mean(axis=0)),
                bands=columns,
                yarns=palette.of_columns,
                levels=palette.column_levels(),
                lattice=lattices[0],
            ),
            Axis(
                profile=clean.rows + base,
                cover=np.where(clean.blind_rows, 0.0, clean.mask.mean(axis=1)),
                bands=rows,
                yarns=palette.of_rows,
                levels=palette.row_levels() + base,
                lattice=lattices[1],
            ),
        )
    )
    palette = palette.with_levels(along_x.levels[len(palette.colours) :])
    palette = only_used(replace(palette, of_columns=along_x.yarns, of_rows=along_y.yarns))
    return along_x.bands, along_y.bands, palette


def _own_levels(split: Additive, columns: Bands, physical: Bands) -> tuple[Bands, Bands]:
    """Columns and rows at the levels that they show themselves, whatever their yarns."""
    base = split.columns.mean(axis=0)
    along_x = fit_edges(split.columns, columns.edges, columns.cell)
    along_y = fit_edges(split.rows + base, physical.edges, physical.cell)
    return (
        replace(columns, levels=along_x.levels),
        replace(physical, levels=along_y.levels - base),
    )


def _joined_bands(
    split: Additive, columns: Bands, physical: Bands, palette: Palette
) -> tuple[Bands, Bands, Palette]:
    """Columns and (physical) rows with neighbours of one yarn joined, and the yarns left."""
    columns, of_columns = _one_band_each(columns, palette.of_columns)
    physical, of_rows = _one_band_each(physical, palette.of_rows)
    palette = only_used(replace(palette, of_columns=of_columns, of_rows=of_rows))
    return *_fitted(split, (columns, physical), palette), palette


def _lowered(bands: Bands, base: Floats) -> Bands:
    """The same bands with `base` (3,) taken off their levels."""
    return replace(bands, levels=bands.levels - base)


def _without_strangers(
    bands: Bands, yarns: NDArray[np.intp], strange: tuple[bool, ...]
) -> tuple[Bands, NDArray[np.intp]]:
    """Leave out the first or the last band, or both, where more than two are there."""
    several = len(yarns) > 2
    return _cropped(bands, yarns, int(strange[0] and several), int(strange[1] and several))


def _without_ends(
    bands: Bands, yarns: NDArray[np.intp], first: int, last: int
) -> tuple[Bands, NDArray[np.intp]]:
    """Leave out so many bands at the start and at the end, but keep two."""
    first = min(first, max(len(yarns) - 2, 0))
    last = min(last, max(len(yarns) - first - 2, 0))
    return _cropped(bands, yarns, first, last)


def _cropped(
    bands: Bands, yarns: NDArray[np.intp], first: int, last: int
) -> tuple[Bands, NDArray[np.intp]]:
    """The bands without so many at the start and at the end."""
    stop = len(yarns) - last
    kept = replace(
        bands,
        edges=bands.edges[first : stop + 1],
        levels=bands.levels[first:stop],
        edge_errors=bands.edge_errors[first : stop + 1],
    )
    return kept, yarns[first:stop]


def _vouching(bands: Bands, yarns: NDArray[np.intp], least: float) -> NDArray[np.intp]:
    """The yarns of all bands but those at an end with fewer threads, which may be a rim."""
    wide = bands.widths / bands.cell >= least
    wide[1:-1] = True
    return yarns[wide]


def _rim(
    bands: Bands, yarns: NDArray[np.intp], others: NDArray[np.intp], reach: float
) -> tuple[int, int]:
    """How many bands at the start and at the end are a rim: fringe, floor, shadow.

    A rim has a colour that occurs nowhere but within `reach` pixels of the ends.
    """
    n = len(yarns)
    near_start = bands.edges[1:] - bands.edges[0] <= reach
    near_end = bands.edges[-1] - bands.edges[:-1] <= reach
    inside = {int(y) for y in yarns[~(near_start | near_end)]} | {int(y) for y in others}
    first = next((i for i in range(n) if not near_start[i] or int(yarns[i]) in inside), 0)
    last = next(
        (i for i in range(n) if not near_end[n - 1 - i] or int(yarns[n - 1 - i]) in inside), 0
    )
    return first, last


def _tidy(bands: Bands, yarns: NDArray[np.intp], sliver: float) -> tuple[Bands, NDArray[np.intp]]:
    """Drop slivers and join neighbours of one yarn; returns the bands and their yarns."""
    edges, levels = list(bands.edges), [*bands.levels]
    names = [int(y) for y in yarns]
    while len(names) > 1:
        widths = np.diff(edges)
        # The first and last band are cut by the frame: half seen, their colour is not sure.
        least = np.full(len(widths), sliver)
        least[[0, -1]] = 3 * sliver
        k = int(np.argmin(widths / least))
        if widths[k] >= least[k]:
            break
        if k == 0:
            cut = 1
        elif k == len(names) - 1:
            cut = k
        else:
            near = [float(np.linalg.norm(levels[k] - levels[k + d])) for d in (-1, 1)]
            cut = k if near[0] <= near[1] else k + 1
        edges.pop(cut)
        levels.pop(k)
        names.pop(k)
    kept = replace(bands, edges=np.array(edges), levels=np.array(levels))
    return _one_band_each(kept, np.array(names, dtype=np.intp))


def _one_band_each(bands: Bands, yarns: NDArray[np.intp]) -> tuple[Bands, NDArray[np.intp]]:
    """Join neighbours of one yarn; returns the bands, their edges' errors unknown, and yarns."""
    edges, levels = list(bands.edges), [*bands.levels]
    names = [int(y) for y in yarns]
    k = 1
    while k < len(names):
        if names[k] == names[k - 1]:
            widths = np.diff(edges)[k - 1 : k + 1]
            levels[k - 1] = np.average(levels[k - 1 : k + 1], axis=0, weights=widths)
            edges.pop(k)
            levels.pop(k)
            names.pop(k)
        else:
            k += 1
    kept = replace(
        bands,
        edges=np.array(edges),
        levels=np.array(levels),
        edge_errors=np.zeros(len(edges)),
    )
    return kept, np.array(names, dtype=np.intp)
