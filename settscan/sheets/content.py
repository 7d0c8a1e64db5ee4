"""What the sheets say, in words and rows, for the terminal, the page and the paper alike."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from settscan.cloth.model import SequenceKind, Stripe
from settscan.cloth.wishes import FrameKind
from settscan.measured import Measured, Number
from settscan.quantities import (
    format_density,
    format_length,
    format_mass,
    format_share,
    format_yarn_length,
)
from settscan.warping.across import comes_out_mm
from settscan.warping.model import Block, WarpPlan, YarnNeed
from settscan.warping.reed import off_by
from settscan.winding.model import WindingPlan
from settscan.winding.wound import Wound

if TYPE_CHECKING:
    from settscan.winding.sections import Section, SectionPlan

_HOURS_FROM = 90  # minutes; a shorter time is told in minutes
DYE_LOT = (
    "Buy each colour in one go and from one dye lot, and keep a length of it with these sheets."
)


class Figure(NamedTuple):
    """One key figure: what it is, its value, and a word of explanation."""

    label: str
    value: str
    note: str = ""


class Stretch(NamedTuple):
    """A part of the warp or weft as it is listed: its label, its stripes, how often it comes."""

    label: str
    stripes: tuple[Stripe, ...]
    times: int = 1

    @property
    def threads(self) -> int:
        """Threads in one of them."""
        return sum(stripe.threads for stripe in self.stripes)


def title_of(plan: WarpPlan) -> str:
    """The name of the cloth as a title: that of a file without its underscores."""
    return " ".join(plan.cloth.name.replace("_", " ").split())


def names_in(plan: WarpPlan) -> tuple[str, ...]:
    """What the weaver called things, in whatever words: cloth, yarns, sizes, reeds, notes."""
    cloth = plan.cloth
    yarns = [word for yarn in cloth.yarns for word in (yarn.key, yarn.name, yarn.size or "")]
    reeds = [reed.label for reed in plan.wishes.loom.reeds]
    return (title_of(plan), cloth.name, *yarns, *reeds, *cloth.notes)


def plural(number: int, one: str, many: str = "") -> str:
    """A number and its noun: "1 end", "2 ends"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def span(measured: Measured | None, show: Callable[[Number], str]) -> tuple[str, str]:
    """A value, and its range in words or nothing; "not known" for None."""
    if measured is None:
        return "not known", ""
    value, low, high = (show(number) for number in (measured.value, measured.low, measured.high))
    if low == high:
        return value, ""
    number, _, unit = low.partition(" ")
    return value, f"{number if high.partition(' ')[2] == unit else low} to {high}"


def length(mm: Number, units: str) -> str:
    """A length in the weaver's units and, in brackets, in the other ones."""
    other = "metric" if units == "inch" else "inch"
    return f"{format_length(mm, units)} ({format_length(mm, other)})"


def density(per_mm: Number, units: str, of: str = "ends") -> str:
    """A density in the weaver's units."""
    return format_density(per_mm, units, of)


def _measured_length(label: str, value: Measured | None, units: str) -> Figure:
    shown, between = span(value, lambda mm: format_length(mm, units))
    other = "metric" if units == "inch" else "inch"
    notes = [] if value is None else [format_length(value.value, other)]
    return Figure(label, shown, "; ".join(notes + ([between] if between else [])))


def key_figures(plan: WarpPlan, winding: Wound | None = None) -> tuple[Figure, ...]:
    """The figures that a weaver looks for first."""
    units = plan.wishes.units
    sett, between = span(plan.loom_density, lambda d: density(d, units))
    figures = [
        Figure("Ends", str(plan.ends), _across(plan)),
        _measured_length("Warp length", plan.warp_length_mm, units),
        _measured_length("Width in the reed", plan.width_in_reed_mm, units),
        _measured_length("Finished width", plan.finished_width_mm, units),
        Figure("Sett on the loom", sett, between),
    ]
    if plan.reed is not None:
        # What the reed is off changes the width that comes out, so it stands beside the reed.
        sleyed = (f"sleyed {plan.reed.sleying}", off_by(plan.reed))
        figures.append(Figure("Reed", plan.reed.reed.label, ", ".join(filter(None, sleyed))))
        figures.append(_comes_out(plan))
    ppi, between = span(plan.weft.loom_ppi, lambda d: density(d, units, "picks"))
    figures.append(Figure("Beat on the loom", ppi, between))
    if plan.weft.picks:
        pieces = plan.wishes.piece.pieces
        each = f"{plan.weft.picks_per_piece} in each piece" if pieces > 1 else ""
        figures.append(Figure("Picks", str(plan.weft.picks), each))
    if plan.draft is None:
        figures.append(Figure("Weave", "not known"))
    else:
        figures.append(Figure("Weave", plan.draft.name, plural(plan.draft.shafts, "shaft")))
    if winding is not None:
        figures += _winding_figures(winding, units)
    return tuple(figures)


