"""The nouns of a reading: what the eye saw on each axis, in flat pixels, with doubts.

"Columns" are the threads that run up and down in the photo, ordered left to right; "rows" run
across, ordered top to bottom. Which of them is the warp is decided in `scan`.
"""

from __future__ import annotations

from dataclasses import dataclass

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe, Yarn
from settscan.doubts import Doubt
from settscan.measured import Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class StripeRead:
    """A stripe as seen.

    Attributes:
        yarn: key of its yarn.
        threads: most likely count (of the visible part, if cut).
        low, high: 90 % interval of the count, whole threads.
        chance: that `threads` is right.
        others: runners-up with their chances, likeliest first.
        cut: whether the frame cuts it, so that its whole count is unknown.
        start_px, end_px: its edges along the axis, flat pixels.
    """

    yarn: str
    threads: int
    low: int
    high: int
    chance: float
    others: tuple[tuple[int, float], ...]
    cut: bool
    start_px: float
    end_px: float


@dataclass(frozen=True, slots=True)
class BandSeen:
    """A band of one colour, counted or not: yarn key and its edges in flat pixels."""

    yarn: str
    start_px: float
    end_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatRead:
    """The repeat that the stripes show.

    Attributes:
        kind, sequence: see `cloth.model`.
        threads: of one whole repeat; None if partial.
        members: for each written stripe the indices in `AxisRead.stripes` that are this stripe.
        chance: that all written counts are right.
        breaks: indices of stripes whose count does not go with their partners'.
    """

    kind: SequenceKind
    sequence: ColourSequence
    threads: int | None
    members: tuple[tuple[int, ...], ...]
    chance: float
    breaks: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisRead:
    """One axis.

    Attributes:
        bands: what was seen, whether it could be counted or not.
        stripes: the same with counts; empty where no thread could be counted.
        pitch_px: flat pixels per thread, mean over the picture; None if unresolved.
        density: threads per mm, finished; needs a scale and a pitch.
        repeat: the repeat that the stripes show.
        counted_by: "weave", "ripple" (thread by thread), "density" (pinned) or "nothing".
        doubts: those of this axis.
    """

    bands: tuple[BandSeen, ...]
    stripes: tuple[StripeRead, ...]
    pitch_px: Measured | None
    density: Measured | None
    repeat: RepeatRead
    counted_by: str
    doubts: tuple[Doubt, ...] = ()

    def as_found(self) -> ColourSequence | None:
        """All stripes as they are in the cloth, where one of them may be a weaving mistake.

        The repeat leaves the mistake out; None where nothing breaks it.
        """
        if not any(one.name == "breaks-repeat" for one in self.doubts):
            return None
        stripes = tuple(Stripe(stripe.yarn, stripe.threads) for stripe in self.stripes)
        return ColourSequence(SequenceKind.PARTIAL, stripes)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveRead:
    """Which weave. `twill_direction` is "Z" (rises to the right), "S", or None."""

    name: str
    confidence: float
    twill_direction: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothRead:
    """All that was read from one flat cloth."""

    yarns: tuple[Yarn, ...]
    columns: AxisRead
    rows: AxisRead
    weave: WeaveRead
    column_share: float  # k of the additive model: weight of the column threads, 0..1
    doubts: tuple[Doubt, ...] = ()
