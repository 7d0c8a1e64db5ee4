"""One axis: bands and a lattice of threads to counted stripes, repeat and doubts."""

from dataclasses import replace

import numpy as np
import pytest

from settscan.cloth.model import SequenceKind
from settscan.cloth.notation import format_sequence
from settscan.measured import Measured, Origin
from settscan.reading.axis import AxisWork, read_axis
from settscan.reading.carriers import Advance
from settscan.reading.stripes import Bands
from settscan.reading.threads import Lattice
from settscan.settings import READ
from tests.reading.woven import edges_of

PX = 5.0


def work(text, *, off=None, errors=0.05, lattice=True, coherence=0.98, **changes):
    """An axis of "A8 B4 ..." at PX per thread, its edges `off` pixels from the truth."""
    words = text.split()
    edges = edges_of(text, PX)
    length = int(edges[-1] + 0.5)
    if off is not None:
        edges = edges + np.asarray(off)
    bands = Bands(
        edges=edges,
        levels=np.zeros((len(words), 3)),
        edge_errors=np.r_[0.0, np.full(len(words) - 1, errors), 0.0],
        blur=1.0,
        cell=PX,
        spread=np.ones(3),
    )
    at = np.linspace(0, length - 1, 40)
    course = Advance(at=at, cycles=(at + 0.5) / PX / 4, coherence=np.full(40, coherence))
    given = {
        "name": "columns",
        "bands": bands,
        "yarns": tuple(word[0] for word in words),
        "lattice": Lattice(course=course, multiple=4, found_by="weave") if lattice else None,
        "start_px": 20.0,
        "reaches": (True, True),
        "px_per_mm": None,
        "pinned": None,
        "blind": np.zeros(length, bool),
        "shown": np.full(length, 400),
    }
    return AxisWork(**{**given, **changes})


TEXT = "A7 B4 A12 C6 A12 B4 A12 C6 A12 B4 A3"


def found(axis):
    return " ".join(f"{s.yarn}{s.threads}" for s in axis.stripes)


def test_counts_repeat_and_places():
    axis = read_axis(work(TEXT))
    assert found(axis) == TEXT
    assert axis.repeat.kind is SequenceKind.SYMMETRIC
    assert format_sequence(axis.repeat.sequence) in ("B/4 A12 C/6", "C/6 A12 B/4")
    assert axis.repeat.threads == 34
    assert [s.cut for s in axis.stripes] == [True, *[False] * 9, True]
    assert axis.stripes[1].start_px == pytest.approx(20 - 0.5 + 7 * PX)
    assert axis.bands[0].start_px == pytest.approx(19.5)
    assert axis.pitch_px.value == pytest.approx(PX, rel=1e-3)
    assert axis.pitch_px.low < axis.pitch_px.value < axis.pitch_px.high
    assert axis.density is None
    assert axis.counted_by == "weave"
    assert axis.doubts == ()
    assert all(s.low == s.high == s.threads and s.chance > 0.9 for s in axis.stripes[1:-1])


def test_the_members_of_a_written_stripe_are_that_stripe():
    axis = read_axis(work(TEXT))
    for stripe, members in zip(axis.repeat.sequence.stripes, axis.repeat.members, strict=True):
        assert {axis.stripes[m].yarn for m in members} == {stripe.yarn}
        assert {axis.stripes[m].threads for m in members if not axis.stripes[m].cut} == {
            stripe.threads
        }


def test_a_density_with_its_interval_from_scale_and_pitch():
    scale = Measured(4.5, 4.5 * 0.99, 4.5 * 1.01, Origin.READ)
    density = read_axis(work(TEXT, px_per_mm=scale)).density
    assert density.value == pytest.approx(4.5 / PX)
    assert density.origin is Origin.READ
    assert 0.009 < (density.high / density.value - 1) < 0.02


def test_an_edge_that_is_seen_badly_is_settled_by_its_partners():
    off = np.zeros(12)
    off[3] = 0.45 * PX
    alone = read_axis(work("A7 B4 A12 C6 D9 E5 A3", off=off[:8], errors=1.2))
    assert alone.stripes[2].chance < 0.9
    assert "uncertain-counts" in {d.name for d in alone.doubts}
    voted = read_axis(work(TEXT, off=off, errors=1.2))
    assert voted.stripes[2].threads == 12
    assert voted.stripes[3].threads == 6
    assert voted.stripes[2].chance > alone.stripes[2].chance


def test_a_break_is_counted_as_it_is_and_told():
    axis = read_axis(work(TEXT.replace("C6 A12 B4 A3", "C6 A13 B4 A3")))
    assert axis.stripes[8].threads == 13
    assert axis.repeat.breaks == (8,)
    assert [d.name for d in axis.doubts] == ["uncertain-counts", "breaks-repeat"]
    assert "13" in axis.doubts[1].sentence and "12" in axis.doubts[1].sentence
    assert format_sequence(axis.repeat.sequence) in ("B/4 A12 C/6", "C/6 A12 B/4")