def _comes_out(plan: WarpPlan) -> Figure:
    """The width that this reed gives, which is what the weaver will measure."""
    wide = comes_out_mm(plan.width_in_reed_mm, plan.wishes.losses)
    value, between = span(wide, lambda mm: format_length(mm, plan.wishes.units))
    return Figure("Comes out at", value, "; ".join(filter(None, ("with this reed", between))))


def _across(plan: WarpPlan) -> str:
    """How the pattern fills the width, in a few words."""
    if plan.cloth.warp.sequence.kind is SequenceKind.PARTIAL:
        return "the sequence as written, used once"
    return f"{plural(plan.repeats, 'whole repeat')} across"


def _winding_figures(winding: Wound, units: str) -> list[Figure]:
    if not isinstance(winding, WindingPlan):
        each = format_length(winding.frame.section_mm, units)
        return [
            Figure("Sections", str(len(winding.sections)), f"of {each} on the beam"),
            Figure("Spools", str(winding.spools), "in the rack at once"),
        ]
    kind = winding.frame.kind.value
    figures = [
        Figure(
            f"Turns on the {kind}",
            mixed(winding.path.turns),
            f"{length(winding.path.length_mm, units)} path",
        ),
        Figure("Bouts", str(len(winding.bouts)), plural(winding.passes, "pass", "passes")),
    ]
    figures.append(
        Figure(
            turns_label(winding),
            mixed(winding.turns_in_all),
            f"{format_length(winding.walking_mm, units)} of yarn through the hand",
        )
    )
    if winding.minutes is not None:
        value, between = about(winding.minutes)
        figures.append(Figure("Time to wind", value, between))
    return figures


def turns_label(winding: WindingPlan) -> str:
    """What the turns of all passes are called on this frame."""
    return "Ways out and back" if winding.frame.kind is FrameKind.BOARD else "Turns in all"


def mixed(value: Fraction) -> str:
    """A fraction as it is said: "5 1/2"."""
    whole, part = divmod(value, 1)
    return " ".join(str(number) for number in (whole, part) if number) or "0"


def about(minutes: Measured) -> tuple[str, str]:
    """A time that nobody knows to the minute, and its range: "about 7 1/2 hours", "4 to 15"."""
    if minutes.value < _HOURS_FROM:
        near = [f"{5 * max(1, round(float(each) / 5))}" for each in _case(minutes)]
        unit = "minutes"
    else:
        halves = [Fraction(max(1, round(float(each) / 30)), 2) for each in _case(minutes)]
        near = [mixed(each if each < 10 else Fraction(round(each))) for each in halves]
        near[1:] = [mixed(Fraction(max(1, round(float(each) / 60)))) for each in _case(minutes)[1:]]
        unit = "hour" if near[0] == "1" else "hours"
    value, low, high = near
    between = "" if minutes.is_certain or low == high else f"{low} to {high} {unit}"
    return f"about {value} {unit}", between


def _case(measured: Measured) -> tuple[Number, Number, Number]:
    return measured.value, measured.low, measured.high


def warnings(plan: WarpPlan, winding: Wound | None = None) -> tuple[str, ...]:
    """All warnings, each once."""
    found = [*plan.warnings, *plan.weft.warnings, *(winding.warnings if winding else ())]
    return tuple(dict.fromkeys(found))


# --- colour order ----------------------------------------------------------------------------


def cut_out(stripes: Iterable[Stripe], first: int, threads: int) -> tuple[Stripe, ...]:
    """The stripes that make up threads `first` up to `first + threads` (0-based)."""
    found = []
    at, last = 0, first + threads
    for stripe in stripes:
        if at >= last:
            break
        low, high = max(at, first), min(at + stripe.threads, last)
        if high > low:
            found.append(Stripe(stripe.yarn, high - low))
        at += stripe.threads
    return tuple(found)


