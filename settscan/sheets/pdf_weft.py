"""The sheet for weaving on paper: the picks of a piece, with their height."""

from __future__ import annotations

from settscan.sheets import weft_lines
from settscan.sheets.content import plural
from settscan.sheets.paper import GREY, Column, Paper
from settscan.winding.wound import Wound

_ACROSS = 3  # marks beside each other


def draw_weft(sheet: Paper, winding: Wound) -> None:
    """What to know, the stripes of each stretch, and the height at the end of each repeat."""
    plan = winding.plan
    sheet.chapter("Weaving", "The first pick first; heights under tension on the loom.", keep=150)
    for line in weft_lines.weaving_lines(plan, winding.yarns):
        sheet.paragraph(line, size=10.5, after=2)
    for stretch in weft_lines.weft_stretches(plan):
        times = f", {stretch.times} times" if stretch.times > 1 else ""
        label = f"{stretch.label.capitalize()}: {plural(stretch.threads, 'pick')}{times}"
        rows = weft_lines.stripe_rows(plan, stretch)
        columns = (Column("Picks", 0.7, "right"), *_words(weft_lines.STRIPE_HEAD[1:]))
        sheet.table(columns, rows, size=10, heading=label)
    marks = weft_lines.marks_along(plan)
    if marks:
        down = -(-len(marks) // _ACROSS)
        beside = [
            tuple(marks[at] if at < len(marks) else "" for at in range(row, down * _ACROSS, down))
            for row in range(down)
        ]
        heading = "Where you are at the ends of repeats"
        sheet.table([Column("", 1)] * _ACROSS, beside, size=9.5, heading=heading)
        sheet.paragraph(weft_lines.MEASURE, size=9.5, colour=GREY)


def _words(heads: tuple[str, ...]) -> tuple[Column, ...]:
    return tuple(Column(head, 1.4) for head in heads)
