"""The winding sheets on paper, to be read from two metres."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

from settscan.sheets.bout_sets import BoutSet, bout_sets, times_in_words
from settscan.sheets.marks import INK, Mark
from settscan.sheets.paper import GREY, LINE, Paper
from settscan.sheets.winding_lines import (
    Group,
    closing_ties,
    due_ties,
    on_pages,
    passes_note,
    per_yarn_line,
)
from settscan.winding.model import WindingPlan, WindingStep

_COUNT = 48.0  # type size of a count: legible from two metres
_ROW = 43.0  # height of one winding line
_ACTION = 13.0  # type size of a change of yarn and of a tie
_ACTION_ROW = 17.5
_LABEL = 15.0
_TOP = 32.0  # of the page: less margin than the other sheets, more lines
_HEAD = 37.0
_CLEAR = 12.0  # above the footer
_MOST_AIR = 9.0  # between the lines of a page that is not full
_BOX = 24.0  # tick box
_SWATCH = 39.0
_BOXES = 44.0  # room for the boxes of all bouts that share a sheet
_INDENT = 30.0
_LEAST_FOOTER = 10.0  # below this size the footer gives letters alone, without the words
_DONE = 56.0  # what to do when the bout is wound
_DONE_ROW = 21.0
_DONE_ACROSS = 4  # bouts beside each other


def draw_winding(sheet: Paper, winding: WindingPlan, marks: dict[str, Mark]) -> None:
    """One set of pages for the bouts that are wound alike; a page ends at a tie where it can."""
    names = {key: mark.name for key, mark in marks.items()}
    for bouts in bout_sets(winding):
        footer = per_yarn_line(bouts, names)
        if sheet.fitted(footer, "strong", 12, sheet.inner) < _LEAST_FOOTER:
            footer = per_yarn_line(bouts, dict.fromkeys(names, ""))
        room = sheet.bottom - _TOP - _HEAD
        pages = on_pages(_groups(bouts), room)
        for number, page in enumerate(pages):
            sheet.new_page(footer)
            sheet.y = _TOP
            part = f"sheet {number + 1} of {len(pages)}" if len(pages) > 1 else ""
            _head(sheet, winding, bouts, part)
            spare = max(0.0, room - _CLEAR - sum(group.height for group in page))
            for group in page:
                _draw_group(sheet, group, bouts, marks)
                sheet.y += min(_MOST_AIR, spare / len(page))
        _done(sheet, winding, bouts)


def _groups(bouts: BoutSet) -> list[Group]:
    """The steps of a bout with the room that each takes; the last keeps room for the closing."""
    groups = []
    due = due_ties(bouts.pattern)
    label = ""
    for step in bouts.pattern.steps:
        new = step.repeat_label if step.repeat_label != label and bouts.times == 1 else ""
        label = step.repeat_label
        ties = due.get(step.number, ())
        height = _ROW + (_LABEL if new else 0) + _ACTION_ROW * (bool(step.change) + len(ties))
        height += _done_height(bouts) if step is bouts.pattern.steps[-1] else 0
        groups.append(Group(step=step, label=new, ties=ties, height=height))
    return groups


def _head(sheet: Paper, winding: WindingPlan, bouts: BoutSet, part: str) -> None:
    bout = bouts.pattern
    if bouts.times == 1:
        title = f"{bouts.numbers} of {len(winding.bouts)}"
        ends = f"{bout.ends} ends, {bout.first_end} to {bout.last_end} from the left"
    else:
        title = f"{bouts.numbers}: wind this {times_in_words(bouts.times)}"
        ends = f"{bout.ends} ends each"
    note = ", ".join(filter(None, (part, ends)))
    room = sheet.inner - sheet.width_of(note, "text", 11) - 14
    size = sheet.fitted(title, "title", 25, room * 0.999, least=14)
    sheet.text(sheet.left, sheet.y + 18, sheet.clipped(title, "title", size, room), "title", size)
    sheet.text(sheet.right, sheet.y + 18, note, "text", 11, GREY, "right")
    sheet.y += 30
    sheet.rule(sheet.left, sheet.y, sheet.right, sheet.y, INK, 1.2)
    sheet.y += _HEAD - 30


def _draw_group(sheet: Paper, group: Group, bouts: BoutSet, marks: dict[str, Mark]) -> None:
    step, alone = group.step, bouts.times == 1
    if group.label:
        sheet.text(sheet.left, sheet.y + 11, group.label, "strong", 10, GREY)
        sheet.y += _LABEL
    if step.change:
        _action(sheet, step.change_short, alone)
    _wind(sheet, step, bouts, [marks[yarn] for yarn in step.yarns])
    for text in group.ties:
        _action(sheet, text, alone)
    heavy = bool(group.ties)
    sheet.rule(
        sheet.left, sheet.y, sheet.right, sheet.y, INK if heavy else LINE, 1.6 if heavy else 0.6
    )


def _action(sheet: Paper, text: str, box: bool) -> None:
    """A change of yarn or a tie: what to do, in one line, and a box to tick.

    On a sheet for several bouts the boxes of the winding line beside it serve for both.
    """
    left = sheet.left + (_INDENT if box else _BOXES + 8)
    if box:
        sheet.tick_box(sheet.left + 5, sheet.y + 2.2, 13)
    size = sheet.fitted(text, "strong", _ACTION, sheet.right - left)
    sheet.text(left, sheet.y + 13.2, text, "strong", size)
    sheet.y += _ACTION_ROW


def _wind(sheet: Paper, step: WindingStep, bouts: BoutSet, marks: Sequence[Mark]) -> None:
    """The count, large; swatch and letter; colour in words; where it ends; running totals."""
    top = sheet.y
    _boxes(sheet, bouts.times, top)
    sheet.text(sheet.left + 132, top + 38.5, str(step.ends), "bold", _COUNT, INK, "right")
    wide = _SWATCH / len(marks)
    for place, mark in enumerate(marks):
        sheet.swatch(sheet.left + 144 + place * wide, top + 2, wide, _SWATCH, mark)
    words, totals = sheet.left + 198, 104.0
    room = sheet.right - totals - words
    _colour_words(sheet, " and ".join(mark.name for mark in marks), words, top + 24, room)
    note = passes_note(step)
    sheet.text(words, top + 38, note, "text", sheet.fitted(note, "text", 12.5, room))
    alone = bouts.times == 1
    low = top + (24 if alone else 31)
    sheet.text(sheet.right, low, f"= {step.bout_total}", "bold", 28, INK, "right")
    if alone:
        sheet.text(sheet.right, top + 38, f"warp {step.warp_total}", "text", 12.5, INK, "right")
    sheet.y += _ROW


def _boxes(sheet: Paper, times: int, top: float) -> None:
    """A box to tick for each time that the line is wound."""
    if times == 1:
        sheet.tick_box(sheet.left, top + 9.5, _BOX)
        return
    across = next(columns for columns in (2, 3, 4) if times <= columns * columns or columns == 4)
    pitch = _BOXES / max(across, 3)
    down = ceil(times / across)
    high = top + (_ROW - pitch * down) / 2
    for place in range(times):
        row, column = divmod(place, across)
        sheet.tick_box(sheet.left + column * pitch, high + row * pitch + 1, pitch - 3)


def _colour_words(sheet: Paper, name: str, x: float, y: float, room: float) -> None:
    """The colour as large as it fits; a very long name in two smaller lines."""
    size = sheet.fitted(name, "bold", 26, room, least=14)
    if sheet.width_of(name, "bold", size) <= room:
        sheet.text(x, y, name, "bold", size)
        return
    lines = sheet.wrapped(name, "bold", size, room)
    sheet.text(x, y - 12, lines[0], "bold", size)
    sheet.text(x, y + 2, sheet.clipped(" ".join(lines[1:]), "bold", size, room), "bold", size)


def _done_height(bouts: BoutSet) -> float:
    rows = 0 if bouts.times == 1 else ceil(bouts.times / _DONE_ACROSS)
    return _DONE + rows * _DONE_ROW


def _done(sheet: Paper, winding: WindingPlan, bouts: BoutSet) -> None:
    """What to do when a bout is wound, with boxes."""
    bout, ties = bouts.pattern, closing_ties(winding, bouts.pattern)
    sheet.y += 8
    if bouts.times == 1:
        done = f"Bout {bout.number} is wound: {bout.ends} ends. Count them, then tie:"
        sheet.text(sheet.left, sheet.y + 13, done, "strong", 12.5)
        sheet.y += 23
        _done_boxes(sheet, (*ties, "tag on, off the pegs"))
        return
    done = f"Each time, {bout.ends} ends: count them, then tie {', '.join(ties)}."
    size = sheet.fitted(done, "strong", 12.5, sheet.inner)
    sheet.text(sheet.left, sheet.y + 13, done, "strong", size)
    sheet.y += 17
    put = "Tag on, off the pegs; tick the bout:"
    sheet.text(sheet.left, sheet.y + 13, put, "strong", 12.5)
    sheet.y += 22
    wide = sheet.inner / _DONE_ACROSS
    for place, each in enumerate(bouts.bouts):
        row, column = divmod(place, _DONE_ACROSS)
        x, y = sheet.left + column * wide, sheet.y + row * _DONE_ROW
        sheet.tick_box(x, y, 14)
        name = f"bout {each.number}"
        sheet.text(x + 20, y + 12, name, "strong", 12)
        after = x + 25 + sheet.width_of(name, "strong", 12)
        ends = f"{each.first_end} to {each.last_end}"
        size = sheet.fitted(ends, "text", 9, x + wide - after - 7, least=6)
        sheet.text(after, y + 12, ends, "text", size, GREY)


def _done_boxes(sheet: Paper, texts: tuple[str, ...]) -> None:
    x = sheet.left
    for text in texts:
        sheet.tick_box(x, sheet.y, 13)
        sheet.text(x + 18, sheet.y + 11, text, "text", 11.5)
        x += 18 + sheet.width_of(text, "text", 11.5) + 14
