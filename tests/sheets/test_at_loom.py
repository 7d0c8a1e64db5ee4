"""The words for raddle, reed and threading."""

import re
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth.wishes import FrameKind
from settscan.sheets.at_loom import _runs_in_words, raddle_lines
from settscan.warping.model import SleyRun
from settscan.warping.plan import plan_warp
from tests.sheets.conftest import blanket, wishes


def planned(**frame):
    wanted = wishes()
    return plan_warp(blanket(), wanted._replace(frame=wanted.frame._replace(**frame)))


def test_groups_of_the_raddle_hold_every_end():
    plan = planned(raddle_ends=14)
    groups, each, rest = map(int, re.match(
        r"(\d+) groups of (\d+) ends and one of (\d+)", raddle_lines(plan)[0]
    ).groups())  # fmt: skip
    assert groups * each + rest == plan.ends and each == 14


def test_ends_in_a_space_of_the_raddle():
    # By hand: 11 ends in 10 dents of 12 dpi are 13.2 epi; 20 ends at that are 1.5 in wide.
    plan = planned()
    assert plan.reed.epi_per_mm * 254 / 10 == Fraction(132, 10)
    assert raddle_lines(plan)[1:] == (
        "20 ends are 1.5 in wide at 13.2 epi",
        "ends in one space of a raddle of 0.5 in: 6 or 7, 6.6 on average; 1 in: 13 or 14, 13.2 on"
        " average",
    )


def test_a_sectional_beam_needs_no_raddle():
    assert raddle_lines(planned(kind=FrameKind.SECTIONS)) == ()


@given(st.lists(st.tuples(st.integers(1, 3), st.integers(0, 3)), max_size=30))
def test_a_sley_in_words_has_every_dent(pairs):
    runs = [SleyRun(dents, ends) for dents, ends in pairs]
    said = []
    for line in _runs_in_words(runs):
        times = re.match(r"(\d+) times: ", line)
        stretch = [
            SleyRun(int(dents), int(ends))
            for dents, ends in re.findall(r"(\d+) dents? of (\d+)", line)
        ]
        said += stretch * (int(times[1]) if times else 1)
    assert said == runs
