"""All sheets of a warp as one printable PDF: from the overview to the tags."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from settscan.cloth.model import Stripe
from settscan.sheets import content
from settscan.sheets.lettering import covers
from settscan.sheets.marks import INK, Mark, colour_words, marks_of
from settscan.sheets.paper import GREY, Column, Paper
from settscan.sheets.pdf_beam import draw_beam
from settscan.sheets.pdf_frame import draw_cards, draw_setting_up, draw_tags, draw_ties
from settscan.sheets.pdf_loom import draw_loom
from settscan.sheets.pdf_seen import draw_seen
from settscan.sheets.pdf_weft import draw_weft
from settscan.sheets.pdf_winding import draw_winding
from settscan.sheets.photos import NO_PICTURES, Pictures
from settscan.sheets.picture import beside_photo, detail_of
from settscan.sheets.preview import preview_png
from settscan.sheets.words import Say
from settscan.warping.model import WarpPlan
from settscan.winding.sections import SectionPlan
from settscan.winding.wound import Wound

_PICTURE_PX = 1000  # sharp at the size that a page gives it, without a heavy file
_TILE = (62.0, 58.0)  # a stripe in the written-out colour order


def sheets_pdf(
    plan: WarpPlan,
    winding: Wound,
    pictures: Pictures = NO_PICTURES,
    paper: str = "A4",
    say: Say = str,
) -> bytes:
    """The whole set as a PDF with its fonts inside.

    Args:
        plan: the warp.
        winding: how it is wound.
        pictures: the photo, and what was read from it.
        paper: "A4" or "Letter".
        say: puts the text into the weaver's words.

    Raises:
        BadInput: for another paper size, or a picture that is neither PNG nor JPEG.
    """
    sheet = Paper(paper, content.title_of(plan), say)
    pictures = pictures.for_print()
    marks = {key: _in_words(mark) for key, mark in marks_of(plan.cloth.yarns).items()}
    _overview(sheet, plan, winding, pictures)
    if pictures.evidence is not None:
        draw_seen(sheet, pictures)
    _colour_order(sheet, plan, marks)
    _derivations(sheet, plan)
    _yarn_list(sheet, winding, marks)
    draw_loom(sheet, plan)
    draw_weft(sheet, winding)
    if isinstance(winding, SectionPlan):
        draw_beam(sheet, winding, marks)
    else:
        draw_setting_up(sheet, winding)
        draw_ties(sheet, winding)
        draw_winding(sheet, winding, marks)
        draw_cards(sheet, winding, marks)
        draw_tags(sheet, winding, marks)
    return sheet.finish("Warp plan and winding sheets")


def _in_words(mark: Mark) -> Mark:
    """The mark with a name that the fonts can print: plain words where they cannot."""
    return mark if covers(mark.name) else replace(mark, name=colour_words(mark.colour))


# --- overview --------------------------------------------------------------------------------


def _overview(sheet: Paper, plan: WarpPlan, winding: Wound, pictures: Pictures) -> None:
    sheet.new_page()
    weave = plan.draft.name if plan.draft else "weave not known"
    colours = content.plural(len(plan.cloth.yarns), "colour")
    sheet.title_line(content.title_of(plan), f"{weave}, {colours}, {plan.ends} ends")
    _pictures(sheet, plan, pictures)
    _figures(sheet, content.key_figures(plan, winding))
    found = content.warnings(plan, winding)
    if found:
        sheet.heading("Look at this before winding")
        sheet.numbered(found, tick=True, size=10.5)


def _pictures(sheet: Paper, plan: WarpPlan, pictures: Pictures) -> None:
    """The cloth drawn from the counts, as much as the photo shows; beside it the photo.

    Without a photo the whole piece is drawn, and a detail of it.
    """
    photo = pictures.rectified
    gap, most = 18.0, sheet.height * 0.276
    wide = (sheet.inner - gap) / 2
    picture, caption = beside_photo(plan, pictures.shown)
    drawn = preview_png(picture, fit=(_PICTURE_PX, _PICTURE_PX))
    if photo is None:
        other, words = preview_png(detail_of(plan), fit=(600, 600)), "A corner of it, larger"
    else:
        other, words = photo, "The photo, laid flat"
    top, tall = sheet.y, 0.0
    for place, data in enumerate((drawn, other)):
        left = sheet.left + place * (wide + gap)
        tall = max(tall, sheet.picture(data, left, top, wide, most))
    for place, said in enumerate((caption, words)):
        middle = sheet.left + place * (wide + gap) + wide / 2
        sheet.text(middle, top + tall + 14, said, "text", 9, GREY, "middle")
    sheet.y = top + tall + 28


def _figures(sheet: Paper, figures: Sequence[content.Figure]) -> None:
    """Key figures, four in a row, large."""
    across = 4
    wide = sheet.inner / across
    for start in range(0, len(figures), across):
        sheet.need(58)
        sheet.rule(sheet.left, sheet.y, sheet.right, sheet.y)
        for place, figure in enumerate(figures[start : start + across]):
            x = sheet.left + place * wide
            room = wide - 10
            sheet.text(x, sheet.y + 14, figure.label, "text", 9, GREY)
            size = sheet.fitted(figure.value, "title", 18, room)
            sheet.text(x, sheet.y + 34, figure.value, "title", size)
            size = sheet.fitted(figure.note, "text", 9, room) if figure.note else 9
            sheet.text(x, sheet.y + 47, figure.note, "text", size, GREY)
        sheet.y += 56


# --- colour order ----------------------------------------------------------------------------


def _colour_order(sheet: Paper, plan: WarpPlan, marks: dict[str, Mark]) -> None:
    sub = "Warp from left to right; the whole width, then each count."
    sheet.chapter("Colour order", sub, keep=230)
    sheet.strip(sheet.left, sheet.y, sheet.inner, 64, plan.order, marks)
    sheet.y += 64
    _block_rule(sheet, plan)
    for stretch in content.stretches(plan):
        ends = content.plural(stretch.threads, "end")
        times = f", {stretch.times} times" if stretch.times > 1 else ""
        label = f"{stretch.label.capitalize()}: {ends}{times}"
        if len(stretch.stripes) == 1:
            mark = marks[stretch.stripes[0].yarn]
            sheet.paragraph(f"{label}, {mark.key} {mark.name}", style="strong", size=11)
        else:
            _stretch(sheet, label, stretch, marks)
    each = ", ".join(f"{key} {ends}" for key, ends in plan.ends_per_yarn.items())
    sheet.paragraph(f"Together {plan.ends} ends: {each}.", style="strong", size=11)
    if content.weft_is_as_warp(plan):
        sheet.paragraph(f"{content.weft_heading(plan)}.", style="strong", size=11)
    else:
        _stretch(sheet, content.weft_heading(plan), content.Stretch("weft", plan.weft.order), marks)


def _block_rule(sheet: Paper, plan: WarpPlan) -> None:
    """Below the strip: where each repeat begins and ends."""
    top = sheet.y + 5
    sheet.rule(sheet.left, top, sheet.right, top, GREY, 0.6)
    last = ruled = -100.0
    for block in plan.blocks:
        at = sheet.left + sheet.inner * block.first_end / plan.ends
        if at - ruled > 1:  # closer ones run into each other on paper
            sheet.rule(at, top - 4, at, top + 4, GREY, 0.6)
            ruled = at
        wide = sheet.inner * block.ends / plan.ends
        if wide > 46 and at > last:
            sheet.text(at + wide / 2, top + 12, block.label, "text", 8, GREY, "middle")
            last = at
    sheet.rule(sheet.right, top - 4, sheet.right, top + 4, GREY, 0.6)
    sheet.y = top + 22


def _stretch(sheet: Paper, label: str, stretch: content.Stretch, marks: dict[str, Mark]) -> None:
    sheet.heading(label, keep=_TILE[1])
    across = int(sheet.inner // _TILE[0])
    stripes = stretch.stripes
    _proportions(sheet, stripes, marks)
    for start in range(0, len(stripes), across):
        sheet.need(_TILE[1])
        for place, stripe in enumerate(stripes[start : start + across]):
            _tile(sheet, sheet.left + place * _TILE[0], stripe, marks[stripe.yarn])
        sheet.y += _TILE[1]
    sheet.y += 4


def _proportions(sheet: Paper, stripes: Sequence[Stripe], marks: dict[str, Mark]) -> None:
    """The stripes to scale, hatched, with the letter below where there is room."""
    threads = sum(stripe.threads for stripe in stripes)
    unit = min(sheet.inner / threads, 9.0)
    if len(stripes) < 2 or unit * threads / len(stripes) < 4:
        return
    x = sheet.left
    for stripe in stripes:
        wide = stripe.threads * unit
        sheet.hatched(x, sheet.y + 2, wide, 26, marks[stripe.yarn])
        if wide >= 9:
            sheet.text(x + wide / 2, sheet.y + 38, stripe.yarn, "strong", 8.5, INK, "middle")
        x += wide
    sheet.y += 48


def _tile(sheet: Paper, x: float, stripe: Stripe, mark: Mark) -> None:
    """A stripe: swatch with letter, count, colour in words."""
    sheet.swatch(x, sheet.y + 2, 26, 32, mark)
    sheet.text(
        x + 30, sheet.y + 26, str(stripe.threads), "bold", 17 if stripe.threads < 100 else 14
    )
    name = mark.name
    size = sheet.fitted(name, "text", 8, _TILE[0] - 5, least=6.5)
    shown = sheet.clipped(name, "text", size, _TILE[0] - 5)
    sheet.text(x, sheet.y + 45, shown, "text", size, GREY)


# --- plan ------------------------------------------------------------------------------------


def _derivations(sheet: Paper, plan: WarpPlan) -> None:
    sheet.chapter("The plan, figure by figure", keep=110)
    columns = (Column("", 1), Column("", 3))
    sheet.table(columns, [(step.label, step.text) for step in plan.steps], size=10.5)
    sheet.y += 4
    sheet.heading("Losses", keep=110)
    sheet.paragraph(content.losses_divide(plan.wishes.units))
    for line in content.loss_lines(plan):
        sheet.paragraph(line, indent=14, after=1)
    rows = content.loss_rows(plan)
    if rows:
        sheet.y += 8
        sheet.need(150)
        sheet.paragraph("The same cloth at other losses:", style="strong")
        head = [Column(name, 1) for name in content.LOSS_HEAD]
        sheet.table(head, rows)


def _yarn_list(sheet: Paper, winding: Wound, marks: dict[str, Mark]) -> None:
    needs = winding.yarns
    sheet.chapter("Yarn to buy", content.DYE_LOT, keep=34 + 27 * min(len(needs), 8))
    aligned = ("left", *["right"] * 6)
    shares = (1.5, 0.6, 1, 1, 1.1, 0.9, 1.3)
    columns = [
        Column(head, share, align)
        for head, share, align in zip(content.YARN_HEAD, shares, aligned, strict=True)
    ]
    sheet.table(
        columns, content.yarn_rows(winding), size=10, marks=[marks[need.key] for need in needs]
    )
    sheet.y += 6
    sheet.heading("How each figure comes about")
    sheet.paragraph(content.wound_for_each(winding), size=10)
    for need in needs:
        first, *others = need.steps
        sheet.paragraph(f"{need.key}  {need.name}: {first.text}", size=9.5, after=1)
        for step in others:
            sheet.paragraph(f"{step.label}: {step.text}", size=9.5, indent=14, after=1)
        sheet.y += 3
