"""Patterns with a chosen stripe in the middle."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth.model import SequenceKind, Stripe
from settscan.cloth.notation import parse_sequence
from settscan.cloth.wishes import INCH, Piece
from settscan.errors import BadInput
from settscan.warping.centred import centred_window, window
from settscan.warping.layout import lay_out_warp
from settscan.warping.parts import joined
from tests.warping.samples import sequences

SETT = parse_sequence("A/12 B4 C/6")
DENSITY = 24 / INCH


def middle(order):
    """The stripe in which the middle of the warp lies, and whether it lies in its middle."""
    half = Fraction(sum(stripe.threads for stripe in order), 2)
    place = 0
    for stripe in order:
        if place <= half <= place + stripe.threads:
            return stripe, half == place + Fraction(stripe.threads, 2)
        place += stripe.threads
    raise AssertionError


@given(sequences(), st.integers(-500, 500), st.integers(1, 500))
def test_a_window_shows_the_endless_pattern(sequence, first, threads):
    shown = [
        s.yarn
        for part in window(sequence, first, threads)
        for s in part.stripes
        for _ in range(s.threads)
    ]
    cycle = [s.yarn for s in sequence.one_repeat() for _ in range(s.threads)]
    assert shown == [cycle[place % len(cycle)] for place in range(first, first + threads)]


@given(sequences(), st.data(), st.fractions(min_value=1, max_value=900, max_denominator=4))
def test_the_chosen_stripe_lies_in_the_middle(sequence, data, wanted):
    number = data.draw(st.integers(1, len(sequence.stripes)))
    parts, _ = centred_window(sequence, number, wanted)
    threads = sum(part.threads for part in parts)
    assert abs(threads - wanted) <= 1 or threads <= 2
    cycle = [s.yarn for s in sequence.one_repeat() for _ in range(s.threads)]
    before = sum(s.threads for s in sequence.stripes[: number - 1])
    size = sequence.stripes[number - 1].threads
    first = before - (threads - size) // 2
    shown = [s.yarn for part in parts for s in part.stripes for _ in range(s.threads)]
    assert shown == [cycle[place % len(cycle)] for place in range(first, first + threads)]


@given(sequences(), st.fractions(min_value=50, max_value=900, max_denominator=4))
def test_round_a_pivot_both_edges_are_alike(sequence, wanted):
    if sequence.kind is not SequenceKind.SYMMETRIC or len(sequence.stripes) == 2:
        return
    for number in (1, len(sequence.stripes)):
        parts, notes = centred_window(sequence, number, wanted)
        order = joined(tuple(stripe for part in parts for stripe in part.stripes))
        assert order == order[::-1]
        assert not any("edges differ" in note for note in notes)


def test_an_exact_width_is_kept():
    piece = Piece(width_mm=5 * INCH, exact_width=True)
    layout = lay_out_warp(SETT, piece, DENSITY)
    assert layout.threads == 120
    assert middle(layout.order) == (Stripe("A", 12), True)
    assert "left part" in layout.steps[0].text


def test_an_exact_width_round_the_other_pivot_and_round_a_ground():
    piece = Piece(width_mm=5 * INCH, exact_width=True, centre_stripe=3)
    assert middle(lay_out_warp(SETT, piece, DENSITY).order) == (Stripe("C", 6), True)
    ground = Piece(width_mm=5 * INCH, exact_width=True, centre_stripe=2)
    layout = lay_out_warp(SETT, ground, DENSITY)
    assert middle(layout.order) == (Stripe("B", 4), True)
    assert any("edges differ" in note for note in layout.warnings)


def test_a_sliver_at_the_edge_is_said():
    # 22 threads to each side of the middle: half a pivot, 14 of the way back, and 2 of a pivot.
    layout = lay_out_warp(SETT, Piece(width_mm=Fraction(44, 24) * INCH, exact_width=True), DENSITY)
    assert layout.order[0].threads == 2
    assert any("cuts the edge stripe to 2 threads" in note for note in layout.warnings)


@pytest.mark.parametrize("repeats", [1, 2, 5, 6])
@pytest.mark.parametrize(("stripe", "pivot"), [(1, Stripe("A", 12)), (3, Stripe("C", 6))])
def test_whole_repeats_round_a_pivot(repeats, stripe, pivot):
    layout = lay_out_warp(SETT, Piece(warp_repeats=repeats, centre_stripe=stripe), None)
    assert middle(layout.order) == (pivot, True)
    assert layout.repeats == repeats
    assert layout.order == layout.order[::-1]


@pytest.mark.parametrize(
    ("piece", "message"),
    [
        ({"warp_repeats": 3, "centre_stripe": 2}, "only on a pivot"),
        ({"warp_repeats": 3, "centre_stripe": 1, "close_on_pivot": False}, "only on a pivot"),
        ({"warp_repeats": 3, "exact_width": True}, "exact width needs"),
        ({"width_mm": INCH, "exact_width": True, "centre_stripe": 9}, "no warp stripe 9"),
    ],
)
def test_impossible_centres_are_refused(piece, message):
    with pytest.raises(BadInput, match=message):
        lay_out_warp(SETT, Piece(**piece), DENSITY)
