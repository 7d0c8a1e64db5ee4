"""Edits of stripes: what is written and what the picture shows stay in step."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth.model import SequenceKind, StripeDoubt
from settscan.cloth.notation import format_sequence, parse_sequence
from settscan.errors import BadInput
from settscan.page import stripes
from settscan.page.laying import laid
from settscan.page.work import Line, Shown, Side
from tests.page.cloths import side, told, unrolled

SYMMETRIC = "A/22 B6 C14 B4 C/4"
SHOWN = "B3 C14 B4 C4 B4 C14 B6 A22 B6 C9"


def symmetric():
    return side(SYMMETRIC, shown=SHOWN, cut=(0, 9))


def test_a_sequence_is_laid_along_the_picture_both_ways_round():
    one = symmetric()
    # B3 is a cut B6: beyond it the cloth goes C14 B4 C4 (pivot) and back to A22 (pivot).
    assert [p.of for p in one.shown] == [1, 2, 3, 4, 3, 2, 1, 0, 1, 2]


def test_stripes_of_other_colours_are_not_taken_for_the_sequence():
    assert side("A4 B4 C4", shown="A4 C4 B4 C4").shown == ()


def test_a_partial_sequence_is_laid_where_it_fits():
    one = side("A4 B6 C8 A2 B3", partial=True, shown="C8 A2 B3")
    assert [p.of for p in one.shown] == [2, 3, 4]


def test_a_count_changes_in_every_place_and_is_certain():
    one = stripes.counted(symmetric(), 2, 15)
    assert told(one) == ("A22 B6 C15 B4 C4", "B3+ C15 B4 C4 B4 C15 B6 A22 B6 C9+")
    assert one.lines[2].certain and one.lines[2].doubt is None


@pytest.mark.parametrize("threads", [0, -3, 10**9])
def test_an_impossible_count_is_refused(threads):
    with pytest.raises(BadInput, match="no count"):
        stripes.counted(symmetric(), 0, threads)


def test_a_stripe_given_its_neighbours_colour_joins_it():
    one = stripes.coloured(symmetric(), 3, "C")  # C14 B4 C/4 is now all C, and a pivot
    # The pivot is shared: 14 + 4 on one side, the old pivot 4, 4 + 14 on the other.
    assert told(one)[0] == "A22 B6 C40"
    assert one.kind is SequenceKind.SYMMETRIC


def test_joining_keeps_what_the_loom_sees():
    before = symmetric()
    painted = unrolled(before).replace("B", "C")
    lines = tuple(Line("C" if x.yarn == "B" else x.yarn, x.threads) for x in before.lines)
    from dataclasses import replace

    after = stripes.joined(replace(before, lines=lines))
    assert unrolled(after, 3).count("C") == 3 * (painted.count("C") // 2)
    assert len(unrolled(after)) == len(unrolled(before))


def test_merging_takes_the_colour_of_the_wider():
    one = stripes.merged(side("A12 B4 C6", shown="A12 B4 C6 A12 B4"), 0)
    assert told(one) == ("A16 C6", "A16 C6 A16")


def test_a_split_stripe_is_split_in_every_place_the_right_way_round():
    one = stripes.split(symmetric(), 2, 10, "A")
    assert told(one)[0] == "A22 B6 C10 A4 B4 C4"
    assert "B3+ C10 A4 B4 C4 B4 A4 C10 B6 A22 B6 C" in told(one)[1]
    assert len(unrolled(one)) == len(unrolled(symmetric()))


def test_a_split_pivot_keeps_its_middle():
    one = stripes.split(symmetric(), 0, 10, "C")
    assert told(one)[0] == "A10 C6 B6 C14 B4 C4"
    assert "C6 A10 C6" in told(one)[1]
    assert len(unrolled(one)) == len(unrolled(symmetric()))
    with pytest.raises(BadInput, match="cannot be split"):
        stripes.split(symmetric(), 0, 11, "C")


def test_a_line_inside_a_stripe_takes_its_threads_from_it():
    one = stripes.inserted(symmetric(), 2, "A", 2, before=5)
    assert told(one)[0] == "A22 B6 C5 A2 C7 B4 C4"
    assert len(unrolled(one)) == len(unrolled(symmetric()))
    assert "C5 A2 C7 B4 C4 B4 C7 A2 C5" in told(one)[1]


def test_a_line_after_a_stripe_adds_threads():
    one = stripes.inserted(symmetric(), 1, "A", 2)
    assert told(one)[0] == "A22 B6 A2 C14 B4 C4"
    assert "C14 A2 B6 A22 B6 A2" in told(one)[1]


@pytest.mark.parametrize(("index", "yarn"), [(1, "B"), (1, "C"), (0, "B")])
def test_a_line_beside_one_of_its_own_yarn_is_refused(index, yarn):
    with pytest.raises(BadInput, match="same yarn"):
        stripes.inserted(symmetric(), index, yarn, 2)


def test_a_stripe_taken_out_lets_its_neighbours_meet():
    one = stripes.deleted(symmetric(), 3)  # B4 between C14 and the pivot C4
    assert told(one)[0] == "A22 B6 C32"  # 14 + 4 + 14 round the pivot
    assert told(one)[1].startswith("B3+ C32 B6 A22")


def test_a_pivot_taken_out_makes_the_next_stripe_the_pivot():
    one = stripes.deleted(symmetric(), 0)
    assert told(one)[0] == "B12 C14 B4 C4"
    assert "C14 B12 C" in told(one)[1]


def test_the_last_stripe_cannot_be_taken_out():
    with pytest.raises(BadInput, match="only stripe"):
        stripes.deleted(side("A12"), 0)


def test_threads_go_with_an_edge_that_is_moved():
    one = symmetric()
    edge = one.shown[6]  # B6 between C14 and A22
    thread = (edge.end - edge.start) / 6
    moved = stripes.moved(one, 6, edge.end + 2 * thread)
    assert (moved.lines[1].threads, moved.lines[0].threads) == (8, 20)
    assert moved.shown[6].end == moved.shown[7].start == pytest.approx(edge.end + 2 * thread)


def test_an_edge_stays_between_stripes_that_are_hardly_there():
    """Both together narrower than two stripes may become by dragging."""
    ends = (0.0, 0.5, 0.50004, 0.50007, 1.0)
    shown = tuple(
        Shown(of=k, threads=1, start=a, end=b, cut=False)
        for k, (a, b) in enumerate(zip(ends, ends[1:], strict=False))
    )
    lines = tuple(Line(yarn=yarn, threads=1) for yarn in "ABAB")
    one = Side(name="warp", kind=SequenceKind.PARTIAL, lines=lines, shown=shown, exact=True)
    for to in (0.0, 0.50005, 1.0):
        moved = stripes.moved(one, 1, to)
        assert all(piece.start < piece.end for piece in moved.shown)


def test_a_certain_count_stays_when_its_edge_is_moved():
    one = stripes.marked(symmetric(), 0, True)
    edge = one.shown[6]
    moved = stripes.moved(one, 6, edge.end + (edge.end - edge.start) / 3)
    assert moved.lines[0].threads == 22
    assert moved.lines[1].threads == 8


def test_an_edge_never_passes_the_next_one():
    one = stripes.moved(symmetric(), 6, 1.0)
    assert one.shown[6].end < one.shown[7].end
    assert one.lines[0].threads >= 1


def slipped():
    """The second B4 was woven with five threads."""
    return side(SYMMETRIC, shown="B3 C14 B4 C4 B5 C14 B6 A22 B6 C9", cut=(0, 9))


def test_a_slip_is_named_and_can_be_mended_or_copied():
    one = slipped()
    assert stripes.breaks(one) == (4,)
    assert stripes.breaks(stripes.mended(one, 4)) == ()
    copied = stripes.written_out(one)
    assert copied.kind is SequenceKind.PARTIAL
    assert told(copied)[0] == "B3 C14 B4 C4 B5 C14 B6 A22 B6 C9"
    assert stripes.breaks(copied) == ()


def test_a_cloth_that_ends_within_a_stripe_has_no_slip_there():
    # As on a whole blanket: it begins in the middle of a pivot and ends 9 threads into C14.
    whole = side(SYMMETRIC, shown="A11 B6 C14 B4 C4 B4 C14 B6 A22 B6 C9")
    assert stripes.breaks(whole) == ()
    wider = side(SYMMETRIC, shown="A23 B6 C14 B4 C4 B4 C14 B6 A22 B6 C14")
    assert stripes.breaks(wider) == (0,)


def test_a_slip_survives_edits_elsewhere():
    one = stripes.split(slipped(), 1, 4, "A")
    assert [told(one)[1].split()[p] for p in stripes.breaks(one)] == ["B5"]


def test_a_doubt_goes_with_its_stripe():
    doubt = StripeDoubt(position=3, low=3, high=4, chance=0.6)
    one = symmetric()
    from dataclasses import replace

    lines = (*one.lines[:3], replace(one.lines[3], doubt=doubt), one.lines[4])
    after = stripes.inserted(replace(one, lines=lines), 0, "C", 1)
    assert [n for n, line in enumerate(after.lines) if line.doubtful] == [4]


def test_a_sequence_may_go_on_in_another_way():
    one = stripes.as_kind(side("A/4 B6 C/8", shown="A4 B6 C8"), SequenceKind.REPEATING)
    assert [p.of for p in one.shown] == [0, 1, 2]
    assert len(unrolled(one, 1)) == 18
    assert stripes.as_kind(symmetric(), SequenceKind.REPEATING).shown == ()  # the picture says no
    with pytest.raises(BadInput, match="two stripes"):
        stripes.as_kind(side("A4"), SequenceKind.SYMMETRIC)


# --- whatever is done, list and picture stay in step ------------------------------------------

counts = st.integers(1, 30)


@st.composite
def sides(draw):
    yarns = [draw(st.sampled_from("ABCD"))]
    for _ in range(draw(st.integers(1, 6))):
        yarns.append(draw(st.sampled_from([k for k in "ABCD" if k != yarns[-1]])))
    kind = draw(st.sampled_from(SequenceKind))
    lines = tuple(Line(k, draw(counts)) for k in yarns)
    made = Side(name="warp", kind=kind, lines=lines, exact=True)
    from settscan.page.laying import going_on

    period = going_on(kind, len(lines))
    if kind is SequenceKind.REPEATING and yarns[0] == yarns[-1]:
        period = tuple(range(len(lines)))  # two like stripes meet where it begins again
    length = draw(st.integers(1, len(period)))
    order = period[:length]
    edges = [k / length for k in range(length + 1)]
    found = [
        (lines[of].yarn, Shown(of, lines[of].threads, edges[k], edges[k + 1]))
        for k, of in enumerate(order)
    ]
    return laid(made, found)


@st.composite
def edits(draw):
    name = draw(
        st.sampled_from(["count", "colour", "merge", "split", "insert", "in", "delete", "move"])
    )
    return name, draw(st.integers(0, 6)), draw(counts), draw(st.sampled_from("ABCDE"))


def done(one, edit):
    name, index, number, yarn = edit
    acts = {
        "count": lambda: stripes.counted(one, index, number),
        "colour": lambda: stripes.coloured(one, index, yarn),
        "merge": lambda: stripes.merged(one, index),
        "split": lambda: stripes.split(one, index, number, yarn),
        "insert": lambda: stripes.inserted(one, index, yarn, number),
        "in": lambda: stripes.inserted(one, index, yarn, 1, before=number),
        "delete": lambda: stripes.deleted(one, index),
        "move": lambda: stripes.moved(one, index, number / 31),
    }
    return acts[name]()


@given(sides(), st.lists(edits(), max_size=6))
def test_after_any_edits_the_sequence_reads_back_and_the_picture_has_no_gap(one, wanted):
    for edit in wanted:
        try:
            one = done(one, edit)
        except BadInput:
            continue
        written = one.sequence
        again = parse_sequence(
            format_sequence(written), partial=written.kind is SequenceKind.PARTIAL
        )
        assert again == written
        for before, after in zip(one.shown, one.shown[1:], strict=False):
            assert before.end == pytest.approx(after.start)
            assert before.of != after.of
        for piece in one.shown:
            assert piece.start <= piece.end
            assert piece.threads >= 1
            assert piece.cut or piece.threads == one.lines[piece.of].threads
