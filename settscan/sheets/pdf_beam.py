"""The sheets of a sectional beam: spools to wind, then section by section."""

from __future__ import annotations

from settscan.sheets import content
from settscan.sheets.marks import INK, Mark
from settscan.sheets.paper import GREY, LINE, Column, Paper
from settscan.winding.sections import Section, SectionPlan

_TEXT = 11.0
_STRIP = 16.0


def draw_beam(sheet: Paper, beam: SectionPlan, marks: dict[str, Mark]) -> None:
    """Spools, what to do in order, cautions; then each section with its order and a box."""
    sheet.chapter("Winding the sectional beam", content.wound_for_each(beam), keep=200)
    for note in beam.notes:
        sheet.paragraph(note)
    shares = (1.6, 0.6, 0.9, 1, 1)
    columns = [Column(head, share) for head, share in zip(content.SPOOL_HEAD, shares, strict=True)]
    lots = [marks[lot.yarn] for lot in beam.lots]
    sheet.table(columns, content.spool_rows(beam), marks=lots, heading="Spools to wind")
    sheet.heading("In order", keep=120)
    sheet.numbered(beam.how, size=10.5)
    sheet.heading("Take care", keep=60)
    for caution in beam.cautions:
        sheet.paragraph(caution, size=9.8, after=3)
    sheet.new_page()
    sheet.title_line("Sections", "From left to right; the spools stand in this order.")
    for section in beam.sections:
        _section(sheet, section, marks)


def _section(sheet: Paper, section: Section, marks: dict[str, Mark]) -> None:
    """One section: a box, its number and ends, its stripes to scale and in letters, the change."""
    number, ends, order, change = content.section_row(section)
    indent = 78.0
    room = sheet.inner - indent
    lines = sheet.wrapped(change, "text", _TEXT, room)
    letters = sheet.wrapped(order, "bold", 15, room)
    high = 30 + len(letters) * 19 + len(lines) * _TEXT * 1.4
    sheet.need(high)
    top = sheet.y + 6
    sheet.tick_box(sheet.left, top + 2, 20)
    sheet.text(sheet.left + 30, top + 21, number, "bold", sheet.fitted(number, "bold", 26, 44))
    sheet.strip(sheet.left + indent, top, room * 0.7, _STRIP, section.order, marks)
    sheet.text(sheet.right, top + 13, ends, "text", 11, GREY, "right")
    y = top + _STRIP + 17
    for line in letters:
        sheet.text(sheet.left + indent, y, line, "bold", 15, INK)
        y += 19
    for line in lines:
        sheet.text(sheet.left + indent, y - 3, line, "text", _TEXT)
        y += _TEXT * 1.4
    sheet.y += high
    sheet.rule(sheet.left, sheet.y, sheet.right, sheet.y, LINE, 0.6)