def test_what_breaks_the_repeat_may_be_a_slip_of_the_eye():
    """The weaver slips as seldom as the eye: a glass decides, and both counts are named."""
    broken = read_axis(work(TEXT.replace("C6 A12 B4 A3", "C6 A13 B4 A3")))
    assert broken.stripes[8].chance < READ.doubtful
    assert (broken.stripes[8].low, broken.stripes[8].high) == (12, 13)
    whole = read_axis(work(TEXT))
    assert all(s.chance > 0.99 for s in whole.stripes)
    partners = [i for group in broken.repeat.members if 8 in group for i in group if i != 8]
    assert len(partners) > 1
    for i in partners:
        assert broken.stripes[i].chance > 0.99


def test_of_two_partners_that_differ_neither_is_sure():
    axis = read_axis(work("A3 B4 A12 C6 D8 C6 A12 B5 A3 B4"))
    odd = [i for i, s in enumerate(axis.stripes) if s.chance < READ.doubtful]
    assert len(axis.repeat.breaks) == 1
    assert {axis.stripes[i].yarn for i in odd} == {"B"}
    assert len(odd) == 2


def test_what_something_hides_is_no_mistake_but_may_be_more_stripes():
    """A ruler over the middle of a stripe: it is said, and called no mistake."""
    text = TEXT.replace("C6 A12 B4 A3", "C6 A13 B4 A3")
    seen = read_axis(work(text))
    blind = np.zeros(round(seen.stripes[-1].end_px) + 1, bool)
    start = round(seen.stripes[8].start_px - 19.5 + 5 * PX)
    blind[start : start + round(4 * PX)] = True
    axis = read_axis(work(text, blind=blind))
    assert [d.name for d in axis.doubts] == ["hidden-stripes", "uncertain-counts"]
    assert "9" in axis.doubts[0].sentence
    hidden = axis.stripes[8]
    assert (hidden.threads, hidden.low, hidden.high) == (13, 10, 13)  # nine in ten of the chance
    assert hidden.chance < 0.75
    others = [s for k, s in enumerate(axis.stripes[1:-1], 1) if k != 8]
    assert all(s.chance > 0.9 for s in others)


def test_the_runner_up_of_a_weave_never_outruns_the_best():
    """Three numbers of threads are thinkable, and the likeliest has but a third of the chance."""
    unsure = work(TEXT)
    unsure = replace(unsure, lattice=replace(unsure.lattice, chance=0.34, other=8))
    axis = read_axis(unsure)
    assert found(axis) == TEXT
    assert all((s.low, s.high) == (s.threads, 2 * s.threads) for s in axis.stripes[1:-1])
    assert all(s.chance < 0.55 for s in axis.stripes[1:-1])


@pytest.mark.parametrize(("chance", "named"), [(0.8, True), (0.93, True), (0.97, False)])
def test_until_a_weave_is_as_good_as_certain_intervals_name_both_numbers(chance, named):
    """If it is wrong all counts are wrong together, which no stripe by itself would tell."""
    lattice = replace(work(TEXT).lattice, chance=chance, other=2)
    stripes = read_axis(replace(work(TEXT), lattice=lattice)).stripes
    for stripe in stripes[1:-1]:
        assert (stripe.low == round(stripe.threads / 2)) == named
        assert stripe.high == stripe.threads


def test_less_than_a_repeat_is_partial_and_told():
    axis = read_axis(work("A7 B4 A12 C6 D9"))
    assert axis.repeat.kind is SequenceKind.PARTIAL
    assert axis.repeat.threads is None
    assert format_sequence(axis.repeat.sequence) == "A7 B4 A12 C6 D9"
    assert "partial-repeat" in {d.name for d in axis.doubts}


def test_the_cloths_own_edge_is_no_mistake():
    """Seen to its edge the cloth ends within a stripe: neither cut by the frame, nor a break."""
    axis = read_axis(work(TEXT, reaches=(False, False)))
    assert not any(s.cut for s in axis.stripes)
    assert axis.repeat.kind is SequenceKind.SYMMETRIC
    assert axis.doubts == ()


def test_a_trimmed_edge_has_no_vote():
    """Scissors took one thread of the first stripe; its partner is whole and seen rightly."""
    text = "A11 B4 C6 B4 A12 B4 C6 B4 A3"
    axis = read_axis(work(text, errors=0.3 * PX, reaches=(False, True)))
    assert found(axis) == text


def test_a_weave_that_is_hard_to_follow_makes_counts_doubtful():
    clear = read_axis(work("A7 B4 A12 C6 D9"))
    vague = read_axis(work("A7 B4 A12 C6 D9", coherence=0.1))
    assert clear.stripes[2].chance > 0.95 > vague.stripes[2].chance
    assert vague.stripes[2].low < vague.stripes[2].high


