"""Ties, the order in which they are made, and the advice around them."""

from fractions import Fraction

import pytest
from winding_samples import blanket, make_plan, stripes

from settscan.cloth.wishes import YARD, CrossEnd, Frame
from settscan.winding.model import TieKind
from settscan.winding.plan import plan_winding
from settscan.winding.ties import choke_places


def ties_of(winding, bout=1):
    return [tie for tie in winding.ties if tie.bout == bout]


def test_order_of_the_ties():
    # Common practice, no source: counting ties while winding, then the cross, the chokes, the loop.
    kinds = list(dict.fromkeys(tie.kind for tie in ties_of(plan_winding(blanket()))))
    assert kinds == [TieKind.COUNTING, TieKind.CROSS, TieKind.CHOKE, TieKind.LOOP_END]


def test_the_cross_gets_four_ties_in_bows():
    # Four ties round a cross, on its arms: Osterkamp's tip on ties; laurasloom, January 2012.
    (cross,) = [t for t in ties_of(plan_winding(blanket())) if t.kind is TieKind.CROSS]
    assert cross.number == 4
    assert "one on each side of each cross peg" in cross.text
    assert "bow, never a hard knot" in cross.text and "no scissors" in cross.text
    assert "far end" in cross.text


def test_a_fifth_tie_through_the_cross_if_wanted():
    winding = plan_winding(blanket(frame=Frame(cross_ties=5)))
    (cross,) = [t for t in ties_of(winding) if t.kind is TieKind.CROSS]
    assert cross.number == 5 and "one through the cross" in cross.text


@pytest.mark.parametrize(
    ("yards", "number"), [(1, 1), (Fraction(3, 2), 1), (2, 1), (Fraction(5, 2), 2), (11, 10)]
)
def test_a_choke_tie_at_each_yard(yards, number):
    places = choke_places(yards * YARD, YARD, CrossEnd.START)
    assert len(places) == number
    assert all(0 < place < yards * YARD for place in places)


def test_chokes_are_counted_from_the_cross():
    # The first choke about a yard from the cross: Osterkamp's tip on ties; laurasloom, 2012.
    far = choke_places(5 * YARD, YARD, CrossEnd.FAR)
    assert far == (4 * YARD, 3 * YARD, 2 * YARD, YARD)
    assert choke_places(5 * YARD, YARD, CrossEnd.START) == tuple(reversed(far))


def test_the_loop_is_tied_on_both_sides():
    (loop,) = [t for t in ties_of(plan_winding(blanket())) if t.kind is TieKind.LOOP_END]
    assert loop.number == 2
    assert "start end" in loop.text and "each side of the peg" in loop.text


def test_cross_at_the_start_end_turns_everything_round():
    winding = plan_winding(blanket(frame=Frame(cross=CrossEnd.START)))
    cross, choke, loop = ties_of(winding)[-3:]
    assert "cross at the start end" in cross.text
    assert choke.places_mm[0] == YARD
    assert "far end" in loop.text
    assert any("start end, where the cross is" in text for text in winding.warnings)
    assert any("next to the start end peg" in step for step in winding.path.steps)


def test_the_count_is_checked_before_tying_and_the_ties_before_the_pegs():
    steps = plan_winding(blanket()).before_taking_off
    said = [
        next(i for i, text in enumerate(steps) if text.startswith(words))
        for words in ("Count before tying", "Tie the cross", "Count the ties", "Only now", "Chain")
    ]
    assert said == sorted(said)
    assert "towards the cross at the far end" in steps[said[-1]]


def test_counting_groups_and_the_rest():
    winding = plan_winding(make_plan(stripes(("A", 30), ("B", 18)), frame=Frame(group_ends=20)))
    found = [(t.after_end, t.text) for t in ties_of(winding) if t.kind is TieKind.COUNTING]
    assert [after for after, _ in found] == [20, 40, 48]
    assert "count this group (8)" in found[-1][1]


def test_a_tag_says_all_that_a_chain_needs():
    winding = plan_winding(blanket())
    assert winding.bouts[1].tag == (
        "Hill blanket: bout 2 of 4, 96 ends (109 to 204 from the left): A (dark green) 40,"
        " B (cream) 8, C (rust) 8, D (slate) 40; 11 yd long; cross at the far end."
    )


def test_cautions_name_strain_and_blades():
    text = " ".join(plan_winding(blanket()).cautions)
    for words in ("between shoulder and hip", "change sides", "break", "Stop on pain", "doctor",
                  "blades away from the warp"):  # fmt: skip
        assert words in text


def test_a_lost_count_is_found_at_the_last_tie():
    text = " ".join(plan_winding(blanket()).recover)
    assert "last counting tie" in text and "even number of passes" in text
