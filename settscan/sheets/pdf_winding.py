"""The winding sheets on paper, to be read from two metres, and the pages around them."""

from __future__ import annotations

from settscan.sheets import content
from settscan.sheets.lettering import clipped, fitted, width_of, wrapped
from settscan.sheets.marks import INK, PAPER, Mark
from settscan.sheets.paper import GREY, LINE, MARGIN, Column, Paper
from settscan.sheets.winding_lines import (
    HOW_TO_READ,
    Group,
    closing_ties,
    due_ties,
    on_pages,
    passes_note,
    per_yarn_line,
    tie_sentences,
)
from settscan.winding.model import Bout, WindingPlan, WindingStep

_COUNT = 48.0  # type size of a count: legible from two metres
_ROW = 62.0  # height of one winding line
_CHANGE = 13.0  # type size of a change of yarn
_TIE = 13.0
_LABEL = 20.0
_BOX = 24.0  # tick box
_INDENT = 40.0
_LEAST_FOOTER = 10.0  # below this size the footer gives letters alone, without the words
_DONE = 82.0  # what to do when the bout is wound


def draw_setting_up(sheet: Paper, winding: WindingPlan, marks: dict[str, Mark]) -> None:
    """How to set the frame, the bouts at a glance, and cautions."""
    units, path, kind = winding.plan.wishes.units, winding.path, winding.frame.kind.value
    sheet.new_page()
    turns = content.mixed(path.turns)
    sheet.title_line(
        f"Setting up the {kind}",
        f"{turns} turns, {content.length(path.length_mm, units)} from end to end,"
        f" {winding.passes} passes in {content.plural(len(winding.bouts), 'bout')}.",
    )
    sheet.numbered(path.steps, size=11)
    if path.whole_turn_note and path.turns != path.whole_turns:
        sheet.paragraph(path.whole_turn_note, size=10, colour=GREY)
    sheet.y += 4
    sheet.paragraph(HOW_TO_READ, size=10.5, colour=GREY)
    sheet.heading("Bouts, left to right", keep=90)
    columns = (
        Column("Bout", 0.5),
        Column("Ends", 1.1),
        Column("Colours", 2.2),
        Column("Why it ends there", 2.2),
    )
    rows = [
        (
            str(bout.number),
            f"{bout.ends} ({bout.first_end} to {bout.last_end})",
            ", ".join(f"{key} {ends}" for key, ends in bout.per_yarn.items()),
            bout.split_reason,
        )
        for bout in winding.bouts
    ]
    sheet.table(columns, rows)
    if winding.odd_stripes:
        sheet.heading("Stripes with an odd number of passes")
        sheet.numbered((str(odd) for odd in winding.odd_stripes), size=10.5)
    size, after = 9.8, 3.0
    lines = [wrapped(text, "text", size, sheet.inner) for text in winding.cautions]
    together = sum(len(each) * size * 1.42 + after for each in lines)
    sheet.heading("Take care", keep=min(together, sheet.height / 2))
    for caution in winding.cautions:
        sheet.paragraph(caution, size=size, after=after)


# --- the winding sheets ----------------------------------------------------------------------


def draw_winding(sheet: Paper, winding: WindingPlan, marks: dict[str, Mark]) -> None:
    """One set of pages for each bout; a page ends at a tie where it can."""
    names = {key: mark.name for key, mark in marks.items()}
    for bout in winding.bouts:
        footer = per_yarn_line(bout, names)
        if fitted(footer, "strong", 13, sheet.inner) < _LEAST_FOOTER:
            footer = per_yarn_line(bout, dict.fromkeys(names, ""))
        groups = _groups(sheet, bout)
        room = sheet.bottom - MARGIN - 52  # below the heading of the page
        pages = on_pages(groups, room)
        for number, page in enumerate(pages):
            sheet.new_page(footer)
            _head(sheet, winding, bout, f"{number + 1} of {len(pages)}" if len(pages) > 1 else "")
            for group in page:
                _draw_group(sheet, group, marks)
        _bout_done(sheet, winding, bout)


