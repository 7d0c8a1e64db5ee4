"""The terminal summaries fit a terminal and say what the plan says."""

from __future__ import annotations

import re

import pytest

from settscan.sheets.headline import headline_text
from settscan.sheets.text import plan_text, steps_text, winding_text


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
