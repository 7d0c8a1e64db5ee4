"""The words for weaving."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth.model import SequenceKind, ThreadSet
from settscan.cloth.wishes import INCH, Loom, Losses, Piece
from settscan.measured import Measured
from settscan.sheets.pdf import sheets_pdf
from settscan.sheets.printable import sheets_html
from settscan.sheets.text import plan_text
from settscan.sheets.weft_lines import marks_along, stripe_rows, weaving_lines, weft_stretches
from tests.sheets.conftest import blanket, planned, sequence, wishes

NONE = Measured.exact(Fraction(0))
NO_LOSS = Losses(draw_in=NONE, width_shrinkage=NONE, take_up=NONE, length_shrinkage=NONE)


def woven(*stripes, kind=SequenceKind.SYMMETRIC, **piece):
    threads = ThreadSet(
        sequence=sequence(*stripes, kind=kind), density=Measured.exact(Fraction(20) / INCH)
    )
    settings = {"width_mm": 40 * INCH, "weft_repeats": 3, **piece}
    cloth = blanket(warp=threads, weft=threads)
    return planned(cloth, wishes(piece=Piece(**settings), losses=NO_LOSS))


def test_picks_and_inches_of_a_repeat_by_hand() -> None:
    # 20 picks in an inch and no losses: 24 picks are 1.2 in, 4 are 0.2 in, 10 are half an inch.
    plan, winding = woven(("A", 24), ("B", 4), ("C", 10))
    first, rest = weft_stretches(plan)
    assert (first.label, first.threads) == ("opening pivot", 24)
    assert (rest.label, rest.times, rest.threads) == ("repeat 1 to 3", 3, 42)
    assert stripe_rows(plan, rest) == (
        ("4", "B  oatmeal", "0.20 in", "4", "0.20 in"),
        ("10", "C  moss green", "0.50 in", "14", "0.70 in"),
        ("4", "B  oatmeal", "0.20 in", "18", "0.90 in"),
        ("24", "A  navy", "1.20 in", "42", "2.10 in"),
    )
    assert marks_along(plan) == (
        "opening pivot: 24 picks, 1.20 in",
        "repeat 1: 66 picks, 3.30 in",
        "repeat 2: 108 picks, 5.40 in",
        "repeat 3: 150 picks, 7.50 in",
    )
    assert "3 shuttles in use; 12 changes of colour in a piece." in weaving_lines(
        plan, winding.yarns
    )


def test_heights_are_told_in_one_unit_however_long_the_piece() -> None:
    # 120 picks are 6 in: the last repeat ends at 3 + 30 x 6 in, which no tape says in yards.
    plan, _ = woven(("A", 60), ("B", 20), ("C", 20), weft_repeats=30)
    marks = marks_along(plan)
    assert marks[1] == "repeat 1: 180 picks, 9.00 in"
    assert marks[-1] == "repeat 30: 3660 picks, 183 in"
    metric, _ = planned(plan.cloth, plan.wishes._replace(units="metric"))
    marks = marks_along(metric)
    assert marks[1] == "repeat 1: 180 picks, 22.9 cm"
    assert marks[-1] == "repeat 30: 3660 picks, 464.8 cm"


counts = st.lists(st.integers(1, 40), min_size=2, max_size=6)


@given(counts, st.sampled_from([SequenceKind.SYMMETRIC, SequenceKind.REPEATING]))
def test_the_stretches_hold_every_pick_as_woven(threads, kind) -> None:
    keys = ("A", "B", "C", "D") * 2
    order = tuple(zip(keys, threads, strict=False))
    plan, _ = woven(*order, kind=kind)
    listed = [s for each in weft_stretches(plan) for s in each.stripes * each.times]
    ends = [stripe.yarn for stripe in listed for _ in range(stripe.threads)]
    assert ends == [s.yarn for s in plan.weft.piece_order for _ in range(s.threads)]
    blocks = plan.weft.blocks
    assert sum(block.ends for block in blocks) == len(ends)
    assert [block.first_end for block in blocks] == [
        sum(before.ends for before in blocks[:at]) for at in range(len(blocks))
    ]


def test_pirns_stand_on_every_sheet() -> None:
    plan, winding = planned(blanket(), wishes(loom=Loom(pirn_g=Fraction(25))))
    line = weaving_lines(plan, winding.yarns)[-1]
    assert line.startswith("Pirns or bobbins to wind: A navy ")
    assert line in sheets_html(plan, winding)
    assert " ".join(line.split()[:8]) in " ".join(plan_text(plan, winding.yarns).split())
    assert sheets_pdf(plan, winding)


def test_a_weft_of_unknown_density_has_its_picks_all_the_same(awkward) -> None:
    plan, winding = awkward
    (stretch,) = weft_stretches(plan)
    assert {row[2] for row in stripe_rows(plan, stretch)} == {"not known"}
    assert marks_along(plan) == ()
    assert "shuttles in use; changes of colour." in weaving_lines(plan, winding.yarns)[0]
