"""The sheets as a page, looked at in a real browser at the size of a phone."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from pypdf import PdfReader

from settscan.sheets.printable import sheets_html
from tests.page.browser import FLAGS, SIZES, chromium

CELLS = """() => [...document.querySelectorAll(".yarns, .reeds")].flatMap((table) =>
  [...table.querySelectorAll("tbody td")].filter((cell) => cell.textContent.trim()).map((cell) => {
    const box = cell.getBoundingClientRect();
    return [cell.textContent.trim(), getComputedStyle(cell, "::before").content, box.right];
  }))"""


@pytest.fixture
def phone(tmp_path):
    program = chromium()
    from playwright.sync_api import sync_playwright

    def opened(text: str):
        file = tmp_path / "sheets.html"
        file.write_text(text, "utf-8")
        page.goto(file.as_uri())
        return page

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=program, args=list(FLAGS))
        wide, high = SIZES["phone"]
        page = browser.new_page(viewport={"width": wide, "height": high})
        yield opened
        browser.close()


def test_yarn_and_reeds_are_read_on_a_phone_without_scrolling_aside(phone, plans) -> None:
    found = phone(sheets_html(*plans)).evaluate(CELLS)
    assert len(found) > 30
    assert [told for told, _, right in found if right > SIZES["phone"][0]] == []
    heads = {head for _, head, _ in found}
    assert '"With spare: "' in heads and '"To buy: "' in heads and '"Sleying: "' in heads


def test_a_caption_stands_close_below_its_picture(phone, plans) -> None:
    gaps = phone(sheets_html(*plans)).evaluate(
        """() => [...document.querySelectorAll("figure")].map((figure) => {
          const [picture, caption] = figure.children;
          const shown = picture.getBoundingClientRect(), box = picture.viewBox.baseVal;
          const drawn = Math.min(shown.width * box.height / box.width, shown.height);
          return caption.getBoundingClientRect().top - shown.top - (shown.height + drawn) / 2;
        })"""
    )
    assert len(gaps) == 2 and all(0 <= gap < 12 for gap in gaps), gaps


def test_each_printed_page_of_a_bout_says_which_bout_it_is(phone, plans) -> None:
    """A sheet on the floor beside the mill is of no use if nobody knows where it belongs."""
    printed = phone(sheets_html(*plans)).pdf(prefer_css_page_size=True)
    texts = [page.extract_text() for page in PdfReader(BytesIO(printed)).pages]
    winding = [text for text in texts if re.search("nishes at the (start|far) end", text)]
    heads = [re.search(r"Bouts? [0-9, to]+( of [0-9]+|: wind this)", text) for text in winding]
    assert all(heads)
    assert len(winding) > len({head[0] for head in heads})  # some go on over the page
