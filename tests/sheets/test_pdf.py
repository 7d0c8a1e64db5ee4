"""The PDF, read back by pypdf: text, fonts, page numbers, counts."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from io import BytesIO

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe, ThreadSet
from settscan.cloth.notation import parse_sequence
from settscan.cloth.wishes import INCH, Piece
from settscan.errors import BadInput
from settscan.measured import Measured
from settscan.sheets.bout_sets import bout_sets, listed, times_in_words
from settscan.sheets.marks import marks_of
from settscan.sheets.paper import Column, Paper
from settscan.sheets.pdf import sheets_pdf
from settscan.sheets.pdf_frame import draw_odd_stripes
from settscan.sheets.pdf_loom import draw_threading
from settscan.sheets.photos import Pictures
from settscan.sheets.picture import ShownPart, part_of
from tests.sheets.conftest import blanket, planned, wishes


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


def test_the_table_of_reeds_says_what_it_is_on_whatever_page_it_falls(pages) -> None:
    (page,) = (each for each in pages if re.search(r"^Off by$", each, re.MULTILINE))
    assert page.index("The nearest reeds") < page.index("Off by")


def test_whatever_is_set_down_in_several_places_is_in_the_file(plans) -> None:
    """A viewer leaves out without a word what a page names and the file does not have."""
    reader = PdfReader(BytesIO(sheets_pdf(*plans)))
    placed = 0
    for page in reader.pages:
        operations = ContentStream(page.get_contents(), reader).operations
        named = [operands[0] for operands, operator in operations if operator == b"Do"]
        held = page["/Resources"].get("/XObject", {})
        assert set(named) <= set(held)
        placed += len(named)
    assert placed > 100  # swatches, boxes to tick, pictures


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


def test_the_words_beside_a_swatch_stand_at_its_middle(plans, monkeypatch) -> None:
    sheet = Paper("A4", "a table")
    sheet.new_page()
    texts, swatches = {}, []
    monkeypatch.setattr(sheet, "text", lambda x, y, text, *more: texts.update({text: y}))
    monkeypatch.setattr(sheet, "swatch", lambda x, y, w, high, mark: swatches.append(y + high / 2))
    marks = marks_of(plans[0].cloth.yarns)
    columns = (Column("Colour", 1), Column("Ends", 1))
    sheet.table(columns, [("navy", "24"), ("moss", "36")], marks=[marks["A"], marks["C"]])
    for middle, words in zip(swatches, (("navy", "24"), ("moss", "36")), strict=True):
        for word in words:  # letters reach as far above the line as to 0.72 of their size
            assert texts[word] - 0.36 * 10 == pytest.approx(middle, abs=1)


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
    with_photo = PdfReader(BytesIO(sheets_pdf(*plans, Pictures(rectified=photo, evidence=photo))))
    assert "What was read from the photo" in with_photo.pages[1].extract_text()
    assert "The photo, laid flat" in with_photo.pages[0].extract_text()
    assert len(with_photo.pages[0].images) == 2


def test_beside_the_photo_the_same_part_is_drawn(plans, photo) -> None:
    shown = ShownPart(warp=(Stripe("A", 30), Stripe("B", 10)), weft=(Stripe("C", 20),))
    page = PdfReader(BytesIO(sheets_pdf(*plans, Pictures(rectified=photo, shown=shown)))).pages[0]
    assert "as much as the photo shows" in page.extract_text()
    picture = part_of(plans[0], shown)
    assert (picture.ends, picture.picks) == (40, 20)
    across = part_of(plans[0], replace(shown, warp_across=True))
    assert (across.ends, across.picks) == (20, 40)
    # The same crossings, turned: warp over weft becomes weft over warp.
    assert across.lift[0][1] is not picture.lift[1][0]
    gone = replace(shown, weft=(Stripe("Q", 20),))
    page = PdfReader(BytesIO(sheets_pdf(*plans, Pictures(rectified=photo, shown=gone)))).pages[0]
    assert "one piece" in page.extract_text()


def test_bouts_wound_alike_share_a_sheet_with_a_box_for_each() -> None:
    one = (Stripe("A", 24), Stripe("B", 4), Stripe("C", 8), Stripe("B", 4))
    cloth = blanket(warp=ThreadSet(sequence=ColourSequence(SequenceKind.REPEATING, one),
                                   density=Measured.exact(Fraction(1))))  # fmt: skip
    plan, winding = planned(cloth, wishes(piece=Piece(width_mm=Fraction(800),
                                                      length_mm=Fraction(1500))))  # fmt: skip
    alike = next(each for each in bout_sets(winding) if each.times > 1)
    together = sum(each.times for each in bout_sets(winding))
    assert together == len(winding.bouts)
    pages = [lines_of(page) for page in PdfReader(BytesIO(sheets_pdf(plan, winding))).pages]
    shared = [page for page in pages if "wind this" in page]
    assert f"wind this {times_in_words(alike.times)}" in shared[0]
    shown = "\n".join(page for page in shared if f"{alike.numbers}: wind" in page)
    totals = [int(number) for number in re.findall(r"^= (\d+)$", shown, re.MULTILINE)]
    assert totals == [step.bout_total for step in alike.pattern.steps]
    for bout in alike.bouts:
        assert f"bout {bout.number}\n{bout.first_end} to {bout.last_end}" in shown


def test_bouts_in_words() -> None:
    assert listed([1, 2, 3, 5, 7, 8]) == "1 to 3, 5, 7, 8"
    assert [times_in_words(n) for n in (1, 2, 3, 12, 13)] == [
        "once", "twice", "three times", "twelve times", "13 times"
    ]  # fmt: skip


def test_the_default_blanket_takes_few_pages() -> None:
    """25 repeats of 50 ends with a closing pivot, wound on a mill two yards round."""
    sequence = parse_sequence("A/24 B4 A8 C/2")
    ends = Measured.exact(Fraction(24) / INCH)
    cloth = blanket(
        warp=ThreadSet(sequence=sequence, density=ends),
        weft=ThreadSet(sequence=sequence, density=ends),
    )
    plan, winding = planned(cloth, wishes(piece=Piece(width_mm=54 * INCH, length_mm=72 * INCH)))
    assert plan.ends == 1274
    pages = PdfReader(BytesIO(sheets_pdf(plan, winding))).pages
    assert len(pages) <= 16
    sizes: dict[float, int] = {}

    def note(text: str, cm, tm, font, size: float) -> None:
        sizes[round(size, 1)] = sizes.get(round(size, 1), 0) + len(text.strip())

    assert pages[-1].extract_text(visitor_text=note).startswith("Tags")
    assert min(size for size, letters in sizes.items() if letters) >= 7  # read in poor light
    filled = [len(page.extract_text()) for page in pages]
    assert min(filled) > 300  # no page with a line or two


class Noted(Paper):
    """Paper that notes on which page each heading and each filled square comes to stand."""

    def __init__(self) -> None:
        super().__init__("Letter", "Harbour blanket")
        self.headings, self.squares = [], []

    def heading(self, text: str, keep: float = 60) -> None:
        super().heading(text, keep)
        self.headings.append(self.pages)

    def box(self, *given, **looks) -> None:
        self.squares.append(self.pages)
        super().box(*given, **looks)


@pytest.mark.parametrize("above", range(0, 700, 25))
def test_the_draft_stands_below_its_heading(plans, above) -> None:
    """However much of the page is taken already."""
    plan, sheet = plans[0], Noted()
    sheet.new_page()
    sheet.y += above
    draw_threading(sheet, plan, plan.draft)
    assert set(sheet.squares) == set(sheet.headings)


class Paragraphs(Paper):
    """Paper that notes on which pages each paragraph begins and ends."""

    def paragraph(self, text: str, **looks) -> None:
        begins = self.pages
        super().paragraph(text, **looks)
        self.noted.append((begins, self.pages))


@pytest.mark.parametrize("above", range(400, 620, 20))
def test_an_odd_stripe_stands_on_one_page_with_its_ways_out(awkward, above) -> None:
    sheet = Paragraphs("A4", "Harbour blanket")
    sheet.noted = []
    sheet.new_page()
    sheet.y += above
    draw_odd_stripes(sheet, awkward[1])
    assert len(sheet.noted) == 6
    for done, ways in zip(sheet.noted[::2], sheet.noted[1::2], strict=True):
        assert done[0] == ways[1]


@pytest.mark.parametrize("above", [0, 300, 570, 590, 610, 630, 650, 670])
@pytest.mark.parametrize("many", [2, 3, 8, 9, *range(20, 40)])
def test_no_row_of_a_table_stands_alone_and_its_heads_go_with_it(above, many) -> None:
    sheet = Paper("A4", "Harbour blanket")
    sheet.new_page()
    sheet.y += above
    columns = [Column("Picks", 1), Column("Colour", 2)]
    long = "a name that goes on over the end of a line, and over that of the next as well, " * 2
    sheet.table(columns, [("6", f"row{k} {long}") for k in range(many)], heading="The stripes")
    pages = [page.extract_text() for page in PdfReader(BytesIO(sheet.finish())).pages]
    rows = [page.count("row") for page in pages]
    assert sum(rows) == many
    assert 1 not in rows
    for text, count in zip(pages, rows, strict=True):
        assert ("Colour" in text) is (count > 0)
        assert "The stripes" not in text or count > 0


def test_a_picture_that_is_none_is_refused(plans) -> None:
    with pytest.raises(BadInput, match="neither PNG nor JPEG"):
        sheets_pdf(*plans, Pictures(rectified=b"not a picture"))


def test_a_damaged_picture_is_refused(plans, photo) -> None:
    with pytest.raises(BadInput, match="damaged"):
        sheets_pdf(*plans, Pictures(rectified=photo[: len(photo) // 2]))


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
