"""Where the weave ends: the cloth's own edge where a fringe carries its stripes on.

Beyond the last pick the ends of the warp hang out side by side, in their own colours, so that the
stripes that they make go on. The weave's wave does not. Summed up along a whole pick, at the phase
of each of its ends, it stands out of the noise in every single one.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FlatCloth
from settscan.reading.look import Look
from settscan.reading.own_edge import Edges, OwnEdge, each_side, placed, step
from settscan.reading.profiles import Additive
from settscan.reading.threads import Lattice
from settscan.settings import WOVEN_END, WovenEndSettings

Floats = NDArray[Any]
Ints = NDArray[np.intp]
Mask = NDArray[np.bool_]
_Of = TypeVar("_Of")


class _Side(NamedTuple):
    """One end of the cloth, its lines counted from beyond it inwards.

    Attributes:
        pixels: (K, N, 3) light of the lines, lines beyond the picture first.
        mask: (K, N) where they show.
        across: (N, 3) what the threads that run up to the end give.
        yarns: (N, 3) their colours.
        colours: (Y, 3) of the yarns that run along the end.
        crossing: (K,) which of them each line was taken to be of, beyond what was read too.
        turns: (N,) cycles of the weave's wave along a line.
        goes: (K,) cycles from line to line.
        length: lines of the whole picture.
        after: whether the first of these lines is its last.
    """

    pixels: Floats
    mask: Mask
    across: Floats
    yarns: Floats
    colours: Floats
    crossing: Ints
    turns: Floats
    goes: Floats
    length: int
    after: bool

    @property
    def cycle(self) -> int:
        """Lines in a cycle of the weave."""
        rate = abs(float(self.goes[-1] - self.goes[0])) / (len(self.goes) - 1)
        return max(1, round(1 / rate))


def woven_ends(
    flat: FlatCloth,
    split: Additive,
    look: Look,
    known: Edges,
    settings: WovenEndSettings = WOVEN_END,
) -> Edges:
    """The cloth's own edges (left, top, right, bottom), by its weave where that ends before it.

    Args:
        flat: the straightened cloth.
        split: the part of it that was read.
        look: at that.
        known: where the stripes end, as far as that is known.
        settings: see `WovenEndSettings`.
    """
    if look.column_lattice is None or look.row_lattice is None or all(flat.reaches_edge):
        return known
    lattices = look.column_lattice, look.row_lattice

    def edge_of(way: int) -> OwnEdge | None:
        before = known[way]
        end = _end(_side(way, flat, split, look, lattices, settings), settings)
        if end is None or before is None:
            return end or before
        farther = (end.at - before.at) * (-1 if way > 1 else 1) - end.wide
        cell = (look.columns.cell, look.rows.cell)[way % 2]
        # Where the stripes do not go on beyond it they tell an edge better than the weave.
        return end if farther > settings.much_farther * cell else before

    return each_side(edge_of)


def _side(
    way: int,
    flat: FlatCloth,
    split: Additive,
    look: Look,
    lattices: tuple[Lattice, Lattice],
    settings: WovenEndSettings,
) -> _Side:
    """What is seen at one end of the cloth."""
    upright, after = way % 2 == 1, way > 1
    pixels = flat.pixels if upright else flat.pixels.swapaxes(0, 1)
    mask = split.mask if upright else split.mask.T
    aside, start = _ordered((split.x0, split.y0), upright)
    along, onwards = _ordered(lattices, upright)
    lines, places = mask.shape
    inner = int(settings.most_fringe * lines)
    own = range(start + lines - inner, len(pixels)) if after else range(start + inner)
    at = np.array(own[::-1] if after else own)
    # What was not read is asked where the outermost line shows that was.
    near = np.clip(at - start, 0, lines - 1)
    seen = pixels[at, aside : aside + places]
    bands = _ordered((look.columns, look.rows), upright)
    yarns = _ordered((look.palette.of_columns, look.palette.of_rows), upright)
    used, along_yarns = np.unique(yarns[1], return_inverse=True)
    return _Side(
        pixels=seen,
        mask=mask[near] & (seen > 0).any(axis=2),
        across=split.columns if upright else split.rows,
        yarns=look.palette.colours[yarns[0]][bands[0].of_pixels(places)],
        colours=look.palette.colours[used],
        crossing=along_yarns[bands[1].of_pixels(lines)][near],
        turns=along.course.between(np.arange(places, dtype=float)),
        goes=onwards.course.between((at - start).astype(float)),
        length=len(pixels),
        after=after,
    )


def _ordered(pair: tuple[_Of, _Of], upright: bool) -> tuple[_Of, _Of]:
    """What is of columns and of rows as what runs up to an end and what lies along it."""
    return pair if upright else (pair[1], pair[0])


def _end(side: _Side, settings: WovenEndSettings) -> OwnEdge | None:
    """The edge that the weave tells; None where it does not end, or does not show."""
    if len(side.pixels) < settings.least_lines:
        return None
    sharp = _weave_along(side)
    smooth = sharp.over(side.cycle, side.goes)
    # Beside what was read there may be stripes of other yarns.
    for yarns in (side.crossing, smooth.likeliest()):
        edge = step(*smooth.of(yarns), least=0.0)
        if edge is not None and not _goes_on(smooth, edge, side.cycle, settings):
            edge = _sharper(edge, sharp.over(1, side.goes), side.cycle, yarns)._replace(
                beyond_sd=settings.beyond_sd
            )
            return placed(edge, side.length, after=side.after)
    return None


def _sharper(edge: OwnEdge, sharp: _Shown, cycle: int, yarns: Ints) -> OwnEdge:
    """The edge line by line, and as if of the one yarn that is there: not blurred any more."""
    inside = min(math.ceil(edge.at) + cycle // 2, len(yarns) - 1)
    stop = inside + int(np.argmin(np.append(yarns[inside:] == yarns[inside], False)))
    for lines in (np.full(stop, yarns[inside]), yarns):
        closer = step(*sharp.of(lines), least=0.0)
        if closer is not None and abs(closer.at - edge.at) < max(edge.wide, cycle):
            return closer
    return edge


class _Shown(NamedTuple):
    """How strongly the weave shows in each line, were it of each yarn, and by what contrast.

    Both are (Y, K).
    """

    strength: Floats
    power: Floats

    def of(self, yarns: Ints) -> tuple[Floats, Floats]:
        """Strength over contrast, and contrast, both (K,), of lines of these yarns (K,)."""
        at = yarns, np.arange(len(yarns))
        return self.strength[at] / np.maximum(self.power[at], 1e-9), self.power[at]

    def likeliest(self) -> Ints:
        """(K,) the yarns with which the weave stands out most."""
        return np.asarray(np.argmax(self.strength / np.sqrt(self.power + 1e-9), axis=0))


class _Waves(NamedTuple):
    """The weave's wave in each line (Y, K), complex, were it of each yarn, and its contrast."""

    waves: NDArray[np.complex128]
    power: Floats

    def over(self, lines: int, goes: Floats) -> _Shown:
        """How strongly the wave shows over so many lines together, which it goes on by (K,) cycles.

        Over several the strands of a fringe show none at all: they run straight on from line to
        line, where the weave's wave turns.
        """
        kernel = np.ones(lines) / lines
        both = [
            [
                np.abs(np.convolve(w * np.exp(2j * np.pi * turn * goes), kernel, "same"))
                for w in self.waves
            ]
            for turn in (1, -1)
        ]
        power = [np.convolve(p, kernel, "same") for p in self.power]
        return _Shown(np.hypot(*np.array(both)), np.array(power))


