"""The reading as a record that people edit, as data for programs, and in a few lines."""

import json
from dataclasses import replace

import numpy as np
import pytest

from settscan.cloth.model import SequenceKind
from settscan.cloth.notation import format_sequence, parse_sequence
from settscan.doubts import doubt
from settscan.measured import Measured, Origin
from settscan.photo.flat import Photo, Scale
from settscan.reading.record import cloth_of
from settscan.reading.report import FORMAT, VERSION, reading_data
from settscan.reading.summary import summary_lines
from tests.reading.hand_made import (
    axis,
    cloth,
    symmetric,
    uncounted,
    with_stripe,
)

PHOTO = Photo(encoded=np.zeros((40, 60, 3), np.uint8), file="throw.jpg", sha256="0" * 64)
SCALE = Scale(
    px_per_mm_x=Measured(4.5, 4.46, 4.54, Origin.READ),
    px_per_mm_y=Measured(4.4, 4.36, 4.44, Origin.READ),
    source="ruler",
)


# --- the record ------------------------------------------------------------------------------


def test_the_record_is_what_was_written():
    made = cloth_of(cloth(), "throw", warp_is_columns=True)
    assert made.name == "throw"
    assert format_sequence(made.warp.sequence) == "B/4 A12 C/6"
    assert format_sequence(made.weft.sequence) == "A8 C3 B5"
    assert made.warp.sequence.kind is SequenceKind.SYMMETRIC
    assert made.warp.origin is Origin.READ
    assert made.warp.density == Measured(0.9, 0.88, 0.92, Origin.READ)
    assert [y.key for y in made.yarns] == ["A", "B", "C"]
    assert (made.weave, made.twill_direction) == ("2/2 twill", "Z")
    assert made.notes == ()


def test_a_sure_reading_has_no_doubts_though_partners_are_cut():
    made = cloth_of(cloth(), "throw", warp_is_columns=True)
    assert made.warp.doubts == ()
    assert made.weft.doubts == ()


def test_an_unsure_count_is_doubted_where_it_is_written():
    one = symmetric()
    for index in (1, 5):  # both that tell of the first written stripe
        one = with_stripe(one, index, chance=0.7, low=4, high=5)
    (found,) = cloth_of(cloth(columns=one), "throw", warp_is_columns=True).warp.doubts
    assert (found.position, found.low, found.high, found.chance) == (0, 4, 5, 0.7)
    # A likeliest count that is not likely enough is doubted, though its interval is one number.
    vague = one
    for index in (1, 5):
        vague = with_stripe(vague, index, chance=0.85, low=4, high=4)
    assert cloth_of(cloth(columns=vague), "throw", warp_is_columns=True).warp.doubts
    # One sure partner is enough.
    sure = with_stripe(one, 5, chance=0.99, low=4, high=4)
    assert cloth_of(cloth(columns=sure), "throw", warp_is_columns=True).warp.doubts == ()


def test_a_stripe_seen_only_cut_is_doubted_whatever_its_chance():
    one = axis("A5 B4 C7", "A5 B4 C7", SequenceKind.PARTIAL, ((0,), (1,), (2,)))
    one = with_stripe(with_stripe(one, 0, cut=True), 2, cut=True)
    doubts = cloth_of(cloth(columns=one), "throw", warp_is_columns=True).warp.doubts
    assert [d.position for d in doubts] == [0, 2]
    assert all(d.chance <= 0.5 and "cut" in d.note for d in doubts)


def test_an_uncounted_axis_borrows_the_sequence_of_the_same_colours():
    rows = uncounted(("A", -0.5, 60.0), ("B", 60.0, 80.0), ("C", 80.0, 110.0))
    made = cloth_of(cloth(rows=rows), "throw", warp_is_columns=True)
    assert made.weft.sequence == made.warp.sequence
    assert made.weft.origin is Origin.ASSUMED
    assert made.weft.density is None
    (note,) = made.notes
    assert "weft" in note and "checked" in note


