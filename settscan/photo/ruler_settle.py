"""Which unit an order of ticks is in, as far as that is sure: numerals and sizes tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from settscan.photo.ruler_fold import PHASES, Fold
from settscan.photo.ruler_numerals import ink_beyond
from settscan.photo.ruler_scheme import HALF_CM, SCHEMES, Array, Ladder, Mask, Whole
from settscan.settings import RULER


def settled_order(steps: Ladder, folded: Fold, ink: Array) -> Ladder | None:
    """The order with its unit settled, or None where that is in doubt or no ruler is like it.

    Args:
        steps: the order.
        folded: the ticks that follow it.
        ink: (N,) numerals beyond each, from `numerals_beyond`.
    """
    if steps.scheme.unit == "inch":
        tick_mm = _inch_ticks(steps, ink)
        if tick_mm is None:
            return None
        # Every inch scale has eighths. Between quarters so far apart they would be seen.
        if tick_mm > 25.4 / 8 + 0.1 and 1 / folded.pixel > RULER.most_quarter_px:
            return None
        steps = replace(steps, scheme=replace(steps.scheme, tick_mm=tick_mm))
    tall = folded.core[1] - folded.core[0]
    if not fits_a_ruler(steps, tall, steps.scheme.tick_mm):
        return None
    if steps.scheme.tick_mm == HALF_CM and not _is_half_centimetres(steps, folded):
        return None
    if (
        len(steps.classes) == 2
        and steps.scheme.tick_mm != HALF_CM
        and not _tens_are_numbered(steps, ink)
    ):
        return None
    return steps


def _tens_are_numbered(steps: Ladder, ink: Array) -> bool:
    """Whether numerals stand at every second of the longest ticks of an order of two lengths.

    A weave that repeats over five threads has every fifth longer too, as fives without tens.
    """
    top = steps.whole % steps.scheme.period == 0
    odd = (steps.whole // steps.scheme.period) % 2 == 1
    groups = (ink[top & odd], ink[top & ~odd])
    if not all(len(g) for g in groups):
        return False
    low, high = sorted(float(np.median(g)) for g in groups)
    return high > max(RULER.numeral_ink * low, RULER.least_ink)


def fits_a_ruler(steps: Ladder, tall: float, tick_mm: float) -> bool:
    """Whether ticks that are `tick_mm` apart are as long as on rulers.

    Args:
        steps: their order.
        tall: length of the shortest, in spacings.
        tick_mm: spacing.
    """
    low, high = RULER.longest_tick_mm
    # the longest may have run into a numeral, so the next class must keep the upper limit
    longest, next_longest = (tall + steps.classes[k] for k in (-1, -2))
    if longest * tick_mm < low or next_longest * tick_mm > high:
        return False
    return bool(tall * tick_mm >= RULER.shortest_tick_mm)


def _inch_ticks(steps: Ladder, ink: Array) -> float | None:
    """How far apart in mm the ticks of an inch scale are, or None where that is in doubt.

    The longest ticks are whole inches, or wholes and halves that look alike. Numerals tell: they
    stand beyond each whole inch and beyond no half. Where none is seen, the longest must at least
    be alike, and of more than eighths, whose order has few steps.
    """
    period = steps.scheme.period
    whole = steps.whole
    top = whole % period == 0
    odd = (whole // period) % 2 == 1
    groups = [top & odd, top & ~odd]
    if not all(group.any() for group in groups):
        return steps.scheme.tick_mm if period == SCHEMES[-1].period else None
    seen = [ink[group] for group in groups]
    bare = float(np.median(ink[whole % period == period // 2]))
    plain = max(float(np.median(s)) for s in seen)
    least = max(RULER.numeral_ink * bare, 0.3 * plain, RULER.least_ink)
    # A slender 1 may hide on its own tick.
    numbered = [float((s > least).mean()) > RULER.most_inked for s in seen]
    inked = [float(np.median(s)) > least for s in seen]
    one, other = (steps.lengths[group] for group in groups)
    if all(numbered):
        # ticks of the other edge may look like numerals beside halves, but these are shorter
        return 25.4 / period if _shortest_alike(one, other, steps) else None
    if any(inked):
        some, none = groups if numbered[0] else groups[::-1]
        sure = any(numbered) and least > ink[none].max() and none.sum() > 1
        sure = sure and steps.agree > RULER.sure_agree
        return 25.4 / (2 * period) if sure and _all_inches(some, ink, steps) else None
    # Inches of which every second runs into its numeral look like wholes and halves.
    several = min(len(one), len(other)) > 1
    return 25.4 / period if period > 8 and several and alike(one, other, steps) else None


def numerals_beyond(steps: Ladder, folded: Fold) -> Array:
    """(N,) ink beyond each tick where numerals of the order's longest would stand."""
    return ink_beyond(steps, folded, _longest(steps))


