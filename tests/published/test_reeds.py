"""Reeds and sleying against published charts and worked examples."""

from fractions import Fraction

import pytest

from settscan.quantities import INCH, parse_density, parse_reed, per_inch
from settscan.warping.reed import even_pattern, patterns_near, rank_reeds, sley_density, sley_dents

# House of Wool, "Reed Substitution Guide": ends per inch for a sleying (rows) in a reed (columns,
# dents per inch). Of its 261 cells 63 are rounded and 8 are off by more than half an end; these 71
# are left out here ("-"), and the 190 that are exact stand.
_REEDS = (5, 6, 8, 10, 12, 15, 16, 18, 20)
_CHART = """
0-0-1        -     2     -     -     4     5     -     6     -
0-1        2.5     3     4     5     6   7.5     8     9    10
0-1-1        -     4     -     -     8    10     -    12     -
0-1-1-1      -   4.5     6   7.5     9     -    12  13.5    15
1            5     6     8    10    12    15    16    18    20
1-1-1-2      -   7.5    10  12.5    15     -    20  22.5    25
1-1-2        -     8     -     -    16    20     -    24     -
1-2        7.5     9    12    15    18  22.5    24    27    30
1-2-2        -    10     -     -    20    25     -    30     -
1-2-2-2      -  10.5    14  17.5    21     -    28  31.5    35
2           10    12    16    20    24    30    32    36    40
2-2-2-3      -  13.5    18  22.5    27     -    36  40.5    45
2-2-3        -    14     -     -    28    35     -    42     -
2-3       12.5    15    20    25    30  37.5    40    45    50
2-3-3        -    16     -     -    32    40     -    48     -
2-3-3-3      -  16.5    22     -    33     -    44     -    55
3           15    18    24    30    36    45    48    54    60
3-3-3-4      -  19.5    26  32.5    39     -    52  58.5    65
3-3-4        -    20     -     -    40    50     -    60     -
3-4       17.5    21    28    35    42  52.5    56    63    70
3-4-4        -    22     -     -    44    55     -    66     -
3-4-4-4      -  22.5    30  37.5    45     -    60  67.5    75
4           20    24    32    40    48    60    64    72    80
4-4-4-5      -  25.5    34     -    51     -    68  76.5    85
4-4-5        -    26     -     -    52    65     -    78     -
4-5       22.5    27    36    45    54  67.5    72    81    90
4-5-5        -    28     -     -    56    70     -    84     -
4-5-5-5      -  28.5    38  47.5    57     -    76  85.5    95
5           25    30    40    50    60    75    80    90   100
"""


def _cells():
    for line in _CHART.strip().splitlines():
        sleying, *cells = line.split()
        pattern = tuple(int(ends) for ends in sleying.split("-"))
        for reed, cell in zip(_REEDS, cells, strict=True):
            if cell != "-":
                yield pattern, reed, Fraction(cell)


def test_the_chart_is_whole():
    assert len(tuple(_cells())) == 190


@pytest.mark.parametrize(("pattern", "reed", "epi"), tuple(_cells()))
def test_substitution_chart(pattern, reed, epi):
    assert per_inch(sley_density(parse_reed(f"{reed} dpi"), pattern)) == epi


@pytest.mark.parametrize("line", _CHART.strip().splitlines())
def test_the_sleyings_of_the_chart_are_the_even_ones(line):
    pattern = tuple(int(ends) for ends in line.split()[0].split("-"))
    assert even_pattern(sum(pattern), len(pattern)) == pattern
    assert pattern in patterns_near(Fraction(sum(pattern), len(pattern)))


# dents per inch, ends per inch, the published sleying, and where it was published. Which dent of a
# round is the fuller one is a matter of where the round begins.
_SLEYINGS = [
    (12, "16", "2-1-1", "Interweave questions and answers"),
    (10, "16", "2-1-2-1-2-1-2-1-2-2", "Interweave questions and answers"),
    (8, "20", "3-2", "Interweave questions and answers"),
    (8, "10", "1-1-1-2", "Osterkamp, reed substitution chart, 2023"),
    (10, "12.5", "1-1-1-2", "Osterkamp, reed substitution chart, 2023"),
    (15, "19.5", "1-1-2-1-1-2-1-1-1-2", "blossommerz, 2012: 13 ends in 10 dents"),
]


@pytest.mark.parametrize(("dpi", "epi", "sleying", "source"), _SLEYINGS)
def test_published_sley_orders(dpi, epi, sleying, source):
    published = tuple(int(ends) for ends in sleying.split("-"))
    reed, wanted = parse_reed(f"{dpi} dpi"), parse_density(f"{epi} epi")
    assert sley_density(reed, published) == wanted, source
    ours = next(
        p for p in patterns_near(wanted / reed.dents_per_mm) if sley_density(reed, p) == wanted
    )
    whole = ours * (len(published) // len(ours))
    assert sorted(whole) == sorted(published), source


def test_thirty_nine_ends_in_two_inches_of_a_fifteen_dent_reed():
    """Blossommerz, 2012: the round of 13 in 10 dents, three times, is 39 ends in 30 dents."""
    pattern = even_pattern(13, 10)
    dents = sley_dents(pattern, 39)
    assert len(dents) == 30
    assert len(dents) / parse_reed("15 dpi").dents_per_mm == 2 * INCH


def test_twelve_wanted_in_a_ten_dent_reed_is_close_enough_at_twelve_and_a_half():
    """Osterkamp, 2023, takes 1-1-1-2 (12 1/2) for 12 in a 10-dent reed: 4 % off, in four dents."""
    wanted, reed = parse_density("12 epi"), parse_reed("10 dpi")
    assert (sley_density(reed, (1, 1, 1, 2)) - wanted) / wanted == Fraction(1, 24)


def test_two_in_each_dent_is_preferred():
    """Osterkamp, 2023: two ends in a dent are ideal, knots pass and the reed marks least."""
    owned = tuple(parse_reed(f"{dents} dpi") for dents in (8, 10, 12, 15))
    best = rank_reeds(owned, parse_density("24 epi"), 480)[0]
    assert (best.reed.label, best.pattern, best.error) == ("12 dpi", (2,), 0)
