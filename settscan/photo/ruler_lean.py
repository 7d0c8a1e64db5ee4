"""How far the line on which a ruler's ticks begin runs aslant to the comb that was found."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_fold import Fold
from settscan.photo.ruler_ladder import lengths_of, shown_ticks
from settscan.photo.ruler_scheme import SCHEMES
from settscan.settings import RULER

Array = NDArray[Any]


def lean_of(folded: Fold) -> float | None:
    """The rise, in rows per sample along, that makes ticks of one kind equally long.

    Ticks at the same place of their order are alike. Where each is longer than the one before it
    by as much, the comb runs aslant to the ruler's edge, and the order hides behind the slope.
    None where all is upright or nothing tells.
    """
    found: list[tuple[float, float]] = []
    for light in (False, True):
        ticks = shown_ticks(folded, light)
        if ticks is None:
            continue
        for side in (1, -1):
            lengths = lengths_of(folded, ticks[1], side)
            slopes = [] if lengths is None else _slopes(ticks[0], lengths)
            if slopes:
                rests, rises = np.array(slopes).T
                found.append((float(np.median(rests)), side * float(np.median(rises))))
    return min(found)[1] if found else None


def _slopes(numbers: Array, lengths: Array) -> list[tuple[float, float]]:
    """What a slope leaves of the differences, in spacings, and the slope in spacings per tick.

    The median of the differences between ticks one period apart, for each period of an order
    (P. K. Sen, J. Am. Stat. Assoc. 63, 1968, 1379-1389, for all pairs; from memory).
    """
    span = float(np.ptp(numbers))
    place = {int(n): k for k, n in enumerate(numbers)}
    found = []
    for period in sorted({scheme.period for scheme in SCHEMES}):
        pairs = [(k, place[n + period]) for n, k in place.items() if n + period in place]
        if len(pairs) < RULER.least_alike:
            continue
        first, second = np.array(pairs).T
        # What does not stand out of the core has no length to compare.
        out = np.minimum(lengths[first], lengths[second]) > RULER.least_longer
        first, second = first[out], second[out]
        if len(first) < RULER.least_alike:
            continue
        more = lengths[second] - lengths[first]
        slope = float(np.median(more)) / period
        rest = float(np.median(np.abs(more - slope * period)))
        if abs(slope) * span > RULER.least_lean and rest < RULER.least_longer:
            found.append((rest, slope))
    return found