def _longest(steps: Ladder) -> float:
    """How long the longest ticks are, or the longer of them where every second is longer."""
    whole = steps.whole
    top, turn = whole % steps.scheme.period == 0, (whole // steps.scheme.period) % 2
    groups = (steps.lengths[top & (turn == k)] for k in (0, 1))
    return max((float(np.median(g)) for g in groups if len(g)), default=steps.classes[-1])


def halves_are_numbered(steps: Ladder, ink: Array) -> bool:
    """Whether numerals stand at the half inches of an order: then these are whole ones.

    An inch whose tick runs into its numeral seems longer than one where a gap shows.
    """
    if steps.scheme.unit != "inch":
        return False
    whole, half = steps.whole, steps.scheme.period // 2
    bare = float(np.median(ink[whole % half == half // 2]))
    least = max(RULER.numeral_ink * bare, RULER.least_ink)
    halves = ink[(whole % half == 0) & (whole // half % 2 == 1)]
    return bool((halves > least).mean() > RULER.most_inked)


def _all_inches(some: Mask, ink: Array, steps: Ladder) -> bool:
    """Whether ticks that show ink beyond them all show as much: numerals, not longer ticks."""
    turns = np.flatnonzero(some)
    whole = steps.whole[turns] // steps.scheme.period
    second = (whole // 2) % 2 == 1
    if min(second.sum(), (~second).sum()) < 1:
        return False
    one, other = (float(np.median(ink[turns[half]])) for half in (second, ~second))
    if max(one, other) > RULER.ink_alike * min(one, other):
        return False
    # Those that run into a numeral have no length of their own. But of two kinds of ticks the
    # shortest of the one is longer than that of the other, by a step as from class to class,
    # and each of the one is longer than its neighbours, of which longer ones run into numerals.
    lengths = steps.lengths[turns]
    if _turns_are_longer(lengths, whole):
        return False
    step = steps.classes[-1] - steps.classes[-2]
    if abs(float(lengths[second].min() - lengths[~second].min())) > step / 2:
        return False
    held = np.minimum(lengths, 1.5 * steps.classes[-2] + 0.5)
    return alike(held[second], held[~second], steps)


def _turns_are_longer(lengths: Array, turns: Whole) -> bool:
    """Whether of ticks in a row each is longer than the ones beside it, or shorter, by turns.

    Of many, one in eight may not be: a blot or a numeral ends one too soon or too late.

    Args:
        lengths: (N,) in spacings.
        turns: (N,) rising; neighbours differ by two.
    """
    beside = np.diff(turns) == 2
    rises = (np.diff(lengths) * np.where(turns[:-1] // 2 % 2 == 1, 1.0, -1.0))[beside]
    if len(rises) < _FEWEST_RISES:
        return False
    one_way = max((rises > RULER.least_longer).sum(), (rises < -RULER.least_longer).sum())
    return bool(one_way >= len(rises) - len(rises) // _ODD_ONES)


_ODD_ONES = 8
_FEWEST_RISES = 3  # of two kinds of ticks; by chance all of them go one way in one of four


def alike(one: Array, other: Array, steps: Ladder) -> bool:
    """Whether two samples of the longest ticks do not differ plainly."""
    apart = abs(float(np.median(one) - np.median(other)))
    return apart <= max(RULER.least_longer, 3 * _error(one, other, steps))


def _a_step_would_show(one: Array, other: Array, steps: Ladder) -> bool:
    """Whether two samples of ticks that seem alike cannot differ by the step of the order.

    Where lengths scatter widely, nothing differs plainly, and that says nothing.
    """
    apart = abs(float(np.median(one) - np.median(other)))
    return apart + 3 * _error(one, other, steps) < steps.classes[-1] - steps.classes[-2]


def _error(one: Array, other: Array, steps: Ladder) -> float:
    """Error of the difference of two samples of ticks, as their lengths scatter."""
    short = steps.whole % steps.scheme.factors[0] != 0
    usual = float(np.hypot(scatter(steps.lengths[short]), RULER.length_noise))
    if min(len(one), len(other)) >= RULER.few_ticks:
        usual = max(usual, scatter(one), scatter(other))
    return usual * float(np.sqrt(1 / len(one) + 1 / len(other)))


def _shortest_alike(one: Array, other: Array, steps: Ladder) -> bool:
    """Whether the shortest of two samples of the longest ticks do not differ plainly.

    A tick that runs into its numeral seems longer, never shorter.
    """
    return alike(one, other, steps) or alike(
        one.min(keepdims=True), other.min(keepdims=True), steps
    )


def _is_half_centimetres(steps: Ladder, folded: Fold) -> bool:
    """Whether ticks of two lengths that alternate are those of 5 and 10 mm.

    Nothing else on a ruler looks like it when the millimetres between them are too small to be
    seen: halves and wholes of an inch have quarters between them, which would then be seen.
    Numerals stand at each whole centimetre and at no half; without them every tick must show
    its length.
    """
    spacing = 1 / folded.pixel
    if not RULER.half_cm_px[0] < spacing < RULER.half_cm_px[1]:
        return False
    g = folded.grey[folded.in_core].mean(axis=0).reshape(-1, PHASES).astype(np.float64)
    mean = np.median(g - g.mean(axis=1, keepdims=True), axis=0)
    half = PHASES // 2
    between = (mean[half // 2] + mean[half + half // 2]) / 2
    if abs(mean[0] - between) > RULER.most_between * abs(mean[half] - between):
        return False
    whole = steps.whole
    for first in (0, 1):  # of an inch every second of either kind would be longer again
        one, other = (steps.lengths[whole % 4 == k] for k in (first, first + 2))
        if not alike(one, other, steps) or not _a_step_would_show(one, other, steps):
            return False
    if steps.agree > RULER.sure_agree and steps.share > RULER.sure_share:
        return True
    ink = ink_beyond(steps, folded, steps.classes[1])
    bare = RULER.numeral_ink * float(np.median(ink[whole % 2 != 0]))
    return float(np.median(ink[whole % 2 == 0])) > max(bare, RULER.least_ink)


def scatter(lengths: Array) -> float:
    """Standard deviation of most of the lengths."""
    return 1.4826 * float(np.median(np.abs(lengths - np.median(lengths))))
