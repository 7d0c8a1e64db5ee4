"""From a cloth and wishes to a winding, with the real warp calculation in between."""

from fractions import Fraction

from winding_samples import COLOURS, NAMES, stripes

from settscan.cloth.model import Cloth, ColourSequence, SequenceKind, ThreadSet, Yarn
from settscan.cloth.wishes import INCH, YARD, Frame, Piece, Wishes
from settscan.measured import Measured
from settscan.warping.plan import plan_warp
from settscan.winding.plan import plan_winding
from settscan.winding.sections import plan_sections

HALF = stripes(("A", 24), ("B", 4), ("A", 8), ("D", 20), ("C", 8))
WISHES = Wishes(
    piece=Piece(warp_repeats=4, length_mm=2 * YARD),
    frame=Frame(bout_ends=110, group_ends=12),
)


def hill_blanket():
    threads = ThreadSet(
        sequence=ColourSequence(SequenceKind.SYMMETRIC, HALF),
        density=Measured.exact(Fraction(24) / INCH),
    )
    yarns = tuple(Yarn(key=key, name=NAMES[key], colour=COLOURS[key]) for key in "ABCD")
    return Cloth(name="Hill blanket", yarns=yarns, warp=threads, weft=threads, weave="plain")


def test_four_repeats_closed_on_the_pivot():
    # One repeat by hand: 24 + 2 x (4 + 8 + 20) + 8 = 96; four and the closing pivot are 408.
    plan = plan_warp(hill_blanket(), WISHES)
    winding = plan_winding(plan)
    assert winding.passes == winding.bouts[-1].last_end == plan.ends == 4 * 96 + 24
    assert all("a pivot" in bout.split_reason for bout in winding.bouts[:-1])
    assert winding.path.length_mm >= plan.warp_length_mm.value
    names = dict.fromkeys(step.repeat_label for step in winding.steps)
    assert list(names)[:4] == ["repeat 1", "repeat 2", "repeat 3", "repeat 4"]
    per_yarn = {}
    for bout in winding.bouts:
        for key, ends in bout.per_yarn.items():
            per_yarn[key] = per_yarn.get(key, 0) + ends
    assert per_yarn == plan.ends_per_yarn


def test_yarn_to_buy_is_what_is_wound():
    plan = plan_warp(hill_blanket(), WISHES)
    winding = plan_winding(plan)
    wound, bare = winding.path.length_mm, Fraction(plan.warp_length_mm.value)
    assert wound > bare  # the mill has no upright just there
    for need, short in zip(winding.yarns, plan.yarns, strict=True):
        assert need.warp_mm == need.warp_ends * wound + need.knots_mm
        assert need.warp_mm - short.warp_mm == need.warp_ends * (wound - bare)
        assert need.weft_mm == short.weft_mm
        assert f"{need.warp_ends} ends x " in need.steps[0].text
    assert [need.key for need in winding.yarns] == ["A", "B", "C", "D"]
    assert winding.yarn_step.label == "Wound for each end"
    assert winding.yarn_step.text.endswith("more than the warp needs")


def test_the_same_warp_on_a_sectional_beam():
    plan = plan_warp(hill_blanket(), WISHES)
    beam = plan_sections(plan)
    assert sum(section.ends for section in beam.sections) == plan.ends
