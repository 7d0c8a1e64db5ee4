"""The terminal summaries fit a terminal and say what the plan says."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from settscan.cloth.model import CUT_BY_EDGE, StripeDoubt
from settscan.cloth.wishes import INCH, Loom
from settscan.sheets import content
from settscan.sheets.headline import headline_text
from settscan.sheets.text import plan_text, steps_text, winding_text
from settscan.sheets.to_look_at import short_warnings
from tests.sheets.conftest import blanket, planned, sequence, wishes


@pytest.mark.parametrize("which", ["plans", "awkward"])
def test_no_line_is_wider_than_eighty(which, request) -> None:
    plan, winding = request.getfixturevalue(which)
    shown = (headline_text(winding), plan_text(plan), winding_text(winding), steps_text(winding))
    text = "\n".join(shown)
    assert max(map(len, text.splitlines())) <= 80
    assert "\x1b" not in text


def test_the_winding_list_is_whole(plans) -> None:
    plan, winding = plans
    counts = re.findall(r"^\[ \] +(\d+)  ", steps_text(winding), re.MULTILINE)
    assert sum(map(int, counts)) == plan.ends
    assert len(counts) == len(winding.steps)


def test_the_plan_says_what_matters(plans) -> None:
    plan, winding = plans
    text = " ".join(f"{headline_text(winding)} {plan_text(plan)}".split())
    assert str(plan.ends) in text
    assert "A/24 B4 A8 C36 D/6" in text
    assert "Losses divide" in text
    assert all(name in text for name in ("navy", "oatmeal", "moss green", "madder red"))
    assert "count it on the cloth" in text


def test_the_headline_fits_a_screen(plans) -> None:
    lines = headline_text(plans[1]).splitlines()
    assert len(lines) <= 45
    assert "[ ]" not in "\n".join(lines)
    assert any(line.split()[:1] == ["Ends"] for line in lines)


@pytest.fixture(scope="module")
def doubted():
    """Twenty stripes, of which the photo tells two, on a loom that is too small."""
    stripes = tuple(("ABCD"[k % 4], 4 + k) for k in range(20))
    doubts = tuple(
        StripeDoubt(position=k, low=3, high=30, chance=0.5, note=CUT_BY_EDGE if k == 19 else "")
        for k in range(20)
        if k not in (1, 17)
    )
    threads = replace(blanket().warp, sequence=sequence(*stripes), doubts=doubts)
    small = Loom(weaving_width_mm=20 * INCH, shafts=2, heddles_per_shaft=100)
    other = replace(threads, doubts=doubts[:3])
    return planned(blanket(warp=threads, weft=other), wishes(loom=small))


def test_many_uncertain_stripes_do_not_push_the_plan_out_of_sight(doubted) -> None:
    text = headline_text(doubted[1])
    told = " ".join(text.split())
    assert "ends in warp stripes 1, 3 to 17 and 19: count them on the cloth" in told
    assert "picks in weft stripes 1, 3 and 4: count them on the cloth" in told
    assert "The photo's edge cuts warp stripe 20," in told
    assert "the loom takes 20 in" in told and "needs 4 shafts and the loom has 2" in told
    assert len(text.splitlines()) <= 55
    lines = text.splitlines()
    assert lines.index("Yarn to buy") < lines.index("Look at this before winding") < 32


def test_every_warning_is_told_in_full_and_once_to_those_who_ask(doubted, plans) -> None:
    plan, winding = doubted
    alone = winding._replace(warnings=("The mill leans.",))
    full = " ".join(headline_text(alone, in_full=True).split())
    assert all(full.count(each) == 1 for each in content.warnings(plan, alone))
    assert "The mill leans." in full and "Are there 6 threads in warp stripe 3" in full
    assert "--verbose" in headline_text(alone) and "--verbose" not in full
    assert headline_text(plans[1], in_full=True) == headline_text(plans[1])  # it has them all


def test_warp_and_weft_that_are_alike_are_asked_about_at_once(doubted) -> None:
    warp = doubted[0].cloth.warp
    told = short_warnings(*planned(blanket(warp=warp, weft=warp), wishes()))
    asked = [each for each in told if "stripe" in each and "the photo" in each.lower()]
    assert [each.partition(":")[0] for each in asked] == [
        "The photo is not sure of the threads in warp and weft stripes 1, 3 to 17 and 19",
        "The photo's edge cuts warp and weft stripe 20, so the counts there are the least that"
        " there may be",
    ]


def test_few_questions_are_asked_one_by_one(plans) -> None:
    assert short_warnings(*plans) == content.warnings(*plans)
    assert any(each.startswith("Are there 4 threads in") for each in short_warnings(*plans))
