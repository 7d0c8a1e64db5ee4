"""The PDF, read back by pypdf: text, fonts, page numbers, counts."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from pypdf import PdfReader

from settscan.errors import BadInput
from settscan.sheets.pdf import sheets_pdf


def lines_of(page) -> str:
    """The text of a page without blanks at the ends of its lines."""
    return "\n".join(line.strip() for line in page.extract_text().splitlines())


@pytest.fixture(scope="module")
def pages(plans) -> list[str]:
    reader = PdfReader(BytesIO(sheets_pdf(*plans)))
    return [lines_of(page) for page in reader.pages]


def winding_pages(pages: list[str]) -> list[str]:
    return [page for page in pages if re.search(r"^Bout \d+ of \d+$", page, re.MULTILINE)]


def test_pages_are_numbered_and_named(pages) -> None:
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page
        assert "Harbour blanket" in page


def test_the_counts_add_up_to_the_ends(plans, pages) -> None:
    plan, winding = plans
    sheets = winding_pages(pages)
    shown = "\n".join(sheets)
    totals = [int(number) for number in re.findall(r"^= (\d+)$", shown, re.MULTILINE)]
    assert totals == [step.bout_total for step in winding.steps]
    warp = [int(number) for number in re.findall(r"^warp (\d+)$", shown, re.MULTILINE)]
    assert warp == [step.warp_total for step in winding.steps]
    counts = re.findall(r"^(\d+)$", shown, re.MULTILINE)
    assert sum(map(int, counts)) == plan.ends


def test_each_line_says_colour_letter_and_end(plans, pages) -> None:
    shown = "\n".join(winding_pages(pages))
    for key, name in (("A", "navy"), ("B", "oatmeal"), ("C", "moss green"), ("D", "madder red")):
        steps = [step for step in plans[1].steps if step.yarn == key]
        assert len(re.findall(rf"^{key}$", shown, re.MULTILINE)) == len(steps)
        assert len(re.findall(rf"^{name}$", shown, re.MULTILINE)) == len(steps)
    assert shown.count("finishes at the start end") >= len(plans[1].steps)


def test_the_footer_gives_ends_of_each_colour_in_the_bout(plans, pages) -> None:
    for bout in plans[1].bouts:
        footers = [
            page
            for page in pages
            if f"Bout {bout.number}: A navy" in page or f"Bout {bout.number}: C moss green" in page
        ]
        assert footers
        assert all(f"= {bout.ends} ends" in page for page in footers)


def test_counts_are_set_large(plans) -> None:
    sizes = []

    def visit(text, _matrix, _text_matrix, _font, size) -> None:
        if re.fullmatch(r"\d+", text.strip()):
            sizes.append(size)

    reader = PdfReader(BytesIO(sheets_pdf(*plans)))
    for page in reader.pages:
        page.extract_text(visitor_text=visit)
    assert sum(size == 48 for size in sizes) == len(plans[1].steps)


def test_all_fonts_are_embedded_truetype(plans) -> None:
    reader = PdfReader(BytesIO(sheets_pdf(*plans)))
    names = set()
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            font = font.get_object()
            assert font["/Subtype"] == "/TrueType"
            assert "/FontFile2" in font["/FontDescriptor"]
            names.add(str(font["/BaseFont"]).split("+")[-1])
    assert names == {"OpenSans", "OpenSans-Bold", "OpenSans-Semibold", "Caladea-Bold"}


def test_the_plan_is_traceable(plans, pages) -> None:
    flat = " ".join(" ".join(pages).split())
    for step in plans[0].steps:
        assert " ".join(step.text.split()[:4]) in flat
    assert "Losses divide" in flat
    for text in (*plans[1].recover, *plans[1].cautions, *plans[1].path.steps):
        assert text.split(".")[0] in flat


@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("letter", (612, 792))])
def test_paper_sizes(plans, paper, size) -> None:
    page = PdfReader(BytesIO(sheets_pdf(*plans, paper=paper))).pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == size


def test_another_paper_is_refused(plans) -> None:
    with pytest.raises(BadInput, match="A4 or Letter"):
        sheets_pdf(*plans, paper="A3")


def test_photo_and_evidence(plans, photo) -> None:
    with_photo = PdfReader(BytesIO(sheets_pdf(*plans, rectified=photo, evidence=photo)))
    plain = PdfReader(BytesIO(sheets_pdf(*plans)))
    assert len(with_photo.pages) == len(plain.pages) + 1
    assert "The photo, laid flat" in with_photo.pages[0].extract_text()
    assert len(with_photo.pages[0].images) == 2


def test_a_picture_that_is_none_is_refused(plans) -> None:
    with pytest.raises(BadInput, match="neither PNG nor JPEG"):
        sheets_pdf(*plans, rectified=b"not a picture")


def test_a_damaged_picture_is_refused(plans, photo) -> None:
    with pytest.raises(BadInput, match="damaged"):
        sheets_pdf(*plans, rectified=photo[: len(photo) // 2])


def test_awkward_names_and_counts_stay_on_the_paper(awkward) -> None:
    reader = PdfReader(BytesIO(sheets_pdf(*awkward, paper="Letter")))
    shown = "\n".join(lines_of(page) for page in reader.pages)
    counts = re.findall(r"^warp (\d+)$", shown, re.MULTILINE)
    assert int(counts[-1]) == awkward[0].ends
    assert "Тёмно-синий" in shown
    assert "Grün & Weiß <x>" in shown


def test_no_date_and_no_path_inside(plans) -> None:
    info = PdfReader(BytesIO(sheets_pdf(*plans))).metadata
    assert info.title == "Harbour blanket"
    assert info.creation_date.year == 2000  # reportlab's fixed date for repeatable files
