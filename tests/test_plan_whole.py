"""Whatever the cloth and the wishes: nothing is lost between pattern, loom, frame and paper."""

import configparser
import csv
import io
import json
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from settscan.cloth.model import SequenceKind
from settscan.cloth.project import new_text, parse_project
from settscan.cloth.wishes import (
    INCH,
    CrossEnd,
    Edges,
    Frame,
    FrameKind,
    Loom,
    OddWay,
    Piece,
    Wishes,
)
from settscan.errors import BadInput
from settscan.quantities import parse_reed
from settscan.sheets.data import plan_json
from settscan.sheets.tables import ends_csv, picks_csv
from settscan.sheets.wif import write_wif
from settscan.sheets.wif_reading import read_wif
from settscan.warping.plan import plan_warp
from settscan.winding.model import WindingPlan
from settscan.winding.wound import plan_wound
from tests.warping.samples import cloth, sequences

pieces = st.builds(
    Piece()._replace,
    width_mm=st.integers(4, 70).map(lambda inches: inches * INCH),
    length_mm=st.integers(4, 90).map(lambda inches: inches * INCH),
    pieces=st.integers(1, 3),
    panels=st.integers(1, 2),
    turn_panel=st.booleans(),
    close_on_pivot=st.booleans(),
    edges=st.sampled_from(Edges),
    selvedge_ends=st.integers(0, 6),
    floating_selvedges=st.booleans(),
    fringe_mm=st.integers(0, 5).map(Fraction),
)
looms = st.builds(
    Loom()._replace,
    reeds=st.sampled_from([(), (parse_reed("12 dpi"), parse_reed("48/10cm"))]),
    align_stripes=st.booleans(),
)
frames = st.builds(
    Frame()._replace,
    kind=st.sampled_from(FrameKind),
    bout_ends=st.integers(8, 150),
    group_ends=st.integers(2, 40),
    ends_in_hand=st.integers(1, 6),
    cross=st.sampled_from(CrossEnd),
    odd_way=st.sampled_from(OddWay),
    raddle_ends=st.one_of(st.none(), st.integers(1, 30)),
)
wishes = st.builds(
    Wishes()._replace,
    piece=pieces,
    loom=looms,
    frame=frames,
    units=st.sampled_from(["inch", "metric"]),
)
# One and one and the like beside what `sequences` draws: stripes that are wound by turns.
patterns = st.one_of(sequences(most=5), st.sampled_from(["A1 B1", "A8 6x(B1 A1) C4", "A/7 B1 C/2"]))


def planned(pattern, wanted):
    """Plan and winding, or None where the wishes contradict each other in a sentence."""
    try:
        plan = plan_warp(cloth(pattern), wanted)
        return plan, plan_wound(plan)
    except BadInput as refusal:
        assert refusal.advice and str(refusal)
        return None


@settings(max_examples=120, deadline=None)
@given(patterns, wishes)
def test_every_end_is_wound_once_sleyed_and_paid_for(pattern, wanted):
    found = planned(pattern, wanted)
    if found is None:
        return
    plan, winding = found
    ends = [stripe.yarn for stripe in plan.order for _ in range(stripe.threads)]
    assert len(ends) == plan.ends == sum(run.dents * run.ends_per_dent for run in plan.sley)
    if isinstance(winding, WindingPlan):
        assert [yarn for step in winding.steps for yarn in step.yarn_of_each_end] == ends
        each = winding.path.length_mm
        assert each >= plan.warp_length_mm.value
        for bout in winding.bouts:
            assert (
                bout.passes % 2 == 0
                or bout.steps[-1].finishes_at == "far end"
                or any(
                    step.change.startswith("Break off") and "empty hand" in step.change
                    for step in bout.steps
                )
            )
    else:
        assert [
            s.yarn for sec in winding.sections for s in sec.order for _ in range(s.threads)
        ] == ends
        each = winding.each_section_mm
    assert sum(need.warp_mm - need.knots_mm for need in winding.yarns) == plan.ends * each
    assert sum(need.warp_ends for need in winding.yarns) == plan.ends


@settings(max_examples=60, deadline=None)
@given(patterns, wishes)
def test_files_hold_every_thread(pattern, wanted):
    found = planned(pattern, wanted)
    if found is None:
        return
    plan, winding = found
    ends = [stripe.yarn for stripe in plan.order for _ in range(stripe.threads)]
    picks = [stripe.yarn for stripe in plan.weft.piece_order for _ in range(stripe.threads)]
    assert [row["yarn"] for row in csv.DictReader(io.StringIO(ends_csv(plan)))] == ends
    assert [row["yarn"] for row in csv.DictReader(io.StringIO(picks_csv(plan)))] == picks
    told = json.loads(plan_json(plan, winding))["warp"]
    assert [s["yarn"] for s in told["order"] for _ in range(s["threads"])] == ends
    text = write_wif(plan)
    plain = configparser.ConfigParser(interpolation=None)
    plain.read_string(text)
    assert int(plain["WARP"]["Threads"]) == len(ends) == len(plain["WARP COLORS"])
    assert int(plain["WEFT"]["Threads"]) == len(picks)
    back = read_wif(text)
    again = [s.yarn for s in _whole(back.warp.sequence, len(ends))]
    assert again == ends


def _whole(sequence, threads):
    """A stripe of one thread for each end that the sequence of a draft gives."""
    one = [s for s in sequence.one_repeat() for _ in range(s.threads)]
    if sequence.kind is SequenceKind.PARTIAL:
        return one
    return (one * (threads // len(one) + 1))[:threads]


@settings(max_examples=80, deadline=None)
@given(patterns, wishes)
def test_a_project_file_holds_all_wishes(pattern, wanted):
    record = cloth(pattern)
    back, again, _ = parse_project(new_text(record, wanted), "b.toml")
    # One stripe alone reads the same either way.
    assert back.warp.sequence.one_repeat() == record.warp.sequence.one_repeat()
    assert again._replace(stock=()) == wanted._replace(stock=())
