"""Path geometry: turns, part turns, whole turns, guide cord."""

from fractions import Fraction
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth.wishes import INCH, YARD, Frame, FrameKind
from settscan.errors import BadInput
from settscan.winding.frame import find_path, frame_warnings, turn_length, turns_for, turns_text

METRE = Fraction(1000)


def test_two_yard_mill_winds_eleven_yards_in_five_and_a_half_turns():
    # Common practice, no source.
    path = find_path(Frame(circumference_mm=2 * YARD), 11 * YARD, ends=400)
    assert path.turns == Fraction(11, 2)
    assert turns_text(path.turns) == "5 1/2"


def test_a_turn_climbs_by_the_pitch():
    # Pythagoras: sqrt(2000^2 + 50^2) = 2000.625 mm, that is 2.0006 m.
    turn = turn_length(Frame(circumference_mm=2 * METRE, pitch_mm=Fraction(50)))
    assert float(turn) == pytest.approx(hypot(2000, 50), abs=0.001)
    assert f"{float(turn) / 1000:.4f}" == "2.0006"


def test_measuring_roller_of_half_a_yard():
    # Brooks, "Cotton Manufacturing", 3rd ed. (1892), the measuring roller of a warping frame: half
    # a yard round, a worm train of 54 x 132 teeth, hence 27 yd for a tooth and 3564 yd for a wrap;
    # 4 wraps and 7 teeth are 14 445 yd. The roller does not climb.
    roller = Frame(kind=FrameKind.REEL, circumference_mm=YARD / 2, pitch_mm=Fraction(0))
    assert turns_for(roller, 27 * YARD) == 54
    assert turns_for(roller, 3564 * YARD) == 54 * 132
    assert turns_for(roller, 14_445 * YARD) * turn_length(roller) == (4 * 3564 + 7 * 27) * YARD


def test_large_floor_mill_from_its_sides():
    # laurasloom (December 2013): a floor mill of four sides of 30 in; 120 in, 3.05 m, round.
    mill = Frame(circumference_mm=4 * 30 * INCH, pitch_mm=Fraction(0))
    assert float(turn_length(mill)) / 1000 == pytest.approx(3.05, abs=0.005)


def test_whole_turn_alternative_and_its_price():
    mill = Frame(circumference_mm=2 * METRE, pitch_mm=Fraction(0))
    path = find_path(mill, 9 * METRE, ends=100, units="metric")
    assert (path.turns, path.whole_turns) == (Fraction(9, 2), 5)
    assert path.whole_turn_extra_mm == 100 * METRE  # one metre more for each of 100 ends
    assert "100 m of yarn" in path.whole_turn_note
    assert "4 would be 100 cm short" in path.whole_turn_note


def test_whole_turns_cost_nothing_when_they_fit():
    mill = Frame(circumference_mm=2 * METRE, pitch_mm=Fraction(0))
    path = find_path(mill, 8 * METRE, ends=100)
    assert path.whole_turn_extra_mm == 0
    assert path.waste_mm == 0


def test_the_next_upright_not_the_last_one():
    mill = Frame(circumference_mm=2 * METRE, pitch_mm=Fraction(0), pegs_around=4)
    assert turns_for(mill, 8 * METRE + 1) == Fraction(17, 4)
    path = find_path(mill, 8 * METRE + 1, ends=10)
    assert any("1/4 of a turn (1 of 4 uprights) past" in step for step in path.steps)


def test_a_board_goes_out_and_back():
    board = Frame(kind=FrameKind.BOARD, circumference_mm=2 * YARD, pitch_mm=Fraction(50))
    path = find_path(board, Fraction(9, 2) * YARD, ends=60)
    assert path.turns == Fraction(5, 2)  # five crossings of one yard
    assert path.length_mm == 5 * YARD
    assert any("5 crossings" in step for step in path.steps)


def test_a_path_longer_than_the_frame_is_said():
    frame = Frame(circumference_mm=2 * METRE, most_turns=4)
    path = find_path(frame, 10 * METRE, ends=100, units="metric")
    (warning,) = frame_warnings(frame, path, "metric")
    assert "needs 5 turns" in warning and "holds 4" in warning
    assert frame_warnings(Frame(circumference_mm=2 * METRE), path) == ()


@given(
    circumference=st.fractions(min_value=300, max_value=5000, max_denominator=100),
    pitch=st.fractions(min_value=0, max_value=200, max_denominator=10),
    wanted=st.fractions(min_value=1, max_value=60_000, max_denominator=100),
    pegs=st.integers(1, 12),
    kind=st.sampled_from(FrameKind),
)
def test_never_short_and_never_a_whole_place_too_long(circumference, pitch, wanted, pegs, kind):
    frame = Frame(kind=kind, circumference_mm=circumference, pitch_mm=pitch, pegs_around=pegs)
    path = find_path(frame, wanted, ends=7)
    place = path.turn_mm / (2 if kind is FrameKind.BOARD else pegs)
    assert 0 <= path.waste_mm == path.length_mm - wanted < place
    assert path.whole_turn_extra_mm == 7 * (path.whole_turns * path.turn_mm - path.length_mm)
    assert path.guide_cord_mm > path.length_mm
    if kind is not FrameKind.BOARD:
        # The exact turn lies less than a micrometre above the figure.
        exact = circumference**2 + pitch**2
        assert path.turn_mm**2 <= exact < (path.turn_mm + Fraction(1, 1000)) ** 2


@pytest.mark.parametrize(
    "wrong",
    [
        {"circumference_mm": Fraction(0)},
        {"most_turns": 0},
        {"bout_ends": 0},
        {"group_ends": -1},
        {"ends_in_hand": 0},
        {"raddle_ends": 0},
        {"pitch_mm": Fraction(-1)},
        {"cross_ties": 3},
    ],
)
def test_an_impossible_frame_is_refused(wrong):
    with pytest.raises(BadInput, match=r"\.$"):
        find_path(Frame(**wrong), METRE, ends=10)


def test_a_warp_without_length_is_refused():
    with pytest.raises(BadInput, match="no length"):
        find_path(Frame(), Fraction(0), ends=10)
