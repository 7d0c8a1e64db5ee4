"""Lines of a thread or two side by side, told apart thread by thread.

Where two narrow lines of different yarns are neighbours, the step between them hides beside the
larger steps around them, and they pass for one band of a mixed colour. Once the threads have
been counted, each thread's own colour can be looked at.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.colours import steadied, to_lab
from settscan.reading.stripes import Bands
from settscan.reading.threads import Lattice
from settscan.settings import LINES, LineSettings

Floats = NDArray[Any]
Ints = NDArray[Any]


def split_lines(
    profile: Floats,
    bands: Bands,
    yarns: Ints,
    levels: Floats,
    lattice: Lattice | None,
    narrow: NDArray[np.bool_],
    settings: LineSettings = LINES,
) -> tuple[Bands, Ints]:
    """Split narrow bands whose threads are of different yarns that occur elsewhere too.

    Args:
        profile: (N, 3) linear light along the axis, physical.
        bands: bands of the axis.
        yarns: (n,) yarn of each band.
        levels: (m, 3) level that each yarn has in the profile.
        narrow: (m,) yarns that have no wide band anywhere: they may be a mixture and no yarn.
        lattice: thread coordinates; without them, or too few pixels a thread, nothing is split.
        settings: see `LineSettings`.
    """
    if lattice is None or lattice.mean_pitch < settings.least_pitch:
        return bands, yarns
    known = steadied(to_lab(levels))
    spread = np.hypot(bands.spread, settings.blur_spread)
    coordinates = lattice.threads(bands.edges)
    edges, own = [float(bands.edges[0])], []
    for k, yarn in enumerate(yarns.tolist()):
        start, end = coordinates[k], coordinates[k + 1]
        number = round(float(end - start))
        inner = 0 < k < len(yarns) - 1
        parts = [(yarn, 1)]
        if inner and 2 <= number <= settings.most_threads:
            seen = steadied(to_lab(_threads(profile, lattice, (start, end), number, settings)))
            price = settings.mixture_price if narrow[yarn] else settings.split_price
            parts = _parts(seen, yarn, known, spread, price)
        total = sum(n for _, n in parts)
        done = 0
        for name, n in parts:
            done += n
            share = done / total
            edges.append(float(bands.edges[k] + share * (bands.edges[k + 1] - bands.edges[k])))
            own.append(name)
    if len(own) == len(yarns):
        return bands, yarns
    new = replace(
        bands,
        edges=np.array(edges),
        levels=levels[own],
        edge_errors=np.interp(edges, bands.edges, bands.edge_errors),
    )
    return new, np.array(own, dtype=np.intp)


def _parts(
    seen: Floats, yarn: int, known: Floats, spread: Floats, price: float
) -> list[tuple[int, int]]:
    """Runs (yarn, threads) of a band, one run if its threads (n, 3) are alike."""
    cost = (((seen[:, None] - known[None]) / spread) ** 2).sum(axis=2)
    if float(cost[:, yarn].sum() - cost.min(axis=1).sum()) < price:
        return [(yarn, 1)]
    runs: list[tuple[int, int]] = []
    for name in np.argmin(cost, axis=1).tolist():
        if runs and runs[-1][0] == name:
            runs[-1] = (name, runs[-1][1] + 1)
        else:
            runs.append((name, 1))
    return runs if len(runs) > 1 else [(yarn, 1)]


def _threads(
    profile: Floats,
    lattice: Lattice,
    ends: tuple[float, float],
    number: int,
    settings: LineSettings,
) -> Floats:
    """(number, 3) mean light of the middle of each thread between two edges."""
    x = np.arange(len(profile), dtype=float)
    at = (lattice.threads(x) - ends[0]) / (ends[1] - ends[0]) * number
    middle = np.floor(at) + 0.5
    found = np.zeros((number, 3))
    for n in range(number):
        inside = (np.floor(at) == n) & (np.abs(at - middle) < settings.middle / 2)
        if not inside.any():
            inside = np.arange(len(x)) == int(np.argmin(np.abs(at - n - 0.5)))
        found[n] = profile[inside].mean(axis=0)
    return found
