"""Which yarn each single thread is of, once yarns and threads are known.

Bands are cut where colour steps, before anything is known of yarns; a line of one thread that
hardly differs from its neighbours, or two narrow lines side by side, pass for a part of a wider
band then. With the yarns known, each thread's own colour is compared with what every yarn would
look like there, between its neighbours; the likeliest run of yarns along the whole axis is sought
exactly (Viterbi), and each change of yarn has its price.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.colours import bright_and_hue
from settscan.reading.stripes import Bands, fit_edges
from settscan.reading.thread_light import (
    Threads,
    costs_of,
    own_levels,
    spill_of,
    steady,
    threads_of,
)
from settscan.reading.threads import Lattice
from settscan.settings import LINES, LineSettings

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


def split_lines(axes: tuple[Axis, Axis], settings: LineSettings = LINES) -> tuple[Axis, Axis]:
    """Both axes with their bands as the single threads tell them.

    A yarn that only lines have may be no yarn, but two threads or a thread and its neighbour
    blurred into one: it is left out if the threads are explained nearly as well without it.
    """
    views, found = _read(axes, settings)
    for _ in range(settings.most_new):
        level = _new_level(axes, views, found, settings)
        if level is None:
            break
        more = _with_level(axes, level)
        trial_views, trial = _read(more, settings)
        more = _seen_again(more, trial_views, trial)
        trial_views, trial = _read(more, settings)
        too_many = [v is None for v in trial_views] != [v is None for v in views]
        spared = _spared(trial, len(more[0].levels) - 1, settings)
        if too_many or _total(trial) + settings.yarn_price - spared > _total(found):
            break
        axes, views, found = more, trial_views, trial
    sharper = _with_lines_seen(axes, views, found, settings)
    if sharper is not axes:
        axes = sharper
        views, found = _read(axes, settings)
    allowed = np.ones(len(axes[0].levels), dtype=bool)
    for yarn in _only_lines(views, found, settings):
        fewer = allowed & (np.arange(len(allowed)) != yarn)
        if fewer.sum() < 2:
            break
        trial = [None if view is None else view.decoded(fewer, settings) for view in views]
        if _total(trial) < _total(found) + settings.yarn_price:
            allowed, found = fewer, trial
    one, two = (
        axis
        if view is None or path is None
        else _without_slivers(view.as_bands(axis, path[0]), settings)
        for axis, view, path in zip(axes, views, found, strict=True)
    )
    return one, two


def _without_slivers(axis: Axis, settings: LineSettings) -> Axis:
    """The axis without bands much narrower than a thread: they are the blurred edges of others.

    With the levels of the yarns known, a line of one thread is as wide as a thread.
    """
    assert axis.lattice is not None
    widths = np.diff(axis.lattice.threads(axis.bands.edges))
    edges, yarns = axis.bands.edges.tolist(), axis.yarns.tolist()
    for k in reversed(range(1, len(yarns) - 1)):
        if widths[k] >= settings.least_line:
            continue
        edges[k : k + 2] = [(edges[k] + edges[k + 1]) / 2]
        del yarns[k]
        if yarns[k - 1] == yarns[k]:
            del edges[k], yarns[k]
    if len(yarns) == len(axis.yarns):
        return axis
    of = np.array(yarns, dtype=np.intp)
    bands = fit_edges(axis.profile, np.array(edges), axis.bands.cell, levels=axis.levels[of])
    return replace(axis, bands=bands, yarns=of)


_Path = tuple[Ints, float]


def _read(
    axes: tuple[Axis, Axis], settings: LineSettings
) -> tuple[list[_View | None], list[_Path | None]]:
    """The threads of both axes and the likeliest yarns of each, all yarns allowed."""
    allowed = np.ones(len(axes[0].levels), dtype=bool)
    views: list[_View | None] = []
    found: list[_Path | None] = [None, None]
    for _ in range(settings.rounds):
        # The lines that were found tell how much of a thread's light its neighbours lend.
        known = [None if path is None else path[0] for path in found]
        views = [_View.of(axis, of, settings) for axis, of in zip(axes, known, strict=True)]
        found = [None if view is None else view.decoded(allowed, settings) for view in views]
    return views, found


def _new_level(
    axes: tuple[Axis, Axis],
    views: list[_View | None],
    found: list[_Path | None],
    settings: LineSettings,
) -> Floats | None:
    """(3,) level along the first axis of a yarn that single threads show and no band has.

    Threads that are like no yarn must be like each other: several of them, on either axis.
    """
    used = np.unique(np.concatenate([[], *(path[0] for path in found if path is not None)]))
    one, two = (
        _Odd.none()
        if view is None or path is None
        else view.odd(path[0], used.astype(np.intp), settings)
        for view, path in zip(views, found, strict=True)
    )
    slope = _between_axes(axes)
    if abs(slope) < settings.least_slope:  # one axis hardly shows: nothing passes between them
        return None
    odd, more = (
        np.concatenate([here, axes[0].levels[0] + (there - axes[1].levels[0]) / slope])
        for here, there in ((one.own, two.own), (one.more, two.more))
    )
    cost = np.concatenate([one.cost, two.cost])
    edge = np.concatenate([one.edge, two.edge])
    if not len(odd):
        return None
    seen = steady(odd)
    unsure = np.linalg.norm(steady(more) - seen, axis=1)
    apart = np.linalg.norm(seen[:, None] - seen[None], axis=2)
    # Where there are several they tell best; two alone may differ by what their neighbours lend.
    # What only stands between two yarns, as light as their mean, is edges that fall in a thread.
    for slack, least in ((0.0, settings.several_alike), (1.0, settings.least_alike)):
        alike = apart < settings.alike + slack * (unsure[:, None] + unsure[None])
        best = int((alike @ cost).argmax())
        if alike[best].sum() >= least and not edge[alike[best]].all():
            return np.asarray(np.median(odd[alike[best]], axis=0))
    return None


def _spared(found: list[_Path | None], new: int, settings: LineSettings) -> float:
    """What a new yarn need not pay for its lines: those between the same two yarns are one find.

    A cloth repeats itself, so that the second line between a yellow and a black is no surprise.
    """
    between = []
    for path in found:
        if path is not None:
            runs = path[0][_starts(path[0])].tolist()
            between += [
                frozenset((before, after))
                for before, yarn, after in zip(runs, runs[1:], runs[2:], strict=False)
                if yarn == new
            ]
    return settings.split_price * (len(between) - len(set(between)))


def _starts(yarns: Ints) -> Ints:
    """Where each run of threads (n,) of one yarn begins."""
    return np.flatnonzero(np.r_[True, yarns[1:] != yarns[:-1]])


def _between_axes(axes: tuple[Axis, Axis]) -> float:
    """By how much two yarns differ along the second axis, over how much along the first."""
    one, two = (axis.levels - axis.levels.mean(axis=0) for axis in axes)
    return float((one * two).sum() / max(float((one**2).sum()), 1e-12))


def _with_level(axes: tuple[Axis, Axis], level: Floats) -> tuple[Axis, Axis]:
    """Both axes with one yarn more, given by its level along the first."""
    other = axes[1].levels[0] + _between_axes(axes) * (level - axes[0].levels[0])
    one, two = (
        replace(axis, levels=np.vstack([axis.levels, np.maximum(new, 1e-4)]))
        for axis, new in zip(axes, (level, other), strict=True)
    )
    return one, two


def _seen_again(
    axes: tuple[Axis, Axis], views: list[_View | None], found: list[_Path | None]
) -> tuple[Axis, Axis]:
    """Both axes with the last yarn's level as the threads show it that were found to be of it."""
    new = len(axes[0].levels) - 1
    one, two = (
        axis if view is None or path is None else view.with_level_of(axis, path[0], new)
        for axis, view, path in zip(axes, views, found, strict=True)
    )
    return one, two


