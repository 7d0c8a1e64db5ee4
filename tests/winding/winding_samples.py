"""Small warp plans of our own for the winding tests."""

from fractions import Fraction

from settscan.cloth.model import Cloth, ColourSequence, SequenceKind, Stripe, ThreadSet, Yarn
from settscan.cloth.wishes import INCH, YARD, Frame, Wishes
from settscan.measured import Measured
from settscan.warping.model import Block, Draft, WarpPlan, WeftOrder

NAMES = {"A": "dark green", "B": "cream", "C": "rust", "D": "slate"}
COLOURS = {"A": "#1f4f33", "B": "#efe6cf", "C": "#a8482a", "D": "#55606b"}

# One repeat of the blanket of the tests: pivots A 24 and C 8, all counts even.
BLANKET = (
    ("A", 24), ("B", 4), ("A", 8), ("D", 20), ("C", 8),
    ("D", 20), ("A", 8), ("B", 4),
)  # fmt: skip


def stripes(*pairs):
    return tuple(Stripe(yarn, threads) for yarn, threads in pairs)


def make_plan(order, *, length_mm=11 * YARD, epi=24, frame=None, units="inch", blocks=None):
    """A warp plan with what winding reads; the weft and the draft are of no account here."""
    order = tuple(order)
    keys = list(dict.fromkeys(stripe.yarn for stripe in order))
    ends = sum(stripe.threads for stripe in order)
    warp = ThreadSet(sequence=ColourSequence(SequenceKind.PARTIAL, order))
    return WarpPlan(
        cloth=Cloth(
            name="Hill blanket",
            yarns=tuple(
                Yarn(key=k, name=NAMES.get(k, k), colour=COLOURS.get(k, "#808080")) for k in keys
            ),
            warp=warp,
            weft=warp,
        ),
        wishes=Wishes(frame=frame or Frame(), units=units),
        ends=ends,
        order=order,
        blocks=blocks or (Block(label="the warp", first_end=0, ends=ends),),
        repeats=1,
        loom_density=Measured.exact(Fraction(epi) / INCH),
        finished_width_mm=None,
        width_in_reed_mm=None,
        reed=None,
        reeds=(),
        sley=(),
        warp_length_mm=Measured.exact(Fraction(length_mm)),
        ends_per_yarn={k: sum(s.threads for s in order if s.yarn == k) for k in keys},
        yarns=(),
        weft=WeftOrder(order=order, picks_per_yarn={}),
        draft=Draft(
            name="plain",
            shafts=2,
            treadles=2,
            threading=(1, 2),
            tie_up=((1,), (2,)),
            treadling=(1, 2),
            heddles=(ends - ends // 2, ends // 2),
            longest_float=(1, 1),
        ),
    )


def blanket(repeats=4, **wishes):
    """The blanket with whole repeats, closed on its first pivot."""
    one = stripes(*BLANKET)
    each = sum(stripe.threads for stripe in one)
    blocks = [Block(label=f"repeat {n + 1}", first_end=n * each, ends=each) for n in range(repeats)]
    blocks.append(Block(label="closing pivot", first_end=repeats * each, ends=24))
    return make_plan(one * repeats + stripes(("A", 24)), blocks=tuple(blocks), **wishes)
