"""The orders of tick lengths on rulers, and what one says of a row of ticks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Whole = NDArray[np.int64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Scheme:
    """An order of tick lengths: of the ticks, every `factors[0]`-th is longer, and so on."""

    unit: str
    tick_mm: float
    factors: tuple[int, ...]

    @property
    def period(self) -> int:
        """Ticks from one of the longest to the next."""
        return int(np.prod(self.factors))

    @property
    def kind(self) -> tuple[str, float]:
        """Schemes of a kind go on from each other: one of them cannot rule another out."""
        return self.unit, 1.0 if self.unit == "inch" else self.tick_mm

    def classes(self, n: Whole) -> Whole:
        """Class of each tick number: how many of the successive factors divide it."""
        steps = np.cumprod(self.factors)
        return np.asarray((n[:, None] % steps == 0).sum(axis=1))


HALF_CM = 5.0
SCHEMES = (
    Scheme("mm", 1.0, (5, 2)),
    Scheme("mm", 1.0, (5,)),
    Scheme("mm", 0.5, (2, 5, 2)),
    Scheme("mm", 0.5, (2, 5)),
    Scheme("mm", HALF_CM, (2,)),
    Scheme("inch", 25.4 / 4, (2, 2)),
    Scheme("inch", 25.4 / 8, (2, 2, 2)),
    Scheme("inch", 25.4 / 16, (2, 2, 2, 2)),
    Scheme("inch", 25.4 / 32, (2, 2, 2, 2, 2)),
)


@dataclass(frozen=True, slots=True)
class Ladder:
    """Ticks with their lengths, and the order that these follow.

    Attributes:
        numbers: (N,) of the ticks that show, counted from the one that the comb calls 0.
        lengths: (N,) beyond the common core, in tick spacings.
        scheme: the order.
        phase: tick number, modulo the order's period, of its longest ticks.
        step: smallest step between classes, in standard deviations of such a step.
        share: of the spread of single lengths that the order explains.
        agree: share of single ticks nearer to the length of their own class than to the next.
        side: +1 when the ticks grow towards larger v.
        light: whether ticks are lighter than the body.
        classes: length of each class.
        numbered: whether numerals, seen one by one, tell the unit.
    """

    numbers: Array
    lengths: Array
    scheme: Scheme
    phase: int
    step: float
    share: float
    agree: float
    side: int
    light: bool
    classes: tuple[float, ...]
    numbered: bool = False

    @property
    def whole(self) -> Whole:
        """(N,) tick numbers counted from one of the longest."""
        return np.asarray(self.numbers.astype(np.int64) - self.phase)
