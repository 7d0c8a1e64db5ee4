"""The sectional beam, against its published worked example."""

from fractions import Fraction

import pytest
from winding_samples import blanket, make_plan, stripes

from settscan.cloth.wishes import INCH, YARD, Frame
from settscan.errors import BadInput
from settscan.winding.sections import plan_sections, section_bounds


@pytest.mark.parametrize(("inches", "spools", "yards"), [(1, 30, 510), (2, 60, 255)])
def test_vogl_worked_example(inches, spools, yards):
    # T. Vogl 2001, world.std.com/~kcl/warpingsectionmath.html: 25 yd at 30 epi, 20 in wide, half
    # a yard of cut waste: 30 spools of 510 yd with sections of 1 in, 60 of 255 yd with 2 in;
    # 15 300 yd in all.
    frame = Frame(section_mm=inches * INCH, cut_waste_mm=YARD / 2)
    plan = make_plan(stripes(("A", 600)), epi=30, length_mm=25 * YARD, frame=frame)
    beam = plan_sections(plan)
    assert beam.spools == spools
    assert [(lot.spools, lot.length_mm / YARD) for lot in beam.lots] == [(spools, yards)]
    assert beam.total_mm == 15_300 * YARD
    assert len(beam.sections) == 20 // inches


def test_stripes_change_the_rack_between_sections():
    plan = make_plan(stripes(("A", 48), ("B", 24), ("A", 24)), epi=24)
    beam = plan_sections(plan)
    assert [section.per_yarn for section in beam.sections] == [{"A": 48}, {"B": 24, "A": 24}]
    assert beam.sections[1].change.startswith("Take out 24 A; put in 24 B")
    # 24 spools of A serve both sections, 24 serve the first, 24 of B the second.
    assert [(lot.yarn, lot.spools, lot.sections) for lot in beam.lots] == [
        ("A", 24, 2),
        ("A", 24, 1),
        ("B", 24, 1),
    ]


def test_a_sett_that_does_not_divide_alternates():
    assert section_bounds(100, Fraction(51, 2)) == (26, 51, 77, 100)


def test_the_blanket_loses_no_end():
    beam = plan_sections(blanket(repeats=4))
    assert sum(section.ends for section in beam.sections) == 408
    assert any("last section has only 24 ends" in note for note in beam.notes)


def test_a_section_without_an_end_is_refused():
    with pytest.raises(BadInput, match="less than one end"):
        section_bounds(10, Fraction(1, 2))


def test_without_a_sett_there_is_no_section():

    plan = blanket()._replace(loom_density=None)
    with pytest.raises(BadInput, match="not known"):
        plan_sections(plan)
