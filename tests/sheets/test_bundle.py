"""The whole set: names, repeatability, no link to anything outside, speed."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from settscan.sheets.bundle import sheet_set
from settscan.sheets.photos import Pictures
from settscan.sheets.printable import sheets_html

VOID = {"meta", "img", "br", "link", "hr", "input"}


class Outline(HTMLParser):
    """Checks that tags nest; keeps headings and the addresses of all that is fetched."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.fetched: list[str] = []
        self.counts: list[str] = []
        self.classes: list[str] = []

    def handle_starttag(self, tag, attrs) -> None:
        given = dict(attrs)
        self.fetched += [v for k, v in attrs if k in ("src", "href", "xlink:href") and v]
        if tag not in VOID:
            self.open.append(tag)
            self.classes.append(given.get("class") or "")

    def handle_startendtag(self, tag, attrs) -> None:
        self.fetched += [v for k, v in attrs if k in ("src", "href", "xlink:href") and v]

    def handle_endtag(self, tag) -> None:
        assert self.open and self.open.pop() == tag
        self.classes.pop()

    def handle_data(self, data) -> None:
        if self.classes and self.classes[-1] == "count":
            self.counts.append(data)


@pytest.mark.parametrize("which", ["plans", "awkward"])
def test_the_page_is_whole_and_stands_alone(which, request, photo) -> None:
    plan, winding = request.getfixturevalue(which)
    text = sheets_html(plan, winding, Pictures(rectified=photo, evidence=photo))
    page = Outline()
    page.feed(text)
    page.close()
    assert page.open == []
    assert text.startswith("<!DOCTYPE html>")
    assert all(address.startswith("data:image/") for address in page.fetched)
    namespaces = text.replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert not re.search(r"https?://", namespaces)
    assert "<script" not in text
    assert sum(map(int, page.counts)) == plan.ends
    assert set(re.findall(r"url\(#([\w-]+)\)", text)) <= set(re.findall(r'id="([\w-]+)"', text))


def test_names_are_escaped(awkward) -> None:
    text = sheets_html(*awkward)
    assert "Weiß &lt;x&gt;" in text and "<x>" not in text


def test_the_set_is_complete_and_repeatable(plans, photo) -> None:
    first = sheet_set(*plans, rectified=photo)
    assert set(first) == {
        "sheets.pdf",
        "sheets.html",
        "warp.wif",
        "ends.csv",
        "picks.csv",
        "stripes.csv",
        "plan.json",
        "preview.svg",
        "preview.png",
    }
    assert all(first.values())
    assert first == sheet_set(*plans, rectified=photo)
    assert first["sheets.pdf"].startswith(b"%PDF-")
    assert b"\r\n" in first["warp.wif"]


def test_a_large_photo_is_made_smaller_and_a_small_one_is_left(photo) -> None:
    from io import BytesIO

    from PIL import Image

    from settscan.sheets.photos import BESIDE_PX, PAGE_PX, for_print

    out = BytesIO()
    Image.new("RGB", (4000, 1000), "#7a5c3c").save(out, "PNG")
    with Image.open(BytesIO(for_print(out.getvalue()))) as image:
        assert image.size == (PAGE_PX, PAGE_PX // 4)
    with Image.open(BytesIO(for_print(out.getvalue(), BESIDE_PX))) as image:
        assert image.size == (BESIDE_PX, BESIDE_PX // 4)
    assert for_print(photo) is photo
    assert for_print(None) is None


def test_a_heavy_picture_makes_no_heavy_sheets(plans) -> None:
    """A photograph as PNG takes megabytes, whatever its size in pixels."""
    import random
    from io import BytesIO

    from PIL import Image, ImageFilter

    grain = Image.frombytes("RGB", (1500, 1200), random.Random(4).randbytes(1500 * 1200 * 3))
    out = BytesIO()
    grain.filter(ImageFilter.GaussianBlur(1.5)).save(out, "PNG")
    assert len(out.getvalue()) > 2_500_000
    files = sheet_set(*plans, evidence=out.getvalue(), rectified=out.getvalue())
    assert len(files["sheets.pdf"]) < 1_500_000
    assert len(files["sheets.html"]) < 2_000_000
