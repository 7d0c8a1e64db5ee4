"""Typed quantities: what is read, what is written back, and what is refused with advice."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.errors import BadQuantity
from settscan.measured import Measured, Origin
from settscan.numbering import format_yarn, mass_of, parse_yarn, tex_from_length_per_mass
from settscan.numerals import decimal, parse_number
from settscan.quantities import (
    INCH,
    POUND,
    YARD,
    closer_than_spun,
    format_density,
    format_length,
    format_mass,
    format_share,
    format_yarn_length,
    parse_density,
    parse_length,
    parse_mass,
    parse_reed,
    parse_share,
    parse_span,
    per_10cm,
    per_inch,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("54 in", 54 * INCH),
        ("1.4 m", 1400),
        ("140 cm", 1400),
        ("30mm", 30),
        ("11 yd", 11 * YARD),
        ("2 1/2 yd", 90 * INCH),
        ("2½ yd", 90 * INCH),
        ("1 yd 9 in", 45 * INCH),
        ('12"', 12 * INCH),
        (".5 m", 500),
        ("  3   Inches ", 3 * INCH),
    ],
)
def test_lengths(text, mm):
    assert parse_length(text) == mm


@pytest.mark.parametrize(
    ("text", "threads", "inches"),
    [
        ("24 epi", 24, 1),
        ("24 ppi", 24, 1),
        ("24/in", 24, 1),
        ("24 ends per inch", 24, 1),
        ("12 1/2 epi", 25, 2),
    ],
)
def test_densities_per_inch(text, threads, inches):
    assert parse_density(text) == threads / (inches * INCH)


@pytest.mark.parametrize(
    ("text", "per_mm"),
    [("48/10cm", "0.48"), ("48 per 10 cm", "0.48"), ("9.5/cm", "0.95"), ("95 ends/dm", "0.95")],
)
def test_metric_densities(text, per_mm):
    assert parse_density(text) == Fraction(per_mm)


def test_density_both_ways():
    density = parse_density("24 epi")
    assert per_inch(density) == 24
    assert per_10cm(parse_density("95/10cm")) == 95


def test_a_reed_keeps_its_name():
    assert parse_reed(" 60  Stockport ").label == "60 Stockport"
    assert parse_reed("12 dpi reed").dents_per_mm == parse_reed("12/in").dents_per_mm


@pytest.mark.parametrize(
    ("text", "grams"),
    [("100 g", 100), ("0.5 kg", 500), ("1 lb", POUND), ("1 lb 8 oz", POUND * 3 / 2)],
)
def test_masses(text, grams):
    assert parse_mass(text) == grams


@pytest.mark.parametrize(
    ("text", "share"), [("12 %", "0.12"), ("0.12", "0.12"), ("12.5%", "0.125"), ("1/8", "0.125")]
)
def test_shares(text, share):
    assert parse_share(text) == Fraction(share)


@pytest.mark.parametrize(
    ("text", "value", "low", "high"),
    [
        ("12 %, 8 to 15", 12, 8, 15),
        ("12 % (8 to 15)", 12, 8, 15),
        ("8 to 16 %", 12, 8, 16),
        ("12 %", 12, 12, 12),
        ("0 %", 0, 0, 0),
    ],
)
def test_spans(text, value, low, high):
    expected = Measured(*(Fraction(n, 100) for n in (value, low, high)), Origin.TYPED)
    assert parse_span(text) == expected


@pytest.mark.parametrize(
    ("read", "text", "advice"),
    [
        (parse_length, "1,4 m", "point"),
        (parse_length, "12", "unit"),
        (parse_length, "-3 in", "minus"),
        (parse_length, "0 in", "zero"),
        (parse_length, "nan m", "not a number"),
        (parse_length, "inf m", "not a number"),
        (parse_length, "1e9 m", "Use one of"),
        (parse_length, "99999999 m", "absurd"),
        (parse_length, "3 cubits", "Use one of"),
        (parse_length, "", "missing"),
        (parse_length, "1" * 200, "too long"),
        (parse_length, "3/0 in", "zero"),
        (parse_density, "24", "epi"),
        (parse_density, "24 eggs", "epi"),
        (parse_density, "5000/mm", "absurd"),
        (
            parse_density,
            "636 epi",
            "no yarn lies as close .635 epi, 250 in one cm at most.*48/10cm",
        ),
        (parse_density, "251/cm", "no yarn lies as close"),
        (parse_density, "0.001 epi", "absurdly low"),
        (parse_reed, "twelve", "dpi"),
        (parse_reed, "0 dpi", "zero"),
        (parse_mass, "100", "unit"),
        (parse_share, "12", "12 %"),
        (parse_share, "120 %", "100 %"),
        (parse_span, "20 %, 8 to 15", "range"),
        (parse_span, ",", "Write it as"),
        (parse_yarn, "8/2", "cotton"),
        (parse_yarn, "8/2 wool", "worsted"),
        (parse_yarn, "20/2 silk", "yd/lb"),
        (parse_yarn, "60/2 tex", "30 tex x 2"),
        (parse_yarn, "0 cotton", "zero"),
        (parse_yarn, "40/30 cotton", "ply"),
        (parse_yarn, "100000 cotton", "no size"),
        (parse_yarn, "100 yd/0 lb", "no length or mass"),
    ],
)
def test_refusals_say_what_to_do(read, text, advice):
    with pytest.raises(BadQuantity, match=advice) as caught:
        read(text)
    assert "\n" not in str(caught.value)
    assert caught.value.exit_code == 2


@pytest.mark.parametrize(
    ("text", "tex"),
    [
        ("30 tex", 30),
        ("300 dtex", 30),
        ("R 60 tex", 60),
        ("30 tex x 2", 60),
        ("450 den", 50),
        ("Nm 16/2", 125),
        ("16/2 Nm", 125),
        ("4000 m/kg", 250),
        ("200 m / 50 g", 250),
        ("200 metres per 50 g", 250),
        ("Nm 16/2 wool yarn", 125),
        ("4000 m/kg wool", 250),
    ],
)
def test_yarn_sizes(text, tex):
    assert parse_yarn(text) == tex


def test_yards_per_pound_however_written():
    assert parse_yarn("2240 yd/lb") == parse_yarn("2240 ypp") == parse_yarn("140 yd/oz")
    assert parse_yarn("2240 yards per pound") == parse_yarn("2/8 worsted wool")
    assert parse_yarn("8/2 unmercerized cotton") == parse_yarn("8/2 cotton, carded")


@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (format_length(54 * INCH), "54 in"),
        (format_yarn_length(INCH * 9), "0.3 yd"),
        (format_yarn_length(Fraction(18160), "metric"), "18.2 m"),
        (format_yarn_length(Fraction(534600), "metric"), "535 m"),
        (format_yarn_length(Fraction(0)), "-"),
        (format_mass(Fraction(90), "metric", Fraction(1200)), "0.09 kg"),
        (format_mass(Fraction(90), "metric", Fraction(900)), "90 g"),
        (format_length(11 * YARD), "11 yd"),
        (format_length(Fraction("11.256") * YARD), "11.26 yd"),
        (format_length(Fraction("52.34") * YARD), "52.3 yd"),
        (format_length(Fraction("5239.55") * YARD), "5240 yd"),
        (format_length(Fraction(835), "metric"), "83.5 cm"),
        (format_length(Fraction(10060), "metric"), "10.06 m"),
        (format_density(24 / INCH), "24 epi"),
        (format_density(24 / INCH, of="picks"), "24 ppi"),
        (format_density(Fraction(95, 100), "metric", "dents"), "95 dents per 10 cm"),
        (format_mass(POUND / 2), "8 oz"),
        (format_mass(Fraction(1500), "metric"), "1.5 kg"),
        (format_mass(Fraction(120), "metric"), "120 g"),
        (format_share(Fraction(1, 8)), "12.5 %"),
        (format_yarn(parse_yarn("2/8 worsted")), "2240 yd/lb"),
        (format_yarn(Fraction(250), "metric"), "4000 m/kg"),
    ],
)
def test_short_text(shown, text):
    assert shown == text


@given(st.fractions(min_value=Fraction(1, 64), max_value=9999, max_denominator=64))
def test_every_fraction_reads_back(number):
    whole, rest = divmod(number.numerator, number.denominator)
    text = f"{whole} {rest}/{number.denominator}" if whole else str(number)
    assert parse_number(text) == number
    assert parse_length(f"{text} in") == number * INCH


@given(st.integers(0, 10**9), st.integers(0, 6))
def test_decimal_is_exact_where_it_can_be(number, places):
    value = Fraction(number, 10**places)
    assert Fraction(decimal(value, places)) == value
    assert Fraction(decimal(-value, places)) == -value


@given(st.text(max_size=90))
def test_no_text_breaks_a_reader(text):
    for read in (parse_length, parse_density, parse_reed, parse_yarn, parse_mass, parse_share):
        try:
            assert read(text) is not None
        except BadQuantity as error:
            assert str(error)
    try:
        assert parse_span(text).low <= parse_span(text).high
    except BadQuantity as error:
        assert str(error)


@given(st.fractions(min_value=1, max_value=10**6), st.fractions(min_value=1, max_value=10**4))
def test_a_yarn_weighs_what_its_label_says(length, mass):
    assert mass_of(length, tex_from_length_per_mass(length, mass)) == mass


@given(
    st.integers(1, 12), st.integers(12, 200), st.sampled_from(["cotton", "worsted", "nm", "lea"])
)
def test_ply_may_stand_before_or_after(ply, number, system):
    assert parse_yarn(f"{ply}/{number} {system}") == parse_yarn(f"{number}/{ply} {system}")
    assert parse_yarn(f"{ply}/{number} {system}") == ply * parse_yarn(f"{number} {system}")


@pytest.mark.parametrize(
    "names",
    [
        ("8/2 cotton", "8/2 NeC", "8/2 Ne", "8/2 viscose", "8/2 rayon", "8/2 lyocell"),
        ("2/8 worsted", "2/8 NeW"),
        ("16/2 linen", "16/2 lea", "16/2 linen lea", "16/2 NeL"),
        ("16 Yorkshire skein", "16 Yorkshire", "16 YSW", "16 Yorkshire skeins", "4096 yd/lb"),
        ("20 Galashiels", "20 gala", "20 gala cut", "20 Galashiels cut", "4000 yd/lb"),
        ("5 run", "5 woollen run", "8000 yd/lb"),
        ("30 cut", "30 woollen cut", "9000 yd/lb"),
        ("10 West of England", "3200 yd/lb"),
        ("20 French cotton", "20 Nf", "40 Nm", "40 metric"),
        ("8 lb/spyndle", "8 lb spyndle", "8 spyndle", "8 jute"),
        ("2 drams", "2 dram"),
        ("90 den", "90 denier", "100 dtex", "100 decitex", "10 tex", "0.01 ktex"),
        ("20 grains", "20 grain"),
    ],
)
def test_names_of_one_system_mean_the_same(names):
    assert len({parse_yarn(name) for name in names}) == 1


@pytest.mark.parametrize(
    ("text", "units", "of", "told"),
    [
        ("120 epi", "inch", "ends", ""),
        ("500/10cm", "metric", "ends", ""),
        ("500 epi", "inch", "ends", "500 epi is closer"),
        ("500 ppi", "inch", "picks", "500 ppi is closer"),
        ("80/cm", "metric", "picks", "800 picks per 10 cm is closer"),
    ],
)
def test_only_reeled_silk_is_set_closer_than_spun_yarn_lies(text, units, of, told):
    """What is in print (320 ends in an inch) can be meant, so it is doubted and not refused."""
    said = closer_than_spun(parse_density(text), units, of)
    assert said.startswith(told) and bool(said) == bool(told)
    assert "48/10cm" in said or not told
