"""Finds rulers in a photo: where, how many pixels per mm, and how the perspective runs.

Five steps: long straight edges (`ruler_lines`), equal ticks along them in any perspective
(`ruler_comb`), finer ticks that divide coarse ones (`ruler_finer`), the order of tick lengths that
no cloth has (`ruler_ladder`), and here the fit to every tick and the comparison of all scales that
were read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import Photo, RulerFound
from settscan.photo.ruler_agree import agreed, of_one_photo, on_same_edge
from settscan.photo.ruler_bodies import Body, holds
from settscan.photo.ruler_comb import Choice, choices, sharpened
from settscan.photo.ruler_core import Core, core
from settscan.photo.ruler_finer import finer_combs, laid_along
from settscan.photo.ruler_fold import Fold, fold, tick_places
from settscan.photo.ruler_glyphs import numbered_order, numerals_lack, numerals_object
from settscan.photo.ruler_ladder import all_plain_orders, ladder
from settscan.photo.ruler_lean import feet_of
from settscan.photo.ruler_lines import Grey, Line, long_lines, pyramid, rough_lines
from settscan.photo.ruler_numbered import numbered_ruler
from settscan.photo.ruler_numbering import settled_scale
from settscan.photo.ruler_print import narrow_lines
from settscan.photo.ruler_scale import Scale, described
from settscan.photo.ruler_scheme import Ladder
from settscan.photo.ruler_single import single_scales
from settscan.photo.ruler_small import likely_bodies, small_rulers
from settscan.photo.ruler_spectrum import sides_of
from settscan.photo.ruler_strip import Comb, strip_along, strips
from settscan.photo.source import grey_of
from settscan.settings import RULER

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RulersSeen:
    """What was seen of rulers.

    Attributes:
        rulers: those whose scale is sure, the one with most evidence first.
        bodies: (4, 2) outlines in photo px of those whose marks show and whose scale is in doubt.
    """

    rulers: tuple[RulerFound, ...]
    bodies: tuple[Array, ...]


def find_rulers(photo: Photo) -> tuple[RulerFound, ...]:
    """The rulers in the photo, the one with most evidence first; empty when none is sure."""
    return see_rulers(photo).rulers


def see_rulers(photo: Photo) -> RulersSeen:
    """The rulers in the photo, and the bodies of rulers that cannot be read.

    Two scales of one ruler (mm on one edge, inches on the other) check each other: the better
    one is returned, or none of them when they contradict each other. Where no single ticks are
    plain, all marks of a body are read together, and where these are not, its numbers.
    """
    levels = pyramid(grey_of(photo))
    lines = long_lines(levels)
    first = _first_level(levels)
    likely = cache(lambda: likely_bodies(levels, lines, first))
    scales: list[Scale] = []
    for more in _all_scales(levels, lines, likely):
        scales += more
        sure = agreed(scales)
        if sure:
            return RulersSeen(tuple(scale.found for scale in sure), ())
    sides = sides_of(levels[first], likely())
    small = small_rulers(levels, sides, first)
    found = [ruler.found for ruler in small if ruler.found is not None]
    bodies = [ruler.outline_px for ruler in small if ruler.found is None]
    numbered = numbered_ruler(levels, sides, first)
    if numbered is not None:
        # numbers that count up are no chance; marks that say the same are measured closer
        found = [ruler for ruler in found if of_one_photo(ruler, numbered)] or [numbered]
        bodies = [body for body in bodies if not holds(found[0].outline_px, body.mean(axis=0))]
    return RulersSeen(tuple(found), tuple(bodies))


def _all_scales(
    levels: tuple[Grey, ...], lines: tuple[Line, ...], likely: Callable[[], list[Body]]
) -> Iterator[list[Scale]]:
    """The scales that each way of looking finds, the quickest way first."""
    candidates = _candidates(levels, lines)
    yield _scales(levels, candidates)
    yield _scales_aslant(levels, candidates)
    yield single_scales(levels, lines, _first_level(levels))
    yield _scales(levels, _candidates(levels, _other_lines(levels, lines)))
    yield _scales(levels, _candidates(levels, _smooth_edges(levels, lines)))
    edges = _edges_of(likely()[: RULER.most_bodies_again], levels)
    yield _all_ways(levels, edges)
    printed = narrow_lines(levels)
    yield _all_ways(printed, edges)
    yield _all_ways(printed, lines)


def _all_ways(levels: tuple[Grey, ...], lines: tuple[Line, ...]) -> list[Scale]:
    """The scales along these edges, upright and aslant."""
    candidates = _candidates(levels, lines)
    return _scales(levels, candidates) + _scales_aslant(levels, candidates)


def _edges_of(some: list[Body], levels: tuple[Grey, ...]) -> tuple[Line, ...]:
    """Both long edges of what is likely a ruler, be it of clear plastic on a bold cloth.

    There are few, so that combs of threads, which are many, do not stand before theirs.
    """
    zoom = 2.0 ** _first_level(levels)
    found = []
    for body in some:
        corners = (body.corners + 0.5) * zoom - 0.5
        for ends in (corners[:2], corners[:1:-1]):
            found.append(Line(ends, float(np.linalg.norm(ends[1] - ends[0]))))
    return tuple(found)


def _other_lines(levels: tuple[Grey, ...], lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """Edges with less support than these: threads of a bold twill make many that have more."""
    known = {line.ends.tobytes() for line in lines}
    more = long_lines(levels, RULER.most_lines_again)
    return tuple(line for line in more if line.ends.tobytes() not in known)


def _smooth_edges(levels: tuple[Grey, ...], lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """Edges at which fine detail ends, but those that lie in the strip of one of these lines."""
    beside = RULER.strip_half / 2
    return tuple(
        edge
        for edge in rough_lines(levels)
        if not any(line.holds(edge.ends, beside).all() for line in lines)
    )


def _scales(levels: tuple[Grey, ...], candidates: list[tuple[Comb, Core]]) -> list[Scale]:
    """Every row of ticks whose order is plain, each once."""
    scales: list[Scale] = []
    looked = 0
    for comb, where in candidates:
        if looked >= RULER.most_combs or any(
            on_same_edge(s, comb) for s in scales if not s.doubted
        ):
            continue
        looked += 1
        comb, where = _straightened(levels, comb, where)
        scale = _read_upright(levels, comb, where)
        if scale is None:
            finer = (_read_upright(levels, *pair) for pair in finer_combs(levels, comb))
            scale = next((s for s in finer if s is not None), None)
        if scale is not None:
            scales.append(scale)
    return scales


def _read_upright(levels: tuple[Grey, ...], comb: Comb, where: Core) -> Scale | None:
    """The scale of a comb, once more along the line of its feet where the comb runs aslant."""
    scale = _read(levels, comb, where)
    if scale is None:
        return None
    feet = feet_of(fold(levels, comb, replace(where, tilt=0.0)), where.contrast / 2)
    if abs(feet.rise) * (comb.span[1] - comb.span[0]) < RULER.most_tilt:
        return scale
    return _read_aslant(levels, comb, where) or scale


def _read(levels: tuple[Grey, ...], comb: Comb, where: Core) -> Scale | None:
    """The scale whose ticks a comb is, if their order is plain."""
    folded = fold(levels, comb, where)
    orders = all_plain_orders(folded)
    steps = numbered_order(levels, comb, where, folded, orders)
    if steps is not None:
        return _fitted(levels, comb, where, folded, steps)
    steps = ladder(folded, orders)
    if steps is None or numerals_lack(levels, comb, where, folded, steps):
        return None
    scale = _fitted(levels, comb, where, folded, steps)
    if scale is None:
        return None
    return replace(scale, doubted=numerals_object(levels, comb, where, folded, steps))


def _scales_aslant(levels: tuple[Grey, ...], candidates: list[tuple[Comb, Core]]) -> list[Scale]:
    """The first rows of ticks whose order is plain once they are laid upright."""
    scales: list[Scale] = []
    for comb, where in candidates[: RULER.most_aslant]:
        for pair in ((comb, where), *finer_combs(levels, comb)):
            scale = _read_aslant(levels, *pair)
            if scale is not None:
                scales.append(scale)
                if not scale.doubted:
                    return scales
    return scales


def _read_aslant(levels: tuple[Grey, ...], comb: Comb, where: Core) -> Scale | None:
    """The scale of a comb that runs aslant to the line on which its ticks begin."""
    for _ in range(RULER.most_leans):
        again = _along_feet(levels, comb, where)
        for pair in again:
            scale = _read(levels, *pair)
            if scale is not None:
                return scale
        if not again:
            return None
        comb, where = again[0]
    return None


def _along_feet(levels: tuple[Grey, ...], comb: Comb, where: Core) -> list[tuple[Comb, Core]]:
    """The comb in a strip along the line on which its ticks begin: as it is, and sought anew."""
    feet = feet_of(fold(levels, comb, replace(where, tilt=0.0)), where.contrast / 2)
    # All ticks show in the first rows from their feet on.
    row = comb.v + (feet.row + feet.side * RULER.feet_width / 2) * comb.pitch
    found = [laid_along(levels, comb, _line_at(comb, row, feet.rise).ends)]
    alike = (
        pair
        for pair in _cut_anew(levels, comb, row, feet.rise)
        if abs(pair[0].pitch / comb.pitch - 1) < RULER.same_pitch
    )
    found.append(max(alike, key=_strength, default=None))
    # What lies beside the ticks had turned the core.
    return [(pair[0], replace(pair[1], tilt=0.0)) for pair in found if pair is not None]


def _candidates(levels: tuple[Grey, ...], lines: tuple[Line, ...]) -> list[tuple[Comb, Core]]:
    """Combs whose ticks have an end, those with most ticks plainly seen first."""
    likely: list[tuple[float, Choice]] = []
    for level in range(_first_level(levels), len(levels)):
        for choice in choices(strips(levels, lines, level)):
            likely.append((choice.rank * _weight(level), choice))
    likely.sort(key=lambda item: -item[0])
    found: list[tuple[float, Comb, Core]] = []
    for _, choice in likely[: RULER.most_choices]:
        comb = sharpened(choice)
        if comb is None or comb.ticks < RULER.least_ticks:
            continue
        where = core(comb)
        if where is not None and where.outside < RULER.most_outside:
            regular = 1 + (comb.residual / RULER.tick_noise) ** 2
            rank = comb.strength * _weight(comb.strip.level) * (1 - where.outside) / regular
            found.append((rank, comb, where))
    found.sort(key=lambda item: -item[0])
    return [(comb, where) for _, comb, where in found]


def _first_level(levels: tuple[Grey, ...]) -> int:
    """The level that is fine enough to look for ticks; finer ones serve to measure them."""
    fitting = (k for k, p in enumerate(levels) if max(p.shape) <= RULER.search_side)
    return next(fitting, len(levels) - 1)


def _weight(level: int) -> float:
    """Say of a piece: at coarser levels a picture holds fewer."""
    return float(2.0 ** (level / 2))


def _straightened(levels: tuple[Grey, ...], comb: Comb, where: Core) -> tuple[Comb, Core]:
    """The comb in a strip of its own, where it was seen aslant in the strip of some edge."""
    low, high = comb.span
    if abs(where.tilt) * (high - low) < RULER.most_tilt:
        return comb, where
    again = max(
        _cut_anew(levels, comb, where.middle, where.tilt), key=_strength, default=(comb, where)
    )
    return again if _strength(again) > comb.strength else (comb, where)


def _strength(found: tuple[Comb, Core]) -> float:
    return found[0].strength


def _cut_anew(
    levels: tuple[Grey, ...], comb: Comb, middle: float, tilt: float
) -> Iterator[tuple[Comb, Core]]:
    """The combs in a strip that rises by `tilt` rows a sample, about row `middle` of the comb's."""
    level = comb.strip.level
    own = strip_along(levels[level], _line_at(comb, middle, tilt), level)
    for choice in choices([own]) if own.rows.shape[1] >= 2 * own.window else []:
        again = sharpened(choice)
        where = None if again is None else core(again)
        if again is not None and where is not None:
            yield again, where


