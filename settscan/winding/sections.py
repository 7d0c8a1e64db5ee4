"""The same warp on a sectional beam: sections, spools, and yarn on each spool.

The beam is filled one section after another, straight to the full length, from as many spools as
a section has ends. Spools = density x section width, and each spool gives one warp length plus
the waste of the cut for each section that it serves (T. Vogl 2001, web page on the arithmetic of
warping sections, world.std.com/~kcl/warpingsectionmath.html).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from settscan.cloth.model import Stripe
from settscan.cloth.wishes import Frame
from settscan.errors import BadInput
from settscan.quantities import format_density, format_length
from settscan.warping.model import Step, WarpPlan, YarnNeed
from settscan.warping.yarn import yarns_as_wound
from settscan.winding.passes import Piece, pieces_between, right_edges

# Common practice, no source.
HOW = (
    "Put the spools into the rack in the order of the section, first end on the left, thread them"
    " through the tension box in that order, and tie them on to the leader of the section.",
    "Set the counter to nought and wind the first section to the full length; every section takes"
    " the same number of turns.",
    "Before cutting, make the cross, and tape the ends of the section in their order.",
    "Cut, fasten the tape on the section, change the spools as the list says, set them in"
    " the order of the next section, and tie its ends on to the leader.",
    "Tick the section, and check its ends against the list before the next one.",
)
CAUTIONS = (
    "Keep fingers, long hair, sleeves and small children clear of the turning beam and spools.",
    "Change hands and take a break between sections; stop on pain, numbness or tingling, and ask a"
    " physiotherapist or doctor before going on.",
    "Cut away from the yarn and from the other hand, and lay the blade down before winding on.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """The ends of one section of the beam, in the order of the warp."""

    number: int  # 1-based, from the left
    first_end: int  # 1-based, in the whole warp
    last_end: int
    order: tuple[Stripe, ...]  # left to right
    per_yarn: dict[str, int]
    change: str  # what to change in the spool rack before it

    @property
    def ends(self) -> int:
        """Ends of the section."""
        return self.last_end - self.first_end + 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SpoolLot:
    """Spools of one yarn that serve the same number of sections."""

    yarn: str
    spools: int
    sections: int  # that each of them serves
    length_mm: Fraction  # of yarn on each


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionPlan:
    """A whole warp on a sectional beam."""

    plan: WarpPlan
    frame: Frame
    yarns: tuple[YarnNeed, ...]  # to buy, what is lost at the cuts included
    yarn_step: Step  # how the length of one end comes about
    how: tuple[str, ...]  # what to do, in order
    cautions: tuple[str, ...]
    warnings: tuple[str, ...]
    sections: tuple[Section, ...]
    spools: int  # in the rack at once, at most
    each_section_mm: Fraction  # yarn that one end takes in one section, cut waste included
    lots: tuple[SpoolLot, ...]
    total_mm: Fraction
    notes: tuple[str, ...]


def section_bounds(ends: int, per_section: Fraction) -> tuple[int, ...]:
    """Ends to the left of each section's right edge.

    A density that gives no whole number of ends in a section alternates between the two nearest,
    so that no section is off by more than half an end.

    Raises:
        BadInput: if a section would hold less than one end.
    """
    if per_section < 1:
        raise BadInput(
            "A section of the beam would hold less than one end.",
            "Give a wider section or a closer sett.",
        )
    bounds: list[int] = []
    number = 0
    while not bounds or bounds[-1] < ends:
        number += 1
        bounds.append(min(ends, int(per_section * number + Fraction(1, 2))))
    return tuple(bounds)


def plan_sections(
    plan: WarpPlan, frame: Frame | None = None, density: Fraction | None = None
) -> SectionPlan:
    """The warp divided over the sections of a beam.

    Args:
        plan: the warp.
        frame: for section width and cut waste; the plan's own if None.
        density: ends per mm on the beam; that of the chosen reed, or the loom density, if None.

    Raises:
        BadInput: if no density is known, or a section would hold less than one end.
    """
    frame = frame or plan.wishes.frame
    density = density or _density(plan)
    per_section = density * frame.section_mm
    each = Fraction(plan.warp_length_mm.value) + frame.cut_waste_mm
    sections: list[Section] = []
    first, right = 0, right_edges(plan.order)
    for last in section_bounds(plan.ends, per_section):
        before = sections[-1].per_yarn if sections else {}
        pieces = pieces_between(plan.order, right, first, last)
        sections.append(_section(pieces, len(sections) + 1, first, last, before))
        first = last
    lots = spool_lots(sections, each)
    return SectionPlan(
        plan=plan,
        frame=frame,
        yarns=yarns_as_wound(plan, each),
        yarn_step=_yarn_step(plan, frame, each),
        how=HOW,
        cautions=CAUTIONS,
        warnings=(),
        sections=tuple(sections),
        spools=max(section.ends for section in sections),
        each_section_mm=each,
        lots=lots,
        total_mm=sum((lot.spools * lot.length_mm for lot in lots), Fraction(0)),
        notes=_notes(plan, frame, density, sections),
    )


def _yarn_step(plan: WarpPlan, frame: Frame, each: Fraction) -> Step:
    """What one end takes in its section."""
    units = plan.wishes.units
    text = (
        f"{format_length(each, units)} = warp"
        f" {format_length(Fraction(plan.warp_length_mm.value), units)} + lost in cutting and tying"
        f" on {format_length(frame.cut_waste_mm, units)}"
    )
    return Step("Wound for each end", text)


def _density(plan: WarpPlan) -> Fraction:
    if plan.reed is not None:
        return plan.reed.epi_per_mm
    if plan.loom_density is None:
        raise BadInput(
            "A sectional beam needs the sett of the warp, and it is not known.",
            "Type the density of the warp into the project.",
        )
    return Fraction(plan.loom_density.value)


def _section(
    pieces: Sequence[Piece], number: int, first: int, last: int, before: dict[str, int]
) -> Section:
    """One section and what changes in the rack before it."""
    counts: Counter[str] = Counter()
    for piece in pieces:
        counts[piece.yarn] += piece.ends
    return Section(
        number=number,
        first_end=first + 1,
        last_end=last,
        order=tuple(Stripe(piece.yarn, piece.ends) for piece in pieces),
        per_yarn=dict(counts),
        change=_change(before, counts) if number > 1 else "",
    )


def _change(before: dict[str, int], after: Counter[str]) -> str:
    """Spools to take out and to put in, by colour."""
    out = [f"{n - after[y]} {y}" for y, n in before.items() if n > after[y]]
    into = [f"{n - before.get(y, 0)} {y}" for y, n in after.items() if n > before.get(y, 0)]
    parts = [f"take out {', '.join(out)}"] if out else []
    parts += [f"put in {', '.join(into)}"] if into else []
    if not parts:
        return "The same spools, in this order."
    sentence = "; ".join(parts)
    return f"{sentence[0].upper()}{sentence[1:]}."


def spool_lots(sections: Sequence[Section], each_mm: Fraction) -> tuple[SpoolLot, ...]:
    """The fewest spools that serve all sections, and the yarn on each.

    Of each colour the n-th spool runs in every section with n or more ends of it.
    """
    lots: list[SpoolLot] = []
    yarns = dict.fromkeys(yarn for section in sections for yarn in section.per_yarn)
    for yarn in yarns:
        counts = [section.per_yarn.get(yarn, 0) for section in sections]
        served = Counter(
            sum(count >= spool for count in counts) for spool in range(1, max(counts) + 1)
        )
        lots += [
            SpoolLot(yarn=yarn, spools=spools, sections=times, length_mm=times * each_mm)
            for times, spools in sorted(served.items(), reverse=True)
        ]
    return tuple(lots)


def _notes(
    plan: WarpPlan, frame: Frame, density: Fraction, sections: Sequence[Section]
) -> tuple[str, ...]:
    """How the figures came about, and what to look out for."""
    units = plan.wishes.units
    width = format_length(frame.section_mm, units)
    sizes = sorted({section.ends for section in sections[:-1]} or {sections[0].ends})
    usual = " or ".join(map(str, sizes))
    notes = [
        f"{format_density(density, units)} on sections of {width}: {usual} ends in each,"
        f" {len(sections)} sections for {plan.ends} ends.",
    ]
    if sections[-1].ends < sizes[0]:
        notes.append(
            f"The last section has only {sections[-1].ends} ends: wind it no wider than they need."
        )
    return tuple(notes)
