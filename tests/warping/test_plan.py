"""The whole calculation: figures that belong together, explained, and honest about gaps."""

import re
import subprocess
import sys
import time
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from settscan.cloth.model import CUT_BY_EDGE, ColourSequence, SequenceKind, Stripe, StripeDoubt
from settscan.cloth.notation import parse_sequence
from settscan.cloth.wishes import INCH, YARD, Edges, Loom, Losses, YarnStock
from settscan.errors import BadInput, BadQuantity
from settscan.measured import Measured, Origin
from settscan.numbering import mass_of, parse_yarn
from settscan.quantities import parse_density, parse_reed
from settscan.warping.checks import questions
from settscan.warping.losses import length_loss, width_loss
from settscan.warping.model import WeftOrder
from settscan.warping.plan import plan_warp
from settscan.warping.weft import woven_stripes
from settscan.warping.yarn import plan_yarns
from tests.warping.samples import NO_LOSS, cloth, sequences, wishes


def steps(plan):
    return {step.label: step.text for step in plan.steps}


def test_figures_by_hand():
    """A/24 B4 A8 C/12: 60 in a repeat; 30 in at 24 epi hold 11.6, so 12 repeats and the pivot."""
    losses = Losses(
        draw_in=Measured.exact(Fraction(1, 10)),
        width_shrinkage=Measured.exact(Fraction(1, 9)),
        take_up=Measured.exact(Fraction(1, 10)),
        length_shrinkage=Measured.exact(Fraction(1, 9)),
    )
    wanted = wishes(fringe_mm=4 * INCH)._replace(
        losses=losses, loom=Loom(reeds=(parse_reed("10 dpi"),))
    )
    plan = plan_warp(cloth(), wanted)
    assert plan.repeats == 12
    assert plan.ends == 744
    # 0.9 x 8/9 = 0.8 of the width and length are kept.
    assert plan.loom_density.value == Fraction("19.2") / INCH
    assert plan.reed.pattern == (2,)
    assert plan.width_in_reed_mm.value == Fraction("37.2") * INCH
    assert plan.finished_width_mm.value == 31 * INCH
    # 72 in at 24 ppi are 1728 picks: 28 repeats of 60 and 24 are 1704, 71 in; 71 / 0.8 = 88.75.
    assert plan.weft.picks_per_piece == 1704
    assert plan.warp_length_mm.value == Fraction("88.75") * INCH + 8 * INCH + YARD
    assert plan.weft.loom_ppi.value == Fraction("19.2") / INCH
    assert plan.weft.pick_mm == plan.width_in_reed_mm.value
    assert steps(plan)["Ends"] == "744 ends = 12 repeats of 60 + closing pivot 24"
    assert "losses divide" in steps(plan)["Woven length on the loom"]


def test_ends_and_picks_per_yarn():
    plan = plan_warp(cloth(), wishes())
    assert plan.ends_per_yarn == {"A": 12 * 40 + 24, "B": 12 * 8, "C": 12 * 12}
    assert sum(plan.weft.picks_per_yarn.values()) == plan.weft.picks == 1704


@settings(max_examples=60, deadline=None)
@given(
    sequences(),
    sequences(),
    st.integers(1, 6),
    st.integers(1, 6),
    st.integers(1, 3),
    st.integers(0, 8),
    st.booleans(),
)
def test_totals_are_sums(warp, weft, across, down, pieces, selvedge, floating):
    wanted = wishes(
        width_mm=None,
        length_mm=None,
        warp_repeats=across,
        weft_repeats=down,
        pieces=pieces,
        selvedge_ends=selvedge,
        floating_selvedges=floating,
    )
    plan = plan_warp(cloth(warp, weft), wanted)
    assert plan.ends == sum(stripe.threads for stripe in plan.order)
    assert plan.ends == sum(block.ends for block in plan.blocks)
    assert plan.ends == sum(run.dents * run.ends_per_dent for run in plan.sley)
    assert plan.ends == sum(plan.ends_per_yarn.values())
    assert plan.ends == sum(need.warp_ends for need in plan.yarns)
    assert sum(plan.draft.heddles) == plan.ends - (2 if floating else 0)
    picks = sum(stripe.threads for stripe in plan.weft.piece_order)
    assert plan.weft.picks == sum(plan.weft.picks_per_yarn.values()) == pieces * picks
    warp_yarn = sum(need.warp_mm - need.knots_mm for need in plan.yarns)
    assert warp_yarn == plan.ends * plan.warp_length_mm.value
    for need in plan.yarns:
        assert need.total_mm == (need.warp_mm + need.weft_mm) * Fraction(21, 20)
        assert need.mass_g == mass_of(need.total_mm, parse_yarn("2/8 worsted"))