def test_an_uncounted_axis_of_other_colours_is_one_stripe_of_its_widest():
    rows = uncounted(("B", -0.5, 20.0), ("C", 20.0, 110.0))
    made = cloth_of(cloth(rows=rows), "throw", warp_is_columns=True)
    (only,) = made.weft.sequence.stripes
    assert only.yarn == "C"
    assert made.weft.origin is Origin.ASSUMED
    assert made.notes


def test_nothing_counted_is_no_record():
    none = uncounted(("A", -0.5, 60.0))
    assert cloth_of(cloth(columns=none, rows=none), "throw", warp_is_columns=True) is None


def test_yarns_that_no_sequence_uses_are_not_listed():
    rows = axis("A9 B9 A9 B9", "A9 B9", SequenceKind.REPEATING, ((0, 2), (1, 3)))
    made = cloth_of(cloth(columns=rows, rows=rows), "throw", warp_is_columns=True)
    assert [y.key for y in made.yarns] == ["A", "B"]


def test_with_the_warp_across_the_rows_are_the_warp():
    made = cloth_of(cloth(), "throw", warp_is_columns=False)
    assert format_sequence(made.warp.sequence) == "A8 C3 B5"
    assert format_sequence(made.weft.sequence) == "B/4 A12 C/6"


def test_a_cloth_photographed_sideways_is_turned_and_not_mirrored():
    """A quarter turn clockwise: the photo's top is the right, its left the top of the cloth.

    Turned the other way round the sequences are both reversed, which is the same cloth upside
    down. A line that rises to the right falls to the right after a quarter turn.
    """
    columns = axis("A5 B4 C7", "A5 B4 C7", SequenceKind.PARTIAL, ((0,), (1,), (2,)))
    rows = axis("C3 A9 B2", "C3 A9 B2", SequenceKind.PARTIAL, ((0,), (1,), (2,)))
    made = cloth_of(cloth(columns=columns, rows=rows), "throw", warp_is_columns=False)
    sequences = (format_sequence(made.warp.sequence), format_sequence(made.weft.sequence))
    assert sequences in (("B2 A9 C3", "A5 B4 C7"), ("C3 A9 B2", "C7 B4 A5"))
    assert made.twill_direction == "S"
    upright = cloth_of(cloth(columns=columns, rows=rows), "throw", warp_is_columns=True)
    assert upright.twill_direction == "Z"


def test_doubts_stay_with_their_stripes_when_the_cloth_is_turned():
    columns = axis("A5 B4 C7", "A5 B4 C7", SequenceKind.PARTIAL, ((0,), (1,), (2,)))
    columns = with_stripe(columns, 0, chance=0.6, low=4, high=6)
    made = cloth_of(cloth(columns=columns), "throw", warp_is_columns=False)
    (found,) = made.weft.doubts
    stripe = made.weft.sequence.stripes[found.position]
    assert (stripe.yarn, stripe.threads) == ("A", 5)


# --- the data --------------------------------------------------------------------------------


def data(read=None, **changes):
    given = {"photo": PHOTO, "status": "read", "advice": ("Look again.",), "scale": SCALE}
    return reading_data(**{**given, "read": read or cloth(), **changes})


def test_the_data_are_plain_and_say_what_they_are():
    found = data()
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert (found["format"], found["version"]) == (FORMAT, VERSION) == ("settscan reading", 1)
    assert found["photo"] == {
        "file": "throw.jpg",
        "sha256": "0" * 64,
        "width": 60,
        "height": 40,
    }
    assert set(found) == {
        "format", "version", "status", "advice", "photo", "scale", "yarns", "weave", "warp",
        "weft", "doubts",
    }  # fmt: skip


