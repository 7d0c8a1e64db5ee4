"""Which scales that were read in one photo belong to one ruler, and whether they agree."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import RulerFound
from settscan.photo.ruler_scale import Scale
from settscan.photo.ruler_strip import Comb
from settscan.settings import RULER

Array = NDArray[np.float64]


def on_same_edge(scale: Scale, comb: Comb) -> bool:
    """Whether the comb is about the ticks that a scale was already read from, and few more."""
    found = scale.found
    ends = comb.strip.photo(np.array(comb.span), np.full(2, comb.v))
    middle = ends.mean(axis=0)
    offset = middle - found.origin_px
    along = float(offset @ found.direction)
    aside = float(found.direction[0] * offset[1] - found.direction[1] * offset[0])
    depth = RULER.scale_depth_mm * found.a
    along_comb = comb.strip.along / np.linalg.norm(comb.strip.along)
    # Along the edge of a stripe that crosses a ruler its ticks are seen aslant.
    parallel = abs(float(found.direction @ along_comb)) > np.cos(RULER.most_aslant_turn)
    reach = found.a * found.length_mm / (1 + found.c * found.length_mm)
    return (
        parallel
        and float(np.linalg.norm(ends[1] - ends[0])) < RULER.much_longer * reach
        and -0.1 * reach < along < 1.1 * reach
        and -0.2 * depth < aside * found.side < depth
    )


def agreed(scales: list[Scale]) -> list[Scale]:
    """One scale for each ruler, best first, without those that others of the ruler contradict.

    One whose unit is in doubt is none of them, and contradicts others all the same. But where it
    is of one size with others whose numerals left no doubt, the more evidence has it: a row of
    ticks is read more than once, and in one strip or another ink of the cloth lies beside it.
    """
    left = sorted(scales, key=lambda s: (s.doubted, -s.evidence))
    rulers: list[Scale] = []
    while left:
        best = left.pop(0)
        same = [s for s in left if _on_same_ruler(best.found, s.found)]
        left = [s for s in left if not _on_same_ruler(best.found, s.found)]
        if best.doubted:
            continue
        alike = [s for s in same if _same_scale(best.found, s.found)]
        outvoted = best.evidence > max((s.evidence for s in alike if s.doubted), default=0.0)
        against = [s for s in same if not _same_scale(best.found, s.found)]
        against += [s for s in alike if s.doubted and not outvoted]
        if rulers and not of_one_photo(rulers[0].found, best.found):
            continue
        if all(s.evidence < RULER.overruled * best.evidence for s in against):
            rulers.append(best)
    return rulers


def of_one_photo(one: RulerFound, other: RulerFound) -> bool:
    """Whether two rulers on one cloth can have been photographed together."""
    sizes = [np.linalg.norm(np.diff(_span_px(r), axis=0)) / r.length_mm for r in (one, other)]
    return bool(abs(np.log(sizes[0] / sizes[1])) < np.log(RULER.most_apart))


def contradict(one: RulerFound, other: RulerFound) -> bool:
    """Whether two scales cannot both be right, on one ruler or on two."""
    if _on_same_ruler(one, other):
        return not _same_scale(one, other)
    return not of_one_photo(one, other)


def _span_px(found: RulerFound) -> Array:
    """(2, 2) the photo positions of the first and the last tick."""
    length = found.length_mm
    reach = found.a * length / (1 + found.c * length)
    return np.stack([found.origin_px, found.origin_px + reach * found.direction])


def _on_same_ruler(one: RulerFound, other: RulerFound) -> bool:
    """Whether two scales run side by side, no farther apart than a ruler is wide."""
    if abs(float(one.direction @ other.direction)) < np.cos(0.1):
        return False
    offset = _span_px(other) - one.origin_px
    along = np.sort(offset @ one.direction)
    aside = np.abs(one.direction[0] * offset[:, 1] - one.direction[1] * offset[:, 0])
    end = np.linalg.norm(np.diff(_span_px(one), axis=0))
    overlap = min(along[1], end) - max(along[0], 0.0)
    return bool(overlap > 0 and aside.max() < RULER.widest_mm * max(one.a, other.a))


def _same_scale(one: RulerFound, other: RulerFound) -> bool:
    """Whether two scales of a ruler agree where they overlap."""
    along = np.sort((_span_px(other) - one.origin_px) @ one.direction)
    end = float(np.linalg.norm(np.diff(_span_px(one), axis=0)))
    middle = (max(along[0], 0.0) + min(along[1], end)) / 2
    at = one.origin_px + middle * one.direction
    return bool(abs(np.log(_px_per_mm(one, at) / _px_per_mm(other, at))) < RULER.agree)


def _px_per_mm(found: RulerFound, at: Array) -> float:
    """Scale along a ruler beside a photo position: ds/dt = a / (1 + c t)^2."""
    s = float((at - found.origin_px) @ found.direction)
    end = float(np.linalg.norm(np.diff(_span_px(found), axis=0)))
    s = min(max(s, 0.0), end)
    t = s / (found.a - found.c * s)
    return float(found.a / (1 + found.c * t) ** 2)