def test_the_same_in_the_range_of_losses():
    plan = plan_warp(cloth(), wishes())
    low, high = plan.warp_length_mm.low, plan.warp_length_mm.high
    assert low < plan.warp_length_mm.value < high
    loss = length_loss(plan.wishes.losses)
    assert high - YARD == 71 * INCH / (1 - loss.high)
    assert " to " in steps(plan)["Density on the loom"]


def test_loss_table():
    plan = plan_warp(cloth(), wishes())
    assert [row.loss for row in plan.loss_table] == [Fraction(n, 100) for n in (10, 15, 20, 25)]
    twenty = plan.loss_table[2]
    assert twenty.loom_density == Fraction("19.2") / INCH
    assert twenty.width_in_reed_mm == Fraction("38.75") * INCH
    assert twenty.warp_length_mm == Fraction("88.75") * INCH + YARD


def test_loom_waste_is_added_once():
    one = plan_warp(cloth(), wishes()._replace(losses=NO_LOSS))
    three = plan_warp(cloth(), wishes(pieces=3)._replace(losses=NO_LOSS))
    assert three.warp_length_mm.value - YARD == 3 * (one.warp_length_mm.value - YARD)


def test_hems_are_woven_and_take_yarn():
    plain = plan_warp(cloth(), wishes())
    hemmed = plan_warp(cloth(), wishes(hem_mm=2 * INCH))
    assert hemmed.weft.picks_per_piece == plain.weft.picks_per_piece + 4 * 24
    assert hemmed.warp_length_mm.value > plain.warp_length_mm.value + 4 * INCH


def test_unconfirmed_stripes_are_asked():
    unsure = cloth()
    doubts = (StripeDoubt(position=1, low=3, high=5, chance=0.7),)
    unsure = replace(unsure, warp=replace(unsure.warp, doubts=doubts))
    question = plan_warp(unsure, wishes()).warnings[0]
    assert question.startswith("Are there 4 threads in warp stripe 2 (cream)?")
    assert "3 to 5" in question


def test_without_density_repeats_can_still_be_planned():
    plan = plan_warp(cloth(epi=None), wishes(width_mm=None, warp_repeats=3))
    assert plan.ends == 3 * 60 + 24
    assert plan.reed is None
    assert plan.sley == ()
    assert plan.finished_width_mm is None
    assert plan.weft.pick_mm is None
    assert any("width is not known" in warning for warning in plan.warnings)


def test_picks_that_are_assumed_are_told():
    def told(origin):
        record = cloth()
        density = replace(record.weft.density, origin=origin)
        weft = replace(record.weft, density=density)
        return plan_warp(replace(record, weft=weft), wishes()).warnings

    assert any("24 ppi are assumed" in warning for warning in told(Origin.ASSUMED))
    assert not any("assumed" in warning for warning in told(Origin.TYPED))


def test_without_picks_the_weft_yarn_is_not_invented():
    plan = plan_warp(cloth(ppi=None), wishes())
    assert plan.weft.picks == 0
    assert plan.weft.loom_ppi is None
    assert all(need.weft_mm == 0 for need in plan.yarns)
    assert any("not counted" in warning for warning in plan.warnings)


