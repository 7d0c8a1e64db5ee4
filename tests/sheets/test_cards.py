"""A card for each bout, what more ends in the hand would mean, and steps of several yarns."""

from __future__ import annotations

import re
from io import BytesIO
from itertools import pairwise

import pytest
from pypdf import PdfReader

from settscan.cloth.model import SequenceKind, ThreadSet
from settscan.cloth.wishes import INCH, Frame, Piece
from settscan.measured import Measured
from settscan.sheets.pdf import sheets_pdf
from settscan.sheets.printable import sheets_html
from settscan.sheets.text import steps_text, winding_text
from settscan.sheets.winding_lines import bout_cards, hand_rows, passes_note
from tests.sheets.conftest import blanket, planned, sequence, wishes


@pytest.fixture(scope="module")
def one_and_one():
    """Twenty of A and B one and one between broad stripes, two ends in the hand."""
    order = sequence(("A", 24), *[("B", 1), ("A", 1)] * 20, ("C", 12), kind=SequenceKind.REPEATING)
    threads = ThreadSet(sequence=order, density=Measured.exact(12 / INCH))
    return planned(
        blanket(warp=threads, weft=threads),
        wishes(
            piece=Piece(width_mm=30 * INCH, length_mm=30 * INCH), frame=Frame(ends_in_hand=2)
        ),
    )  # fmt: skip


def words(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_bout_has_a_card_with_its_order(plans, paper) -> None:
    plan, winding = plans
    cards = bout_cards(winding)
    ends = [s.yarn for card in cards for s in card.order for _ in range(s.threads)]
    assert ends == [s.yarn for s in plan.order for _ in range(s.threads)]
    text = " ".join(words(sheets_pdf(plan, winding, paper=paper)).split())
    cards_at = text.index("Bout cards")
    for card, bout in zip(cards, winding.bouts, strict=True):
        written = " ".join(f"{stripe.yarn}{stripe.threads}" for stripe in card.order)
        assert written in text[cards_at:]
        assert f"{bout.ends} ends, {bout.first_end} to {bout.last_end} from the left" in text
        assert card.title in text


def test_a_card_says_in_plain_words_where_its_bout_begins_and_ends(plans) -> None:
    winding = plans[1]
    cards = bout_cards(winding)
    assert cards[0].edges.startswith("Begins at the left edge; ends ")
    assert cards[-1].edges.endswith("; ends at the end of the warp.")
    for card, after in pairwise(cards):
        assert card.edges.partition("; ends ")[2] == f"{after.edges.split('; ')[0][7:]}."
        assert re.match(r"Begins (at|in|between) ", after.edges)


def test_a_card_is_ticked_in_the_order_of_the_work(plans) -> None:
    ticks = bout_cards(plans[1])[0].ticks
    assert ticks[:3] == ("wound", "counted", "4 at the cross")
    assert re.fullmatch(r"\d+ choke", ticks[3])
    assert ticks[4:] == ("2 at the plain loop", "ties counted", "tag", "chained")


def test_the_usual_ticks_of_a_card_stand_in_one_line(plans) -> None:
    heights: dict[str, set[float]] = {}

    def note(text, _, place, *__) -> None:
        heights.setdefault(text.strip(), set()).add(round(place[5]))

    pages = PdfReader(BytesIO(sheets_pdf(*plans))).pages
    page = next(one for one in pages if "Bout cards" in one.extract_text())
    page.extract_text(visitor_text=note)
    assert heights["chained"] and heights["chained"] == heights["wound"]


def test_what_more_ends_in_the_hand_would_mean_stands_on_every_sheet(plans) -> None:
    _, winding = plans
    rows = hand_rows(winding)
    assert [row[0] for row in rows] == ["1", "2", "3", "4"]
    assert [row[-1] for row in rows] == ["as planned here", "", "", ""]
    assert int(rows[0][1]) == winding.passes
    for sheet in (words(sheets_pdf(*plans)), sheets_html(*plans), winding_text(winding)):
        assert "Ends in the hand" in sheet and "as planned here" in sheet


def test_odd_counts_the_stripes_that_the_same_sheet_lists_as_odd() -> None:
    order = sequence(("A", 7), ("B", 3), ("C", 12), ("D", 1), kind=SequenceKind.REPEATING)
    threads = ThreadSet(sequence=order, density=Measured.exact(12 / INCH))
    plan, winding = planned(
        blanket(warp=threads, weft=threads),
        wishes(piece=Piece(width_mm=20 * INCH, length_mm=30 * INCH)),
    )
    odd = [note for note in winding.odd_stripes if note.ends % 2]
    assert int(hand_rows(winding)[0][2]) == len(odd) > 0
    said = "Odd: in so many stripes the number of passes is odd"
    for sheet in (words(sheets_pdf(plan, winding)), sheets_html(plan, winding)):
        assert said in " ".join(sheet.split())


def test_ends_held_together_are_named_on_every_sheet(one_and_one) -> None:
    plan, winding = one_and_one
    held = [step for step in winding.steps if step.held]
    assert held and sum(step.ends for step in winding.steps) == plan.ends
    notes = {passes_note(step) for step in held}
    assert any(re.search(r"\d+ passes of B A", note) for note in notes)
    pdf = words(sheets_pdf(plan, winding))
    page = sheets_html(plan, winding)
    for sheet in (pdf, page, steps_text(winding)):
        assert "oatmeal and navy" in sheet
        assert re.search(r"passes of B A", sheet)
    # Both letters stand beside the count, each in its own swatch.
    assert 'aria-label="B, oatmeal"' in page.split("oatmeal and navy")[0][-2000:]


def test_walking_and_turns_are_told(plans) -> None:
    plan, winding = plans
    text = winding_text(winding)
    assert re.search(r"Turns in all +\d", text) and "Yarn through the hand" in text
    assert "of yarn through the hand" in words(sheets_pdf(plan, winding))
    assert winding.walking_mm == winding.passes * winding.path.length_mm