def test_stripes_are_placed_in_millimetres_of_their_own_axis():
    found = data()
    first, second = found["warp"]["stripes"][:2]
    assert (first["yarn"], first["threads"], first["cut"]) == ("A", 7, True)
    # The first pixel reaches from -0.5, so that the picture begins at 0 mm.
    assert first["start_mm"] == 0.0
    assert first["end_mm"] == pytest.approx(35 / 4.5, abs=1e-3)
    assert second["cut"] is False
    assert second["others"] == [[5, 0.01]]
    assert found["weft"]["stripes"][0]["end_mm"] == pytest.approx(10 / 4.4, abs=1e-3)


def test_densities_are_per_inch_and_per_10_cm():
    warp = data()["warp"]
    assert warp["epi"] == {"value": 22.86, "low": 22.352, "high": 23.368}
    assert warp["per_10cm"]["value"] == 90.0
    assert "ppi" in data()["weft"]


def test_sequences_are_written_as_people_write_them():
    found = data()
    assert found["warp"]["repeat"]["sequence"] == "B/4 A12 C/6"
    assert parse_sequence(found["warp"]["repeat"]["sequence"]).threads == 34
    assert found["warp"]["repeat"]["threads"] == 34
    assert found["weft"]["repeat"] == {
        "kind": "repeating",
        "sequence": "A8 C3 B5",
        "threads": 16,
        "chance": 0.97,
    }


def test_without_a_scale_places_are_unknown_and_counts_are_not():
    none = Scale(px_per_mm_x=None, px_per_mm_y=None, source="none")
    bare = replace(symmetric(), density=None)
    for scale in (none, None):
        found = data(cloth(columns=bare), scale=scale)
        assert found["warp"]["stripes"][1]["start_mm"] is None
        assert found["warp"]["stripes"][1]["threads"] == 4
        assert found["warp"]["epi"] is None
        assert found["scale"]["source"] == "none"
        assert found["scale"]["relative_error"] is None


def test_a_refusal_has_the_same_keys():
    found, read = reading_data(photo=PHOTO, status="refused", advice=()), data()
    assert set(found) == set(read)
    assert set(found["warp"]) == set(read["warp"])
    assert set(found["weft"]) == set(read["weft"])
    assert set(found["scale"]) == set(read["scale"])
    assert set(found["weave"]) == set(read["weave"])
    assert found["warp"]["stripes"] == []
    assert found["warp"]["counted_by"] == "nothing"


def test_an_uncounted_axis_has_bands_and_no_stripes():
    rows = uncounted(("A", -0.5, 60.0), ("B", 60.0, 80.0))
    found = data(cloth(rows=rows))["weft"]
    assert [b["yarn"] for b in found["bands"]] == ["A", "B"]
    assert found["stripes"] == []
    assert found["repeat"]["sequence"] == ""
    assert found["ppi"] is None


def test_doubts_go_where_they_belong():
    seen = doubt("uncertain-counts", axis="warp", number=2)
    whole = doubt("weave-unknown")
    found = data(cloth(columns=replace(symmetric(), doubts=(seen,)), doubts=(whole,)))
    assert [d["name"] for d in found["doubts"]] == ["weave-unknown"]
    assert [d["name"] for d in found["warp"]["doubts"]] == ["uncertain-counts"]
    assert found["weft"]["doubts"] == []
    assert found["warp"]["doubts"][0]["sentence"].endswith("count: 2.")


def test_with_the_warp_across_the_data_follow():
    found = data(warp_is_columns=False)
    assert found["warp"]["repeat"]["sequence"] == "A8 C3 B5"
    assert found["warp"]["stripes"][0]["end_mm"] == pytest.approx(10 / 4.4, abs=1e-3)


# --- the lines -------------------------------------------------------------------------------


def lines(read=None, scale=SCALE, across=False):
    read = read or cloth()
    record = cloth_of(read, "throw", warp_is_columns=not across)
    return "\n".join(summary_lines(read, record, scale, "read", warp_is_columns=not across))