@pytest.mark.parametrize(
    ("record", "piece", "message"),
    [
        ({"epi": None}, {}, "Count the ends in one inch"),
        ({}, {"width_mm": None}, "Neither a finished width"),
        ({}, {"length_mm": None}, "Neither a finished length"),
        ({"ppi": None}, {"length_mm": None, "weft_repeats": 3}, "length cannot be planned"),
        ({}, {"width_mm": 10**6 * INCH}, "more than any loom"),
        ({}, {"width_mm": None, "warp_repeats": 10**6}, "more than any loom"),
        ({}, {"length_mm": 10**7 * INCH}, "more than any loom"),
        ({"weave": "moonlight"}, {}, "No draft is known"),
    ],
)
def test_what_cannot_be_planned_is_refused(record, piece, message):
    with pytest.raises(BadInput, match=message):
        plan_warp(cloth(**record), wishes(**piece))


def test_a_stripe_of_no_yarn_is_refused():
    stray = replace(cloth(), yarns=cloth().yarns[:2])
    with pytest.raises(BadInput, match="not among the yarns"):
        plan_warp(stray, wishes())


def test_a_wrong_yarn_size_names_the_yarn():
    odd = cloth()
    odd = replace(odd, yarns=(replace(odd.yarns[0], size="8/2 fluff"), *odd.yarns[1:]))
    with pytest.raises(BadQuantity, match="Yarn A"):
        plan_warp(odd, wishes())


def test_warnings_of_the_loom():
    small = Loom(weaving_width_mm=20 * INCH, shafts=2, heddles_per_shaft=100)
    text = " ".join(plan_warp(cloth(), wishes()._replace(loom=small)).warnings)
    assert "the loom takes 20 in" in text
    assert "needs 4 shafts and the loom has 2" in text
    assert "186 heddles are needed on one shaft" in text


def test_too_close_and_too_open():
    close = plan_warp(cloth(epi="60 epi"), wishes())
    open_ = plan_warp(cloth(epi="8 epi"), wishes())
    assert any("closer than this yarn can lie" in warning for warning in close.warnings)
    assert any("very open" in warning for warning in open_.warnings)
    assert not any("diameters" in warning for warning in plan_warp(cloth(), wishes()).warnings)


def test_a_density_that_no_spun_yarn_has_is_said_before_all_else():
    def of_size(size, ppi):
        record = cloth(epi="500 epi", ppi=ppi)
        return replace(record, yarns=tuple(replace(one, size=size) for one in record.yarns))

    warnings = plan_warp(of_size("", "24 ppi"), wishes()).warnings
    assert warnings[0].startswith("500 epi is closer than any spun yarn can lie")
    assert not any("24 ppi" in each for each in warnings)
    both = plan_warp(of_size("", "500 ppi"), wishes()).warnings
    assert sum("spun yarn" in each for each in both) == 1
    silk = plan_warp(of_size("1 tex", "500 ppi"), wishes()).warnings
    assert not any("spun yarn" in each for each in silk)


def test_an_unknown_weave_is_not_invented():
    plan = plan_warp(cloth(weave="unknown"), wishes())
    assert plan.draft is None
    assert any("weave is not known" in warning for warning in plan.warnings)


def test_packages_stash_core_and_cost():
    needed = plan_warp(cloth(), wishes()).yarns[0].mass_g
    net = (needed - 50) * 10 / 31  # 3.1 packages, so 4
    stock = YarnStock(
        key="A",
        package_g=net + 30,
        core_g=Fraction(30),
        in_stash_g=Fraction(50),
        price=Fraction(9),
    )
    need = plan_warp(cloth(), wishes()._replace(stock=(stock,))).yarns[0]
    assert need.to_buy_g == needed - 50
    assert need.packages == 4
    assert need.cost == 36
    assert any("dye lot" in step.text for step in need.steps)