def _groups(sheet: Paper, bout: Bout) -> list[Group]:
    """The steps of a bout with the room that each takes; the last keeps room for the closing."""
    groups = []
    due = due_ties(bout)
    label = ""
    for step in bout.steps:
        new = step.repeat_label if step.repeat_label != label else ""
        label = step.repeat_label
        ties = due.get(step.number, ())
        height = _ROW + (_LABEL if new else 0)
        height += sum(_lines_height(sheet, text, _CHANGE) for text in _change(step))
        height += sum(_lines_height(sheet, text, _TIE) for text in ties)
        height += 3 if ties else 0
        height += _DONE if step is bout.steps[-1] else 0
        groups.append(Group(step=step, label=new, ties=ties, height=height))
    return groups


def _change(step: WindingStep) -> tuple[str, ...]:
    return (step.change,) if step.change else ()


def _lines_height(sheet: Paper, text: str, size: float) -> float:
    lines = wrapped(text, "strong", size, sheet.inner - _INDENT)
    return len(lines) * size * 1.28 + 10


def _head(sheet: Paper, winding: WindingPlan, bout: Bout, part: str) -> None:
    title = f"Bout {bout.number} of {len(winding.bouts)}"
    sheet.text(sheet.left, sheet.y + 20, title, "title", 25)
    wide = width_of(title, "title", 25)
    if part:
        sheet.text(sheet.left + wide + 12, sheet.y + 20, f"sheet {part}", "text", 11, GREY)
    ends = f"{bout.ends} ends, {bout.first_end} to {bout.last_end} from the left"
    sheet.text(sheet.right, sheet.y + 20, ends, "text", 11, GREY, "right")
    sheet.y += 34
    sheet.rule(sheet.left, sheet.y, sheet.right, sheet.y, INK, 1.2)
    sheet.y += 6


def _draw_group(sheet: Paper, group: Group, marks: dict[str, Mark]) -> None:
    step = group.step
    if group.label:
        sheet.text(sheet.left, sheet.y + 14, group.label, "strong", 10.5, GREY)
        sheet.y += _LABEL
    for text in _change(step):
        _action(sheet, text, _CHANGE)
    _wind(sheet, step, marks[step.yarn])
    for text in group.ties:
        _action(sheet, text, _TIE)
    heavy = bool(group.ties)
    sheet.y += 3 if heavy else 0
    sheet.rule(
        sheet.left, sheet.y, sheet.right, sheet.y, INK if heavy else LINE, 1.6 if heavy else 0.6
    )


def _action(sheet: Paper, text: str, size: float) -> None:
    """A change of yarn or a tie: a box to tick and what to do."""
    sheet.y += 5
    sheet.tick_box(sheet.left, sheet.y + 2, 15)
    for line in wrapped(text, "strong", size, sheet.inner - _INDENT):
        sheet.text(sheet.left + _INDENT, sheet.y + size, line, "strong", size)
        sheet.y += size * 1.28
    sheet.y += 5


def _wind(sheet: Paper, step: WindingStep, mark: Mark) -> None:
    """The count, large; swatch and letter; colour in words; where it ends; running totals."""
    top = sheet.y
    sheet.tick_box(sheet.left, top + 18, _BOX)
    count = str(step.ends)
    sheet.text(sheet.left + 124, top + 47, count, "bold", _COUNT, INK, "right")
    sheet.swatch(sheet.left + 138, top + 8, 46, 46, mark)
    words, totals = sheet.left + 198, 104.0
    room = sheet.right - totals - words
    _colour_words(sheet, mark.name, words, top + 33, room)
    note = passes_note(step)
    sheet.text(words, top + 51, note, "text", fitted(note, "text", 12.5, room))
    sheet.text(sheet.right, top + 33, f"= {step.bout_total}", "bold", 28, INK, "right")
    sheet.text(sheet.right, top + 51, f"warp {step.warp_total}", "text", 12.5, INK, "right")
    sheet.y += _ROW


