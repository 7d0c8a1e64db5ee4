"""A value with its interval and its origin; rounding and printing of uncertain numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

Number = Fraction | float


class Origin(StrEnum):
    """Where a number came from; a typed or pinned number is never overwritten by a reading."""

    READ = "read"
    TYPED = "typed"
    PINNED = "pinned"
    ASSUMED = "assumed"


@dataclass(frozen=True, slots=True)
class Measured:
    """A value and its 90 % interval, `low <= value <= high`, in the unit that its name states."""

    value: Number
    low: Number
    high: Number
    origin: Origin = Origin.TYPED

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"interval {self.low}..{self.high} does not hold {self.value}")

    @classmethod
    def exact(cls, value: Number, origin: Origin = Origin.TYPED) -> Measured:
        """A number without doubt, such as one that the weaver typed."""
        return cls(value, value, value, origin)

    def through(self, function: Callable[[Number], Number]) -> Measured:
        """The interval carried through a monotone function, rising or falling."""
        ends = (function(self.low), function(self.high))
        return Measured(function(self.value), min(ends), max(ends), self.origin)

    @property
    def is_certain(self) -> bool:
        """Whether the interval has no width."""
        return self.low == self.high
