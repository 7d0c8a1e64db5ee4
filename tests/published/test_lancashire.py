"""Lancashire cotton pieces and reeds.

C. P. Brooks, Cotton Manufacturing, 3rd ed. 1892 ("Weight of a piece"), and J. T. Taylor, Cotton
Weaving and Designing, 6th ed.
"""

from fractions import Fraction

import pytest

from settscan.cloth.model import Cloth, ColourSequence, SequenceKind, Stripe, ThreadSet, Yarn
from settscan.cloth.wishes import INCH, YARD, Loom, Losses, Piece, Wishes
from settscan.measured import Measured
from settscan.numbering import mass_of, parse_yarn
from settscan.quantities import POUND, parse_reed, per_inch
from settscan.warping.plan import plan_warp
from settscan.warping.reed import sley_density

_NONE = Measured.exact(Fraction(0))


def _one_colour(size: str, density: Fraction, **wishes) -> tuple[Cloth, Wishes]:
    sequence = ColourSequence(SequenceKind.REPEATING, (Stripe("A", 1),))
    threads = ThreadSet(sequence=sequence, density=Measured.exact(density))
    yarn = Yarn(key="A", name="grey", colour="#d8d2c0", size=size)
    return Cloth(name="piece", yarns=(yarn,), warp=threads, weft=threads), Wishes(**wishes)


# Brooks: 36 in of cloth are 38 in in the reed, 36 yd are 38 yd of warp ("about 6 %"); a 60's
# Stockport reed, two in a dent, gives 2280 ends; of 30's the warp weighs 3 lb 7 oz.
def test_brooks_warp_of_a_piece():
    contraction = Measured.exact(1 - Fraction(36, 38))
    cloth, wishes = _one_colour(
        "30's cotton",
        Fraction(60 * 38, 36) / INCH,  # finished, for 60 in the reed
        piece=Piece(width_mm=36 * INCH, length_mm=36 * YARD, spare=Fraction(0)),
        losses=Losses(
            draw_in=contraction,
            width_shrinkage=_NONE,
            take_up=contraction,
            length_shrinkage=_NONE,
        ),
        loom=Loom(waste_mm=Fraction(0), reeds=(parse_reed("60s Stockport"),)),
    )
    plan = plan_warp(cloth, wishes)
    assert plan.ends == 2280
    assert plan.reed.pattern == (2,)
    assert plan.width_in_reed_mm.value == 38 * INCH
    assert plan.warp_length_mm.value == pytest.approx(38 * YARD)
    warp = mass_of(plan.yarns[0].warp_mm, parse_yarn("30's cotton"))
    assert float(warp / POUND) == pytest.approx(3 + 7 / 16, abs=0.005)
    # 103 1/7 hanks: 30 of this count weigh a pound. Knots at the edges are in our figure.
    assert float(30 * warp / POUND) == pytest.approx(103 + 1 / 7, rel=1e-3)


# Brooks: weft 37 1/2 in x 64 picks x 36 yd of 36's is 2 lb 13 3/4 oz.
def test_brooks_weft_of_a_piece():
    length = Fraction("37.5") * INCH * 64 * 36 * 36
    pounds = mass_of(length, parse_yarn("36's cotton")) / POUND
    assert float(pounds * 16) == pytest.approx(2 * 16 + 13.75, abs=0.1)


# Brooks: a Scotch 1100 reed counts 1100 splits in 37 in; 38 in have 1130, 2260 ends at two in a
# split; 38 yd of 30's weigh 3.407 lb.
def test_brooks_scotch_reed():
    reed = parse_reed("1100 Scotch")
    splits = reed.dents_per_mm * 38 * INCH
    assert round(splits) == 1130
    mass = mass_of(2260 * 38 * YARD, parse_yarn("30's cotton"))
    assert float(mass / POUND) == pytest.approx(3.407, abs=0.002)


# Brooks: 2300 picks in a yard, 37 1/2 in wide, 36 yd of 36's: 2.85 lb.
def test_brooks_weft_by_the_yard():
    length = 2300 * 36 * Fraction("37.5") * INCH
    assert float(mass_of(length, parse_yarn("36's cotton")) / POUND) == pytest.approx(
        2.85, abs=5e-3
    )


# Taylor, pp. 243-245: a 60 reed Stockport at three in a dent has 90 ends per inch; 30 in of a 70's
# Stockport at two in a dent are 2100 ends.
@pytest.mark.parametrize(
    ("reed", "in_dent", "inches", "ends"),
    [("60 Stockport", 3, 1, 90), ("70's Stockport", 2, 30, 2100), ("60's Stockport", 1, 1, 30)],
)
def test_stockport_reeds(reed, in_dent, inches, ends):
    assert sley_density(parse_reed(reed), (in_dent,)) * inches * INCH == ends


# Taylor, p. 244, and Brooks, p. 92: dents in one inch of the other systems.
@pytest.mark.parametrize(
    ("reed", "dpi"),
    [
        ("100 Bolton", 82.47),
        ("45 Blackburn", 20),
        ("58 6-4's", 20),
        ("44 9-8's", 20),
        ("39 4-4's", 20),
        ("34 7-8's", 20),
        ("2000 Scotch", 2000 / 37),
        ("100 metric", 25.4),
        ("12 Huddersfield", 12),
    ],
)
def test_reed_systems(reed, dpi):
    assert float(per_inch(parse_reed(reed).dents_per_mm)) == pytest.approx(dpi, abs=5e-3)


# Taylor, p. 244: a 50 sett Bradford has 2000/36 = 55 5/9 ends per inch, at two in a dent.
def test_bradford_sett():
    assert per_inch(sley_density(parse_reed("50 Bradford"), (2,))) == 55 + Fraction(5, 9)


# Brooks, p. 92: a Stockport number x 0.60625 is the Bolton number of the same reed.
def test_stockport_to_bolton():
    stockport, bolton = parse_reed("100 Stockport"), parse_reed("60.625 Bolton")
    assert stockport.dents_per_mm == bolton.dents_per_mm
