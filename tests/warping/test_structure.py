"""Drafts weave what they say: checked on the drawdown, thread by thread."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth.weaves import KNOWN_WEAVES
from settscan.errors import BadInput
from settscan.warping.structure import (
    draft_for,
    draft_from_liftplan,
    first_throw,
    intersections,
    longest_floats,
)


def picture(draft, picks=4, ends=8):
    """The drawdown as text, last pick on top as in the cloth, warp up as #."""
    rows = draft.drawdown(picks, ends)
    return ["".join("#" if up else "." for up in row) for row in rows[::-1]]


def test_plain():
    assert picture(draft_for("plain", 8), 2, 4) == [".#.#", "#.#."]
    assert draft_for("plain", 8, shafts=2).shafts == 2


def test_two_two_twill_rises_to_the_right_when_z():
    assert picture(draft_for("2/2 twill", 8, direction="Z"), 4, 4) == [
        "#..#",
        "..##",
        ".##.",
        "##..",
    ]


def test_and_to_the_left_when_s():
    assert picture(draft_for("2/2 twill", 8, direction="S"), 4, 4) == [
        "##..",
        ".##.",
        "..##",
        "#..#",
    ]


@pytest.mark.parametrize(
    ("weave", "shafts", "share", "floats"),
    [
        ("plain", 4, 1 / 2, (1, 1)),
        ("2/2 twill", 4, 1 / 2, (2, 2)),
        ("2/1 twill", 3, 2 / 3, (2, 2)),
        ("1/2 twill", 3, 1 / 3, (2, 2)),
        ("3/1 twill", 4, 3 / 4, (3, 3)),
        ("1/3 twill", 4, 1 / 4, (3, 3)),
        ("2/2 hopsack", 4, 1 / 2, (2, 2)),
        ("3/3 twill", 6, 1 / 2, (3, 3)),
    ],
)
def test_shafts_warp_on_the_face_and_floats(weave, shafts, share, floats):
    draft = draft_for(weave, 48, direction="Z")
    cloth = draft.drawdown(12, 12)
    assert sum(map(sum, cloth)) == pytest.approx(share * 144)
    assert draft.shafts == shafts
    assert draft.longest_float == floats


@pytest.mark.parametrize("width", [2, 5, 8, 12, 15, 40])
def test_herringbone_turns_cleanly(width):
    """At each turn the neighbours are opposite: one up where the other is down, in every pick."""
    draft = draft_for(f"herringbone {width}", 32)
    ends = len(draft.threading)
    assert ends == 2 * width
    for turn in (ends // 2, ends):
        for pick in range(len(draft.treadling)):
            assert draft.warp_is_up(pick, turn - 1) != draft.warp_is_up(pick, turn)
    assert draft.longest_float == (2, 2)
    assert draft.shafts == min(4, ends)


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("Herringbone", "2/2 herringbone"),
        ("herringbone 12", "2/2 herringbone 12"),
        ("2/2 herringbone 8", "2/2 herringbone"),
        ("3/1 herringbone 20", "3/1 herringbone 20"),
    ],
)
def test_herringbone_of_other_widths(typed, name):
    assert draft_for(typed, 100).name == name


@pytest.mark.parametrize("typed", ["herringbone 1", "2/2 herringbone 05", "herringbone 12 4"])
def test_a_herringbone_that_cannot_be(typed):
    with pytest.raises(BadInput, match="herringbone"):
        draft_for(typed, 100)


def test_hopsack_works_in_pairs():
    assert picture(draft_for("hopsack", 8), 4, 4) == ["..##", "..##", "##..", "##.."]


@pytest.mark.parametrize("weave", KNOWN_WEAVES)
@pytest.mark.parametrize("ends", [1, 47, 432])
def test_every_end_has_a_heddle(weave, ends):
    draft = draft_for(weave, ends)
    assert sum(draft.heddles) == ends
    assert max(draft.heddles) - min(draft.heddles) <= 4
    assert set(range(1, draft.shafts + 1)) == set(draft.threading)


