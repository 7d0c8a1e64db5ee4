"""Single threads of one axis, compared with every yarn.

Each thread's own colour is compared with what every yarn would look like there, between its
neighbours, which lend it light; the likeliest run of yarns along the whole axis is sought exactly
(Viterbi), and each change of yarn has its price. Which yarns there are is decided in `lines`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.spill import Spill
from settscan.reading.stripes import Bands, fit_edges
from settscan.reading.thread_light import (
    Threads,
    costs_of,
    own_levels,
    spill_seen,
    steady,
    threads_of,
)
from settscan.reading.threads import Lattice
from settscan.settings import LineSettings

Floats = NDArray[Any]
Ints = NDArray[Any]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """What the bands of one axis say.

    Attributes:
        profile: (N, 3) linear light along the axis, physical.
        cover: (N,) share of the cloth that shows at each element; 0 where that is too little.
        bands: bands of the axis.
        yarns: (n,) yarn of each band.
        levels: (m, 3) level that each yarn has in the profile.
        lattice: thread coordinates; without them, or too few pixels a thread, nothing changes.
    """

    profile: Floats
    cover: Floats
    bands: Bands
    yarns: Ints
    levels: Floats
    lattice: Lattice | None


def starts_of(yarns: Ints) -> Ints:
    """Where each run of threads (n,) of one yarn begins."""
    return np.flatnonzero(np.r_[True, yarns[1:] != yarns[:-1]])


@dataclass(frozen=True, slots=True)
class Odd:
    """Single threads that are like no yarn.

    `own` (k, 3) are their levels, `more` (k, 3) what these would be if the neighbours lent them
    a little more light than is usual, `cost` (k,) what they cost beyond what is usual, and `edge`
    (k,) says which are as light as the mean of two yarns beside them.
    """

    own: Floats
    more: Floats
    cost: Floats
    edge: Mask

    @classmethod
    def none(cls) -> Odd:
        """Of an axis whose threads cannot be told."""
        return cls(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0), np.zeros(0, dtype=bool))


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """The threads of an axis with what is needed to compare them with every yarn.

    `before` (n,) is the yarn of each as the bands have it, `cost` (n, m, m, m) minus the log
    chance of what is seen, by the thread's yarn between its neighbours'; `levels` (m, 3) are the
    yarns' own here, `spill` what each neighbour lends.
    """

    threads: Threads
    before: Ints
    cost: Floats
    levels: Floats
    spill: Spill

    @classmethod
    def of(cls, axis: Axis, known: Ints | None, settings: LineSettings) -> View | None:
        """Compared at what the threads of `known` (n,) yarns show; None where none can be told."""
        lattice = axis.lattice
        if lattice is None or lattice.mean_pitch < settings.least_pitch or len(axis.levels) < 2:
            return None
        threads = threads_of(axis.profile, axis.cover, axis.bands, lattice, settings)
        if (threads.say > 0).sum() < settings.enough_threads:
            return None
        if len(threads.say) * len(axis.levels) ** 3 > settings.most_cases:
            return None
        before = axis.yarns[threads.band]
        of = before if known is None else known
        levels = own_levels(threads, of, axis.levels, settings)
        spill = spill_seen(threads, of, levels, settings)
        cost = costs_of(threads, of, levels, spill, settings)
        unlike = settings.as_before * (np.arange(len(levels)) != before[:, None])
        cost = cost + unlike[:, None, :, None]
        return cls(threads=threads, before=before, cost=cost, levels=levels, spill=spill)

    def odd(self, yarns: Ints, used: Ints, settings: LineSettings) -> Odd:
        """The single threads that are like none of the yarns (k,) that are used."""
        n = np.arange(1, len(yarns) - 1)
        before, here, after = yarns[:-2], yarns[1:-1], yarns[2:]
        cost = self.cost[n, before, here, after]
        cost = cost - np.median(cost)
        single = (cost > settings.odd_cost) & (self.threads.say[1:-1] > 0.8)
        one, seen, two = self.levels[before], self.threads.light[1:-1], self.levels[after]
        own = self.spill.unmixed(one, seen, two)
        more = self.spill.wider(settings.spill_spread, settings.hue_spread).unmixed(one, seen, two)
        for side in (before, after):
            for yarn in self.levels[used]:
                single &= ~_hardly_mixed(own, yarn[None], self.levels[side], settings)
        edge = (before != after) & (_off_way(own, *self.levels[[before, after]]) < settings.alike)
        return Odd(own=own[single], more=more[single], cost=cost[single], edge=edge[single])

    def with_level_of(self, axis: Axis, yarns: Ints, yarn: int) -> Axis:
        """The axis with a yarn's level as its own threads show it, if any do."""
        own = self.own_of(yarns, yarn)
        if not len(own):
            return axis
        levels = axis.levels.copy()
        levels[yarn] = np.median(own, axis=0)
        return replace(axis, levels=levels)

    def own_of(self, yarns: Ints, yarn: int) -> Floats:
        """(k, 3) levels of the threads of a yarn, without what their neighbours lend."""
        return self._unmixed_at(np.flatnonzero(yarns == yarn), yarns)

    def own_within(self, yarns: Ints, yarn: int) -> Floats:
        """The same of those of its lines alone that stand within a wider stripe of one yarn.

        What lies beside these is known; a line between two others may hold some of either.
        """
        starts = starts_of(yarns)
        runs = [run for run in np.split(np.arange(len(yarns)), starts[1:]) if len(run)]
        within = [
            run
            for before, run, after in zip(runs, runs[1:], runs[2:], strict=False)
            if yarns[run[0]] == yarn
            and yarns[before[0]] == yarns[after[0]]
            and min(len(before), len(after)) > 1
        ]
        return self._unmixed_at(np.concatenate([np.zeros(0, np.intp), *within]), yarns)

    def _unmixed_at(self, n: Ints, yarns: Ints) -> Floats:
        """(k, 3) levels of some threads, as far as they show and have two neighbours."""
        n = n[(n > 0) & (n < len(yarns) - 1)]
        n = n[self.threads.say[n] > 0]
        before, after = self.levels[yarns[n - 1]], self.levels[yarns[n + 1]]
        return self.spill.unmixed(before, self.threads.light[n], after)

    def decoded(self, allowed: Mask, settings: LineSettings) -> tuple[Ints, float]:
        """(n,) the likeliest yarn of each thread among those allowed, and its cost."""
        some = np.flatnonzero(allowed)
        change = settings.split_price * (1 - np.eye(len(some)))
        path, cost = _likeliest(
            self.cost[np.ix_(np.arange(len(self.cost)), some, some, some)], change
        )
        return some[path], cost

    def as_bands(self, axis: Axis, yarns: Ints) -> Axis:
        """The axis with bands of these threads."""
        if (yarns == self.before).all():
            return axis
        starts = starts_of(yarns)
        edges = np.append(self.threads.at[starts], self.threads.at[-1])
        of = yarns[starts].astype(np.intp)
        bands = fit_edges(axis.profile, edges, axis.bands.cell, levels=axis.levels[of])
        return replace(axis, bands=bands, yarns=of)


