"""What was read, told on paper: the note in the evidence, and labels of a size to be read."""

import json
import re
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from settscan.png_notes import note_in, with_note
from settscan.sheets.pdf import sheets_pdf
from settscan.sheets.pdf_seen import spread
from settscan.sheets.photos import Pictures
from settscan.sheets.printable import sheets_html
from settscan.sheets.seen import NOTE, seen_in


def picture(wide=900, high=1300, kind="PNG"):
    out = BytesIO()
    Image.new("RGB", (wide, high), (120, 130, 90)).save(out, kind)
    return out.getvalue()


def stripe(at, many, **changes):
    one = {"yarn": "AB"[at % 2], "threads": 4 + at, "low": 4 + at, "high": 4 + at, "chance": 0.99}
    return one | {"cut": False, "start": at / many, "end": (at + 1) / many} | changes


def told(across=12, down=30, **changes):
    data = {
        "yarns": [
            {"key": "A", "name": "navy", "colour": "#1b2654"},
            {"key": "B", "name": "oatmeal", "colour": "#e8dcc0"},
        ],
        "columns": [stripe(k, across) for k in range(across)],
        "rows": [stripe(k, down) for k in range(down)],
        "checks": ["The scale was measured along one direction only. A second ruler gives it."],
    }
    return with_note(picture(), NOTE, json.dumps(data | changes))


def test_a_picture_with_a_note_is_still_a_picture():
    noted = with_note(picture(), NOTE, "a text" * 1000)
    with Image.open(BytesIO(noted)) as image:
        image.load()
        assert image.size == (900, 1300)
    assert note_in(noted, NOTE) == "a text" * 1000
    assert note_in(noted, "other") is None
    assert note_in(picture(), NOTE) is None
    assert note_in(picture(kind="JPEG"), NOTE) is None


@given(st.integers(8, 3000), st.binary(max_size=9))
def test_a_damaged_note_is_none(at, content):
    noted = told()
    seen_in(noted[:at] + content + noted[at + len(content) :])  # no error, whatever it says
    seen_in(noted[:at])


def test_labels_are_those_of_the_evidence():
    columns = [
        stripe(0, 3, cut=True),
        stripe(1, 3, low=4, high=6),
        stripe(2, 3, chance=0.71),
    ]
    seen = seen_in(told(columns=columns))
    assert [one.label for one in seen.columns] == ["A4+", "B5? 4-6", "A6? 71 %"]
    assert [one.doubtful for one in seen.columns] == [False, True, True]


@pytest.mark.parametrize(
    "changes",
    [
        {"yarns": []},
        {"yarns": [{"key": "A", "name": "x", "colour": "red"}]},
        {"rows": [stripe(0, 1, end=1.4)]},
        {"rows": 3},
        {"columns": [stripe(0, 1, start=float("nan"))]},
    ],
)
def test_a_note_that_makes_no_sense_is_passed_over(changes):
    assert seen_in(told(**changes)) is None


places = st.lists(st.floats(0, 500), min_size=1, max_size=40).map(sorted)


@given(places)
def test_labels_stand_apart_and_within_and_stay_where_they_can(wanted):
    found = spread(wanted, 9.0, -12.0, 512.0)
    assert all(b - a >= 9.0 - 1e-6 for a, b in zip(found, found[1:], strict=False))
    assert found[0] >= -12.0 - 1e-6 and found[-1] <= 512.0 + 1e-6
    if all(b - a >= 9.0 for a, b in zip(wanted, wanted[1:], strict=False)):
        assert found == pytest.approx(wanted)


def sizes_of(page):
    """The size of each label on a page, by its text."""
    found = {}

    def visit(text, _matrix, _text_matrix, _font, size):
        if re.fullmatch(r"[AB][0-9]+[+]?([?].*)?", text.strip()):
            found[text.strip()] = size

    page.extract_text(visitor_text=visit)
    return found


def test_the_labels_are_of_a_size_for_paper_and_the_checks_are_text(plans):
    pictures = Pictures(rectified=picture(kind="JPEG"), evidence=told())
    page = PdfReader(BytesIO(sheets_pdf(*plans, pictures))).pages[1]
    sizes = sizes_of(page)
    assert len(sizes) == 30  # the columns have the same labels as the first rows
    assert min(sizes.values()) >= 6.5
    following = PdfReader(BytesIO(sheets_pdf(*plans, pictures))).pages[2].extract_text()
    assert "measured along one direction only" in page.extract_text() + following


def test_more_stripes_than_can_be_labelled_are_printed_as_they_were_drawn(plans):
    pictures = Pictures(rectified=picture(kind="JPEG"), evidence=told(down=400))
    page = PdfReader(BytesIO(sheets_pdf(*plans, pictures))).pages[1]
    assert sizes_of(page) == {}
    assert len(page.images) == 1


def test_on_a_screen_the_picture_is_seen_at_its_full_size(plans):
    plan, winding = plans
    text = sheets_html(plan, winding, Pictures(rectified=picture(kind="JPEG"), evidence=told()))
    assert re.search(r'<label for="full-size"><img class="evidence" src="data:image/png', text)
    assert "measured along one direction only" in text
