"""Two panels, the second turned round: half of the joined cloth each."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth.model import SequenceKind, Stripe
from settscan.cloth.notation import parse_sequence
from settscan.cloth.wishes import INCH, Edges, Piece
from settscan.errors import BadInput
from settscan.warping.layout import lay_out_warp
from settscan.warping.parts import joined
from settscan.warping.plan import plan_warp
from tests.warping.samples import cloth, sequences, wishes

DENSITY = 24 / INCH
BORDER = (Stripe("C", 10), Stripe("A", 4))


def panel(text, **piece):
    return lay_out_warp(parse_sequence(text), Piece(panels=2, **piece), DENSITY)


def sewn(layout):
    """The two panels side by side, the second turned round."""
    return joined((*layout.order, *layout.order[::-1]))


def test_a_border_lies_outside_on_both_sides_and_the_seam_completes_a_pivot():
    # By hand: a repeat is 24 + 8 + 16 + 8 = 56. Two panels of two repeats and half a pivot:
    # 10 + 4 + 2 x 56 + 12 = 138 ends.
    layout = panel("A/24 B4 A8 C/8", warp_repeats=2, border=BORDER)
    assert layout.threads == 10 + 4 + 2 * 56 + 12
    assert layout.steps[0].text == ("138 ends = left border 14 + 2 repeats of 56 + half pivot 12")
    whole = lay_out_warp(
        parse_sequence("A/24 B4 A8 C/8"), Piece(warp_repeats=4, border=BORDER), DENSITY
    )
    assert sewn(layout) == whole.order
    assert "Turn the second panel round" in layout.warnings[0]


def test_the_width_may_ask_for_an_odd_number_of_repeats():
    # By hand: 12 in at 24 epi are 288 threads; (288 - 24) / 56 is 4.7, so five repeats: 304 ends,
    # and the other pivot lies at the seam.
    layout = panel("A/24 B4 A8 C/8", width_mm=12 * INCH, turn_panel=True)
    assert 2 * layout.threads == 5 * 56 + 24
    assert layout.order[0] == Stripe("A", 24)
    assert layout.order[-1] == Stripe("C", 4)


@given(
    sequence=sequences(even=True).filter(
        lambda one: one.kind is SequenceKind.SYMMETRIC and len(one.stripes) > 1
    ),
    inches=st.integers(1, 60),
    edges=st.sampled_from([Edges.FIRST, Edges.LAST]),
    bordered=st.booleans(),
)
def test_two_panels_are_the_closed_cloth(sequence, inches, edges, bordered):
    border = BORDER if bordered else ()
    piece = Piece(panels=2, turn_panel=True, width_mm=inches * INCH, edges=edges, border=border)
    layout = lay_out_warp(sequence, piece, DENSITY)
    both = 2 * layout.threads
    written = sequence.stripes if edges is Edges.FIRST else sequence.stripes[::-1]
    repeats, rest = divmod(
        both - written[0].threads - 2 * sum(s.threads for s in border), sequence.threads
    )
    assert rest == 0
    one = Piece(warp_repeats=repeats, edges=edges, border=border)
    assert sewn(layout) == lay_out_warp(sequence, one, DENSITY).order


def test_an_odd_pivot_is_one_wider_at_the_seam():
    layout = panel("A/7 B4 C/6", warp_repeats=1, turn_panel=True)
    assert layout.order[-1] == Stripe("A", 4)
    assert "4 + 4 ends" in layout.warnings[0]


def test_the_joined_width_is_told():
    plan = plan_warp(cloth("A/24 B4 A8 C/12"), wishes(width_mm=60 * INCH, panels=2, border=BORDER))
    told = {step.label: step.text for step in plan.steps}["Joined width"]
    assert "2 panels of" in told
    got = 2 * plan.finished_width_mm.value / INCH
    assert abs(got - 60) < Fraction(84, 24) / 2 + Fraction(1, 10)


def test_a_weft_that_reads_otherwise_from_its_end_is_woven_backwards():
    turned = dict(width_mm=60 * INCH, panels=2, turn_panel=True)
    asked = plan_warp(cloth("A/24 B4 C/12", "A24 B6 C4"), wishes(close_on_pivot=False, **turned))
    assert any("last stripe of the weft to the first" in text for text in asked.warnings)
    alike = plan_warp(cloth("A/24 B4 C/12"), wishes(**turned))
    assert not any("last stripe of the weft" in text for text in alike.warnings)


@pytest.mark.parametrize(
    ("text", "piece", "message"),
    [
        ("A24 B4 C6", {"warp_repeats": 1}, "symmetric"),
        ("A/24 B4 C/6", {"width_mm": 20 * INCH, "exact_width": True}, "exact_width"),
        ("A/24 B4 C/6", {"warp_repeats": 1, "edges": Edges.HALF}, "half pivot"),
        ("A/24 B4 C/6", {}, "Neither a finished width"),
    ],
)
def test_what_cannot_be_turned_is_refused(text, piece, message):
    with pytest.raises(BadInput, match=message):
        panel(text, turn_panel=True, **piece)


def test_selvedges_at_the_seam_are_said():
    layout = panel("A/24 B4 C/8", warp_repeats=1, turn_panel=True, selvedge_ends=3)
    assert "3 selvedge ends lie at each seam edge too" in layout.warnings[-1]
