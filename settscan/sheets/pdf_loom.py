"""The sheet for the loom on paper: raddle, reed and sley, threading, tie-up and treadling."""

from __future__ import annotations

from collections.abc import Sequence

from settscan.sheets import at_loom
from settscan.sheets.drafts import DraftCells, draft_cells
from settscan.sheets.marks import INK
from settscan.sheets.paper import GREY, LINE, MARGIN, Column, Paper
from settscan.warping.model import Draft, WarpPlan

_CELL = 8.0  # a square of the draft


def draw_loom(sheet: Paper, plan: WarpPlan) -> None:
    """Raddle, reed and sley, threading and draft, from the left edge to the right one."""
    sub = "From the left edge to the right one, as you face the loom."
    sheet.chapter("Sley and threading", sub, keep=150)
    _raddle(sheet, plan)
    _sley(sheet, plan)
    if plan.draft is None:
        sheet.heading("Threading")
        sheet.paragraph("The weave is not known: type it into the project file, then plan again.")
        return
    draw_threading(sheet, plan, plan.draft)


def _raddle(sheet: Paper, plan: WarpPlan) -> None:
    lines = at_loom.raddle_lines(plan)
    if lines:
        sheet.heading("Raddle")
        sheet.paragraph("; ".join(lines), size=11)


def _sley(sheet: Paper, plan: WarpPlan) -> None:
    name = f"Reed {plan.reed.reed.label}, sleyed {plan.reed.sleying}" if plan.reed else "Reed"
    sheet.heading(name)
    if plan.reed is not None:
        _dents(sheet, at_loom.dents(plan))
    sheet.paragraph("; ".join(at_loom.sley_lines(plan)), size=11, after=1)
    rows = at_loom.reed_rows(plan)
    if rows:
        shares = (1.0, 1.5, 1.9, 0.8, 1.0, 3.8)
        columns = [
            Column(head, share) for head, share in zip(at_loom.REED_HEAD, shares, strict=True)
        ]
        sheet.table(columns, rows, size=9, heading="The nearest reeds")


def _dents(sheet: Paper, dents: Sequence[int], most: int = 30) -> None:
    """The first dents of the reed, each with its ends as dots and their number."""
    shown = dents[:most]
    wide = min(sheet.inner / max(len(shown), 1), 24.0)
    for place, ends in enumerate(shown):
        x = sheet.left + place * wide
        sheet.rule(x, sheet.y, x, sheet.y + 26, GREY, 0.8)
        for end in range(ends):
            dot = x + wide * (end + 1) / (ends + 1)
            size = min(5.0, 0.8 * wide / (ends + 1))
            sheet.box(
                dot - size / 2,
                sheet.y + 13 - size / 2,
                size,
                size,
                fill=INK,
                stroke=None,
                round_by=size / 2,
            )
        sheet.text(x + wide / 2, sheet.y + 36, str(ends), "strong", 8.5, INK, "middle")
    right = sheet.left + len(shown) * wide
    sheet.rule(right, sheet.y, right, sheet.y + 26, GREY, 0.8)
    for rail in (0, 26):
        sheet.rule(sheet.left, sheet.y + rail, right, sheet.y + rail, INK, 2)
    note = f"the first {len(shown)} of {len(dents)} dents, with the ends in each"
    sheet.text(sheet.left, sheet.y + 49, note, "text", 8.5, GREY)
    sheet.y += 62


def draw_threading(sheet: Paper, plan: WarpPlan, draft: Draft) -> None:
    """Threading, tie-up and treadling in words and as a drawing, on the page of their heading."""
    threaded = ", ".join(at_loom.threading_lines(draft, plan.ends))
    heddles = ", ".join(f"shaft {at}: {many}" for at, many in enumerate(draft.heddles, 1))
    cells = draft_cells(draft)
    columns, rows = _squares(cells)
    texts = threaded, f"Heddles: {heddles}"
    words = sum(sheet.tall(text, "text", 11, sheet.inner) for text in texts)
    keep = words + rows * min(_CELL, sheet.inner / columns) + 40
    if keep > sheet.bottom - MARGIN - 40:  # a threading so long that it fills a page by itself
        keep = 75.0
    sheet.heading(f"Threading, tie-up and treadling: {draft.name}", keep=keep)
    sheet.paragraph(threaded, size=11, after=1)
    sheet.paragraph(f"Heddles: {heddles}", size=10.5, after=8)
    _draw_draft(sheet, cells)
    raised = (
        f"treadle {at} raises {', '.join(map(str, shafts))}"
        for at, shafts in enumerate(draft.tie_up, 1)
    )
    sheet.paragraph(f"Rising shed: {'; '.join(raised)}.", size=10)
    order = "-".join(map(str, draft.treadling))
    sheet.paragraph(f"Treadle {order} and again; the first pick is the lowest row.", size=10)
    if plan.wishes.piece.floating_selvedges:
        sheet.paragraph("The outermost end on each side goes through no heddle.", size=10)
    for note in draft.notes:
        sheet.paragraph(note, size=10)


def _squares(cells: DraftCells) -> tuple[int, int]:
    """The draft's width and height in squares, with one between its fields."""
    return cells.ends + 1 + cells.treadles, cells.shafts + 1 + cells.picks


def _draw_draft(sheet: Paper, cells: DraftCells) -> None:
    """The four fields of the draft on a square grid."""
    columns, rows = _squares(cells)
    side = min(_CELL, sheet.inner / columns, (sheet.bottom - sheet.y - 60) / rows)
    if side < 6:
        sheet.new_page()
        side = min(_CELL, sheet.inner / columns)
    sheet.need(rows * side + 20)
    fields = (
        (0, 0, cells.ends, cells.shafts, cells.threading),
        (cells.ends + 1, 0, cells.treadles, cells.shafts, cells.tie_up),
        (cells.ends + 1, cells.shafts + 1, cells.treadles, cells.picks, cells.treadling),
        (0, cells.shafts + 1, cells.ends, cells.picks, cells.drawdown),
    )
    for x, y, wide, high, filled in fields:
        _grid(sheet, sheet.left + x * side, sheet.y + y * side, side, (wide, high), filled)
    sheet.y += rows * side + 12


def _grid(
    sheet: Paper,
    left: float,
    top: float,
    side: float,
    size: tuple[int, int],
    filled: Sequence[tuple[int, int]],
) -> None:
    wide, high = size
    for column, row in filled:
        sheet.box(left + column * side, top + row * side, side, side, fill=INK, stroke=None)
    for column in range(wide + 1):
        sheet.rule(left + column * side, top, left + column * side, top + high * side, LINE, 0.5)
    for row in range(high + 1):
        sheet.rule(left, top + row * side, left + wide * side, top + row * side, LINE, 0.5)