def _colour_words(sheet: Paper, name: str, x: float, y: float, room: float) -> None:
    """The colour as large as it fits; a very long name in two smaller lines."""
    size = fitted(name, "bold", 28, room, least=15)
    if width_of(name, "bold", size) <= room:
        sheet.text(x, y, name, "bold", size)
        return
    lines = wrapped(name, "bold", size, room)
    sheet.text(x, y - 14, lines[0], "bold", size)
    sheet.text(x, y + 3, clipped(" ".join(lines[1:]), "bold", size, room), "bold", size)


def _bout_done(sheet: Paper, winding: WindingPlan, bout: Bout) -> None:
    """What to do when the bout is wound, with boxes."""
    sheet.need(_DONE)
    sheet.y += 12
    done = f"Bout {bout.number} is wound: {bout.ends} ends. Count them, then tie:"
    sheet.text(sheet.left, sheet.y + 13, done, "strong", 13)
    sheet.y += 24
    x = sheet.left
    for text in (*closing_ties(winding, bout), "tag on, then off the pegs"):
        wide = 24 + width_of(text, "text", 12) + 20
        if x + wide > sheet.right:
            x, sheet.y = sheet.left, sheet.y + 20
        sheet.tick_box(x, sheet.y, 13)
        sheet.text(x + 20, sheet.y + 11, text, "text", 12)
        x += wide
    sheet.y += 22


# --- ties, tags, advice ----------------------------------------------------------------------


def draw_ties_and_tags(sheet: Paper, winding: WindingPlan, marks: dict[str, Mark]) -> None:
    """Ties in their order, what to check, a lost count; then tags to cut out."""
    sheet.new_page()
    sheet.title_line("Ties", "In the order in which they are made, for each bout.")
    sheet.numbered(tie_sentences(winding), size=10.5)
    sheet.heading("Before a bout comes off the pegs")
    sheet.numbered(winding.before_taking_off, tick=True, size=10.5)
    sheet.heading("If you lose count")
    sheet.numbered(winding.recover, size=10.5)
    _tags(sheet, winding, marks)


_TAG = 134.0  # height of a tag


def _tags(sheet: Paper, winding: WindingPlan, marks: dict[str, Mark]) -> None:
    sheet.new_page()
    sheet.title_line("Tags", "Cut out, one for each chain; tie it to the cross end.")
    gap = 16.0
    wide = (sheet.inner - gap) / 2
    for place, bout in enumerate(winding.bouts):
        if place % 2 == 0:
            sheet.need(_TAG)
        _tag(sheet, winding, bout, sheet.left + place % 2 * (wide + gap), wide, marks)
        if place % 2 or place == len(winding.bouts) - 1:
            sheet.y += _TAG + gap


def _tag(
    sheet: Paper, winding: WindingPlan, bout: Bout, x: float, wide: float, marks: dict[str, Mark]
) -> None:
    top = sheet.y
    sheet.box(x, top, wide, _TAG, stroke=GREY, width=0.8, round_by=8, dash=True)
    sheet.box(x + 12, top + 14, 14, 14, stroke=GREY, fill=PAPER, round_by=7)
    sheet.text(x + 38, top + 36, str(bout.number), "bold", 34)
    number = width_of(str(bout.number), "bold", 34)
    sheet.text(x + 44 + number, top + 36, f"of {len(winding.bouts)}", "text", 13, GREY)
    sheet.text(x + wide - 12, top + 36, f"{bout.ends} ends", "bold", 17, INK, "right")
    order = content.cut_out(winding.plan.order, bout.first_end - 1, bout.ends)
    sheet.strip(x + 12, top + 46, wide - 24, 14, order, marks)
    room = _TAG - 68
    size = next(
        (
            s
            for s in (8.8, 8.0, 7.2)
            if len(wrapped(bout.tag, "text", s, wide - 24)) * s * 1.36 < room
        ),
        6.4,
    )
    for at, line in enumerate(wrapped(bout.tag, "text", size, wide - 24)):
        sheet.text(x + 12, top + 66 + size * (1 + at * 1.36), line, "text", size)