def _weave_along(side: _Side) -> _Waves:
    """What is seen of the weave along each line."""
    shown = np.maximum(side.mask.sum(axis=1), 1)[:, None]
    left = (side.pixels - side.across) * side.mask[..., None]
    left -= (left.sum(axis=1) / shown)[:, None] * side.mask[..., None]
    phases = np.exp(-2j * np.pi * side.turns)
    waves, power = [], []
    for yarn in side.colours:
        way = side.yarns - yarn
        waves.append(left.reshape(len(left), -1) @ (way * phases[:, None]).ravel())
        power.append(side.mask @ (way**2).sum(axis=1))
    return _Waves(np.array(waves), np.array(power))


def _goes_on(smooth: _Shown, edge: OwnEdge, cycle: int, settings: WovenEndSettings) -> bool:
    """Whether the weave shows beyond an edge too: of another yarn than the lines were taken for."""
    shows, weight = smooth.of(smooth.likeliest())
    at, blur = round(edge.at), math.ceil(cycle / 2) + settings.blur
    beyond = shows[max(at - 2 * cycle - blur, 0) : max(at - blur, 1)]
    within = slice(at + blur, at + blur + 2 * cycle)
    usual = float(np.average(shows[within], weights=weight[within] + 1e-9))
    return float(beyond.max()) > settings.goes_on * usual
