"""A scale that was read from a row of ticks, in photo pixels and millimetres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import RulerFound
from settscan.photo.ruler_body import body_outline
from settscan.photo.ruler_lines import Grey
from settscan.photo.ruler_numbering import Settled
from settscan.photo.ruler_scheme import Ladder
from settscan.photo.ruler_strip import Comb

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Scale:
    """A ruler found.

    Attributes:
        found: the ruler.
        evidence: its weight: how many ticks times how well they order.
        doubted: whether its numerals object to its unit.
    """

    found: RulerFound
    evidence: float
    doubted: bool = False


def described(
    levels: tuple[Grey, ...],
    comb: Comb,
    feet: float,
    lean: tuple[float, float],
    steps: Ladder,
    settled: Settled,
) -> RulerFound:
    """The ruler on the line through the feet of its ticks.

    Args:
        levels: the grey pyramid.
        comb: the ticks.
        feet: row v of their feet.
        lean: (s0, s1): a tick at u of the comb's row has its foot at u + s0 + s1 u.
        steps: the order of their lengths.
        settled: the ticks where they cross the comb's row, and their numbering.
    """
    strip, tick_mm = comb.strip, steps.scheme.tick_mm
    u, numbers, numbering = settled.u, settled.numbers, settled.numbering
    sample = float(np.linalg.norm(strip.along))
    s0, s1 = lean
    first, second, third = (
        numbering.place(numbers.min() + np.array([0.0, 1.0, 2.0])) * (1 + s1) + s0
    )
    # s = a t / (1 + c t) through the ticks t = 1 and 2 spacings after the first
    one, two = second - first, third - first
    bend = (2 * one - two) / (2 * (two - one))
    a = one * (1 + bend) * sample / tick_mm
    on_feet = u * (1 + s1) + s0
    row = np.full(len(u), feet)
    return RulerFound(
        origin_px=strip.photo(first, feet),
        direction=np.asarray(strip.along / sample),
        a=float(a),
        c=float(bend / tick_mm),
        length_mm=float(np.ptp(numbers) * tick_mm),
        tick_mm=tick_mm,
        ticks_px=strip.photo(on_feet, row),
        ticks_mm=(numbers - numbers.min()) * tick_mm,
        outline_px=body_outline(levels, comb, feet, steps.side, on_feet, float(a) / sample),
        relative_error=settled.error,
        unit=steps.scheme.unit,
        side=steps.side,
    )
