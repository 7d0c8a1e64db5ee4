"""Which yarns a cloth's single threads are of, once bands, yarns and threads are known.

Bands are cut where colour steps, before anything is known of yarns; a line of one thread that
hardly differs from its neighbours, or two narrow lines side by side, pass for a part of a wider
band then. With the yarns known, each thread is told alone (`single_threads`). Here both axes
settle together which yarns there are: one that single threads show and no band has is added, and
one that only lines have stays only if the threads are explained clearly worse without it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.single_threads import Axis, Odd, View, starts_of
from settscan.reading.stripes import fit_edges
from settscan.reading.thread_light import steady
from settscan.settings import LINES, LineSettings

Floats = NDArray[Any]
Ints = NDArray[Any]


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
) -> tuple[list[View | None], list[_Path | None]]:
    """The threads of both axes and the likeliest yarns of each, all yarns allowed."""
    allowed = np.ones(len(axes[0].levels), dtype=bool)
    views: list[View | None] = []
    found: list[_Path | None] = [None, None]
    for _ in range(settings.rounds):
        # The lines that were found tell how much of a thread's light its neighbours lend.
        known = [None if path is None else path[0] for path in found]
        views = [View.of(axis, of, settings) for axis, of in zip(axes, known, strict=True)]
        found = [None if view is None else view.decoded(allowed, settings) for view in views]
    return views, found


def _new_level(
    axes: tuple[Axis, Axis],
    views: list[View | None],
    found: list[_Path | None],
    settings: LineSettings,
) -> Floats | None:
    """(3,) level along the first axis of a yarn that single threads show and no band has.

    Threads that are like no yarn must be like each other: several of them, on either axis.
    """
    used = np.unique(np.concatenate([[], *(path[0] for path in found if path is not None)]))
    one, two = (
        Odd.none()
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
            runs = path[0][starts_of(path[0])].tolist()
            between += [
                frozenset((before, after))
                for before, yarn, after in zip(runs, runs[1:], runs[2:], strict=False)
                if yarn == new
            ]
    return settings.split_price * (len(between) - len(set(between)))


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
    axes: tuple[Axis, Axis], views: list[View | None], found: list[_Path | None]
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
    views: list[View | None],
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
    views: list[View | None], found: list[_Path | None], settings: LineSettings
) -> list[int]:
    """Yarns whose widest run is a line, the rarest first; none if an axis has no threads.

    A thread that is partly hidden counts for the part that shows.
    """
    widest: dict[int, float] = {}
    total: dict[int, float] = {}
    for view, path in zip(views, found, strict=True):
        if view is None or path is None:
            return []
        starts = starts_of(path[0])
        runs = np.add.reduceat(view.threads.say, starts)
        for yarn, shown in zip(path[0][starts].tolist(), runs.tolist(), strict=True):
            widest[yarn] = max(widest.get(yarn, 0.0), shown)
            total[yarn] = total.get(yarn, 0.0) + shown
    lines = [yarn for yarn, shown in widest.items() if shown < settings.most_threads + 0.5]
    return sorted(lines, key=lambda yarn: total[yarn])
