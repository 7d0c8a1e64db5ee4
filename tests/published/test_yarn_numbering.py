"""Yarn numbering against published definitions, factors and examples."""

from fractions import Fraction

import pytest

from settscan.errors import BadQuantity
from settscan.numbering import (
    metres_per_kilogram,
    parse_yarn,
    twisted_together,
    yards_per_pound,
    yarn_number,
)
from settscan.quantities import POUND


# ASTM D2260, Standard Tables of Conversion Factors for Yarn Numbering Systems: tex x number, to six
# figures.
@pytest.mark.parametrize(
    ("one", "tex"),
    [
        ("1 tex", 1),
        ("10 dtex", 1),
        ("9 den", 1),
        ("1 Nm", 1000),
        ("1 cotton", 590.541),
        ("1 worsted", 885.812),
        ("1 linen lea", 1653.52),
        ("1 run", 310.034),
        ("1 grain", 0.590541),
    ],
)
def test_astm_d2260_factors(one, tex):
    assert float(parse_yarn(one)) == pytest.approx(tex, rel=3e-6)


def test_astm_d2260_example_1_cotton_10_is_worsted_15():
    assert yarn_number(parse_yarn("10 cotton"), "worsted") == 15


def test_astm_d2260_example_2_30_tex_is_cotton_19_7():
    assert float(yarn_number(parse_yarn("30 tex"), "cotton")) == pytest.approx(19.685, abs=1e-3)


# ASTM D2260, Table 1: factors between the hank systems.
@pytest.mark.parametrize(
    ("given", "system", "factor"),
    [
        ("1 cotton", "worsted", Fraction(3, 2)),
        ("1 cotton", "run", Fraction(525, 1000)),
        ("1 worsted", "run", Fraction(35, 100)),
        ("1 cotton", "lea", Fraction(28, 10)),
        ("1 lea", "run", Fraction(1875, 10000)),
    ],
)
def test_astm_d2260_table_1(given, system, factor):
    assert yarn_number(parse_yarn(given), system) == factor


# ASTM D2260: 1 Nm is 496.055 yd/lb.
def test_astm_d2260_metric_to_yards_per_pound():
    assert float(yards_per_pound(parse_yarn("1 Nm"))) == pytest.approx(496.055, rel=1e-6)


# Brooks, Cotton Manufacturing, 3rd ed. 1892: 20's cotton in other systems.
@pytest.mark.parametrize(
    ("system", "number"), [("worsted", 30), ("linen", 56), ("french cotton", 16.93)]
)
def test_brooks_twenties_cotton(system, number):
    assert float(yarn_number(parse_yarn("20's cotton"), system)) == pytest.approx(number, abs=6e-3)


# Brooks, 1892: counts of yarns twisted together.
@pytest.mark.parametrize(("strands", "count"), [((40, 20), 13 + 1 / 3), ((40, 80, 120), 21.81)])
def test_brooks_twisted_counts(strands, count):
    whole = twisted_together(*(parse_yarn(f"{strand} cotton") for strand in strands))
    assert float(yarn_number(whole, "cotton")) == pytest.approx(count, abs=1e-2)


# Taylor, Cotton Weaving and Designing, 6th ed.: 120 yd weighing 20 grains is 50's.
def test_taylor_lea_test():
    assert yarn_number(parse_yarn("20 grains"), "cotton") == 50


# W. H. Dooley, Textiles, rev. ed. 1914, ch. IV and V: yards in a pound.
@pytest.mark.parametrize(
    ("size", "yards"),
    [
        ("30 worsted", 16800),
        ("10 cotton", 8400),
        ("16 cotton", 13440),
        ("30 cotton", 25200),
        ("50 cotton", 42000),
        ("100 cotton", 84000),
        ("5 run", 8000),
        ("3 1/4 run", 5200),
        ("30 cut", 9000),
        ("15 cut", 4500),
    ],
)
def test_dooley_yards_per_pound(size, yards):
    assert yards_per_pound(parse_yarn(size)) == yards


