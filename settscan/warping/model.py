"""The nouns of a warp plan: what `warping` works out and `winding` and `sheets` read.

Lengths are exact millimetres, densities threads per mm **on the loom** unless the name says
finished, masses grams, counts whole threads. Where the cloth has no density, what depends on it
is None and a warning says so; counts never depend on it.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from settscan.cloth.model import Cloth, Stripe
from settscan.cloth.wishes import Wishes
from settscan.measured import Measured
from settscan.quantities import Reed


class Step(NamedTuple):
    """One traceable figure: "432 ends = 3 repeats of 140 + closing pivot 12"."""

    label: str
    text: str


class Block(NamedTuple):
    """A stretch of the warp with a name: a repeat, the closing pivot, a border, a selvedge.

    Attributes:
        label: "repeat 1", "closing", "left selvedge", "gap" ...
        first_end: 0-based place of its first end, from the left.
        ends: how many ends it has.
    """

    label: str
    first_end: int
    ends: int


class SleyRun(NamedTuple):
    """So many neighbouring dents with the same number of ends in each."""

    dents: int
    ends_per_dent: int


class ReedChoice(NamedTuple):
    """A reed and how to sley it.

    Attributes:
        reed: the reed.
        pattern: ends in one dent after another, repeated across the width: (2, 2, 3).
        epi_per_mm: ends per mm that this sleying gives.
        error: (epi_per_mm - wanted) / wanted; positive is closer than wanted.
        width_mm: width in the reed of the whole warp.
        dents: dents used.
        owned: whether it is one of the weaver's reeds, or a common size proposed.
        note: what to know about it, one sentence; may be empty.
    """

    reed: Reed
    pattern: tuple[int, ...]
    epi_per_mm: Fraction
    error: Fraction
    width_mm: Fraction
    dents: int
    owned: bool = True
    note: str = ""

    @property
    def sleying(self) -> str:
        """The pattern as it is written: "2-2-3"."""
        return "-".join(str(ends) for ends in self.pattern)


class LossRow(NamedTuple):
    """What else the same cloth would be at another loss in the width."""

    loss: Fraction
    loom_density: Fraction
    width_in_reed_mm: Fraction
    warp_length_mm: Fraction


class YarnNeed(NamedTuple):
    """What one colour takes, and what to buy. `total_mm` is with the spare.

    Attributes:
        knots_mm: yarn that the knots at colour changes use up, part of `warp_mm`.
        mass_g: None if the size of the yarn is not known.
        packages: whole packages to buy after the stash; None if the put-up is not known.
        cost: packages x price, in the money of the price; None if either is not known.
        pirns: pirns or bobbins of weft to wind; None if what one holds is not known.
    """

    key: str
    name: str
    colour: str
    warp_ends: int
    warp_mm: Fraction
    weft_mm: Fraction
    total_mm: Fraction
    knots_mm: Fraction = Fraction(0)
    tex: Fraction | None = None
    mass_g: Fraction | None = None
    to_buy_g: Fraction | None = None
    packages: int | None = None
    cost: Fraction | None = None
    pirns: int | None = None
    steps: tuple[Step, ...] = ()


class WovenStripe(NamedTuple):
    """One stripe of the weft as it is woven.

    Attributes:
        yarn: its key.
        first_pick: 1-based, in the piece.
        picks: in the stripe.
        high_mm: its height on the loom, under tension; None if the density is not known.
        up_to_mm: height of the piece when it is done.
    """

    yarn: str
    first_pick: int
    picks: int
    high_mm: Fraction | None
    up_to_mm: Fraction | None


class WeftOrder(NamedTuple):
    """The weft: one repeat in order, and how many picks the whole warp takes.

    Attributes:
        order: stripes of one whole repeat in the order of weaving.
        picks_per_yarn: picks of each yarn in the whole warp.
        piece_order: the stripes of one piece, first pick to last; empty if unknown.
        blocks: the same picks as repeats and what closes them; `first_end` is the first pick.
        picks: picks in the whole warp, hems and sample included; 0 if unknown.
        picks_per_piece: picks in one piece, hems included.
        loom_ppi: picks per mm to aim at on the loom; None if the density is not known.
        finished_ppi: picks per mm of finished cloth.
        shuttles: shuttles in use at once.
        colour_changes: changes of the weft yarn in one piece.
        pick_mm: yarn in one pick, turning included.
        steps, warnings: how the figures came about.
    """

    order: tuple[Stripe, ...]
    picks_per_yarn: dict[str, int]
    piece_order: tuple[Stripe, ...] = ()
    blocks: tuple[Block, ...] = ()
    picks: int = 0
    picks_per_piece: int = 0
    loom_ppi: Measured | None = None
    finished_ppi: Measured | None = None
    shuttles: int = 1
    colour_changes: int = 0
    pick_mm: Fraction | None = None
    steps: tuple[Step, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def counted(self) -> bool:
        """Whether the yarn of the weft is known: its picks, and what one of them takes."""
        return self.picks > 0 and self.pick_mm is not None


class Draft(NamedTuple):
    """Threading, tie-up and treadling of the weave. Shafts and treadles are numbered from 1.

    Attributes:
        name: the weave.
        shafts, treadles: how many it needs.
        threading: shaft of one end after another, left to right, one threading repeat.
        tie_up: for each treadle, the shafts that it raises (rising shed).
        treadling: treadle of one pick after another, first pick first, one repeat.
        heddles: heddles on each shaft for the whole warp.
        longest_float: the longest float of warp and of weft, in threads.
        direction: "Z", "S" or None; seen from the face with the first pick at the bottom.
        notes: what to know, one sentence each.
    """

    name: str
    shafts: int
    treadles: int
    threading: tuple[int, ...]
    tie_up: tuple[tuple[int, ...], ...]
    treadling: tuple[int, ...]
    heddles: tuple[int, ...]
    longest_float: tuple[int, int]
    direction: str | None = None
    notes: tuple[str, ...] = ()

    def warp_is_up(self, pick: int, end: int) -> bool:
        """Whether the warp end lies over the pick; both 0-based, repeated without limit."""
        raised = self.tie_up[self.treadling[pick % len(self.treadling)] - 1]
        return self.threading[end % len(self.threading)] in raised

    @property
    def liftplan(self) -> tuple[tuple[int, ...], ...]:
        """Shafts raised for one pick after another, one repeat."""
        return tuple(self.tie_up[treadle - 1] for treadle in self.treadling)

    def drawdown(self, picks: int, ends: int) -> tuple[tuple[bool, ...], ...]:
        """Rows of `warp_is_up`, first pick first."""
        return tuple(
            tuple(self.warp_is_up(pick, end) for end in range(ends)) for pick in range(picks)
        )


class WarpPlan(NamedTuple):
    """Everything about the warp and the weft before it is wound.

    Attributes:
        ends: ends in the whole warp, selvedges included.
        order: stripes left to right across the loom, neighbours of one yarn joined.
        blocks: the same ends as repeats, closing pivot, borders and selvedges.
        repeats: whole repeats across the width.
        loom_density: ends per mm on the loom, from the finished density and the losses.
        finished_width_mm: width of the finished cloth.
        width_in_reed_mm: width on the loom at the chosen sley (or at `loom_density`).
        reed: the chosen reed; None if the density is not known.
        reeds: all choices, best first.
        sley: dents and ends per dent across the whole width; carries exactly `ends`.
        warp_length_mm: length to wind, loom waste included.
        ends_per_yarn: ends of each yarn, in the order of the keys.
        yarns: what each takes if an end takes `warp_length_mm` and no more; a winding plan has its
            own, for what is wound.
        loss_table: the same cloth at other losses.
        steps: how each figure came about, in the order of working.
        warnings: what to look at before winding, one sentence each.
    """

    cloth: Cloth
    wishes: Wishes
    ends: int
    order: tuple[Stripe, ...]
    blocks: tuple[Block, ...]
    repeats: int
    loom_density: Measured | None
    finished_width_mm: Measured | None
    width_in_reed_mm: Measured | None
    reed: ReedChoice | None
    reeds: tuple[ReedChoice, ...]
    sley: tuple[SleyRun, ...]
    warp_length_mm: Measured
    ends_per_yarn: dict[str, int]
    yarns: tuple[YarnNeed, ...]
    weft: WeftOrder
    draft: Draft | None  # None if the weave is not known
    loss_table: tuple[LossRow, ...] = ()
    steps: tuple[Step, ...] = ()
    warnings: tuple[str, ...] = ()