def test_a_place_that_nobody_sees_makes_its_edges_doubtful():
    blind = np.zeros(82 * int(PX), bool)
    at = int(PX * (7 + 4 + 12))
    blind[at - 20 : at + 20] = True
    text = "A7 B4 A12 C6 D9 E5 A39"
    axis = read_axis(work(text, blind=blind))
    assert axis.stripes[2].chance < 0.9 and axis.stripes[3].chance < 0.9
    assert axis.stripes[1].chance > 0.9 and axis.stripes[5].chance > 0.9


def test_an_edge_that_shows_over_little_of_its_length_is_known_the_less():
    """Lying a third of a thread aside, over a fiftieth of the length: it may be either thread's."""
    text = "A7 B4 A12 C6 D9 E5 A39"
    off = np.r_[0, 0, 0, 0.35 * PX, np.zeros(4)]
    shown = np.full(82 * int(PX), 400)
    at = int(PX * (7 + 4 + 12))
    shown[at - 20 : at + 20] = 8
    whole, part = read_axis(work(text, off=off)), read_axis(work(text, off=off, shown=shown))
    assert part.stripes[2].chance < 0.95 and part.stripes[3].chance < 0.95
    assert part.stripes[2].chance < whole.stripes[2].chance
    assert part.stripes[5].chance > 0.95


def test_without_threads_and_density_nothing_is_counted():
    axis = read_axis(work(TEXT, lattice=False))
    assert axis.counted_by == "nothing"
    assert axis.stripes == ()
    assert len(axis.bands) == 11
    assert axis.repeat.kind is SequenceKind.PARTIAL
    assert axis.repeat.sequence.stripes == ()


def test_a_pinned_density_alone_needs_a_scale():
    pinned = Measured.exact(0.9, Origin.PINNED)
    assert read_axis(work(TEXT, lattice=False, pinned=pinned)).counted_by == "nothing"
    axis = read_axis(work(TEXT, lattice=False, pinned=pinned, px_per_mm=Measured.exact(0.9 * PX)))
    assert axis.counted_by == "density"
    assert axis.density == pinned
    assert found(axis).split()[1:-1] == TEXT.split()[1:-1]


def test_a_pinned_density_is_kept_beside_the_weaves_own_count():
    pinned = Measured.exact(0.88, Origin.PINNED)
    axis = read_axis(work(TEXT, pinned=pinned, px_per_mm=Measured.exact(4.5)))
    assert axis.counted_by == "weave"
    assert axis.density == pinned
    assert found(axis) == TEXT


def test_a_cycle_lost_within_a_stripe_is_given_away_by_its_width():
    """The wave slips by a cycle of four threads where a square of one yarn hides it."""
    text = "A7 B4 C24 D6 A13 B5 C11 B4 A3"
    edges = edges_of(text, PX)
    length = int(edges[-1] + 0.5)
    at = np.linspace(0, length - 1, 120)
    slip = np.interp(at, [edges[2] + 20, edges[2] + 60], [0.0, 1.0])
    coherence = np.where((at > edges[2] + 10) & (at < edges[3] - 10), 0.02, 0.98)
    course = Advance(at=at, cycles=(at + 0.5) / PX / 4 + slip, coherence=coherence)
    lattice = Lattice(course=course, multiple=4, found_by="weave")
    axis = read_axis(replace(work(text), lattice=lattice))
    stripe = axis.stripes[2]
    assert abs(stripe.threads - 24) <= 1
    assert stripe.low <= 24 <= stripe.high
    assert stripe.low < stripe.high, "it must not be stated as certain"
    assert [s.threads for s in axis.stripes[3:8]] == [6, 13, 5, 11, 4]


def test_where_the_wave_is_lost_for_long_width_and_partners_count():
    """A wave that goes on a quarter too slowly where nothing tells it, over two stripes."""
    text = "A7 B44 C30 D12 C30 B44 C30 D12 C30 B44 A9"
    edges = edges_of(text, PX)
    length = int(edges[-1] + 0.5)
    at = np.linspace(0, length - 1, 300)
    lost = (at > edges[8] + 5) & (at < edges[10] - 5)
    rate = np.where(lost, 0.75, 1.0) / PX / 2
    cycles = np.concatenate([[0.5 / PX / 2], np.cumsum(rate[:-1] * np.diff(at))])
    course = Advance(at=at, cycles=cycles, coherence=np.where(lost, 0.02, 0.98))
    lattice = Lattice(course=course, multiple=2, found_by="weave")
    axis = read_axis(replace(work(text), lattice=lattice))
    assert [s.threads for s in axis.stripes[1:10]] == [44, 30, 12, 30, 44, 30, 12, 30, 44]


def test_the_outermost_stripe_is_known_no_better_than_the_cloths_own_edge():
    """A whole cloth lies in the photo: its rim was found to some pixels, a thread or two."""
    axis = read_axis(work(TEXT, reaches=(False, True)))
    first, inner = axis.stripes[0], axis.stripes[1:-1]
    assert not first.cut
    assert first.low < first.high
    assert first.chance < 0.95
    assert all(s.low == s.high for s in inner)
