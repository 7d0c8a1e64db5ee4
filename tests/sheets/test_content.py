"""Words and rows shared by all sheets."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe, ThreadSet, Yarn
from settscan.cloth.weaves import KNOWN_WEAVES
from settscan.cloth.wishes import INCH, Losses
from settscan.errors import BadInput
from settscan.measured import Measured, Origin
from settscan.quantities import parse_density, parse_reed
from settscan.sheets import at_loom, content
from settscan.sheets.drafts import draft_cells
from settscan.sheets.marks import Hatch, colour_words, ink_on, marks_of
from settscan.sheets.winding_lines import Group, due_ties, odd_groups, on_pages
from settscan.warping.reed import rank_reeds
from settscan.warping.structure import draft_for
from tests.sheets.conftest import blanket, planned, wishes


def test_the_stretches_hold_every_end(plans, awkward) -> None:
    for plan in (plans[0], awkward[0]):
        total = sum(stretch.threads * stretch.times for stretch in content.stretches(plan))
        assert total == plan.ends


def test_equal_repeats_are_listed_once(plans) -> None:
    first, *_ = content.stretches(plans[0])
    assert first.label == f"repeat 1 to {plans[0].repeats}"
    assert first.times == plans[0].repeats


@given(
    st.lists(st.tuples(st.sampled_from("AB"), st.integers(1, 9)), min_size=1, max_size=8),
    st.integers(0, 40),
    st.integers(0, 40),
)
def test_cutting_out_takes_just_these_threads(stripes, first, threads) -> None:
    order = [Stripe(key, number) for key, number in stripes]
    written = "".join(stripe.yarn * stripe.threads for stripe in order)
    found = content.cut_out(order, first, threads)
    assert "".join(s.yarn * s.threads for s in found) == written[first : first + threads]


@given(
    st.lists(st.tuples(st.sampled_from("AB"), st.integers(1, 9)), min_size=1, max_size=9),
    st.lists(st.integers(0, 9), max_size=9),
)
def test_cutting_in_turn_is_cutting_out_one_after_the_other(pairs, lengths) -> None:
    stripes = tuple(Stripe(yarn, threads) for yarn, threads in pairs)
    at, expected = 0, []
    for length in lengths:
        expected.append(content.cut_out(stripes, at, length))
        at += length
    assert content.cut_in_turn(stripes, lengths) == expected


def test_a_range_names_its_unit_once() -> None:
    measured = Measured(Fraction(12), Fraction(11), Fraction(13))
    assert content.span(measured, lambda n: f"{n} epi") == ("12 epi", "11 to 13 epi")
    assert content.span(None, str) == ("not known", "")


def test_sley_lines_carry_all_ends(plans) -> None:
    plan = plans[0]
    assert sum(at_loom.dents(plan)) == plan.ends
    assert at_loom.sley_lines(plan)[-1].startswith(f"together {plan.ends} ends")


@pytest.mark.parametrize("weave", KNOWN_WEAVES)
def test_the_drawn_draft_agrees_with_itself(weave) -> None:
    """Threading, tie-up and treadling give the drawdown, as in any draft."""
    cells = draft_cells(draft_for(weave, 40))
    shaft = dict(cells.threading)
    raised = set(cells.tie_up)
    treadle = {row: column for column, row in cells.treadling}
    lifted = {
        (end, row)
        for row in range(cells.picks)
        for end in range(cells.ends)
        if (treadle[row], shaft[end]) in raised
    }
    assert lifted == set(cells.drawdown)


def test_ink_is_readable_on_every_colour() -> None:
    """WCAG 2.1 relative luminance: the better ink has a contrast above 4 on any grey."""

    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))

    for grey in range(0, 256, 5):
        colour = f"#{grey:02x}{grey:02x}{grey:02x}"
        one, other = sorted((luminance(colour), luminance(ink_on(colour))))
        assert (other + 0.05) / (one + 0.05) > 4


def test_marks_differ_without_colour() -> None:
    yarns = [Yarn(key=key, name="", colour="#808080") for key in "ABCDEFGH"]
    marks = marks_of(yarns)
    assert {mark.hatch for mark in marks.values()} == set(Hatch)
    assert marks["A"].name == "grey"


@pytest.mark.parametrize(
    ("colour", "words"),
    [
        ("#000000", "black"),
        ("#ffffff", "white"),
        ("#1b2654", "dark blue"),
        ("#b3202c", "red"),
        ("#c0c0c0", "light grey"),
    ],
)
def test_plain_colour_words(colour, words) -> None:
    assert colour_words(colour) == words


def test_a_colour_that_cannot_be_drawn() -> None:
    with pytest.raises(BadInput, match="yarn A"):
        marks_of([Yarn(key="A", name="red", colour='red"/><script>')])


def test_counting_ties_count_their_own_group(plans) -> None:
    for bout in plans[1].bouts:
        groups = [int(lines[0].split(": ")[1].split()[0]) for lines in due_ties(bout).values()]
        assert sum(groups) == bout.ends


def test_pages_keep_every_step_and_end_at_ties(plans) -> None:
    for bout in plans[1].bouts:
        groups = [
            Group(step=step, label="", ties=step.ties, height=80.0 + 20 * bool(step.ties))
            for step in bout.steps
        ]
        pages = on_pages(groups, 500)
        assert [group for page in pages for group in page] == groups
        assert all(sum(group.height for group in page) <= 500 for page in pages)
        assert all(page[-1].ties for page in pages)


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        ((450, 244, 878), ("about 7 1/2 hours", "4 to 15 hours")),
        ((52, 31, 88), ("about 50 minutes", "30 to 90 minutes")),
        ((62, 62, 62), ("about 60 minutes", "")),
        ((119, 60, 130), ("about 2 hours", "1 to 2 hours")),
        ((1, 1, 2), ("about 5 minutes", "")),
        ((900, 700, 1290), ("about 15 hours", "12 to 22 hours")),
    ],
)
def test_times_claim_no_more_than_is_known(minutes, said) -> None:
    assert content.about(Measured(*minutes, Origin.ASSUMED)) == said


def test_a_sequence_used_once_is_no_repeat(plans) -> None:
    plan = plans[0]
    once = replace(plan.cloth.warp.sequence, kind=SequenceKind.PARTIAL)
    partial = plan._replace(cloth=replace(plan.cloth, warp=replace(plan.cloth.warp, sequence=once)))
    assert content.key_figures(partial)[0].note == "the sequence as written, used once"
    assert "whole repeat" in content.key_figures(plan)[0].note


@pytest.mark.parametrize(
    ("sett", "told"),
    [
        ("10 epi", "sleyed 2"),
        ("9.6 epi", "sleyed 2, 4.2 % closer"),
        ("10.3 epi", "sleyed 2, 2.9 % more open"),
    ],
)
def test_what_a_reed_is_off_stands_beside_it(plans, sett, told) -> None:
    reed = rank_reeds((parse_reed("5 dpi"),), parse_density(sett), 400)[0]
    figures = {one.label: one for one in content.key_figures(plans[0]._replace(reed=reed))}
    assert (figures["Reed"].value, figures["Reed"].note) == ("5 dpi", told)


def test_reeds_that_nobody_asked_after_are_not_called_missing() -> None:
    """Where no reed was listed, it is not known which are there; the plan asks for them."""
    plan, _ = planned(blanket(), wishes(loom=wishes().loom._replace(reeds=())))
    plain = plan._replace(reeds=tuple(one._replace(note="") for one in plan.reeds))
    assert {row[-1] for row in at_loom.reed_rows(plain)} == {""}
    assert any("No reed was listed" in one for one in plan.warnings)


def test_the_width_that_the_chosen_reed_gives_is_told(plans) -> None:
    # A tenth lost of 66 in in the reed leaves 59.4 in; 5 % leave 62.7 in and 15 % leave 56.1 in.
    tenth = Measured(Fraction(1, 10), Fraction(1, 20), Fraction(3, 20), Origin.ASSUMED)
    losses = Losses(draw_in=Measured.exact(Fraction(0)), width_shrinkage=tenth)
    plan = plans[0]._replace(
        width_in_reed_mm=Measured.exact(66 * INCH), wishes=wishes(losses=losses)
    )
    told = {one.label: one for one in content.key_figures(plan)}["Comes out at"]
    assert (told.value, told.note) == ("59.4 in", "with this reed; 56.1 to 62.7 in")
    without = plan._replace(reed=None, width_in_reed_mm=None)
    assert "Comes out at" not in {one.label for one in content.key_figures(without)}


def test_a_weft_that_is_not_counted_is_not_bought_as_none() -> None:
    cloth = blanket()
    plan, winding = planned(replace(cloth, weft=replace(cloth.weft, density=None)), wishes())
    assert plan.weft.picks == 0
    for need, row in zip(winding.yarns, content.yarn_rows(winding), strict=True):
        told = dict(zip(content.YARN_HEAD, row, strict=True))
        assert told["Weft"] == "unknown"
        assert told["To buy"].endswith(" and the weft")
        assert "weft not counted" in need.steps[0].text
    whole = planned(cloth, wishes())[1]
    assert not any("unknown" in row[3] or "weft" in row[-1] for row in content.yarn_rows(whole))


@pytest.mark.parametrize("units", ["inch", "metric"])
def test_a_column_of_the_yarn_list_is_in_one_unit(units) -> None:
    """Knots of a few inches, picks of half a yard and ends of a hundred are compared and added."""
    picks = ThreadSet(
        sequence=ColourSequence(SequenceKind.PARTIAL, (Stripe("A", 590), Stripe("D", 2))),
        density=blanket().weft.density,
    )
    _, winding = planned(blanket(weft=picks), wishes(units=units))
    rows = content.yarn_rows(winding)
    assert [row[3] == "-" for row in rows] == [False, True, True, False]  # B and C are not woven in
    for place in (2, 3, 4, 5):
        used = {row[place].split()[-1] for row in rows} - {"-"}
        assert len(used) == 1, content.YARN_HEAD[place]
    knots = [re.search("knots [0-9.]+ ([a-z]+)", need.steps[0].text)[1] for need in winding.yarns]
    assert set(knots) == {rows[0][2].split()[-1]}
    assert "weft" not in winding.yarns[1].steps[0].text


def test_a_title_has_no_underscores(plans) -> None:
    cloth = replace(plans[0].cloth, name="close_swatch  2")
    assert content.title_of(plans[0]._replace(cloth=cloth)) == "close swatch 2"


def test_like_odd_stripes_are_told_once_with_their_ways_out() -> None:
    stripes = (Stripe("A", 25), Stripe("B", 3), Stripe("C", 1), Stripe("B", 3), Stripe("D", 11))
    sequence = ColourSequence(SequenceKind.REPEATING, stripes)
    threads = ThreadSet(sequence=sequence, density=Measured.exact(Fraction(1)))
    _, winding = planned(blanket(warp=threads), wishes())
    groups = odd_groups(winding)
    assert len(winding.odd_stripes) > 50 > 12 >= len(groups)
    assert len({done for done, _ in groups}) == len(groups)
    counted = [int(done.split()[0]) for done, _ in groups if " times, in bout" in done]
    single = sum(done.startswith("In bout") for done, _ in groups)
    assert sum(counted) + single == len(winding.odd_stripes)
    assert all("Make it even" in ways for _, ways in groups)
