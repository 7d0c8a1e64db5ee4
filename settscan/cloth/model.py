"""What a cloth is, as exact numbers: yarns, colour sequences, densities, weave.

Counts are whole threads and are the truth; a density is a number of threads per millimetre of
**finished** cloth (what a photo shows). Nothing here knows of pixels, looms or files.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from settscan.measured import Measured, Origin


class SequenceKind(StrEnum):
    """How a colour sequence goes on when its written stripes are used up."""

    SYMMETRIC = "symmetric"  # turns back at each end; the end stripes are pivots, full and shared
    REPEATING = "repeating"  # begins again from the first stripe
    PARTIAL = "partial"  # what the photo shows is less than one repeat, or has none: used once


class Stripe(NamedTuple):
    """So many neighbouring threads of one yarn."""

    yarn: str
    threads: int


@dataclass(frozen=True, slots=True)
class ColourSequence:
    """The stripes of one repeat, as they are written down.

    For a symmetric sequence these run from pivot to pivot, each pivot with its full count.
    """

    kind: SequenceKind
    stripes: tuple[Stripe, ...]

    def one_repeat(self) -> tuple[Stripe, ...]:
        """The stripes of one whole repeat: a symmetric one out and back, each pivot once."""
        if self.kind is SequenceKind.SYMMETRIC and len(self.stripes) > 2:
            return self.stripes + self.stripes[-2:0:-1]
        return self.stripes

    @property
    def threads(self) -> int:
        """Threads in one whole repeat (symmetric: twice the sum less both pivots)."""
        return sum(stripe.threads for stripe in self.one_repeat())

    def threads_per_yarn(self) -> dict[str, int]:
        """Threads of each yarn in one whole repeat, in the order of first use."""
        totals: Counter[str] = Counter()
        for stripe in self.one_repeat():
            totals[stripe.yarn] += stripe.threads
        return dict(totals)


@dataclass(frozen=True, slots=True, kw_only=True)
class Yarn:
    """One colour of yarn in the cloth. `colour` is sRGB as "#rrggbb"; `lab` is CIELAB (D65)."""

    key: str
    name: str
    colour: str
    lab: tuple[float, float, float] | None = None
    size: str | None = None  # as typed: "2/8 worsted", "30 tex", "2240 yd/lb"; read by quantities


CUT_BY_EDGE = "cut by the edge of the photo"
"""The note of a stripe of which the photo shows only a part: its count is a least one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StripeDoubt:
    """A stripe whose count the reading is not certain of; kept until a hand confirms it."""

    position: int  # 0-based index in the written sequence
    low: int
    high: int
    chance: float
    note: str = ""

    @property
    def is_cut(self) -> bool:
        """Whether the edge of the photo cuts the stripe, so that `low` threads are the least."""
        return self.note == CUT_BY_EDGE


@dataclass(frozen=True, slots=True, kw_only=True)
class ThreadSet:
    """The warp, or the weft. `density` is threads per mm of finished cloth."""

    sequence: ColourSequence
    density: Measured | None = None
    origin: Origin = Origin.TYPED
    doubts: tuple[StripeDoubt, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Cloth:
    """A cloth as a record: everything that is needed to weave it again, and nothing else."""

    name: str
    yarns: tuple[Yarn, ...]
    warp: ThreadSet
    weft: ThreadSet
    weave: str = "plain"  # "plain", "2/2 twill", "2/1 twill", ..., "unknown"
    twill_direction: str | None = None  # "Z" or "S" as the photo shows it
    weave_told: bool = False  # whether a person named the weave of a cloth that was read
    notes: tuple[str, ...] = field(default=())

    def yarn(self, key: str) -> Yarn:
        """The yarn with this key.

        Raises:
            KeyError: if no yarn of the cloth has it.
        """
        for yarn in self.yarns:
            if yarn.key == key:
                return yarn
        raise KeyError(key)
