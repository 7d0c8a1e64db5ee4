"""US and GB words on the sheets: the weaver's own names stay."""

from dataclasses import replace
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from settscan.sheets.bundle import sheet_set
from settscan.sheets.words import GB, US, said_in_html, saying
from settscan.warping.plan import plan_warp
from settscan.winding.plan import plan_winding
from tests.sheets.conftest import blanket, wishes


@pytest.fixture(scope="module")
def sheets():
    """The sheets of one blanket in either words; a yarn and the cloth have British names."""
    cloth = blanket(name="Grey colour study")
    yarns = tuple(replace(y, name="grey centre") if y.key == "B" else y for y in cloth.yarns)
    plan = plan_warp(replace(cloth, yarns=yarns), wishes())
    winding = plan_winding(plan)
    return {words: sheet_set(plan, winding, words=words) for words in ("", US, GB)}


def in_pdf(content):
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages)
    return " ".join(text.split())


def test_the_sheets_are_in_the_words_that_are_wanted(sheets):
    for name, read in (("sheets.pdf", in_pdf), ("sheets.html", bytes.decode)):
        us, gb = (read(sheets[words][name]) for words in (US, GB))
        assert "4 harnesses" in us and "4 shafts" not in us
        assert "4 shafts" in gb and "harness" not in gb
        assert "Color" in us and "Colour" in gb and "Color" not in gb.replace("color", "")
    assert saying(GB)("Heddles of the heddle bar") == "Healds of the heald bar"


def test_what_the_weaver_named_stays(sheets):
    for words in (US, GB):
        for text in (in_pdf(sheets[words]["sheets.pdf"]), sheets[words]["sheets.html"].decode()):
            assert "Grey colour study" in text
            assert "grey centre" in text
            assert "gray" not in text and "center" not in text.split("</style>")[-1].lower()


def test_files_for_other_programs_are_the_same_in_all_words(sheets):
    for name in set(sheets[""]) - {"sheets.pdf", "sheets.html"}:
        assert sheets[US][name] == sheets[GB][name] == sheets[""][name]


def test_the_look_of_the_page_is_none_of_its_text():
    page = '<style>.grey{text-align:center}</style><p class="colour grey">Grey, a colour</p>'
    told = said_in_html(page, saying(US))
    assert told == page.replace("Grey, a colour", "Gray, a color")


@given(st.text(max_size=60), st.sampled_from([US, GB]))
def test_said_again_it_is_the_same(text, words):
    say = saying(words)
    assert say(say(text)) == say(text)