def _line_at(comb: Comb, middle: float, tilt: float) -> Line:
    """The line along a comb's span that crosses row `middle` and rises by `tilt` rows a sample."""
    low, high = comb.span
    rise = tilt * (high - low) / 2
    ends = [comb.strip.photo(low, middle - rise), comb.strip.photo(high, middle + rise)]
    return Line(np.stack(ends), float(np.linalg.norm(ends[1] - ends[0])))


def _fitted(
    levels: tuple[Grey, ...], comb: Comb, where: Core, folded: Fold, steps: Ladder
) -> Scale | None:
    """The scale by all ticks, each placed to a fraction of a pixel."""
    numbers, u = tick_places(levels, comb, where, folded, steps.light)
    height, width = levels[0].shape
    at = comb.strip.photo(u, np.full(len(u), comb.v))
    inside = ((at > -0.5) & (at < np.array([width, height]) - 0.5)).all(axis=1)
    numbers, u = numbers[inside], u[inside]
    if len(numbers) < RULER.least_ticks:
        return None
    ones, lens = np.ones(len(u)), comb.strip.lens
    settled = settled_scale(u, numbers, ones, lens, RULER.least_ticks, RULER.largest_residual)
    if settled is None:
        return None
    feet = where.low if steps.side > 0 else where.high
    lean = (folded.slant[0] * (feet - comb.v), folded.slant[1] * (feet - comb.v))
    found = described(levels, comb, feet, lean, steps, settled)
    sure = RULER.numbered_weight if steps.numbered else 1.0
    return Scale(found, sure * steps.agree * min(len(settled.numbers), RULER.most_ticks))
