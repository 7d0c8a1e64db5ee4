"""Plan and winding for the terminal: aligned, at most 80 columns, nothing said by colour."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

from settscan.cloth.model import Stripe
from settscan.cloth.notation import format_sequence
from settscan.sheets import at_loom, content, weft_lines
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

WIDTH = 80
_MOST_WARNINGS = 5  # at the head of a plan; the rest is for those who ask
_LEAST_ROOM = 16  # for the last column; with less it goes on a line of its own


def headline_text(winding: Wound) -> str:
    """The plan in about a screen: colours, key figures, yarn, what to look at."""
    plan = winding.plan
    sequences = format_sequence(plan.cloth.warp.sequence), format_sequence(plan.cloth.weft.sequence)
    weft = "as the warp" if sequences[0] == sequences[1] else sequences[1]
    figures = content.key_figures(plan, winding)
    found = content.warnings(plan, winding)
    shown = found if len(found) <= _MOST_WARNINGS + 1 else found[:_MOST_WARNINGS]
    more = len(found) - len(shown)
    parts = [
        _title(content.title_of(plan)),
        _table([("warp", sequences[0]), ("weft", weft)]),
        "",
        _table([(figure.label, _with_note(figure)) for figure in figures]),
        _heading("Yarn to buy"),
        _yarns(winding),
        _warnings("Look at this before winding", shown),
        f"    and {more} more: --verbose shows them" if more else None,
    ]
    return "\n".join(part for part in parts if part is not None)


def plan_text(plan: WarpPlan, yarns: Sequence[YarnNeed] = ()) -> str:
    """The warp plan in detail: colour order, how each figure came about, sley, weaving.

    Args:
        plan: the warp.
        yarns: as wound, for the pirns; those of the plan if there are none.
    """
    yarns = yarns or plan.yarns
    found = content.warnings(plan)
    parts = [
        _heading("Colour order, left to right"),
        _table([(_times(each), stripes_text(each.stripes)) for each in content.stretches(plan)]),
        _heading("How each figure comes about"),
        _table([(step.label, step.text) for step in plan.steps]),
        _paragraph(content.losses_divide(plan.wishes.units)),
        _heading("Raddle, sley and threading"),
        _lines(at_loom.raddle_lines(plan)),
        _lines(at_loom.sley_lines(plan)),
        _lines(at_loom.threading_lines(plan.draft, plan.ends)) if plan.draft else "",
        _heading("Weaving"),
        *_weft(plan, yarns),
        _warnings("All to look at before winding", found if len(found) > _MOST_WARNINGS else ()),
    ]
    return "\n".join(part for part in parts if part)


def _weft(plan: WarpPlan, yarns: Sequence[YarnNeed]) -> Iterator[str]:
    """Picks and heights, stripe by stripe."""
    yield _lines(weft_lines.weaving_lines(plan, yarns))
    for stretch in weft_lines.weft_stretches(plan):
        times = f", {stretch.times} times" if stretch.times > 1 else ""
        yield f"\n  {stretch.label}: {content.plural(stretch.threads, 'pick')}{times}"
        rows = (weft_lines.STRIPE_HEAD, *weft_lines.stripe_rows(plan, stretch))
        # The name of the colour goes last, where there is room for a long one.
        head, *others = [(picks, *heights, colour) for picks, colour, *heights in rows]
        yield _columns([each.lower() for each in head], others, right=(0, 2))


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
        _title(f"Winding on the {kind}"),
        _table(figures),
        _heading(f"Setting up the {kind}"),
        _numbered(path.steps),
        _heading("Ends in the hand"),
        _columns(HAND_HEAD, hand_rows(winding), right=(0, 1, 2, 3)),
        _paragraph(HAND_WORDS),
        _heading("Bouts, left to right"),
        _columns(("bout", "ends", "colours"), [row[:3] for row in bout_rows(winding)]),
        _heading("Ties, in order"),
        _numbered(tie_sentences(winding)),
        _warnings("Odd stripes", [f"{done} {ways}" for done, ways in odd_groups(winding)]),
        _heading("Before a bout comes off the pegs"),
        _numbered(winding.before_taking_off),
        _heading("If you lose count"),
        _numbered(winding.recover),
    ]
    return "\n".join(part for part in parts if part)


def _beam_text(beam: SectionPlan) -> str:
    parts = [
        _title("Winding the sectional beam"),
        _table([(beam.yarn_step.label, beam.yarn_step.text)]),
        _lines(beam.notes),
        _heading("Spools"),
        _columns(
            [head.lower() for head in content.SPOOL_HEAD], content.spool_rows(beam), right=(1, 3)
        ),
        _heading("In order"),
        _numbered(beam.how),
    ]
    return "\n".join(part for part in parts if part)


def steps_text(winding: Wound) -> str:
    """Every line of the winding list, bout by bout or section by section."""
    if isinstance(winding, SectionPlan):
        rows = [
            (number, ends, f"{order}; {change}")
            for number, ends, order, change in map(content.section_row, winding.sections)
        ]
        return "\n".join([_heading("Sections"), _columns(("section", "ends", "spools"), rows)])
    return "\n".join([_paragraph(HOW_TO_READ), *(_bout(winding, bout) for bout in winding.bouts)])


def stripes_text(stripes: Iterable[Stripe]) -> str:
    """Stripes in a row: "A24 B4 A8"."""
    return " ".join(f"{stripe.yarn}{stripe.threads}" for stripe in stripes)


def _with_note(figure: content.Figure) -> str:
    return f"{figure.value}  ({figure.note})" if figure.note else figure.value


def _times(stretch: content.Stretch) -> str:
    return f"{stretch.label} ({stretch.threads})"


def _title(text: str) -> str:
    shown = " ".join(text.split())[:WIDTH]
    return f"{shown}\n{'=' * len(shown)}"


def _heading(text: str) -> str:
    return f"\n{text}\n{'-' * len(text)}"


def _paragraph(text: str) -> str:
    return "\n" + "\n".join(wrap(text, WIDTH))


def _lines(lines: Iterable[str]) -> str:
    return "\n".join(
        part
        for line in lines
        for part in wrap(line, WIDTH - 2, initial_indent="  ", subsequent_indent="    ")
    )


def _table(rows: Sequence[tuple[str, str]]) -> str:
    """Labels at the left, values wrapped beside them."""
    wide = min(28, max(len(label) for label, _ in rows))
    lines = []
    for label, value in rows:
        labels = wrap(label, wide) or [""]
        values = wrap(value, WIDTH - wide - 4) or [""]
        for at in range(max(len(labels), len(values))):
            left = labels[at] if at < len(labels) else ""
            right = values[at] if at < len(values) else ""
            lines.append(f"  {left:<{wide}}  {right}".rstrip())
    return "\n".join(lines)


def _numbered(texts: Sequence[str]) -> str:
    lines = []
    for number, text in enumerate(texts, 1):
        lines += wrap(text, WIDTH, initial_indent=f"  {number:>2}  ", subsequent_indent=" " * 6)
    return "\n".join(lines)


def _warnings(heading: str, texts: Sequence[str]) -> str:
    if not texts:
        return ""
    lines = [_heading(heading)]
    for text in texts:
        lines += wrap(text, WIDTH, initial_indent="  ! ", subsequent_indent="    ")
    return "\n".join(lines)


def _columns(
    head: Sequence[str], rows: Sequence[Sequence[str]], *, right: Sequence[int] = ()
) -> str:
    """Columns as wide as they need; the last one wraps below itself."""
    table = [head, *rows]
    wides = [max(len(row[column]) for row in table) for column in range(len(head) - 1)]
    indent = 2 + sum(wides) + 2 * len(wides)
    lines = []
    for row in table:
        cells = [
            f"{row[column]:>{wide}}" if column in right else f"{row[column]:<{wide}}"
            for column, wide in enumerate(wides)
        ]
        start = "  " + "  ".join(cells) + "  "
        if WIDTH - indent < _LEAST_ROOM:
            lines += [start.rstrip(), *wrap(row[-1], WIDTH - 8, initial_indent=" " * 8)]
            continue
        last = wrap(row[-1], WIDTH - indent) or [""]
        lines.append((start + last[0]).rstrip())
        lines += [" " * indent + more for more in last[1:]]
    return "\n".join(lines)


def _yarns(winding: Wound) -> str:
    units = winding.plan.wishes.units
    rows = []
    for need in winding.yarns:
        _, ends, warp, weft, total, mass, buy = content.yarn_row(need, units)
        rows.append((need.key, ends, warp, weft, total, mass, f"{need.name}: {buy}"))
    head = ("yarn", "ends", "warp", "weft", "with spare", "mass", "buy")
    return _columns(head, rows, right=(1, 2, 3, 4, 5))


def _bout(winding: WindingPlan, bout: Bout) -> str:
    """Every step of a bout, one line each, changes and ties between them."""
    lines = [_heading(f"Bout {bout.number} of {len(winding.bouts)}: {bout.ends} ends")]
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