def cut_in_turn(stripes: Iterable[Stripe], lengths: Iterable[int]) -> list[tuple[Stripe, ...]]:
    """The stripes cut into parts of these lengths, one after the other from the left."""
    rest = iter(stripes)
    yarn, left = "", 0
    parts = []
    for length in lengths:
        part: list[Stripe] = []
        while length:
            if not left:
                stripe = next(rest, None)
                if stripe is None:
                    break
                yarn, left = stripe.yarn, stripe.threads
            threads = min(length, left)
            part.append(Stripe(yarn, threads))
            length, left = length - threads, left - threads
        parts.append(tuple(part))
    return parts


def bout_orders(winding: WindingPlan) -> list[tuple[Stripe, ...]]:
    """The stripes of each bout, from left to right."""
    return cut_in_turn(winding.plan.order, (bout.ends for bout in winding.bouts))


def stretches(plan: WarpPlan) -> tuple[Stretch, ...]:
    """The warp as its blocks, like neighbours listed once: "repeat 1 to 3", three times."""
    return stretches_of(plan.order, plan.blocks, "the whole warp")


def stretches_of(
    order: tuple[Stripe, ...], blocks: tuple[Block, ...], whole: str
) -> tuple[Stretch, ...]:
    """Blocks of warp or weft as stretches, like neighbours listed once.

    Args:
        order: all stripes.
        blocks: they hold all threads, one after the other; () for one block.
        whole: the label of that one.
    """
    parts = cut_in_turn(order, (block.ends for block in blocks))
    labelled = [(block.label, part) for block, part in zip(blocks, parts, strict=True)]
    found: list[tuple[list[str], tuple[Stripe, ...]]] = []
    for label, stripes in labelled or [(whole, order)]:
        if found and found[-1][1] == stripes:
            found[-1][0].append(label)
        else:
            found.append(([label], stripes))
    listed = [Stretch(_joined(labels), stripes, len(labels)) for labels, stripes in found]
    return tuple(_gathered(listed))


def _gathered(listed: Iterable[Stretch]) -> Iterable[Stretch]:
    """Neighbours of one stripe each, such as a closing stripe and a selvedge, as one stretch."""
    held: Stretch | None = None
    for stretch in listed:
        single = len(stretch.stripes) == 1 and stretch.times == 1
        if held is not None and single:
            held = Stretch(f"{held.label}, {stretch.label}", held.stripes + stretch.stripes)
            continue
        if held is not None:
            yield held
        held = stretch if single else None
        if held is None:
            yield stretch
    if held is not None:
        yield held


def weft_heading(plan: WarpPlan) -> str:
    """What stands above the weft's colour order, or in its place where it is that of the warp."""
    picks = plural(sum(stripe.threads for stripe in plan.weft.order), "pick")
    if weft_is_as_warp(plan):
        return f"Weft: as a repeat of the warp, {picks}, the first pick first"
    return f"Weft, one repeat, first pick first: {picks}"


def weft_is_as_warp(plan: WarpPlan) -> bool:
    """Whether the weft's repeat is listed already, as that of the warp."""
    return any(stretch.stripes == plan.weft.order for stretch in stretches(plan))


def drawn_caption(plan: WarpPlan) -> str:
    """What the drawn cloth shows, and what it cannot show."""
    part = "one piece" if plan.weft.piece_order else "a part"
    weave = "" if plan.draft else "; the weave is not known"
    return f"Drawn from the counts, {part}{weave}"


def _joined(labels: list[str]) -> str:
    """One label for several: repeat 1, repeat 2, repeat 3 become "repeat 1 to 3"."""
    first, last = labels[0], labels[-1]
    name, _, number = last.rpartition(" ")
    if len(labels) > 1 and name and number.isdigit() and first.startswith(name + " "):
        return f"{first} to {number}"
    return first if first == last else f"{first} to {last}"


# --- yarn ------------------------------------------------------------------------------------


YARN_HEAD = ("Colour", "Ends", "Warp", "Weft", "With spare", "Mass", "To buy")


def yarn_rows(winding: Wound) -> list[tuple[str, ...]]:
    """The yarn list, below `YARN_HEAD`: a line for each yarn of `winding.yarns`."""
    units, counted = winding.plan.wishes.units, winding.plan.weft.counted
    most = max((need.mass_g or Fraction(0) for need in winding.yarns), default=Fraction(0))
    return [_yarn_row(need, units, counted, most) for need in winding.yarns]