def _hardly_mixed(own: Floats, one: Floats, two: Floats, settings: LineSettings) -> Mask:
    """Whether levels (k, 3) are those of a yarn with a little of its neighbour's light.

    Or with too little of it: sharpened pictures have halos.
    """
    near = np.clip(_share_of_way(own, one, two), -0.5, 1.5)
    off = _off_way(own, one, two)
    return np.asarray((off < settings.alike) & (np.abs(near - 0.5) > settings.well_mixed))


def _share_of_way(own: Floats, one: Floats, two: Floats) -> Floats:
    """(k,) how far levels (k, 3) lie on the way from one level to another, over its length."""
    way = two - one
    return np.asarray(((own - one) * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-12))


def _off_way(own: Floats, one: Floats, two: Floats) -> Floats:
    """(k,) by how much levels (k, 3) lie off that way and its half as much again, CIELAB."""
    near = np.clip(_share_of_way(own, one, two), -0.5, 1.5)
    return np.asarray(
        np.linalg.norm(steady(own) - steady(one + near[:, None] * (two - one)), axis=1)
    )


def _likeliest(cost: Floats, change: Floats) -> tuple[Ints, float]:
    """The path of least cost through yarns, and that cost.

    Args:
        cost: (n, m, m, m) of a thread's yarn between the one before and the one after.
        change: (m, m) of a yarn followed by another.
    """
    yarns = cost.shape[1]
    # State: the yarns of the thread before and of this one; before the first is its like.
    best = np.where(np.eye(yarns, dtype=bool), 0.0, np.inf)
    back = []
    for here in cost[:-1]:
        total = best[:, :, None] + here + change[None]
        back.append(np.argmin(total, axis=0))
        best = total.min(axis=0)
    last = np.arange(yarns)
    best = best + cost[-1][:, last, last]
    one, two = np.unravel_index(int(np.argmin(best)), best.shape)
    path = [int(two), int(one)]
    for step in back[:0:-1]:
        path.append(int(step[path[-1], path[-2]]))
    return np.array(path[len(cost) - 1 :: -1], dtype=np.intp), float(best.min())