def test_packages_by_length():
    stock = YarnStock(key="A", package_length_mm=500 * YARD)
    need = plan_warp(cloth(), wishes()._replace(stock=(stock,))).yarns[0]
    assert (need.packages - 1) * 500 * YARD < need.total_mm <= need.packages * 500 * YARD


def test_a_full_stash_needs_no_packages():
    stock = YarnStock(key="A", package_g=Fraction(100), in_stash_g=Fraction(10**5))
    need = plan_warp(cloth(), wishes()._replace(stock=(stock,))).yarns[0]
    assert need.packages == 0
    assert need.steps[-1].text == "nothing: the stash suffices"


def test_the_weft_is_woven_from_the_bottom_of_the_photo():
    plan = plan_warp(cloth("A24 B4 C2", "A24 B4 C2"), wishes())
    assert plan.weft.order == (Stripe("C", 2), Stripe("B", 4), Stripe("A", 24))
    # Closed on the first stripe at the bottom, so the piece begins and ends with it.
    assert plan.weft.piece_order[:3] == (Stripe("A", 24), Stripe("C", 2), Stripe("B", 4))
    assert "bottom" in steps(plan)["Weaving order"]


def test_a_square_repeat_is_recognised_and_an_oblong_one_explained():
    assert "square, within" in steps(plan_warp(cloth(), wishes()))["Square"]
    assert "finishes at 24 ppi" in steps(plan_warp(cloth(ppi="20 epi"), wishes()))["Square"]


def test_panels_share_the_width():
    plan = plan_warp(cloth(), wishes(width_mm=60 * INCH, panels=2))
    single = plan_warp(cloth(), wishes(width_mm=30 * INCH, edges=Edges.HALF))
    assert plan.ends == single.ends
    assert steps(plan)["Joined width"].startswith("60 in = 2 panels of 30 in")
    woven = plan.warp_length_mm.value - YARD
    assert woven == 2 * (single.warp_length_mm.value - YARD)


def test_a_width_that_repeats_cannot_meet_is_said():
    plan = plan_warp(cloth("A/240 B40 C/100"), wishes(width_mm=20 * INCH))
    assert any("instead of 20 in" in warning for warning in plan.warnings)


def test_the_loss_is_named():
    plan = plan_warp(cloth(), wishes())
    assert plan.loom_density.value == 24 / INCH * (1 - width_loss(plan.wishes.losses).value)


@pytest.mark.parametrize("sequence", ["A/24 B4 A8 C/12", "A1 B1"])
def test_three_thousand_ends_are_planned_at_once(sequence):
    record = cloth(sequence, epi="60 epi", ppi="60 epi")
    wanted = wishes(width_mm=50 * INCH)
    times = []
    for _ in range(3):
        started = time.process_time()
        assert plan_warp(record, wanted).ends > 2950
        times.append(time.process_time() - started)
    assert min(times) < 0.1


@pytest.mark.parametrize("units", ["inch", "metric"])
def test_a_density_read_from_a_photo_is_a_float_with_a_range(units):
    read = Measured(0.9448, 0.93, 0.96, Origin.READ)
    record = cloth()
    record = replace(
        record,
        warp=replace(record.warp, density=read),
        weft=replace(record.weft, density=read),
    )
    plan = plan_warp(record, wishes()._replace(units=units))
    assert plan.finished_width_mm.low < plan.finished_width_mm.value < plan.finished_width_mm.high
    assert plan.ends == sum(run.dents * run.ends_per_dent for run in plan.sley)
    assert all(step.text for step in plan.steps)


def test_a_warp_of_single_ends_in_two_colours():
    log_cabin = ColourSequence(SequenceKind.REPEATING, (Stripe("A", 1), Stripe("B", 1)))
    plan = plan_warp(cloth(log_cabin), wishes())
    assert plan.ends == sum(plan.ends_per_yarn.values())
    assert plan.order[0] == plan.order[-1] == Stripe("A", 1)


