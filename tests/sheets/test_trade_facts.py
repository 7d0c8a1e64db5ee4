"""Facts of the trade, followed by the plan, the step list and the printed sheet.

All of them are common practice, no source.
"""

from __future__ import annotations

import html
import re

import pytest

from settscan.cloth.wishes import YARD, Frame, Piece
from settscan.sheets.printable import sheets_html
from settscan.winding.frame import turns_for
from settscan.winding.model import START_END, TieKind
from tests.sheets.conftest import blanket, planned, wishes


@pytest.fixture(scope="module")
def eleven_yards():
    """A tartan warp of 11 yards on a mill two yards round, all else as it is by default."""
    wanted = wishes(frame=Frame())
    piece = Piece(width_mm=54 * YARD / 36, length_mm=2 * YARD)
    for yards in range(6, 10):  # finished lengths until eleven yards are wound
        plan, winding = planned(
            blanket(), wanted._replace(piece=piece._replace(length_mm=yards * YARD))
        )
        if plan.warp_length_mm.value > 10 * YARD + YARD / 2:
            return plan, winding
    raise AssertionError("no length gives eleven yards")


@pytest.fixture(scope="module")
def page(eleven_yards):
    """The words of the printed sheets, in their order."""
    text = sheets_html(*eleven_yards)
    text = text[text.index("<body>") :]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def in_order(text, *words):
    """Whether the words come one after the other."""
    at = 0
    for word in words:
        at = text.find(word, at)
        if at < 0:
            return False
    return True


def test_a_mill_two_yards_round_winds_eleven_yards_in_five_and_a_half_turns(eleven_yards, page):
    _, winding = eleven_yards
    assert winding.frame.circumference_mm == 2 * YARD
    assert 0 <= winding.path.length_mm - 11 * YARD < YARD / 36
    assert winding.path.turns * 2 == 11
    assert "5 1/2 turns, 11 yd" in page


def test_moving_the_pegs_sets_any_length_without_a_cord(page):
    # Four uprights: every half yard of a two-yard mill can be wound, the turns counted.
    frame = Frame(pitch_mm=YARD * 0)
    for halves in range(1, 44):
        turns = turns_for(frame, halves * YARD / 2)
        assert turns * frame.circumference_mm == halves * YARD / 2
    assert "Without a cord: set the same pegs and count the turns." in page


def test_the_warp_is_endless_with_the_cross_at_the_far_end(eleven_yards, page):
    _, winding = eleven_yards
    assert winding.frame.cross.value == "far end"
    assert "no loose ends lie in the cross" in page
    assert all(bout.steps[-1].finishes_at == START_END for bout in winding.bouts)


def test_even_counts_change_colour_at_the_start_pegs(eleven_yards, page):
    _, winding = eleven_yards
    changes = [step for step in winding.steps if step.change]
    assert all(step.begins_at == START_END for step in changes)
    assert winding.odd_stripes == ()
    for step in changes:
        assert not step.broken_off or "tuck its end under" in step.change
        assert not step.tied_on or "with a slip knot" in step.change
    assert "tie on with a slip knot" in page.lower() and "tuck the end under" in page


def test_each_bout_is_counted_tied_and_chained_in_this_order(eleven_yards, page):
    _, winding = eleven_yards
    for bout in winding.bouts:
        kinds = list(dict.fromkeys(t.kind for t in winding.ties if t.bout == bout.number))
        assert kinds == [TieKind.COUNTING, TieKind.CROSS, TieKind.CHOKE, TieKind.LOOP_END]
    ties = page[page.index("In the order in which they are made") :]
    assert in_order(
        ties,
        "A counting tie after every 20 ends",
        "4 ties at the cross at the far end, one on each side of each cross peg",
        "10 choke ties, one at each 1 yd from the cross on",
        "2 ties at the plain loop at the start end, one on each side of the peg",
        "Count before tying",
        "Tie the cross, then the choke ties, then the plain loop",
        "Count the ties again",
        "Only now take out the pegs",
        "Chain the bout off from the start end towards the cross at the far end",
    )


def test_strings_are_wrapped_pulled_tight_and_tied_in_a_bow(page):
    assert (
        "wrap the string two or three times, pull it tight and finish with a bow, never a hard"
        " knot, so that no scissors come near the warp" in page
    )
    assert "so that the place to cut is known after beaming" in page


def test_each_sheet_ends_with_the_ties_in_their_order(eleven_yards, page):
    _, winding = eleven_yards
    sheets = re.findall(r"count them, then tie ([^.]*)\.|Count them, then tie: (.*?) off the", page)
    said = [one or other for one, other in sheets]
    assert said
    for each in said:
        assert in_order(each, "4 at the cross", "10 choke", "2 at the plain loop")
