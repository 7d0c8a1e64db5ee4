"""The pages around the winding sheets: how to set the frame, ties, checks, tags to cut out."""

from __future__ import annotations

from collections.abc import Sequence

from settscan.cloth.model import Stripe
from settscan.sheets import content
from settscan.sheets.marks import INK, PAPER, Mark
from settscan.sheets.paper import GREY, LINE, Column, Paper
from settscan.sheets.winding_lines import (
    HAND_HEAD,
    HAND_WORDS,
    HOW_TO_READ,
    Card,
    bout_cards,
    bout_rows,
    hand_rows,
    odd_groups,
    tie_sentences,
)
from settscan.winding.frame import turn_word
from settscan.winding.model import Bout, WindingPlan

_TAG = 118.0  # height of a tag, if so many fit
_LEAST_TAG = 91.0  # below it the words are too small to read at the loom
_TAG_GAP = 6.0
_TAG_LEAD = 1.25  # from line to line, of the size of the words
_CARD = 66.0  # height of a bout's card without its order and edges
_CARD_ORDER = 11.0


def draw_setting_up(sheet: Paper, winding: WindingPlan) -> None:
    """How to set the frame, the bouts at a glance, and cautions."""
    units, path, kind = winding.plan.wishes.units, winding.path, winding.frame.kind.value
    turns = content.mixed(path.turns)
    sheet.chapter(
        f"Setting up the {kind}",
        f"{turns} {turn_word(winding.frame)}, {content.length(path.length_mm, units)} from end to"
        f" end, {winding.passes} passes in {content.plural(len(winding.bouts), 'bout')}.",
    )
    sheet.numbered(path.steps, size=10.5)
    if path.whole_turn_note and path.turns != path.whole_turns:
        sheet.paragraph(path.whole_turn_note, size=10, colour=GREY)
    sheet.y += 4
    sheet.paragraph(HOW_TO_READ, size=10, colour=GREY)
    rows = hand_rows(winding)
    sheet.heading("Ends in the hand", keep=90 + 22 * len(rows))  # with the words that explain it
    columns = [Column(head, 1, "right") for head in HAND_HEAD[:-1]] + [Column("", 4)]
    sheet.table(columns, rows, size=10)
    sheet.paragraph(HAND_WORDS, size=9.5, colour=GREY)
    columns = [
        Column("Bout", 1),
        Column("Ends", 0.8),
        Column("Colours", 2.2),
        Column("Where it ends", 2.2),
    ]
    sheet.table(columns, bout_rows(winding), heading="Bouts, left to right")
    if winding.odd_stripes:
        draw_odd_stripes(sheet, winding)
    size, after = 9.8, 3.0
    lines = [sheet.wrapped(text, "text", size, sheet.inner) for text in winding.cautions]
    together = sum(len(each) * size * 1.42 + after for each in lines)
    sheet.heading("Take care", keep=min(together, sheet.height / 2))
    for caution in winding.cautions:
        sheet.paragraph(caution, size=size, after=after)


def draw_odd_stripes(sheet: Paper, winding: WindingPlan) -> None:
    """Where the hand ends up at the other end, and the ways out; each on one page."""
    sheet.heading("Stripes with an odd number of passes", keep=75)
    for done, ways in odd_groups(winding):
        told = sheet.tall(done, "strong", 10, sheet.inner)
        sheet.need(told + 1 + sheet.tall(ways, "text", 9.5, sheet.inner - 14))
        sheet.paragraph(done, style="strong", size=10, after=1)
        sheet.paragraph(ways, size=9.5, indent=14, after=5)


def draw_ties(sheet: Paper, winding: WindingPlan) -> None:
    """Ties in their order, what to check, what to do about a lost count."""
    sheet.chapter("Ties", "In the order in which they are made, for each bout.", keep=200)
    sheet.numbered(tie_sentences(winding), size=10)
    sheet.heading("Before a bout comes off the pegs", keep=120)
    sheet.numbered(winding.before_taking_off, tick=True, size=10)
    sheet.heading("If you lose count", keep=120)
    sheet.numbered(winding.recover, size=10)


def draw_cards(sheet: Paper, winding: WindingPlan, marks: dict[str, Mark]) -> None:
    """A card for each bout: its ends, its order, its edges, and what is to be done with it."""
    sub = "One for each chain, to keep with it until it is on the loom."
    sheet.new_page()
    sheet.title_line("Bout cards", sub)
    for card in bout_cards(winding):
        _card(sheet, card, marks)