def _with_lines_seen(
    axes: tuple[Axis, Axis],
    views: list[_View | None],
    found: list[_Path | None],
    settings: LineSettings,
) -> tuple[Axis, Axis]:
    """Both axes with the levels of yarns that only lines have as their single threads show them.

    Bands of one thread are blurred with what lies beside them. A yarn has one colour: what its
    threads are off by is shared by both axes.
    """
    slope = _between_axes(axes)
    if abs(slope) < settings.least_slope:
        return axes
    levels, told = [axis.levels.copy() for axis in axes], False
    for yarn in _only_lines(views, found, settings):
        off = [np.zeros((0, 3))]
        for view, path, axis, scale in zip(views, found, axes, (1.0, slope), strict=True):
            if view is not None and path is not None:
                off.append((view.own_within(path[0], yarn) - axis.levels[yarn]) / scale)
        if not len(seen := np.concatenate(off)):
            continue
        told = True
        for level, scale in zip(levels, (1.0, slope), strict=True):
            level[yarn] = np.maximum(level[yarn] + scale * np.median(seen, axis=0), 1e-4)
    if not told:
        return axes
    one, two = (replace(axis, levels=level) for axis, level in zip(axes, levels, strict=True))
    return one, two


def _total(found: list[_Path | None]) -> float:
    return sum(path[1] for path in found if path is not None)