def test_the_lines_tell_counts_density_and_scale():
    text = lines()
    assert "B/4 A12 C/6" in text
    assert "34 ends in the repeat" in text
    assert "16 picks in the repeat" in text
    assert "22.9 ends per inch (22.4 to 23.4), 90 per 10 cm" in text
    assert "rising to the right" in text
    assert "from ruler, within 0.9 %" in text
    assert "not sure" not in text


def test_a_density_that_was_given_has_no_interval_of_a_measurement():
    given = replace(symmetric(), density=Measured.exact(0.9, Origin.PINNED))
    assert "22.9 ends per inch (as given), 90 per 10 cm" in lines(cloth(columns=given))


def test_the_lines_number_doubtful_stripes_as_the_project_does():
    """A number that is told can be found: in the sequence and in its doubts."""
    one = symmetric()
    for index in (1, 5):
        one = with_stripe(one, index, chance=0.6, low=4, high=5)
    text = lines(cloth(columns=one))
    assert "not sure of: stripe 1 of the sequence, B4 (60 %; 4 to 5)" in text
    assert "in the photo" not in text


@pytest.mark.parametrize(("across", "side"), [(False, "left"), (True, "top")])
def test_doubtful_stripes_that_no_count_rests_on_are_counted_in_the_photo(across, side):
    one = with_stripe(symmetric(), 2, chance=0.6, low=11, high=13)
    one = with_stripe(one, 0, low=6, high=8)
    text = lines(cloth(columns=one) if not across else cloth(rows=one), across=across)
    told = next(line.strip() for line in text.splitlines() if "not sure" in line)
    assert told == (
        f"in the photo, counted from the {side}, not sure of: stripe 3, A12 (60 %; 11 to 13);"
        " the sequence does not rest on it"
    )


def test_the_lines_without_scale_or_counts():
    none = Scale(px_per_mm_x=None, px_per_mm_y=None, source="none")
    text = lines(cloth(rows=uncounted(("A", -0.5, 9.0), ("B", 9.0, 20.0))), none)
    assert "Scale: none" in text
    assert "2 stripes seen, none could be counted" in text


def test_a_weft_of_one_yarn_lacks_no_repeat():
    one = axis("A40", "A40", SequenceKind.PARTIAL, ((0,),))
    text = lines(cloth(rows=one))
    assert "one yarn, as far as the photo shows" in text
    assert "whole repeat" not in text


def test_a_partial_sequence_says_so():
    one = axis("A5 B4 C7", "A5 B4 C7", SequenceKind.PARTIAL, ((0,), (1,), (2,)))
    text = lines(cloth(columns=one))
    assert "A5 B4 C7" in text
    assert "less than one whole repeat" in text
    assert "in the repeat" not in text.split("Weft")[0]


def test_the_lines_with_the_warp_across():
    text = lines(across=True)
    assert text.index("A8 C3 B5") < text.index("B/4 A12 C/6")
    assert "16 ends in the repeat" in text
    assert not any(np.char.count(text, word) for word in ("None", "nan"))


def test_a_possible_mistake_is_told_as_found_and_mended():
    """The repeat leaves the mistake out; who wants to copy it finds all stripes as they are."""
    broken = with_stripe(symmetric(), 3, threads=13)
    broken = replace(
        broken, doubts=(doubt("breaks-repeat", axis="warp", stripe=4, found=13, expected=12),)
    )
    read = cloth(columns=broken)
    text = lines(read)
    assert "B/4 A12 C/6  (a possible weaving mistake mended)" in text
    found = " ".join(f"{s.yarn}{s.threads}" for s in broken.stripes)
    assert f"as found: {found}, as `partial = true`" in text
    told = reading_data(photo=PHOTO, status="read", advice=(), scale=SCALE, read=read)
    assert told["warp"]["as_found"] == found
    assert parse_sequence(told["warp"]["as_found"], True).stripes[3].threads == 13
    assert told["weft"]["as_found"] is None
    assert "as found" not in lines()