# Schacht, Setts for common yarns (nominal sizes); Petrini, Yarn systems, 2020 (worsted 20/2).
# Not cotton 30/2, which that table gives as 12 800 where its own system makes it 12 600.
@pytest.mark.parametrize(
    ("size", "yards"),
    [
        ("20/2 cotton", 8400),
        ("10/2 cotton", 4200),
        ("8/2 cotton", 3360),
        ("8/4 cotton", 1680),
        ("5/2 cotton", 2100),
        ("3/2 cotton", 1260),
        ("8/2 lyocell", 3360),
        ("20/2 linen", 3000),
        ("10/2 linen", 1500),
        ("20/2 worsted", 5600),
    ],
)
def test_yards_per_pound_of_common_yarns(size, yards):
    assert yards_per_pound(parse_yarn(size)) == yards


# Metric examples: miniknittingstuff yarn chart (Nm 30/2: 66 tex, 15 000 m/kg; 2/24 worsted: 73 tex,
# 13 700 m/kg, printed rounded); groenkennisnet wiki 7.1.6 (30 tex is Nm 33).
def test_metric_examples():
    assert metres_per_kilogram(parse_yarn("Nm 30/2")) == 15000
    assert int(parse_yarn("Nm 30/2")) == 66
    assert int(parse_yarn("2/24 worsted")) == 73
    assert float(metres_per_kilogram(parse_yarn("2/24 worsted"))) == pytest.approx(13700, rel=0.02)
    assert int(yarn_number(parse_yarn("30 tex"), "Nm")) == 33


# textileschool.com, article 159: den = 5314.9 / NeC = 14882 / NeL; Nm = 1.6934 NeC = 0.6048 NeL.
def test_denier_and_metric_of_cotton_and_linen():
    assert float(yarn_number(parse_yarn("1 cotton"), "den")) == pytest.approx(5314.9, rel=1e-5)
    assert float(yarn_number(parse_yarn("1 lea"), "den")) == pytest.approx(14882, rel=1e-4)
    assert float(yarn_number(parse_yarn("1 cotton"), "nm")) == pytest.approx(1.6934, rel=1e-4)
    assert float(yarn_number(parse_yarn("1 lea"), "nm")) == pytest.approx(0.6048, rel=1e-4)


# Constants of the regional systems: Yorkshire skein 256 yd/lb (textilecalculations.com); the
# Galashiels cut is 300 yd of 24 oz, 200 yd/lb, and the West of England 320 yd/lb (M. Ross,
# Encyclopedia of Handspinning). The jute spyndle is 14 400 yd (34.448 tex for one pound).
@pytest.mark.parametrize(
    ("one", "tex"),
    [
        ("1 Yorkshire skein", 1937.71),
        ("1 Galashiels", 2480.27),
        ("1 West of England", 1550.17),
        ("1 lb/spyndle", 34.448),
    ],
)
def test_regional_systems(one, tex):
    assert float(parse_yarn(one)) == pytest.approx(tex, rel=1e-5)


def test_the_galashiels_cut_is_300_yards_of_24_ounces():
    assert parse_yarn("1 Galashiels") == parse_yarn("300 yd / 24 oz")


# Wolfensberger, Theory of Silk Weaving, 2nd ed. 1921, p. 71: one dram is 256 000 yd in a pound.
def test_wolfensberger_dram():
    assert yards_per_pound(parse_yarn("1 dram")) == 256000


# Dooley prints spun silk 50/1, 50/2 and 50/3 all as 42 000 yd/lb (the finished yarn is numbered),
# Petrini prints 20/2 as 5000: one notation, two systems, so it must not be guessed.
def test_spun_silk_by_count_is_asked_for_by_label():
    with pytest.raises(BadQuantity, match="yd/lb"):
        parse_yarn("20/2 silk")
    assert yards_per_pound(parse_yarn("5000 yd/lb silk")) == 5000


# The rule of the trade for plied yarn, common practice, no source: both orders of 2 and 8.
def test_the_smaller_number_is_the_ply():
    assert yards_per_pound(parse_yarn("2/8 worsted")) == 2240
    assert parse_yarn("8/2 worsted") == parse_yarn("2/8 worsted")
    assert parse_yarn("2/8 worsted") == 2 * parse_yarn("8 worsted")


# International pound: 453.59237 g (ASTM D2260, note to Table 1).
def test_the_pound():
    assert Fraction(45359237, 100000) == POUND