def _only_lines(
    views: list[_View | None], found: list[_Path | None], settings: LineSettings
) -> list[int]:
    """Yarns whose widest run is a line, the rarest first; none if an axis has no threads.

    A thread that is partly hidden counts for the part that shows.
    """
    widest: dict[int, float] = {}
    total: dict[int, float] = {}
    for view, path in zip(views, found, strict=True):
        if view is None or path is None:
            return []
        starts = _starts(path[0])
        runs = np.add.reduceat(view.threads.say, starts)
        for yarn, shown in zip(path[0][starts].tolist(), runs.tolist(), strict=True):
            widest[yarn] = max(widest.get(yarn, 0.0), shown)
            total[yarn] = total.get(yarn, 0.0) + shown
    lines = [yarn for yarn, shown in widest.items() if shown < settings.most_threads + 0.5]
    return sorted(lines, key=lambda yarn: total[yarn])


@dataclass(frozen=True, slots=True)
class _Odd:
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
    def none(cls) -> _Odd:
        """Of an axis whose threads cannot be told."""
        return cls(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0), np.zeros(0, dtype=bool))


@dataclass(frozen=True, slots=True, kw_only=True)
class _View:
    """The threads of an axis with what is needed to compare them with every yarn.

    `before` (n,) is the yarn of each as the bands have it, `cost` (n, m, m, m) minus the log
    chance of what is seen, by the thread's yarn between its neighbours'; `levels` (m, 3) are the
    yarns' own here, `spill` the shares of brightness and hue that come from each neighbour.
    """

    threads: Threads
    before: Ints
    cost: Floats
    levels: Floats
    spill: tuple[float, float]

    @classmethod
    def of(cls, axis: Axis, known: Ints | None, settings: LineSettings) -> _View | None:
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
        spill = spill_of(threads, of, levels, settings)
        cost = costs_of(threads, of, levels, spill, settings)
        unlike = settings.as_before * (np.arange(len(levels)) != before[:, None])
        cost = cost + unlike[:, None, :, None]
        return cls(threads=threads, before=before, cost=cost, levels=levels, spill=spill)

    def odd(self, yarns: Ints, used: Ints, settings: LineSettings) -> _Odd:
        """The single threads that are like none of the yarns (k,) that are used."""
        n = np.arange(1, len(yarns) - 1)
        before, here, after = yarns[:-2], yarns[1:-1], yarns[2:]
        cost = self.cost[n, before, here, after]
        cost = cost - np.median(cost)
        single = (cost > settings.odd_cost) & (self.threads.say[1:-1] > 0.8)
        beside = self.levels[before] + self.levels[after]
        own = _unmixed(self.threads.light[1:-1], beside, self.spill)
        wider = (self.spill[0] + settings.spill_spread, self.spill[1] + settings.spill_spread)
        more = _unmixed(self.threads.light[1:-1], beside, wider)
        for side in (before, after):
            for yarn in self.levels[used]:
                single &= ~_hardly_mixed(own, yarn[None], self.levels[side], settings)
        edge = (before != after) & (_off_way(own, *self.levels[[before, after]]) < settings.alike)
        return _Odd(own=own[single], more=more[single], cost=cost[single], edge=edge[single])

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
        starts = _starts(yarns)
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
        beside = self.levels[yarns[n - 1]] + self.levels[yarns[n + 1]]
        return _unmixed(self.threads.light[n], beside, self.spill)

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
        starts = _starts(yarns)
        edges = np.append(self.threads.at[starts], self.threads.at[-1])
        of = yarns[starts].astype(np.intp)
        bands = fit_edges(axis.profile, edges, axis.bands.cell, levels=axis.levels[of])
        return replace(axis, bands=bands, yarns=of)


def _unmixed(light: Floats, beside: Floats, spill: tuple[float, float]) -> Floats:
    """(n, 3) levels of threads (n, 3) without the shares that two neighbours' sum (n, 3) lends."""
    own: Any = 0.0
    for seen, lent, share in zip(bright_and_hue(light), bright_and_hue(beside), spill, strict=True):
        own = own + (seen - share * lent) / (1 - 2 * share)
    return np.asarray(np.maximum(own, 1e-4))


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
