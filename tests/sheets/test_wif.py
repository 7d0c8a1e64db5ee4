"""WIF 1.1, read by Python's configparser and by our own reader.

The names of the required sections and the fixed lines of [WIF] come from the minimum block of
the Weaving Information File specification 1.1 of 20 April 1997. The keys within the data
sections, and thread 1 at the right, are from memory of it.
"""

from __future__ import annotations

import configparser
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe, ThreadSet
from settscan.cloth.weaves import KNOWN_WEAVES
from settscan.cloth.wishes import INCH, Piece
from settscan.errors import BadInput
from settscan.measured import Measured
from settscan.sheets.wif import write_wif
from settscan.sheets.wif_reading import name_weave, read_wif, sequence_of
from settscan.warping.structure import draft_for

from .conftest import blanket, planned, sequence, wishes


def parsed(text: str) -> configparser.ConfigParser:
    file = configparser.ConfigParser(interpolation=None)
    file.read_string(text)
    return file


def test_required_sections_and_fixed_lines(plans) -> None:
    file = parsed(write_wif(plans[0]))
    assert file["WIF"]["version"] == "1.1"
    assert file["WIF"]["date"] == "April 20, 1997"
    assert file["WIF"]["developers"] == "wif@mhsoft.com"
    assert file["WIF"]["source program"] == "settscan"
    listed = {name.upper() for name in file["CONTENTS"]}
    assert listed == set(file.sections()) - {"WIF", "CONTENTS"}
    assert all(file["CONTENTS"].getboolean(name) for name in file["CONTENTS"])


def test_threads_colours_and_draft(plans) -> None:
    plan = plans[0]
    file = parsed(write_wif(plan))
    ends, picks = plan.ends, sum(s.threads for s in plan.weft.piece_order)
    assert file.getint("WARP", "threads") == ends == len(file["WARP COLORS"])
    assert file.getint("WEFT", "threads") == picks == len(file["WEFT COLORS"])
    assert len(file["THREADING"]) == ends and len(file["TREADLING"]) == picks
    palette = {key: number for number, key in enumerate("ABCD", 1)}
    for key, count in plan.ends_per_yarn.items():
        assert list(file["WARP COLORS"].values()).count(str(palette[key])) == count
    assert file["COLOR TABLE"]["1"] == "27,38,84"
    assert file["TIEUP"]["4"] == "1,4"
    assert 1 / file.getfloat("WARP", "spacing") == pytest.approx(15)


def test_end_one_is_the_rightmost() -> None:
    order = sequence(("A", 3), ("B", 5), ("C", 2), kind=SequenceKind.REPEATING)
    density = Measured.exact(Fraction(1, 2))
    plan, _ = planned(
        blanket(warp=ThreadSet(sequence=order, density=density)),
        wishes(piece=Piece(warp_repeats=2, length_mm=Fraction(900), close_on_pivot=False)),
    )
    file = parsed(write_wif(plan))
    threads = [stripe.yarn for stripe in plan.order for _ in range(stripe.threads)]
    written = ["ABCD"[int(number) - 1] for _, number in file["WARP COLORS"].items()]
    assert written == threads[::-1]
    assert file["THREADING"][str(plan.ends)] == str(plan.draft.threading[0])


def test_plain_ascii_and_no_stray_comment(awkward) -> None:
    text = write_wif(awkward[0])
    assert text.isascii()
    assert ";" not in text
    assert "THREADING" not in parsed(text).sections()  # the weave is not known


def test_round_trip_of_the_blanket(plans) -> None:
    cloth, back = plans[0].cloth, read_wif(write_wif(plans[0]))
    assert back.warp.sequence == cloth.warp.sequence
    assert back.weft.sequence == cloth.weft.sequence
    assert back.warp.density.value == cloth.warp.density.value
    assert (back.weave, back.twill_direction) == ("2/2 twill", "Z")
    assert back.yarns == cloth.yarns
    assert back.name == cloth.name


def test_round_trip_with_names_in_other_scripts(awkward) -> None:
    back = read_wif(write_wif(awkward[0]))
    assert [yarn.name for yarn in back.yarns] == [yarn.name for yarn in awkward[0].cloth.yarns]
    assert back.weave == "unknown"


