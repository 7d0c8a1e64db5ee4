"""The words for weaving: picks and height stripe by stripe, shuttles, pirns."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from settscan.numerals import decimal
from settscan.quantities import INCH, format_density, format_length
from settscan.sheets.content import Stretch, plural, stretches_of
from settscan.warping.model import WarpPlan, YarnNeed

_FINELY_BELOW = 10 * INCH  # a tenth of an inch is too coarse for a stripe of a few picks
_MARKS_APART = INCH  # a tape measure tells no more

STRIPE_HEAD = ("Picks", "Colour", "High on the loom", "Picks so far", "High so far")
MEASURE = (
    "If you lose count, measure from the first pick, under the same tension, and look the height"
    " up here; then count the last stripe."
)


def weft_stretches(plan: WarpPlan) -> tuple[Stretch, ...]:
    """The picks of one piece, first pick first, like repeats once; of a repeat if unknown."""
    weft = plan.weft
    if weft.piece_order:
        return stretches_of(weft.piece_order, weft.blocks, "the piece")
    return (Stretch("one repeat", weft.order),)


def stripe_rows(plan: WarpPlan, stretch: Stretch) -> tuple[tuple[str, ...], ...]:
    """The stripes of a stretch in the order of weaving, below `STRIPE_HEAD`."""
    rows = []
    done = 0
    for stripe in stretch.stripes:
        done += stripe.threads
        name = plan.cloth.yarn(stripe.yarn).name
        high, so_far = (_high(plan, picks) for picks in (stripe.threads, done))
        rows.append((str(stripe.threads), f"{stripe.yarn}  {name}", high, str(done), so_far))
    return tuple(rows)


def marks_along(plan: WarpPlan) -> tuple[str, ...]:
    """Picks and height of the piece at the end of each repeat: "repeat 1: 74 picks, 3.72 in".

    Of repeats shorter than `_MARKS_APART` only one in so much. Nothing where the piece has no
    repeats, or its height is not known.
    """
    blocks = plan.weft.blocks
    if plan.weft.loom_ppi is None or len(blocks) < 2:
        return ()
    apart = _MARKS_APART * Fraction(plan.weft.loom_ppi.value)
    marks: list[str] = []
    marked = 0
    for block in blocks:
        picks = block.first_end + block.ends
        if picks - marked >= apart or block is blocks[-1]:
            marks.append(f"{block.label}: {picks} picks, {_high(plan, picks)}")
            marked = picks
    return tuple(marks)


def _high(plan: WarpPlan, picks: int) -> str:
    """Height of so many picks on the loom, in one unit throughout, as on the tape beside it."""
    if plan.weft.loom_ppi is None:
        return "not known"
    high = picks / Fraction(plan.weft.loom_ppi.value)
    if plan.wishes.units != "inch":
        return f"{decimal(high / 10, 1)} cm"
    if high < _FINELY_BELOW:
        return f"{float(high / INCH):.2f} in"
    return f"{decimal(high / INCH, 1)} in"


def weaving_lines(plan: WarpPlan, yarns: Iterable[YarnNeed]) -> tuple[str, ...]:
    """Beat, shuttles, colour changes, yarn in a pick, pirns of each colour."""
    weft, units = plan.weft, plan.wishes.units
    lines = []
    if weft.loom_ppi is not None and weft.finished_ppi is not None:
        loom, finished = (
            format_density(each.value, units, "picks")
            for each in (weft.loom_ppi, weft.finished_ppi)
        )
        lines.append(f"Beat to {loom}, measured under tension; it finishes at {finished}.")
    changes = plural(weft.colour_changes, "change") if weft.piece_order else "changes"
    each = " in a piece" if weft.piece_order else ""
    lines.append(f"{plural(weft.shuttles, 'shuttle')} in use; {changes} of colour{each}.")
    if weft.pick_mm is not None:
        lines.append(
            f"A pick takes {format_length(weft.pick_mm, units)} of weft, the width in the reed, so"
            " that its take-up is allowed for."
        )
    pirns = [f"{need.key} {need.name} {need.pirns}" for need in yarns if need.pirns]
    if pirns:
        lines.append(f"Pirns or bobbins to wind: {', '.join(pirns)}.")
    return tuple(lines)
