"""Counts in which warp and weft nearly agree."""

from dataclasses import replace

import pytest

from settscan.cloth.model import SequenceKind
from settscan.reading.both_ways import with_unlike_ways_doubted
from tests.reading.hand_made import axis, cloth

SETT = "A20 B16 C100 B26 D18 C68 A30"


def seen(text: str):
    """An axis of these stripes, each of its own."""
    members = tuple((k,) for k in range(len(text.split())))
    return axis(text, text, SequenceKind.PARTIAL, members)


def both(columns: str, rows: str):
    """A reading of two sequences, whose outermost stripes the frame cuts."""
    return with_unlike_ways_doubted(cloth(columns=seen(columns), rows=seen(rows)))


def intervals(read_axis):
    return [(s.low, s.high) for s in read_axis.stripes]


def backwards(text: str) -> str:
    return " ".join(text.split()[::-1])


@pytest.mark.parametrize("turned", [False, True])
def test_an_edge_that_fell_a_thread_off_one_way_is_in_doubt_both_ways(turned):
    off = SETT.replace("D18 C68", "D19 C67")
    read = both(off, backwards(SETT) if turned else SETT)
    assert intervals(read.columns)[4:6] == [(18, 19), (67, 68)]
    assert all(s.chance < 0.9 for s in read.columns.stripes[4:6])
    assert intervals(read.columns)[1:4] == [(16, 16), (100, 100), (26, 26)]
    told = [d for d in read.columns.doubts if d.name == "other-way-differs"]
    assert len(told) == 2
    assert "stripe 5 has 19 threads" in told[0].sentence
    assert "there it has 18" in told[0].sentence
    assert sum(low < high for low, high in intervals(read.rows)) == 2


@pytest.mark.parametrize(
    "rows",
    [
        SETT,  # alike
        "A20 B16 C80 B26 D18 C68 A30",  # a stripe of quite another count
        "A20 B16 C100 D26 B19 C68 A30",  # another order
        "A20 B17 C99",  # too few to tell
    ],
)
def test_where_the_two_are_alike_or_are_two_setts_nothing_is_doubted(rows):
    read = both(SETT, rows)
    for each in (read.columns, read.rows):
        assert all(low == high for low, high in intervals(each))
        assert not [d for d in each.doubts if d.name == "other-way-differs"]


def test_a_count_that_is_in_doubt_throws_none_on_its_partner():
    read = cloth(columns=seen(SETT), rows=seen(SETT))
    stripes = list(read.rows.stripes)
    stripes[4] = replace(stripes[4], threads=19, low=17, high=20, chance=0.6)
    read = replace(read, rows=replace(read.rows, stripes=tuple(stripes)))
    found = with_unlike_ways_doubted(read)
    assert intervals(found.columns)[4] == (18, 18)
    assert intervals(found.rows)[4] == (17, 20)
