"""Repeats across the width: closed on a pivot, never doubled, every thread accounted for."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth.model import SequenceKind, Stripe
from settscan.cloth.notation import parse_sequence
from settscan.cloth.wishes import INCH, Edges, Piece
from settscan.errors import BadInput
from settscan.warping.layout import fit_repeats, lay_out_warp, lay_out_weft
from settscan.warping.parts import joined
from tests.warping.samples import sequences

DENSITY = 24 / INCH


def warp(text, density=DENSITY, **piece):
    return lay_out_warp(parse_sequence(text), Piece(**piece), density)


def test_whole_repeats_and_a_closing_pivot():
    layout = warp("A/12 B4 C/6 ".strip(), warp_repeats=3)
    assert layout.threads == 3 * 26 + 12
    assert layout.steps[0].text == "90 ends = 3 repeats of 26 + closing pivot 12"
    assert layout.order[0] == layout.order[-1] == Stripe("A", 12)
    assert [block.first_end for block in layout.blocks] == [0, 26, 52, 78]


def test_unclosed():
    layout = warp("A/12 B4 C/6", warp_repeats=3, close_on_pivot=False)
    assert layout.threads == 78
    assert layout.order[-1] == Stripe("B", 4)


def test_a_repeating_sequence_closes_on_its_first_stripe():
    layout = warp("A12 B4 C6", warp_repeats=2)
    assert layout.threads == 44 + 12
    assert "closing stripe 12" in layout.steps[0].text


def test_begun_on_the_other_pivot():
    layout = warp("A/12 B4 C/6", warp_repeats=2, edges=Edges.LAST)
    assert layout.order[0] == layout.order[-1] == Stripe("C", 6)
    assert layout.threads == 2 * 26 + 6


def test_half_pivots_at_the_edges():
    layout = warp("A/12 B4 C/6", warp_repeats=2, edges=Edges.HALF)
    assert layout.order[0] == layout.order[-1] == Stripe("A", 6)
    assert Stripe("A", 12) in layout.order
    assert layout.threads == 52


def test_panels_meet_in_pattern_at_the_seam():
    layout = warp("A/12 B4 C/6", width_mm=6 * INCH, panels=2)
    assert layout.order[0].threads + layout.order[-1].threads == 12
    seam = joined(layout.order + layout.order)
    repeats = warp("A/12 B4 C/6", warp_repeats=2 * layout.repeats, edges=Edges.HALF)
    assert seam == repeats.order
    assert "seam" in layout.warnings[0]


def test_panels_of_a_repeating_pattern_run_on_across_the_seam():
    layout = warp("A12 B4 C6", width_mm=6 * INCH, panels=2)
    assert joined(layout.order + layout.order) == joined(
        parse_sequence("A12 B4 C6").stripes * (2 * layout.repeats)
    )


def test_the_width_leads_to_the_nearest_whole_repeats():
    # 20 in at 24 epi are 480 ends; 18 repeats of 26 and the pivot of 12 are 480.
    assert warp("A/12 B4 C/6", width_mm=20 * INCH).repeats == 18
    assert fit_repeats(Fraction(480), 26, 12) == 18
    assert fit_repeats(Fraction(3), 26, 12) == 1


def test_one_colour_fills_the_width_exactly():
    layout = warp("A12", width_mm=20 * INCH)
    assert layout.order == (Stripe("A", 480),)
    assert layout.blocks[0].label == "ground"


def test_borders_and_selvedges():
    layout = warp(
        "A/12 B4 C/6",
        warp_repeats=1,
        border=(Stripe("B", 10), Stripe("C", 2)),
        selvedge_ends=4,
        floating_selvedges=True,
    )
    assert layout.order[:2] == (Stripe("B", 15), Stripe("C", 2))
    assert layout.order[-2:] == (Stripe("C", 2), Stripe("B", 15))
    assert layout.threads == 26 + 12 + 2 * 12 + 2 * 4 + 2
    assert [block.label for block in layout.blocks][:3] == [
        "left floating selvedge",
        "left selvedge",
        "left border",
    ]


def test_borders_take_their_part_of_the_width():
    border = (Stripe("B", 26), Stripe("C", 26))
    # 20 in are 480 ends: 104 of borders, 12 of pivot, and 14 repeats of 26.
    layout = warp("A/12 B4 C/6", width_mm=20 * INCH, border=border)
    assert layout.threads == 480
    assert layout.repeats == 14


def test_a_partial_sequence_is_used_once():
    sequence = parse_sequence("A12 B4 C6", partial=True)
    layout = lay_out_warp(sequence, Piece(width_mm=20 * INCH), DENSITY)
    assert layout.order == sequence.stripes
    with pytest.raises(BadInput, match="cannot be repeated"):
        lay_out_warp(sequence, Piece(warp_repeats=2), DENSITY)


@pytest.mark.parametrize(
    ("piece", "density", "message"),
    [
        ({}, DENSITY, "Neither a finished width nor"),
        ({"width_mm": 20 * INCH}, None, "density is not known"),
        ({"warp_repeats": 0}, DENSITY, "no cloth"),
        ({"warp_repeats": 10**6}, DENSITY, "more than any loom"),
        ({"width_mm": 10**7 * INCH}, DENSITY, "more than any loom"),
        ({"warp_repeats": 1, "panels": 0}, DENSITY, "Less than one"),
        ({"warp_repeats": 1, "panels": 3, "border": (Stripe("A", 2),)}, DENSITY, "two panels"),
        ({"width_mm": 20 * INCH, "panels": 2, "exact_width": True}, DENSITY, "seams"),
    ],
)
def test_what_cannot_be_laid_out_is_refused(piece, density, message):
    with pytest.raises(BadInput, match=message):
        warp("A/12 B4 C/6", density=density, **piece)


@given(sequences(), st.integers(1, 12), st.booleans(), st.sampled_from(Edges))
def test_no_thread_is_lost_or_doubled(sequence, repeats, close, edges):
    piece = Piece(warp_repeats=repeats, close_on_pivot=close, edges=edges)
    layout = lay_out_warp(sequence, piece, None)
    assert layout.threads == sum(stripe.threads for stripe in layout.order)
    assert layout.threads == sum(block.ends for block in layout.blocks)
    assert all(a.yarn != b.yarn for a, b in zip(layout.order, layout.order[1:], strict=False))
    extra = layout.threads - repeats * sequence.threads
    assert extra in (0, sequence.stripes[0].threads, sequence.stripes[-1].threads)


@given(sequences(), st.integers(1, 6), st.sampled_from([Edges.FIRST, Edges.LAST]))
def test_a_closed_symmetric_warp_reads_the_same_from_both_sides(sequence, repeats, edges):
    if sequence.kind is not SequenceKind.SYMMETRIC:
        return
    layout = lay_out_warp(sequence, Piece(warp_repeats=repeats, edges=edges), None)
    if len(sequence.stripes) != 2:
        assert layout.order == layout.order[::-1]


@given(sequences(), st.fractions(min_value=10, max_value=3000, max_denominator=10))
def test_no_other_number_of_repeats_is_nearer_the_length(sequence, length):
    layout = lay_out_weft(sequence, Piece(length_mm=length), Fraction(1))
    miss = abs(layout.threads - length)
    if len(sequence.stripes) == 1:
        assert miss <= Fraction(1, 2) or layout.threads == 1
        return
    for other in (layout.repeats - 1, layout.repeats + 1):
        if other >= 1:
            again = lay_out_weft(sequence, Piece(weft_repeats=other), Fraction(1))
            assert miss <= abs(again.threads - length)