@pytest.mark.parametrize("weave", KNOWN_WEAVES)
def test_no_shed_is_empty(weave):
    draft = draft_for(weave, 40)
    assert all(0 < len(raised) < draft.shafts for raised in draft.tie_up)


def test_an_unknown_weave_has_no_draft():
    assert draft_for("unknown", 40) is None


def test_direction_not_known_is_said():
    assert "not known" in draft_for("2/2 twill", 40).notes[0]
    assert draft_for("2/2 twill", 40, direction="S").notes == ()


@pytest.mark.parametrize("weave", ["satin of dreams", "2/0 twill", "1/1 twill", "22 twill"])
def test_other_weaves_are_refused_with_the_list(weave):
    with pytest.raises(BadInput, match="2/2 twill"):
        draft_for(weave, 40)


def test_a_typed_liftplan():
    typed = draft_from_liftplan("mine", ("1 2", "2,3", "3 4", "4 1"), "1-2-3-4", 8)
    known = draft_for("2/2 twill", 8, direction="Z")
    assert picture(typed) == picture(known)
    assert typed.heddles == (2, 2, 2, 2)


@pytest.mark.parametrize(
    ("lifts", "threading"), [(("1 5",), "1 2 3 4"), ((), "1 2"), (("1 x",), "1 2"), (("1",), "0 1")]
)
def test_wrong_liftplans_are_refused(lifts, threading):
    with pytest.raises(BadInput):
        draft_from_liftplan("mine", lifts, threading, 8)


@given(st.integers(1, 4), st.integers(1, 4), st.sampled_from("ZS"))
def test_a_twill_moves_by_one_end_at_each_pick(up, down, direction):
    if up == down == 1:
        return
    draft = draft_for(f"{up}/{down} twill", 40, direction=direction)
    step = 1 if direction == "Z" else -1
    shafts = up + down
    for pick in range(2 * shafts):
        for end in range(shafts):
            here = draft.warp_is_up(pick, end + shafts)
            assert draft.warp_is_up(pick + 1, end + shafts + step) == here
    assert longest_floats(draft) == (max(up, down), max(up, down))
    assert intersections(draft) == (shafts, 2)


def edge_is_caught(draft, end, first_side, ends):
    """Follows the shuttle pick by pick: does it ever go round this edge end?"""
    side = first_side
    for pick in range(4 * len(draft.treadling)):
        side = "right" if side == "left" else "left"  # where the shuttle is after the pick
        at_this_edge = side == ("left" if end == 0 else "right")
        if at_this_edge and draft.warp_is_up(pick, end) != draft.warp_is_up(pick + 1, end):
            return True
    return False


@pytest.mark.parametrize("weave", KNOWN_WEAVES)
@pytest.mark.parametrize("ends", [40, 41, 42, 43])
@pytest.mark.parametrize("direction", ["Z", "S"])
def test_first_throw_by_following_the_shuttle(weave, ends, direction):
    draft = draft_for(weave, ends, direction=direction)
    good = {
        side
        for side in ("left", "right")
        if all(edge_is_caught(draft, end, side, ends) for end in (0, ends - 1))
    }
    expected = {"either": {"left", "right"}, "neither": set()}
    answer = first_throw(draft, ends)
    assert good == expected.get(answer, {answer})


def test_a_liftplan_may_stand_in_place_of_the_name():
    typed = draft_for("liftplan 1-2, 2-3, 3-4, 4-1 on 1-2-3-4", 8)
    assert picture(typed) == picture(draft_for("2/2 twill", 8, direction="Z"))
    assert typed.longest_float == (2, 2)


def test_the_liftplan_lists_raised_shafts():
    assert draft_for("2/2 twill", 8, direction="Z").liftplan == ((1, 2), (2, 3), (3, 4), (1, 4))