def _yarn_row(need: YarnNeed, units: str, weft_counted: bool, most_g: Fraction) -> tuple[str, ...]:
    """A weft that is not counted is no weft of length zero: nobody is to buy by that."""
    mass = "unknown" if need.mass_g is None else format_mass(need.mass_g, units, most_g)
    buy = _to_buy(need, units, most_g)
    return (
        f"{need.key}  {need.name}",
        str(need.warp_ends or "-"),
        format_yarn_length(need.warp_mm, units),
        format_yarn_length(need.weft_mm, units) if weft_counted else "unknown",
        format_yarn_length(need.total_mm, units),
        mass,
        buy if weft_counted else f"{buy} and the weft",
    )


def wound_for_each(winding: Wound) -> str:
    """What one end takes as it is wound, in one line."""
    return f"{winding.yarn_step.label}: {winding.yarn_step.text}."


def _to_buy(need: YarnNeed, units: str, most_g: Fraction) -> str:
    """What to buy of one yarn, as whole packages where their size is known."""
    if need.packages is not None:
        cost = f", {float(need.cost):.2f}" if need.cost is not None else ""
        return plural(need.packages, "package") + cost
    if need.to_buy_g is not None:
        return format_mass(need.to_buy_g, units, most_g)
    return format_yarn_length(need.total_mm, units)


# --- sectional beam --------------------------------------------------------------------------


SPOOL_HEAD = ("Yarn", "Spools", "Serve", "Yarn on each", "Together")
SECTION_HEAD = ("Section", "Ends", "Spools from left to right", "Change before it")


def spool_rows(beam: SectionPlan) -> tuple[tuple[str, ...], ...]:
    """Spools to wind for a sectional beam, below `SPOOL_HEAD`."""
    units = beam.plan.wishes.units
    return tuple(
        (
            f"{lot.yarn}  {beam.plan.cloth.yarn(lot.yarn).name}",
            str(lot.spools),
            plural(lot.sections, "section"),
            format_yarn_length(lot.length_mm, units),
            format_yarn_length(lot.spools * lot.length_mm, units),
        )
        for lot in beam.lots
    )


def section_row(section: Section) -> tuple[str, ...]:
    """One section of a sectional beam, below `SECTION_HEAD`."""
    return (
        str(section.number),
        f"{section.ends} ({section.first_end} to {section.last_end})",
        " ".join(f"{stripe.yarn}{stripe.threads}" for stripe in section.order),
        section.change or "Put in the first spools.",
    )


# --- losses -----------------------------------------------------------------------------------


def loss_rows(plan: WarpPlan) -> tuple[tuple[str, ...], ...]:
    """The same cloth at other losses in the width: loss, sett, width in reed, warp length."""
    units = plan.wishes.units
    return tuple(
        (
            format_share(row.loss),
            density(row.loom_density, units),
            format_length(row.width_in_reed_mm, units),
            format_length(row.warp_length_mm, units),
        )
        for row in plan.loss_table
    )


LOSS_HEAD = ("Loss in the width", "Sett on the loom", "Width in the reed", "Warp length")


def losses_divide(units: str) -> str:
    """Why a loss is allowed for by dividing, with an example in the weaver's units."""
    unit = "in" if units == "inch" else "cm"
    return (
        f"Losses divide: what is lost is a share of the larger number before it, so 10 {unit} of"
        f" finished cloth at a loss of 20 % needs 10 / 0.80 = 12.5 {unit}, not 12 {unit}."
    )


def loss_lines(plan: WarpPlan) -> tuple[str, ...]:
    """The four losses with their ranges, one line each."""
    losses = plan.wishes.losses
    named = (
        ("Draw-in while weaving (width)", losses.draw_in),
        ("Shrinkage in finishing (width)", losses.width_shrinkage),
        ("Take-up while weaving (length)", losses.take_up),
        ("Shrinkage in finishing (length)", losses.length_shrinkage),
    )
    lines = []
    for label, loss in named:
        value, between = span(loss, format_share)
        origin = f", {loss.origin.value}"
        lines.append(f"{label}: {value}{f', {between}' if between else ''}{origin}")
    return tuple(lines)
