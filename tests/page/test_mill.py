"""The place in the winding is on the disk, whatever happens to the page or the power."""

import json
import re

import pytest

from settscan.cloth.project_read import parse_project
from settscan.cloth.wishes import FrameKind
from settscan.errors import BadInput
from settscan.page.cards import cards_of, mark
from settscan.page.mill import Mill
from settscan.warping.plan import plan_warp
from settscan.winding.wound import plan_wound
from tests.page.cloths import project_text


def wound(change=lambda wishes: wishes, text=None):
    cloth, wishes, _ = parse_project(text or project_text())
    return plan_wound(plan_warp(cloth, change(wishes)))


@pytest.fixture(scope="module")
def winding():
    return wound()


@pytest.fixture(scope="module")
def cards(winding):
    return cards_of(winding)


class Clock:
    """Seconds that a test sets."""

    now = 1000.0

    def __call__(self):
        return self.now


def test_the_steps_of_setting_up_have_the_numbers_that_they_have_on_paper(winding, cards):
    first = cards[0]
    assert first["lines"][: first["numbered"]] == list(winding.path.steps)
    assert not any("numbered" in card for card in cards[1:])


def test_every_end_is_on_one_card_in_the_order_of_the_warp(winding, cards):
    wind = [card for card in cards if card["kind"] == "wind"]
    loom = "".join(stripe.yarn * stripe.threads for stripe in winding.plan.order)
    assert "".join(card["yarns"][0] * card["ends"] for card in wind) == loom
    total = 0
    for card in wind:
        total += card["ends"]
        assert card["warp_total"] == total
    assert cards[-1]["warp_total"] == total == winding.plan.ends


def test_a_card_shows_every_yarn_that_is_in_the_hand():
    text = re.sub(
        r'sequence = ".*"', 'sequence = "20x(A1 B1)"', project_text(doubted=False), count=1
    )
    found = cards_of(wound(lambda w: w._replace(frame=w.frame._replace(ends_in_hand=2)), text))
    first = next(card for card in found if card["kind"] == "wind")
    assert first["in_hand"] == 2 and first["yarns"] == ["A", "B"]


def test_every_card_of_a_bout_tells_the_ends_of_the_whole_bout(winding, cards):
    for bout in winding.bouts:
        mine = [card for card in cards if card["bout"] == bout.number]
        assert {card["kind"] for card in mine} == {"wind", "tie", "take off"}
        assert {card["bout_ends"] for card in mine} == {bout.ends}


def test_ties_come_where_the_plan_has_them(winding, cards):
    counting = [card for card in cards if card["head"] == "Counting tie"]
    due = [tie for tie in winding.ties if tie.kind.value == "counting"]
    assert [c["bout_total"] for c in counting] == [tie.after_end for tie in due]
    for bout in winding.bouts:
        heads = [card["head"] for card in cards if card["bout"] == bout.number]
        assert heads[-2:] == [
            f"Tie bout {bout.number} of {len(winding.bouts)}",
            f"Take off bout {bout.number} of {len(winding.bouts)}",
        ]


def test_the_hand_is_where_the_parity_of_the_passes_says(cards):
    """Even passes bring the hand back to the start end (common practice, no source)."""
    for card in cards:
        if card["kind"] == "wind":
            assert (card["begins"] == card["finishes"]) == (card["passes"] % 2 == 0)


def test_a_sectional_beam_has_a_card_for_each_section():
    beam = wound(lambda w: w._replace(frame=w.frame._replace(kind=FrameKind.SECTIONS)))
    cards = cards_of(beam)
    sections = [card for card in cards if card["kind"] == "section"]
    assert len(sections) == len(beam.sections)
    assert sections[-1]["warp_total"] == beam.plan.ends
    first = beam.sections[0]
    assert sections[0]["lines"][-1] == f"{first.ends} ends, 1 to {first.ends} from the left"
    assert f"{beam.plan.ends} ends are on the beam." in cards[-1]["lines"]
    assert not any("chain" in line for card in cards for line in card["lines"])


def test_the_place_is_found_again_after_the_power_was_gone(cards, tmp_path):
    mill = Mill(tmp_path)
    for step in range(25):
        mill.go(cards, step, step + 1)
    again = Mill(tmp_path)
    place, question = again.place(cards)
    assert (place.done, question) == (25, "")
    assert place.warp_total == cards[24]["warp_total"]
    assert again.go(cards, 25, 24).warp_total == cards[23]["warp_total"]


def test_a_second_screen_cannot_skip_a_step(cards, tmp_path):
    mill = Mill(tmp_path)
    mill.go(cards, 0, 1)
    with pytest.raises(BadInput, match="Another screen"):
        mill.go(cards, 0, 1)
    assert mill.place(cards)[0].done == 1


@pytest.mark.parametrize("to", [-1, 10**6])
def test_a_step_that_is_none_is_refused(cards, tmp_path, to):
    with pytest.raises(BadInput, match="no such step"):
        Mill(tmp_path).go(cards, 0, to)


def test_rests_are_not_counted_as_winding(cards, tmp_path):
    clock = Clock()
    mill = Mill(tmp_path, clock)
    mill.go(cards, 0, 1)
    clock.now += 60
    assert mill.go(cards, 1, 2).seconds == 60
    clock.now += 4000  # a meal
    assert mill.go(cards, 2, 3).seconds == 60
    clock.now += 30
    assert mill.go(cards, 3, 2).seconds == 60  # going back is no winding
    clock.now += 30
    assert mill.go(cards, 2, 3).seconds == 90


def test_a_change_beyond_what_is_wound_does_not_matter(cards, tmp_path):
    mill = Mill(tmp_path)
    for step in range(5):
        mill.go(cards, step, step + 1)
    longer = [*cards[:8], {**cards[8], "head": "other"}, *cards[9:]]
    assert mill.place(longer)[0].done == 5
    assert mill.place(longer)[1] == ""


def test_a_change_of_what_is_wound_is_asked_about(cards, tmp_path):
    mill = Mill(tmp_path)
    for step in range(10):
        mill.go(cards, step, step + 1)
    had = mill.place(cards)[0].warp_total
    other = cards_of(wound(text=project_text().replace("A/22", "A/26")))
    place, question = mill.place(other)
    assert f"{had} ends" in question and "begin again" in question
    assert other[place.done - 1]["warp_total"] <= had
    assert mill.begin_again(other).done == 0
    assert mill.place(other) == (mill.place(other)[0], "")


@pytest.mark.parametrize(
    "content",
    ["", "x", "[]", "{}", '{"format": "settscan winding place"}',
     '{"format": "settscan winding place", "done": -4}', '{"format": 1, "done": "x"}'],
)  # fmt: skip
def test_a_damaged_place_is_the_beginning(cards, tmp_path, content):
    mill = Mill(tmp_path)
    mill.path.write_text(content)
    assert mill.place(cards)[0].done == 0


def test_a_place_is_whole_or_not_there(cards, tmp_path, monkeypatch):
    from settscan import files

    mill = Mill(tmp_path)
    mill.go(cards, 0, 1)
    before = mill.path.read_bytes()

    def broken(handle):
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(files.os, "fsync", broken)
    with pytest.raises(Exception, match="Cannot write"):
        mill.go(cards, 1, 2)
    assert mill.path.read_bytes() == before
    json.loads(before)


def test_like_cards_have_one_mark(cards):
    assert mark(cards[:9]) == mark([dict(card) for card in cards[:9]])
    assert mark(cards[:9]) != mark(cards[:10])
