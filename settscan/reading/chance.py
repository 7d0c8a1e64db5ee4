"""Yarns that are no more than the boldest threads of another.

Single threads of one yarn vary: melange, spacing, and where threads are about as wide as pixels
their beat. Whoever looks for stripes finds the neighbours that happen to vary alike, and a yarn
made of nothing else seems far from the rest, since it was picked for that. So each of its
stripes must tell more than what picking the boldest among so many threads gives.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from settscan.reading.palette import Palette, joined, only_used
from settscan.reading.stripes import Bands, boxed
from settscan.settings import PALETTE, PaletteSettings

Floats = NDArray[Any]
Ints = NDArray[np.intp]


class Effect(NamedTuple):
    """One axis: its profile (N, 3), in the light of the bands' levels, its bands, their yarns."""

    profile: Floats
    bands: Bands
    yarns: Ints


class _Run(NamedTuple):
    """Neighbouring bands of one yarn: first band and the band after the last."""

    yarn: int
    first: int
    stop: int


def without_chance_yarns(
    palette: Palette,
    profiles: tuple[Floats, Floats],
    bands: tuple[Bands, Bands],
    settings: PaletteSettings = PALETTE,
) -> Palette:
    """With yarns joined to the one in whose stripes alone they stand, if chance may give them.

    Args:
        palette: yarns and the bands that have them.
        profiles: (W, 3) and (H, 3) effects of columns and rows.
        bands: of columns and rows.
        settings: see `PaletteSettings`.
    """
    while True:
        yarns = (palette.of_columns, palette.of_rows)
        axes = [Effect(*one) for one in zip(profiles, bands, yarns, strict=True)]
        drop = next(_by_chance(palette, axes, settings), None)
        if drop is None:
            return palette
        palette = only_used(joined(palette, *drop))


def _by_chance(
    palette: Palette, axes: list[Effect], settings: PaletteSettings
) -> Iterator[tuple[int, int]]:
    """Pairs (keep, drop) of yarns of which the second is nothing but threads of the first."""
    threads = np.zeros(len(palette.colours))
    for axis in axes:
        np.add.at(threads, axis.yarns, axis.bands.widths / axis.bands.cell)
    for own in np.argsort(threads).tolist():
        for other in np.flatnonzero(threads > threads[own]).tolist():
            told = [_told(axis, own, other, settings) for axis in axes]
            known = [one for one in told if one is not None]
            if known and sum(known) < 0:
                yield other, own


def _told(axis: Effect, own: int, other: int, settings: PaletteSettings) -> float | None:
    """Chi squared by which the stripes of a yarn exceed what picking threads of another gives.

    A stripe that does not stand between two of the other yarn was not picked out of it: it tells
    all that it shows. None if the yarn has no stripe here.
    """
    runs = _runs(axis.yarns)
    mine = [k for k, run in enumerate(runs) if run.yarn == own]
    if not mine:
        return None
    scatter = _scatter(axis, own, other)
    if scatter is None:
        return np.inf
    way, middle, single, between, number = scatter
    total = 0.0
    for k in mine:
        run = runs[k]
        part = slice(run.first, run.stop)
        widths = axis.bands.widths[part]
        level = np.average(axis.bands.levels[part], axis=0, weights=widths)
        count = max(float(widths.sum()) / axis.bands.cell, 1.0)
        off = float(level @ way) - middle
        total += off**2 / max(single**2 / count + between**2, _EXACT)
        beside = [runs[j].yarn for j in (k - 1, k + 1) if 0 <= j < len(runs)]
        if all(yarn == other for yarn in beside):
            # So many places to begin, and so many lengths, as there were to pick from.
            total -= 2 * np.log(number * settings.picked_lengths)
    return total


def _scatter(
    axis: Effect, own: int, other: int
) -> tuple[Floats, float, float, float, float] | None:
    """How threads of a yarn vary on the way to another; None where too few are seen.

    Returns:
        (3,) the way in light from `other` to `own`, the level of `other` along it, the standard
        deviation of its single threads and that of whole stripes besides, and the number of
        threads of both.
    """
    bands, yarns = axis.bands, axis.yarns
    own_levels, levels = bands.levels[yarns == own], bands.levels[yarns == other]
    if not len(levels):
        return None
    way = np.average(own_levels, axis=0, weights=bands.widths[yarns == own])
    way = way - np.average(levels, axis=0, weights=bands.widths[yarns == other])
    way /= max(float(np.linalg.norm(way)), 1e-9)
    smooth = boxed(axis.profile, bands.cell) @ way
    stripes = []
    for run in _runs(yarns):
        # Blur brings light of the neighbours into the first thread and the last.
        start, stop = bands.edges[run.first], bands.edges[run.stop]
        places = np.arange(start + 1.5 * bands.cell, stop - bands.cell, bands.cell)
        if run.yarn == other and len(places):
            stripes.append(np.interp(places, np.arange(len(smooth)), smooth))
    seen = np.concatenate(stripes) if stripes else np.zeros(0)
    if len(seen) < _FEWEST:
        return None
    single = float(np.sqrt(sum(float(((s - s.mean()) ** 2).sum()) for s in stripes)))
    single /= np.sqrt(max(len(seen) - len(stripes), 1))
    wide = [s for s in stripes if len(s) >= _FEW]
    between = np.var([s.mean() for s in wide]) if len(wide) > 1 else 0.0
    chance = np.mean([single**2 / len(s) for s in wide]) if wide else 0.0
    number = bands.widths[(yarns == own) | (yarns == other)].sum() / bands.cell
    left = float(np.sqrt(max(between - chance, 0.0)))
    return way, float(seen.mean()), single, left, float(number)


_EXACT = 1e-12  # squared light, where threads do not vary at all: drawn, not photographed
_FEWEST = 8  # threads that tell how a yarn varies
_FEW = 4  # threads whose mean tells how stripes vary


def _runs(yarns: Ints) -> list[_Run]:
    """Neighbours of one yarn taken together."""
    cuts = [0, *(np.flatnonzero(np.diff(yarns)) + 1).tolist(), len(yarns)]
    return [_Run(int(yarns[a]), a, b) for a, b in zip(cuts[:-1], cuts[1:], strict=True)]