@pytest.mark.parametrize(
    "weave", [*KNOWN_WEAVES, "4/2 twill", "2/2 herringbone 12", "2/1 herringbone 9"]
)
@pytest.mark.parametrize("direction", ["Z", "S"])
def test_every_weave_comes_back(weave, direction) -> None:
    loom = wishes().loom._replace(shafts=8)
    plan, _ = planned(blanket(weave=weave, twill_direction=direction), wishes(loom=loom))
    back = read_wif(write_wif(plan))
    assert back.weave == weave
    assert back.twill_direction == (direction if weave.endswith("twill") else None)


def test_a_weave_without_a_name() -> None:
    assert name_weave(((True, False, False), (True, True, False))) == ("unknown", None)
    assert name_weave(((True,),)) == ("unknown", None)


def test_a_weave_is_known_wherever_it_begins() -> None:
    rows = draft_for("2/1 twill", 30, direction="S").drawdown(7, 8)
    assert name_weave(tuple(row[2:5] for row in rows[1:4])) == ("2/1 twill", "S")


stripes = st.lists(
    st.tuples(st.sampled_from("ABC"), st.integers(1, 6)), min_size=1, max_size=6
).map(lambda found: tuple(Stripe(key, n) for key, n in found))


@given(stripes, st.integers(1, 4), st.sampled_from(list(SequenceKind)))
@settings(max_examples=150, deadline=None)
def test_a_sequence_gives_back_every_thread(one, times, kind) -> None:
    repeat = ColourSequence(kind, one).one_repeat()
    threads = [s.yarn for s in repeat for _ in range(s.threads)] * times
    found = sequence_of(threads)
    again = [s.yarn for s in found.one_repeat() for _ in range(s.threads)]
    assert (again * (len(threads) // len(again) + 1))[: len(threads)] == threads


FILE = """\
[WIF]
Version=1.1
[CONTENTS]
WARP=true
[weaving]
Shafts=2
Treadles=2
Rising Shed=no
[Warp]
Threads=8 ; eight ends
Units=Centimeters
Spacing=.25
Color=1
[WARP COLORS]
1=2
2=2
[WEFT]
Threads=4
Color=2
[COLOR PALETTE]
Range=0,999
[COLOR TABLE]
1=999,999,999
2=0,0,500
[THREADING]
1=1
2=2
3=1
4=2
5=1
6=2
7=1
8=2
[LIFTPLAN]
1=1
2=2
3=1
4=2
"""


def test_a_file_from_another_hand() -> None:
    cloth = read_wif("\ufeff" + FILE.replace("\n", "\r\n"), name="towel")
    assert cloth.name == "towel"
    assert [yarn.colour for yarn in cloth.yarns] == ["#ffffff", "#000080"]
    assert [yarn.name for yarn in cloth.yarns] == ["white", "dark blue"]
    # ends 1 and 2 are the rightmost
    assert cloth.warp.sequence.stripes == (Stripe("A", 6), Stripe("B", 2))
    assert cloth.warp.density.value == Fraction(4, 10)
    assert cloth.weft.density is None
    assert cloth.weave == "plain"


def test_decipoints_are_seven_hundred_and_twenty_to_the_inch() -> None:
    text = FILE.replace("Units=Centimeters\nSpacing=.25", "Units=Decipoints\nSpacing=48")
    assert read_wif(text).warp.density.value == Fraction(15) / INCH


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[WEFT]", "[ELSEWHERE]", "no section \\[WEFT\\]"),
        ("Threads=8 ; eight ends", "Threads=some", "not a whole number"),
        ("Threads=4", "Threads=0", "0 threads"),
        ("Threads=4", "Threads=9999999", "9999999 threads"),
        ("Range=0,999", "Range=9", "Range"),
        ("2=0,0,500", "2=0,0", "colour 2"),
        ("2=0,0,500", "3=0,0,500", "colour 2 is used"),
        ("Spacing=.25", "Spacing=0", "Spacing"),
        ("Units=Centimeters", "Units=Ells", "Spacing or Units"),
        ("[WIF]", "WIF", "cannot be understood at line 1"),
        ("[LIFTPLAN]", "[THREADING]", "cannot be understood at line"),
    ],
)
def test_a_bad_file_gets_one_sentence(old, new, words) -> None:
    with pytest.raises(BadInput, match=words) as caught:
        read_wif(FILE.replace(old, new, 1))
    assert caught.value.advice
