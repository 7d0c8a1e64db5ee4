"""Plan and winding in detail for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

from settscan.cloth.model import Stripe
from settscan.sheets import at_loom, content, weft_lines
from settscan.sheets.terminal import (
    WIDTH,
    columns,
    heading,
    indented,
    numbered,
    paragraph,
    table,
    title,
    warning_list,
)
from settscan.sheets.winding_lines import (
    HAND_HEAD,
    HAND_WORDS,
    HOW_TO_READ,
    bout_rows,
    due_ties,
    hand_rows,
    odd_groups,
    passes_note,
    tie_sentences,
)
from settscan.warping.model import WarpPlan, YarnNeed
from settscan.winding.model import Bout, WindingPlan
from settscan.winding.sections import SectionPlan
from settscan.winding.wound import Wound


def plan_text(plan: WarpPlan, yarns: Sequence[YarnNeed] = ()) -> str:
    """The warp plan in detail: colour order, how each figure came about, sley, weaving.

    Args:
        plan: the warp.
        yarns: as wound, for the pirns; those of the plan if there are none.
    """
    yarns = yarns or plan.yarns
    parts = [
        heading("Colour order, left to right"),
        table([(_times(each), stripes_text(each.stripes)) for each in content.stretches(plan)]),
        heading("How each figure comes about"),
        table([(step.label, step.text) for step in plan.steps]),
        paragraph(content.losses_divide(plan.wishes.units)),
        heading("Raddle, sley and threading"),
        indented(at_loom.raddle_lines(plan)),
        indented(at_loom.sley_lines(plan)),
        indented(at_loom.threading_lines(plan.draft, plan.ends)) if plan.draft else "",
        heading("Weaving"),
        *_weft(plan, yarns),
    ]
    return "\n".join(part for part in parts if part)


def _weft(plan: WarpPlan, yarns: Sequence[YarnNeed]) -> Iterator[str]:
    """Picks and heights, stripe by stripe."""
    yield indented(weft_lines.weaving_lines(plan, yarns))
    for stretch in weft_lines.weft_stretches(plan):
        times = f", {stretch.times} times" if stretch.times > 1 else ""
        yield f"\n  {stretch.label}: {content.plural(stretch.threads, 'pick')}{times}"
        rows = (weft_lines.STRIPE_HEAD, *weft_lines.stripe_rows(plan, stretch))
        # The name of the colour goes last, where there is room for a long one.
        head, *others = [(picks, *heights, colour) for picks, colour, *heights in rows]
        yield columns([each.lower() for each in head], others, right=(0, 2))


def winding_text(winding: Wound) -> str:
    """The winding plan in detail: path, bouts, ties; or the spools of a sectional beam."""
    if isinstance(winding, SectionPlan):
        return _beam_text(winding)
    path, units = winding.path, winding.plan.wishes.units
    kind = winding.frame.kind.value
    figures = [
        ("Path", content.length(path.length_mm, units)),
        ("Guide cord", content.length(path.guide_cord_mm, units)),
        ("Passes", str(winding.passes)),
        (content.turns_label(winding), content.mixed(winding.turns_in_all)),
        ("Yarn through the hand", content.length(winding.walking_mm, units)),
        ("Knots at changes", str(winding.knots)),
        (winding.yarn_step.label, winding.yarn_step.text),
    ]
    parts = [
        title(f"Winding on the {kind}"),
        table(figures),
        heading(f"Setting up the {kind}"),
        numbered(path.steps),
        heading("Ends in the hand"),
        columns(HAND_HEAD, hand_rows(winding), right=(0, 1, 2, 3)),
        paragraph(HAND_WORDS),
        heading("Bouts, left to right"),
        columns(("bout", "ends", "colours"), [row[:3] for row in bout_rows(winding)]),
        heading("Ties, in order"),
        numbered(tie_sentences(winding)),
        warning_list("Odd stripes", [f"{done} {ways}" for done, ways in odd_groups(winding)]),
        heading("Before a bout comes off the pegs"),
        numbered(winding.before_taking_off),
        heading("If you lose count"),
        numbered(winding.recover),
    ]
    return "\n".join(part for part in parts if part)


def _beam_text(beam: SectionPlan) -> str:
    parts = [
        title("Winding the sectional beam"),
        table([(beam.yarn_step.label, beam.yarn_step.text)]),
        indented(beam.notes),
        heading("Spools"),
        columns(
            [head.lower() for head in content.SPOOL_HEAD], content.spool_rows(beam), right=(1, 3)
        ),
        heading("In order"),
        numbered(beam.how),
    ]
    return "\n".join(part for part in parts if part)


def steps_text(winding: Wound) -> str:
    """Every line of the winding list, bout by bout or section by section."""
    if isinstance(winding, SectionPlan):
        rows = [
            (number, ends, f"{order}; {change}")
            for number, ends, order, change in map(content.section_row, winding.sections)
        ]
        return "\n".join([heading("Sections"), columns(("section", "ends", "spools"), rows)])
    return "\n".join([paragraph(HOW_TO_READ), *(_bout(winding, bout) for bout in winding.bouts)])


def stripes_text(stripes: Iterable[Stripe]) -> str:
    """Stripes in a row: "A24 B4 A8"."""
    return " ".join(f"{stripe.yarn}{stripe.threads}" for stripe in stripes)


def _times(stretch: content.Stretch) -> str:
    return f"{stretch.label} ({stretch.threads})"


def _bout(winding: WindingPlan, bout: Bout) -> str:
    """Every step of a bout, one line each, changes and ties between them."""
    lines = [heading(f"Bout {bout.number} of {len(winding.bouts)}: {bout.ends} ends")]
    due = due_ties(bout)
    for step in bout.steps:
        if step.change:
            lines += wrap(step.change, WIDTH, initial_indent="    ", subsequent_indent="    ")
        name = " ".join(step.colour_name.split())
        what = f"[ ] {step.ends:>4}  {' '.join(step.yarns):<2} {name}"[:44]
        end = f"to {step.finishes_at}"
        lines.append(f"{what:<44}{end:<13}= {step.bout_total:>4}  warp {step.warp_total:>5}")
        if step.in_hand > 1:
            lines.append(f"           {passes_note(step)}"[:WIDTH])
        for tie in due.get(step.number, ()):
            lines += wrap(f"-- {tie}", WIDTH, initial_indent="    ", subsequent_indent="       ")
    return "\n".join(lines)
