"""Totals of published thread counts. Arithmetic only: none of this is authority for a pattern."""

import pytest

from settscan.cloth.model import Cloth, ThreadSet, Yarn
from settscan.cloth.notation import parse_sequence
from settscan.cloth.wishes import INCH, YARD, Piece, Wishes
from settscan.measured import Measured
from settscan.quantities import parse_density
from settscan.warping.plan import plan_warp

# H. C. Douglas, Scotch Tartan Setts, Shuttle-Craft Guild, 1949 (transcription), block by block.
_BLACK_WATCH = "K18 B6 K2 B6 K2 B18 K2 B6 K2 B6 K18 G18 K6 G18 K18 B18 K2 B6 K2 B18 K18 G18 K6 G18"
_CAMPBELL = "K30 B6 K6 B6 K6 B30 K6 B6 K6 B6 K30 G32 Y6 G32 K30 B30 K6 B6 K6 B30 K30 G32 W6 G32"

# The count, the threads in one whole repeat, and where it was published. Pivots are full.
_COUNTS = [
    ("B/4 R56 G28 B28 R/4", 232, "Scottish Tartans Authority, Understanding thread counts"),
    (_BLACK_WATCH, 252, "Douglas, 1949: 252 printed"),
    (_CAMPBELL, 416, "Douglas, 1949: 416 printed"),
    (
        "R/32 K4 R4 K4 R4 K32 B32 G6 B32 K32 R32 K4 R/4",
        408,
        "Clan MacLachlan Association of North America",
    ),
    ("Y/6 W4 K32 G32 Y6 W4 R/48", 210, "Clan MacLachlan Association of North America"),
    ("Y/4 G4 B8 R8 A8 G4 R8 G4 Y/4", 96, "officialwvstatetartan.com, folk shawl c. 1840"),
    (
        "DY/4 FG4 MB8 FG4 A6 S24 W2 K6 S24 FG8 S8 MB8 FG4 DY/4",
        220,
        "officialwvstatetartan.com, pivots full",
    ),
    ("R2 B6 BR8 B32 BR8 B6", 62, "elliotclan.com/weaving.html, whole repeat in proportions"),
    ("R/2 B6 BR8 B/32", 62, "the same, written from pivot to pivot"),
    ("K4 W4", 8, "stagandbruce.co.uk, shepherd's check"),
]


@pytest.mark.parametrize(("count", "threads", "source"), _COUNTS)
def test_threads_in_a_repeat(count, threads, source):
    assert parse_sequence(count).threads == threads, source


def test_threads_per_colour_of_the_black_watch_repeat():
    """K 96, B 84, G 72: the columns of Douglas's blocks added up."""
    assert parse_sequence(_BLACK_WATCH).threads_per_yarn() == {"K": 96, "B": 84, "G": 72}


# skeinshop.com, "Mr Mouse", a kiltmaker's page that writes out the way back: the pivots L12 and
# R8 come once, so the half of 152 makes 284.
def test_a_half_sett_is_expanded_without_doubling_its_pivots():
    sequence = parse_sequence("L/12 R4 L56 B56 R4 L4 R4 L4 R/8")
    written_out = parse_sequence(
        "L12 R4 L56 B56 R4 L4 R4 L4 R8 L4 R4 L4 R4 B56 L56 R4", partial=True
    )
    assert sequence.one_repeat() == written_out.stripes
    assert sequence.threads == 284


def _cloth(threads):
    keys = dict.fromkeys(stripe.yarn for stripe in threads.sequence.stripes)
    yarns = tuple(Yarn(key=key, name=key, colour="#808080") for key in keys)
    return Cloth(name="check", yarns=yarns, warp=threads, weft=threads)


@pytest.mark.parametrize(("count", "threads", "source"), _COUNTS)
def test_a_warp_of_repeats_closes_on_the_first_stripe(count, threads, source):
    sequence = parse_sequence(count)
    cloth = _cloth(ThreadSet(sequence=sequence))
    plan = plan_warp(cloth, Wishes(piece=Piece(warp_repeats=3, length_mm=2 * YARD)))
    first = sequence.stripes[0].threads
    assert plan.ends == 3 * threads + first, source
    assert plan.order[0] == plan.order[-1]
    assert plan.steps[0].text.startswith(f"{plan.ends} ends = 3 repeats of {threads} + closing")


# 252 threads measure 3.88 in at 65 ends per inch and 2.96 in at 85; the densities are those of
# kilt cloth after S. Ashton (xmarksthescot, p=857589), the sizes are computed from them.
@pytest.mark.parametrize(("epi", "inches"), [(65, 3.88), (85, 2.96)])
def test_size_of_a_sett(epi, inches):
    density = Measured.exact(parse_density(f"{epi} epi"))
    threads = ThreadSet(sequence=parse_sequence(_BLACK_WATCH), density=density)
    cloth = _cloth(threads)
    piece = Piece(warp_repeats=1, length_mm=2 * YARD, close_on_pivot=False)
    width = plan_warp(cloth, Wishes(piece=piece)).finished_width_mm
    assert float(width.value / INCH) == pytest.approx(inches, abs=0.005)
