"""What the weaver wants and owns: sizes, losses, loom, yarn stock, winding frame.

Plain data, filled by the project file; the warping and winding halves compute from it.
Lengths are exact millimetres, masses grams, yarn sizes tex, losses fractions of the larger
(before) number: 10 in finished at a loss of 1/5 needs 12.5 in, because losses divide.
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from settscan.cloth.model import Stripe
from settscan.measured import Measured, Origin
from settscan.numerals import INCH as INCH
from settscan.numerals import YARD as YARD
from settscan.quantities import Reed as Reed


def assumed(value: str, low: str, high: str) -> Measured:
    """An editable assumption with its range, from decimal text."""
    return Measured(Fraction(value), Fraction(low), Fraction(high), Origin.ASSUMED)


class Losses(NamedTuple):
    """Fractions lost between loom and finished cloth; they compound and they always divide.

    Draw-in (width) and take-up (length) happen while weaving; shrinkage in the finishing.
    """

    draw_in: Measured = assumed("0.05", "0.03", "0.08")
    width_shrinkage: Measured = assumed("0.10", "0.05", "0.15")
    take_up: Measured = assumed("0.08", "0.05", "0.10")
    length_shrinkage: Measured = assumed("0.10", "0.05", "0.15")


class SampleRecord(NamedTuple):
    """A weaver's own sample, measured three times; it leads over assumed losses.

    Across, along, or both; what is not measured is None.

    Attributes:
        width_in_reed_mm, width_off_loom_mm, width_washed_mm: across the cloth.
        length_on_loom_mm, length_off_loom_mm, length_washed_mm: of the same stretch of cloth: of
            the warp that it took on the loom, relaxed off the loom, and after finishing.
    """

    width_in_reed_mm: Fraction | None = None
    width_off_loom_mm: Fraction | None = None
    width_washed_mm: Fraction | None = None
    length_on_loom_mm: Fraction | None = None
    length_off_loom_mm: Fraction | None = None
    length_washed_mm: Fraction | None = None


class Loom(NamedTuple):
    """The loom: waste is added once per warp, never multiplied."""

    waste_mm: Fraction = YARD
    weaving_width_mm: Fraction | None = None
    shafts: int = 4
    reeds: tuple[Reed, ...] = ()
    heddles_per_shaft: int | None = None
    align_stripes: bool = False  # begin every stripe in a new dent, for crisp edges
    pirn_g: Fraction | None = None  # yarn on one pirn or bobbin


class YarnStock(NamedTuple):
    """What is known of a yarn: size in tex, wraps, put-up and stash. `size` is as typed."""

    key: str
    tex: Fraction | None = None
    size: str = ""
    package_g: Fraction | None = None
    package_length_mm: Fraction | None = None
    in_stash_g: Fraction = Fraction(0)
    wraps_per_mm: Fraction | None = None  # threads side by side round a ruler, as counted
    price: Fraction | None = None  # per package, in whatever money the weaver uses
    core_g: Fraction = Fraction(0)  # weight of the empty core, if `package_g` was weighed with it


class Edges(StrEnum):
    """What a warp begins with at its left edge; closed, it ends with the same."""

    FIRST = "first pivot"  # the first written stripe
    LAST = "last pivot"  # the last written stripe: the other pivot of a symmetric sequence
    HALF = "half pivot"  # the second half of the first pivot, so that seamed strips complete it


class Piece(NamedTuple):
    """What is to be woven. Either `width_mm` or `warp_repeats` leads; both finished."""

    width_mm: Fraction | None = None
    warp_repeats: int | None = None
    length_mm: Fraction | None = None
    weft_repeats: int | None = None
    pieces: int = 1
    hem_mm: Fraction = Fraction(0)  # finished length, at each end of each piece
    fringe_mm: Fraction = Fraction(0)  # unwoven warp, at each end of each piece
    sample_mm: Fraction = Fraction(0)  # woven on the loom for trial, once per warp
    spare: Fraction = Fraction(1, 20)  # extra yarn to buy, as a fraction
    close_on_pivot: bool = True  # add threads so that both edges match
    edges: Edges = Edges.FIRST  # what the warp begins with at its left edge
    selvedge_ends: int = 0  # extra ends at each edge, sleyed double
    selvedge_yarn: str = ""  # key of their yarn; that of the edge stripe when empty
    floating_selvedges: bool = False  # one end more at each edge, through no heddle
    border: tuple[Stripe, ...] = ()  # outside the pattern at the left edge, mirrored at the right
    panels: int = 1  # strips joined side by side into one cloth of `width_mm`
    turn_panel: bool = False  # of two panels the second is turned round: outer edges unlike seam
    exact_width: bool = False  # cut the pattern at both edges instead of fitting whole repeats
    centre_stripe: int = 0  # written stripe, from 1, that lies in the middle; 0: as it falls
    gap_mm: Fraction = Fraction(0)  # unwoven warp between two pieces, besides their fringes


class FrameKind(StrEnum):
    """What the warp is wound on."""

    MILL = "mill"
    REEL = "reel"
    BOARD = "board"
    SECTIONS = "sectional beam"  # section by section from spools, straight to the full length


class CrossEnd(StrEnum):
    """Where the thread-by-thread cross is made."""

    FAR = "far end"
    START = "start end"


class OddWay(StrEnum):
    """What to do when a stripe has an odd number of passes. Neither changes a count."""

    FALL = "change at the far end"  # the colour changes where the hand finishes
    SINGLE = "wind singly"  # the last pass is cut at the far end; changes stay at the start end


class Frame(NamedTuple):
    """A warping mill, reel or board. Circumference of a board is its out-and-back peg step."""

    kind: FrameKind = FrameKind.MILL
    circumference_mm: Fraction = 2 * YARD
    pitch_mm: Fraction = Fraction(50)  # rise of one turn on a mill
    most_turns: int = 12
    pegs_around: int = 4  # uprights in one turn: part turns go from one to the next
    bout_ends: int = 120  # most ends in one bout
    group_ends: int = 20  # ends between counting ties
    ends_in_hand: int = 1
    cross: CrossEnd = CrossEnd.FAR
    seconds_per_pass: Fraction | None = None
    odd_way: OddWay = OddWay.FALL
    carry_ends: int = 6  # a yarn is left hanging, not broken, over at most so many ends
    raddle_ends: int | None = None  # ends in one raddle group; None: the counting group
    choke_mm: Fraction = YARD  # distance between choke ties
    cross_ties: int = 4  # one on each side of each cross peg; 5: one more through the cross
    section_mm: Fraction = 2 * INCH  # width of one section of a sectional beam
    cut_waste_mm: Fraction = YARD / 2  # lost with each section of a sectional beam


def usual_loom(units: str) -> Loom:
    """A loom of which nothing is known, in round measures of these units ("inch", "metric")."""
    return Loom(waste_mm=Fraction(900)) if units == "metric" else Loom()


def usual_frame(units: str) -> Frame:
    """A frame of which nothing is known, in round measures of these units."""
    if units != "metric":
        return Frame()
    return Frame(
        circumference_mm=Fraction(2000),
        choke_mm=Fraction(1000),
        section_mm=Fraction(50),
        cut_waste_mm=Fraction(500),
    )


class Wishes(NamedTuple):
    """Everything that the plan needs besides the cloth."""

    piece: Piece = Piece()
    losses: Losses = Losses()
    sample: SampleRecord = SampleRecord()
    loom: Loom = Loom()
    frame: Frame = Frame()
    stock: tuple[YarnStock, ...] = ()
    units: str = "inch"  # "inch" or "metric": which the sheets lead with