def test_nothing_heavy_is_imported():
    code = "import sys, settscan.warping.plan; print(*sys.modules)"
    names = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert not {"numpy", "cv2", "skimage", "sklearn", "PIL"} & set(names)


def test_metric_sheets_speak_metric():
    metric = wishes()._replace(units="metric")
    text = " ".join(step.text for step in plan_warp(cloth(), metric).steps)
    assert not re.search(r"\d (in(?! each)|yd|epi|ppi|oz|lb)\b", text)
    assert "per 10 cm" in text


def test_a_partial_sequence_is_planned_once():
    sequence = parse_sequence("A24 B4 C12 A200", partial=True)
    plan = plan_warp(cloth(sequence, "A/24 B4 A8 C/12"), wishes(width_mm=10 * INCH))
    assert plan.order == sequence.stripes
    assert plan.finished_width_mm.value == 10 * INCH
    assert parse_density("24 epi") == plan.cloth.warp.density.value


def test_gaps_lie_between_pieces_only():
    joined = plan_warp(cloth(), wishes(pieces=3))
    gapped = plan_warp(cloth(), wishes(pieces=3, gap_mm=6 * INCH))
    assert gapped.warp_length_mm.value - joined.warp_length_mm.value == 12 * INCH
    assert "2 gaps of 6 in" in steps(gapped)["Warp length"]


def test_stripes_may_begin_in_new_dents():
    loom = Loom(reeds=(parse_reed("12 dpi"),), align_stripes=True)
    record = cloth("A/23 B5 C/12", epi="24 epi")
    wanted = wishes()._replace(losses=NO_LOSS, loom=loom)
    free = plan_warp(record, wanted._replace(loom=loom._replace(align_stripes=False)))
    aligned = plan_warp(record, wanted)
    assert sum(run.dents * run.ends_per_dent for run in aligned.sley) == aligned.ends
    # Every stripe of an odd count takes half a dent more.
    odd = sum(stripe.threads % 2 for stripe in aligned.order)
    assert aligned.reed.dents == (aligned.ends + odd) // 2
    assert aligned.width_in_reed_mm.value > free.width_in_reed_mm.value
    floating = wanted._replace(piece=wanted.piece._replace(floating_selvedges=True))
    runs = plan_warp(record, floating).sley
    assert sum(run.dents * run.ends_per_dent for run in runs) == aligned.ends + 2
    assert runs[0].ends_per_dent == 1


def test_pirns_hold_the_weft():
    loom = Loom(pirn_g=Fraction(20))
    for need in plan_warp(cloth(), wishes()._replace(loom=loom)).yarns:
        weft = mass_of(need.weft_mm, need.tex)
        assert (need.pirns - 1) * 20 < weft <= need.pirns * 20


def test_weft_stripes_with_their_height():
    weft = plan_warp(cloth(), wishes()).weft
    stripes = woven_stripes(weft)
    assert [stripe.picks for stripe in stripes] == [s.threads for s in weft.piece_order]
    assert stripes[1].first_pick == stripes[0].picks + 1
    assert stripes[-1].up_to_mm == weft.picks_per_piece / weft.loom_ppi.value
    assert sum(stripe.high_mm for stripe in stripes) == stripes[-1].up_to_mm
    unknown = woven_stripes(plan_warp(cloth(ppi=None), wishes()).weft)
    assert unknown[0].high_mm is None


def test_soft_yarn_is_set_more_open():
    firm, soft = (
        plan_warp(
            replace(cloth(), yarns=tuple(replace(y, size=size) for y in cloth().yarns)), wishes()
        )
        for size in ("2240 yd/lb", "1.4 run")
    )
    assert parse_yarn("1.4 run") == parse_yarn("2240 yd/lb")
    assert "28.4 epi" in steps(firm)["Sett by the yarn"]
    assert "26.5 epi" in steps(soft)["Sett by the yarn"]