def _card(sheet: Paper, card: Card, marks: dict[str, Mark]) -> None:
    letters = " ".join(f"{stripe.yarn}{stripe.threads}" for stripe in card.order)
    order = sheet.wrapped(letters, "strong", _CARD_ORDER, sheet.inner)
    edges = sheet.wrapped(card.edges, "text", 9, sheet.inner)
    sheet.need(min(_CARD + len(order) * 15 + len(edges) * 12, sheet.height / 2))
    top = sheet.y
    sheet.text(sheet.left, top + 16, card.title, "title", 15)
    sheet.text(sheet.right, top + 16, card.place, "text", 11, GREY, "right")
    sheet.strip(sheet.left, top + 23, sheet.inner, 11, card.order, marks)
    sheet.y = top + 37
    for line in order:
        sheet.need(15)
        sheet.text(sheet.left, sheet.y + 12, line, "strong", _CARD_ORDER)
        sheet.y += 15
    for line in edges:
        sheet.text(sheet.left, sheet.y + 10, line, "text", 9, GREY)
        sheet.y += 12
    x = sheet.left
    for tick in card.ticks:
        wide = 13 + sheet.width_of(tick, "text", 9.5)
        if x + wide > sheet.right:
            x, sheet.y = sheet.left, sheet.y + 15
        sheet.tick_box(x, sheet.y + 4, 10)
        sheet.text(x + 13, sheet.y + 13, tick, "text", 9.5)
        x += wide + 6
    sheet.y += 22
    sheet.rule(sheet.left, sheet.y, sheet.right, sheet.y, LINE, 0.6)
    sheet.y += 4


def draw_tags(sheet: Paper, winding: WindingPlan, marks: dict[str, Mark]) -> None:
    """A tag for each chain, to cut out."""
    sheet.new_page()
    sheet.title_line("Tags", "Cut out, one for each chain; tie it to the cross end.")
    rows = -(-len(winding.bouts) // 2)
    room = sheet.bottom - sheet.y
    share = (room + _TAG_GAP) / rows - _TAG_GAP  # of the page, which they fill if all go on it
    high = min(share, _TAG) if share >= _LEAST_TAG else _TAG
    wide = (sheet.inner - _TAG_GAP) / 2
    orders = content.bout_orders(winding)
    for place, (bout, order) in enumerate(zip(winding.bouts, orders, strict=True)):
        if place % 2 == 0:
            sheet.need(high)
        left = sheet.left + place % 2 * (wide + _TAG_GAP)
        _tag(sheet, winding, bout, order, (left, wide, high), marks)
        if place % 2 or place == len(winding.bouts) - 1:
            sheet.y += high + _TAG_GAP


def _tag(
    sheet: Paper,
    winding: WindingPlan,
    bout: Bout,
    order: Sequence[Stripe],
    place: tuple[float, float, float],
    marks: dict[str, Mark],
) -> None:
    """One tag; `place` is its left edge, width and height."""
    top, (x, wide, high) = sheet.y, place
    sheet.box(x, top, wide, high, stroke=GREY, width=0.8, round_by=8, dash=True)
    sheet.box(x + 12, top + 14, 14, 14, stroke=GREY, fill=PAPER, round_by=7)
    sheet.text(x + 38, top + 36, str(bout.number), "bold", 34)
    number = sheet.width_of(str(bout.number), "bold", 34)
    sheet.text(x + 44 + number, top + 36, f"of {len(winding.bouts)}", "text", 13, GREY)
    sheet.text(x + wide - 12, top + 36, f"{bout.ends} ends", "bold", 17, INK, "right")
    sheet.strip(x + 12, top + 44, wide - 24, 11, order, marks)
    room = high - 64
    size = next(
        (
            s
            for s in (8.8, 8.0, 7.2, 6.4)
            if len(sheet.wrapped(bout.tag, "text", s, wide - 24)) * s * _TAG_LEAD < room
        ),
        5.8,
    )
    for at, line in enumerate(sheet.wrapped(bout.tag, "text", size, wide - 24)):
        sheet.text(x + 12, top + 58 + size * (1 + at * _TAG_LEAD), line, "text", size)
