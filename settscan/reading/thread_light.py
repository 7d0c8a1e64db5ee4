"""What single threads show, and what each yarn would look like in their place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from settscan.reading.colours import steadied, to_lab
from settscan.reading.spill import Spill, spill_of
from settscan.reading.stripes import Bands, boxed
from settscan.reading.threads import Lattice
from settscan.settings import LineSettings

Floats = NDArray[Any]
Ints = NDArray[Any]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Threads:
    """The threads of an axis one by one, as its bands number them.

    Attributes:
        band: (n,) which band each is in; `at` (n + 1,) positions between them, pixels.
        light: (n, 3) linear light of the middle of each.
        say: (n,) how much of the cloth shows there, over what is usual; 0 where nothing does.
    """

    band: Ints
    at: Floats
    light: Floats
    say: Floats


def threads_of(
    profile: Floats, cover: Floats, bands: Bands, lattice: Lattice, settings: LineSettings
) -> Threads:
    """Every thread of each band, where the weave has it."""
    whole, offset = _whole(lattice.threads(bands.edges), settings)
    between = _between(bands.edges, whole, offset, len(profile), lattice)
    middles = (between[1:] + between[:-1]) / 2
    smooth = boxed(profile, settings.middle * lattice.mean_pitch)
    x = np.arange(len(profile), dtype=float)
    light = np.stack([np.interp(middles, x, channel) for channel in smooth.T], axis=1)
    shown = np.interp(middles, x, cover)
    say = np.minimum(shown / max(float(np.median(shown)), 1e-6), 1.0)
    # The picture's border cuts the first and the last thread anywhere.
    in_view = np.diff(between)[[0, -1]] / lattice.mean_pitch
    say[[0, -1]] *= np.where(in_view < settings.least_whole, 0.0, np.minimum(in_view, 1.0))
    return Threads(
        band=np.repeat(np.arange(len(bands.widths)), np.diff(whole)),
        at=between,
        light=light,
        say=say,
    )


def _whole(coordinates: Floats, settings: LineSettings) -> tuple[Ints, Floats]:
    """(n + 1,) the whole thread at which each edge lies, and the offset of the rest there.

    All colours change between two threads, at whole thread coordinates but for one offset that
    hardly changes along the axis. An edge pushed aside by an unseen line does not move it, nor
    what lies between the edges beside it: a mean over several is taken, round the circle.
    """
    turns = np.exp(2j * np.pi * coordinates)
    # Where the picture ends is no edge.
    turns[[0, -1]] = 0.0 if len(turns) > 2 else 1.0
    reach = settings.offset_edges
    around = np.array([turns[max(k - reach, 0) : k + reach + 1].sum() for k in range(len(turns))])
    offset = np.unwrap(np.angle(around)) / (2 * np.pi)
    whole = np.round(coordinates - offset).astype(int)
    whole = np.maximum.accumulate(whole)  # a band of less than half a thread has none
    return whole - whole[0], offset + whole[0]


def _between(edges: Floats, whole: Ints, offset: Floats, length: int, lattice: Lattice) -> Floats:
    """(n + 1,) positions between neighbouring threads, pixels, the ends of the axis included."""
    wanted = np.arange(whole[-1] + 1)
    x = np.arange(-0.5, length)
    at = np.interp(wanted + np.interp(wanted, whole, offset), lattice.threads(x), x)
    at[[0, -1]] = edges[[0, -1]]
    return np.asarray(np.maximum.accumulate(at))


def own_levels(threads: Threads, of: Ints, levels: Floats, settings: LineSettings) -> Floats:
    """(m, 3) level of each yarn as its threads show it here, where enough of them do.

    Threads beside another yarn are left out, for they are blurred with it.
    """
    same = np.ones(len(of), dtype=bool)
    same[1:] &= of[1:] == of[:-1]
    same[:-1] &= of[1:] == of[:-1]
    own = levels.copy()
    for yarn in range(len(levels)):
        inner = (of == yarn) & same & (threads.say > 0)
        if inner.sum() >= settings.enough_threads:
            own[yarn] = np.median(threads.light[inner], axis=0)
    return own


def spill_seen(threads: Threads, of: Ints, levels: Floats, settings: LineSettings) -> Spill:
    """What the threads (n,) of yarns with these levels (m, 3) are lent by their neighbours."""
    before, own, after = levels[of[:-2]], levels[of[1:-1]], levels[of[2:]]
    seen, say = threads.light[1:-1], threads.say[1:-1]
    return spill_of(before, own, after, seen, say, settings.most_spill)


def costs_of(
    threads: Threads, of: Ints, levels: Floats, spill: Spill, settings: LineSettings
) -> Floats:
    """(n, m, m, m) minus the log chance of each thread by its yarn and its neighbours'."""
    looks = _looks(levels, spill)
    # How much light the neighbours lend differs from thread to thread.
    unsure = np.abs(_looks(levels, spill.wider(settings.spill_spread, settings.hue_spread)) - looks)
    seen = steady(threads.light)
    padded = np.pad(of, 1, mode="edge")
    off = seen - looks[padded[:-2], padded[1:-1], padded[2:]]
    shown = threads.say > 0
    drift = _running_median(off, shown, settings.drift_threads)
    spread = 1.4826 * np.median(np.abs(off - drift)[shown], axis=0)
    spread = np.maximum(spread, settings.least_spread)
    square = np.zeros((len(seen), *looks.shape[:3]))
    for c in range(3):
        away = (seen - drift)[:, None, None, None, c] - looks[None, ..., c]
        square += away**2 / (spread[c] ** 2 + unsure[..., c] ** 2)
    # Heavy tails: one thread far off every yarn tells little.
    tails, say = settings.tails, threads.say[:, None, None, None]
    cost = (tails + 3) / 2 * np.log1p(square * say / tails)
    # With what is thought of as scatter: else fits in which it is wider would seem likelier.
    wide = np.log(spread**2 + unsure**2).sum(axis=-1) / 2
    cost += (wide - 3 * np.log(settings.least_spread))[None] * say
    return np.asarray(cost)


def _looks(levels: Floats, spill: Spill) -> Floats:
    """(m, m, m, 3) of a thread of the second yarn between threads of the first and the third."""
    return steady(spill.mixed(levels[:, None, None], levels[None, :, None], levels[None, None]))


def steady(light: Floats) -> Floats:
    """Steadied CIELAB of linear light, kept off black where its logarithm would run away."""
    return steadied(to_lab(np.clip(light, 1e-4, 1.0)))


def _running_median(off: Floats, shown: Mask, reach: int) -> Floats:
    """(n, 3) what the threads about each one are off by: light that is left, not yarn."""
    known = np.where(shown[:, None], off, np.nan)
    wide = np.pad(known, ((reach, reach), (0, 0)), constant_values=np.nan)
    rising = np.sort(sliding_window_view(wide, 2 * reach + 1, axis=0), axis=2)  # NaN at the end
    number = sliding_window_view(np.pad(shown, reach), 2 * reach + 1).sum(axis=1)
    middle = np.stack([np.maximum(number - 1, 0) // 2, number // 2], axis=1)[:, None]
    median = np.take_along_axis(rising, middle, axis=2).mean(axis=2)
    return np.where(number[:, None] > reach, median, 0.0)
