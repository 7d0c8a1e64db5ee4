"""Whole plans against worked examples that hand-weavers published."""

from fractions import Fraction

import pytest

from settscan.cloth.model import Cloth, ColourSequence, SequenceKind, Stripe, ThreadSet, Yarn
from settscan.cloth.wishes import INCH, YARD, Frame, Loom, Losses, Piece, Wishes
from settscan.measured import Measured
from settscan.quantities import POUND, parse_density, parse_reed
from settscan.warping.losses import take_up_from_crimp
from settscan.warping.plan import plan_warp
from settscan.winding.sections import plan_sections

_NONE = Measured.exact(Fraction(0))
_NO_LOSS = Losses(draw_in=_NONE, width_shrinkage=_NONE, take_up=_NONE, length_shrinkage=_NONE)


def _plan(width, epi, length_yd, *, size=None, ppi=None, reed=None, losses=_NO_LOSS, **piece):
    """A one-colour warp of so many inches and yards, nothing lost and no waste."""
    sequence = ColourSequence(SequenceKind.REPEATING, (Stripe("A", 1),))
    weft = Measured.exact(parse_density(f"{ppi} ppi")) if ppi else None
    cloth = Cloth(
        name="example",
        yarns=(Yarn(key="A", name="natural", colour="#eeeedd", size=size),),
        warp=ThreadSet(sequence=sequence, density=Measured.exact(parse_density(f"{epi} epi"))),
        weft=ThreadSet(sequence=sequence, density=weft),
    )
    wishes = Wishes(
        piece=Piece(
            width_mm=Fraction(width) * INCH,
            length_mm=Fraction(length_yd) * YARD,
            spare=Fraction(0),
            **piece,
        ),
        losses=losses,
        loom=Loom(waste_mm=Fraction(0), reeds=(parse_reed(reed),) if reed else ()),
    )
    return plan_warp(cloth, wishes)


def _yards(need):
    """Yards of warp without what knots use up, which the examples do not count."""
    return (need.warp_mm - need.knots_mm) / YARD


# measuredthreads.com, towels: 22 in at 24 epi, 4 yd, cotton 8/2: 528 ends, 2112 yd, "almost 2/3
# lb".
def test_towels():
    plan = _plan(22, 24, 4, size="8/2 cotton")
    need = plan.yarns[0]
    assert plan.ends == 528
    assert _yards(need) == 2112
    assert 0.6 < float(need.mass_g / POUND) < 2 / 3


# sparksearcher.livejournal, 152462: 7 in at 8 epi, 90 in of warp: 56 ends, 5040 in or 140 yd.
def test_narrow_warp():
    plan = _plan(7, 8, Fraction(90, 36))
    assert plan.ends == 56
    assert _yards(plan.yarns[0]) == 140


# thewefthandedweaver, 2010: 45 in at 10 epi, 10 yd: 450 ends, 4500 yd; 10 ppi: 3600 picks of 1.25
# yd are 4500 yd of weft.
def test_warp_and_weft():
    plan = _plan(45, 10, 10, ppi=10, reed="10 dpi")
    assert plan.ends == 450
    assert _yards(plan.yarns[0]) == 4500
    assert plan.weft.picks == 3600
    assert plan.weft.pick_mm == Fraction(5, 4) * YARD
    assert float(plan.yarns[0].weft_mm / YARD) == pytest.approx(4500, abs=1)


# All Fiber Arts, bl092599: 19.5 in at a sett of 20 are 390 ends (the page misprints the sett as
# 18); 3 1/2 yd make 1365 yd.
def test_table_runner():
    plan = _plan("19.5", 20, "3.5")
    assert plan.ends == 390
    assert _yards(plan.yarns[0]) == 1365


# CNCH, "Ratios, rationale, and rate of shrinkage": 10 in finished at 20 % must be woven 12.5 in
# wide.
def test_width_in_the_reed_divides():
    losses = Losses(
        draw_in=_NONE,
        width_shrinkage=Measured.exact(Fraction(20, 100)),
        take_up=_NONE,
        length_shrinkage=_NONE,
    )
    plan = _plan(10, 20, 1, reed="8 dpi", losses=losses)
    assert plan.ends == 200
    assert plan.reed.pattern == (2,)
    assert plan.width_in_reed_mm.value == Fraction("12.5") * INCH


# T. Vogl, "Warping section math", 2001: 25 yd, 30 epi, 20 in, 1/2 yd cut waste: in 1-in sections 30
# spools of 510 yd, in 2-in sections 60 spools of 255 yd; 15 300 yd both ways.
@pytest.mark.parametrize(("section", "spools", "yards"), [(1, 30, 510), (2, 60, 255)])
def test_sectional_beam(section, spools, yards):
    plan = _plan(20, 30, 25, reed="15 dpi")
    frame = Frame(section_mm=section * INCH, cut_waste_mm=YARD / 2)
    beam = plan_sections(plan, frame)
    assert plan.ends == 600
    assert beam.spools == spools
    assert [(lot.spools, lot.length_mm / YARD) for lot in beam.lots] == [(spools, yards)]
    assert beam.total_mm == 15300 * YARD


# textiletutorials.com: 75 x 60 of 10's, 50 in wide, 1200 m, crimp 2 %: 3750 ends, 1224 m of warp,
# 4 590 000 m of yarn.
def test_a_mill_piece_by_the_metre():
    losses = _NO_LOSS._replace(take_up=Measured.exact(take_up_from_crimp(Fraction(2, 100))))
    plan = _plan(50, 75, Fraction(1_200_000) / YARD, losses=losses)
    assert plan.ends == 3750
    assert plan.warp_length_mm.value == 1_224_000
    need = plan.yarns[0]
    assert need.warp_mm - need.knots_mm == 4_590_000_000