def test_wraps_lead_over_the_size():
    # By hand: 30 wraps in plain weave leave room for 15 ends; 24 epi less 14.5 % is 20.5.
    stock = tuple(YarnStock(key=key, wraps_per_mm=30 / INCH) for key in "ABC")
    plan = plan_warp(cloth(weave="plain"), wishes()._replace(stock=stock))
    assert (
        "at most about 15 epi in plain (30 diameters per inch by its wraps"
        in steps(plan)["Sett by the yarn"]
    )
    assert any("20.5 epi on the loom is closer than this yarn can lie" in w for w in plan.warnings)
    some = plan_warp(cloth(weave="plain"), wishes()._replace(stock=stock[:1]))
    assert "by wraps and size" in steps(some)["Sett by the yarn"]


def test_long_floats_are_said():
    plan = plan_warp(cloth(epi="6 epi", weave="3/1 twill"), wishes())
    assert any("weft floats over" in warning for warning in plan.warnings)


def test_where_the_first_pick_is_thrown_from():
    assert "from the right" in steps(plan_warp(cloth(), wishes()))["Edges"]
    floating = plan_warp(cloth(), wishes(floating_selvedges=True))
    assert "Edges" not in steps(floating)


def test_a_border_of_no_yarn_is_refused():
    with pytest.raises(BadInput, match="border uses yarn 'Z'"):
        plan_warp(cloth(), wishes(border=(Stripe("Z", 4),)))


def test_two_narrow_panels_fit_a_narrow_loom():
    wide = wishes(width_mm=60 * INCH, panels=2)
    loom = Loom(weaving_width_mm=40 * INCH)
    plan = plan_warp(cloth(), wide._replace(loom=loom))
    assert not any("the loom takes" in warning for warning in plan.warnings)


def test_a_stripe_that_the_photo_cuts_is_said_to_be_cut():
    doubts = (StripeDoubt(position=0, low=4, high=4, chance=0.5, note=CUT_BY_EDGE),)
    record = cloth("A4 B2")
    asked = questions(replace(record, warp=replace(record.warp, doubts=doubts)))
    assert len(asked) == 1
    assert asked[0].startswith("The photo's edge cuts warp stripe 1 (")
    assert "it has at least 4 threads" in asked[0]


def test_a_proposed_reed_with_a_warning_comes_with_another_to_choose():
    # 14 ends per inch: 5 dpi by 3 is 15, 7.1 % closer and too far off to be proposed by itself.
    plan = plan_warp(cloth(epi="14 epi"), wishes()._replace(losses=NO_LOSS))
    assert plan.reed.note
    (warning,) = (each for each in plan.warnings if each.startswith("Reed "))
    assert "Or 5 dpi sleyed 3 in each dent, 15 epi, 7.1 % closer than wanted" in warning
    assert "finishes" in warning
    assert warning.endswith("No reed was listed: put yours under [loom].")


def test_yarn_of_a_colour_by_hand():
    """B: 4 stripes of a pick, 2 pieces; 40 mm for a pick, 75 mm at each end of a stripe."""
    weft = WeftOrder(
        order=(Stripe("A", 10), Stripe("B", 1)),
        piece_order=(Stripe("A", 10), Stripe("B", 1)) * 4,
        pick_mm=Fraction(40),
        picks_per_yarn={"A": 80, "B": 8},
    )
    order = (Stripe("A", 6), Stripe("B", 2), Stripe("A", 6))
    record = cloth("A/6 B/2")
    need = plan_yarns(record, wishes(pieces=2), order, Fraction(1000), weft)[1]
    assert need.weft_mm == 8 * 40 + 4 * 2 * 2 * 75
    assert need.knots_mm == 2 * 100
    assert need.warp_mm == 2 * 1000 + 200
    assert need.total_mm == (need.warp_mm + need.weft_mm) * Fraction(105, 100)
