"""The pages around the winding sheets: how to set the frame, ties, checks, tags to cut out."""

from __future__ import annotations

from settscan.sheets import content
from settscan.sheets.lettering import width_of, wrapped
from settscan.sheets.marks import INK, PAPER, Mark
from settscan.sheets.paper import GREY, Column, Paper
from settscan.sheets.winding_lines import HOW_TO_READ, bout_rows, odd_groups, tie_sentences
from settscan.winding.model import Bout, WindingPlan

_TAG = 118.0  # height of a tag, if so many fit
_LEAST_TAG = 86.0
_TAG_GAP = 10.0


def draw_setting_up(sheet: Paper, winding: WindingPlan) -> None:
    """How to set the frame, the bouts at a glance, and cautions."""
    units, path, kind = winding.plan.wishes.units, winding.path, winding.frame.kind.value
    turns = content.mixed(path.turns)
    sheet.chapter(
        f"Setting up the {kind}",
        f"{turns} turns, {content.length(path.length_mm, units)} from end to end,"
        f" {winding.passes} passes in {content.plural(len(winding.bouts), 'bout')}.",
    )
    sheet.numbered(path.steps, size=10.5)
    if path.whole_turn_note and path.turns != path.whole_turns:
        sheet.paragraph(path.whole_turn_note, size=10, colour=GREY)
    sheet.y += 4
    sheet.paragraph(HOW_TO_READ, size=10, colour=GREY)
    sheet.heading("Bouts, left to right", keep=90)
    columns = (
        Column("Bout", 1),
        Column("Ends", 0.8),
        Column("Colours", 2.2),
        Column("Where it ends", 2.2),
    )
    sheet.table(columns, bout_rows(winding))
    if winding.odd_stripes:
        sheet.heading("Stripes with an odd number of passes")
        for done, ways in odd_groups(winding):
            sheet.paragraph(done, style="strong", size=10, after=1)
            sheet.paragraph(ways, size=9.5, indent=14, after=5)
    size, after = 9.8, 3.0
    lines = [wrapped(text, "text", size, sheet.inner) for text in winding.cautions]
    together = sum(len(each) * size * 1.42 + after for each in lines)
    sheet.heading("Take care", keep=min(together, sheet.height / 2))
    for caution in winding.cautions:
        sheet.paragraph(caution, size=size, after=after)


def draw_ties(sheet: Paper, winding: WindingPlan) -> None:
    """Ties in their order, what to check, what to do about a lost count."""
    sheet.chapter("Ties", "In the order in which they are made, for each bout.", keep=200)
    sheet.numbered(tie_sentences(winding), size=10)
    sheet.heading("Before a bout comes off the pegs", keep=120)
    sheet.numbered(winding.before_taking_off, tick=True, size=10)
    sheet.heading("If you lose count", keep=120)
    sheet.numbered(winding.recover, size=10)


def draw_tags(sheet: Paper, winding: WindingPlan, marks: dict[str, Mark]) -> None:
    """A tag for each chain, to cut out."""
    sheet.new_page()
    sheet.title_line("Tags", "Cut out, one for each chain; tie it to the cross end.")
    rows = -(-len(winding.bouts) // 2)
    room = sheet.bottom - sheet.y
    high = next((h for h in (_TAG, _LEAST_TAG) if rows * (h + _TAG_GAP) - _TAG_GAP <= room), _TAG)
    wide = (sheet.inner - _TAG_GAP) / 2
    for place, bout in enumerate(winding.bouts):
        if place % 2 == 0:
            sheet.need(high)
        left = sheet.left + place % 2 * (wide + _TAG_GAP)
        _tag(sheet, winding, bout, (left, wide, high), marks)
        if place % 2 or place == len(winding.bouts) - 1:
            sheet.y += high + _TAG_GAP


def _tag(
    sheet: Paper,
    winding: WindingPlan,
    bout: Bout,
    place: tuple[float, float, float],
    marks: dict[str, Mark],
) -> None:
    """One tag; `place` is its left edge, width and height."""
    top, (x, wide, high) = sheet.y, place
    sheet.box(x, top, wide, high, stroke=GREY, width=0.8, round_by=8, dash=True)
    sheet.box(x + 12, top + 14, 14, 14, stroke=GREY, fill=PAPER, round_by=7)
    sheet.text(x + 38, top + 36, str(bout.number), "bold", 34)
    number = width_of(str(bout.number), "bold", 34)
    sheet.text(x + 44 + number, top + 36, f"of {len(winding.bouts)}", "text", 13, GREY)
    sheet.text(x + wide - 12, top + 36, f"{bout.ends} ends", "bold", 17, INK, "right")
    order = content.cut_out(winding.plan.order, bout.first_end - 1, bout.ends)
    sheet.strip(x + 12, top + 44, wide - 24, 11, order, marks)
    room = high - 64
    size = next(
        (
            s
            for s in (8.8, 8.0, 7.2, 6.4)
            if len(wrapped(bout.tag, "text", s, wide - 24)) * s * 1.36 < room
        ),
        5.8,
    )
    for at, line in enumerate(wrapped(bout.tag, "text", size, wide - 24)):
        sheet.text(x + 12, top + 58 + size * (1 + at * 1.36), line, "text", size)
