"""Pages of a printed sheet: fonts that travel with the package, text, swatches, strips, tables.

A `Paper` collects what is drawn page by page and writes the PDF at the end, when the number of
pages is known. Distances are points (1/72 in) from the top left corner. The same drawing gives
the same bytes: no date, no random name.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import partial
from io import BytesIO
from typing import Any

from settscan.cloth.model import Stripe
from settscan.errors import BadInput
from settscan.sheets.hatches import draw_hatched, ink
from settscan.sheets.lettered import CELL_GAP, LEAD, ROW_LEAD, Lettered
from settscan.sheets.lettering import drawable, font_name, fonts
from settscan.sheets.marks import INK, PAPER, Mark
from settscan.sheets.preview import blended
from settscan.sheets.sizes import SIZES
from settscan.sheets.stamps import Draw, Stamps, binary_streams
from settscan.sheets.words import Say

GREY = "#67625a"
LINE = "#cbc5b9"
MARGIN = 48.0
_WHOLE = 8  # rows of a table that is not divided between pages if it can be helped
_CHAPTER = 72.0  # a title with its line, and the space above it
_BETWEEN = 16.0
_FOOT = 46.0  # from the bottom edge to the line above the footer


@dataclass(slots=True)
class _Page:
    draws: list[Draw] = field(default_factory=list)
    footer: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its head, its share of the width, "left" or "right"."""

    head: str
    share: float
    align: str = "left"


class Paper(Lettered):
    """A growing set of pages. `y` is where the next thing goes, in points from the top.

    Args:
        size: "A4" or "Letter".
        title: name of the warp; it stands in the footer of every page.
        say: puts all text on it into the weaver's words.

    Raises:
        BadInput: for another paper size.
    """

    def __init__(self, size: str, title: str, say: Say = str) -> None:
        super().__init__(say)
        known = {name.lower(): dimensions for name, dimensions in SIZES.items()}
        if size.lower() not in known:
            raise BadInput(f'The paper size "{size}" is not known.', "Give A4 or Letter.")
        self.width, self.height = known[size.lower()]
        self.title = title
        self.left, self.right = MARGIN, self.width - MARGIN
        self.bottom = self.height - _FOOT - 14
        self.y = MARGIN
        self._pages: list[_Page] = []
        self._stamps = Stamps()

    @property
    def inner(self) -> float:
        """Width between the margins."""
        return self.right - self.left

    @property
    def pages(self) -> int:
        """Pages begun so far."""
        return len(self._pages)

    # --- pages

    def new_page(self, footer: str = "") -> None:
        """Begin a page; `footer` is a line above the name and page number."""
        self._pages.append(_Page(footer=footer))
        self.y = MARGIN

    def need(self, height: float) -> bool:
        """Begin a new page unless `height` still fits on this one; whether it did."""
        if self.y + height <= self.bottom:
            return False
        self.new_page(self._pages[-1].footer)
        return True

    def _add(self, draw: Draw) -> None:
        self._pages[-1].draws.append(draw)

    def finish(self, subject: str = "") -> bytes:
        """The PDF file.

        Args:
            subject: a line for the document's properties.
        """
        from reportlab.pdfgen.canvas import Canvas

        fonts()
        out = BytesIO()
        with binary_streams():
            canvas = Canvas(
                out,
                pagesize=(self.width, self.height),
                invariant=1,
                pageCompression=1,
                initialFontName=font_name("text"),
                lang="en",
            )
            canvas.setTitle(self.title)
            canvas.setSubject(subject)
            canvas.setCreator("settscan")
            self._stamps.write(canvas)
            for number, page in enumerate(self._pages, 1):
                for draw in page.draws:
                    draw(canvas)
                self._draw_footer(canvas, page.footer, f"page {number} of {len(self._pages)}")
                canvas.showPage()
            canvas.save()
        return out.getvalue()

    def _draw_footer(self, canvas: Any, line: str, number: str) -> None:
        base = self.height - _FOOT
        self._line(canvas, self.left, base, self.right, base, LINE, 0.6)
        if line:
            size = self.fitted(line, "strong", 12, self.inner)
            self._text(canvas, self.left, base - 4, line, "strong", size, INK)
        room = self.inner - 80
        name = self.clipped(self.title, "text", 9, room)
        self._text(canvas, self.left, base + 16, name, "text", 9, GREY)
        wide = self.width_of(number, "text", 9)
        self._text(canvas, self.right - wide, base + 16, number, "text", 9, GREY)

    # --- marks on the page

    def _text(
        self, canvas: Any, x: float, y: float, text: str, style: str, size: float, colour: str
    ) -> None:
        style, text = drawable(style, self.say(text))
        canvas.setFillColor(ink(colour))
        canvas.setFont(font_name(style), size)
        canvas.drawString(x, self.height - y, text)

    def _turned_text(self, canvas: Any, x: float, y: float, *text: Any) -> None:
        canvas.saveState()
        canvas.translate(x, self.height - y)
        canvas.rotate(90)
        self._text(canvas, 0, self.height, *text)
        canvas.restoreState()

    def _line(
        self, canvas: Any, x: float, y: float, x2: float, y2: float, colour: str, width: float
    ) -> None:
        canvas.setStrokeColor(ink(colour))
        canvas.setLineWidth(width)
        canvas.line(x, self.height - y, x2, self.height - y2)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        style: str = "text",
        size: float = 10,
        colour: str = INK,
        align: str = "left",
        turned: bool = False,
    ) -> None:
        """One line with its baseline at `y`; `x` is its left end, middle or right end.

        A line that is `turned` begins at (x, y) and runs up the page.
        """
        if turned:
            return self._add(lambda c: self._turned_text(c, x, y, text, style, size, colour))
        wide = self.width_of(text, style, size)
        shift = {"left": 0.0, "middle": wide / 2, "right": wide}[align]
        return self._add(lambda c: self._text(c, x - shift, y, text, style, size, colour))

    def rule(
        self, x: float, y: float, x2: float, y2: float, colour: str = LINE, width: float = 0.6
    ) -> None:
        """A straight line."""
        self._add(lambda c: self._line(c, x, y, x2, y2, colour, width))

    def box(
        self,
        x: float,
        y: float,
        wide: float,
        high: float,
        *,
        fill: str | None = None,
        stroke: str | None = INK,
        width: float = 0.8,
        round_by: float = 0,
        dash: bool = False,
    ) -> None:
        """A rectangle whose top left corner is (x, y)."""
        look = "box", round(wide, 2), round(high, 2), fill, stroke, width, round(round_by, 2), dash

        def draw(canvas: Any) -> None:
            if dash:
                canvas.setDash(3, 3)
            if fill:
                canvas.setFillColor(ink(fill))
            if stroke:
                canvas.setStrokeColor(ink(stroke))
                canvas.setLineWidth(width)
            how = bool(stroke), bool(fill)
            if round_by:
                canvas.roundRect(0, 0, wide, high, round_by, *how)
            else:
                canvas.rect(0, 0, wide, high, *how)

        place = x, self.height - y - high, wide, high
        self._add(self._stamps.placed(look, draw, place, beyond=width))

    def tick_box(self, x: float, y: float, size: float) -> None:
        """An empty box to tick."""
        self.box(x, y, size, size, width=1.4, round_by=size / 8)

    def picture(self, data: bytes, x: float, y: float, wide: float, high: float) -> float:
        """A PNG or JPEG fitted into a box, centred across it; the height that it takes."""
        from reportlab.lib.utils import ImageReader

        image = ImageReader(BytesIO(data))
        across, down = image.getSize()
        scale = min(wide / across, high / down)
        w, h = across * scale, down * scale
        left = x + (wide - w) / 2
        self._add(lambda c: c.drawImage(image, left, self.height - y - h, w, h))
        self.box(left, y, w, h, stroke=LINE, width=0.5)
        return float(h)

    # --- colour

    def hatched(self, x: float, y: float, wide: float, high: float, mark: Mark) -> None:
        """A rectangle in a yarn's colour with its line pattern; no letter."""
        look = "hatched", mark.key, round(wide, 2), round(high, 2)
        place = x, self.height - y - high, wide, high
        draw = partial(draw_hatched, mark=mark, wide=wide, high=high)
        self._add(self._stamps.placed(look, draw, place))

    def swatch(self, x: float, y: float, wide: float, high: float, mark: Mark) -> None:
        """A hatched rectangle with the yarn's letter on a clear plate."""
        self.hatched(x, y, wide, high, mark)
        size = min(high * 0.62, wide * (0.62 if len(mark.key) == 1 else 0.42))
        plate = max(self.width_of(mark.key, "bold", size) + size * 0.35, size * 1.05)
        self.box(
            x + (wide - plate) / 2,
            y + (high - size * 1.12) / 2,
            plate,
            size * 1.12,
            fill=PAPER,
            stroke=None,
            round_by=size / 6,
        )
        self.text(x + wide / 2, y + high / 2 + size * 0.36, mark.key, "bold", size, INK, "middle")

    def strip(
        self,
        x: float,
        y: float,
        wide: float,
        high: float,
        stripes: Sequence[Stripe],
        marks: dict[str, Mark],
    ) -> None:
        """Stripes side by side, each as wide as its threads; finer ones as the eye mixes them."""
        columns = [(marks[stripe.yarn].colour, stripe.threads) for stripe in stripes]
        if len(columns) > wide:  # a printer or screen would show only those drawn last
            threads = [colour for colour, ends in columns for _ in range(ends)]
            columns = [(colour, 1) for colour in blended(threads, round(wide))]
        unit = wide / sum(ends for _, ends in columns)
        runs: dict[str, list[tuple[float, float]]] = {}
        at = x
        for colour, ends in columns:
            runs.setdefault(colour, []).append((at, ends * unit))
            at += ends * unit

        def draw(canvas: Any) -> None:
            for colour, places in runs.items():
                path = canvas.beginPath()
                for left, across in places:
                    path.rect(left, self.height - y - high, across, high)
                canvas.setFillColor(ink(colour))
                canvas.drawPath(path, stroke=0, fill=1)

        self._add(draw)
        self.box(x, y, wide, high, stroke=INK, width=0.6)

    # --- flowing text

    def chapter(self, text: str, sub: str = "", keep: float = 160) -> None:
        """A title on this page if `keep` points still fit below it, else on a new page."""
        if not self._pages or self.y + _CHAPTER + keep > self.bottom or self._pages[-1].footer:
            self.new_page()
        elif self.y > MARGIN:
            self.y += _BETWEEN
        self.title_line(text, sub)

    def title_line(self, text: str, sub: str = "") -> None:
        """The heading of a page."""
        style, text = drawable("title", text)
        size = self.fitted(text, style, 25, self.inner, least=17)
        for place, line in enumerate(self.wrapped(text, style, size, self.inner)[:3]):
            self.y += size * 1.25 if place else 0
            self.text(self.left, self.y + 20, line, style, size)
        self.y += 32
        if sub:
            for line in self.wrapped(sub, "text", 11, self.inner):
                self.text(self.left, self.y + 10, line, "text", 11, GREY)
                self.y += 15
        self.y += 9

    def heading(self, text: str, keep: float = 60) -> None:
        """A heading within a page, kept together with `keep` points of what follows."""
        self.need(36 + keep)
        self.y += 12
        self.text(self.left, self.y + 13, text, "title", 14.5)
        self.y += 24

    def paragraph(
        self,
        text: str,
        *,
        style: str = "text",
        size: float = 10.5,
        indent: float = 0,
        colour: str = INK,
        after: float = 5,
    ) -> None:
        """Text over the whole width, over pages where it must."""
        lead = size * LEAD
        for line in self.wrapped(text, style, size, self.inner - indent):
            self.need(lead)
            self.text(self.left + indent, self.y + size, line, style, size, colour)
            self.y += lead
        self.y += after

    def numbered(self, texts: Iterable[str], *, tick: bool = False, size: float = 11) -> None:
        """A list with numbers, or with boxes to tick."""
        for number, text in enumerate(texts, 1):
            lines = self.wrapped(text, "text", size, self.inner - 30)
            self.need(len(lines) * size * LEAD + 4)
            if tick:
                self.tick_box(self.left + 1, self.y + 1, size + 1)
            else:
                self.text(self.left, self.y + size, f"{number}", "bold", size)
            for line in lines:
                self.text(self.left + 30, self.y + size, line, "text", size)
                self.y += size * LEAD
            self.y += 5

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        *,
        size: float = 10,
        marks: Sequence[Mark] | None = None,
        heading: str = "",
    ) -> None:
        """A table with fine lines; cells wrap. `marks` puts a swatch before each row.

        `heading` stands above it on the same page. Where the table goes on over the page, its
        head stands there again, and no row stands alone.
        """
        left = self.left + (42 if marks else 0)
        total = sum(column.share for column in columns)
        widths = [column.share * (self.right - left) / total for column in columns]
        least = 26 if marks else 0
        heights = [self.row_tall(row, size, widths, least) + 1 for row in rows]
        first = 32 + sum(heights if len(rows) <= _WHOLE else heights[:2])
        if heading:
            self.heading(heading, keep=first)
        else:
            self.need(first)
        self._head(left, widths, columns)
        for place, row in enumerate(rows):
            if self.need(sum(heights[place:]) if place == len(rows) - 2 else heights[place]):
                self._head(left, widths, columns)
            top, page = self.y, self.pages
            tall = self._cells(left, widths, columns, row, size, INK, least)
            if self.pages != page:
                top = self.y - tall
            if marks:
                self.swatch(self.left, top + 3, 32, 20, marks[place])
            self.rule(self.left, self.y, self.right, self.y)
            self.y += 1

    def _head(self, left: float, widths: Sequence[float], columns: Sequence[Column]) -> None:
        """The names of the columns, if they have any."""
        if not any(column.head for column in columns):
            return
        self.need(52)
        self._cells(left, widths, columns, [c.head for c in columns], 9, GREY)
        self.rule(self.left, self.y + 1, self.right, self.y + 1, INK, 0.8)
        self.y += 4

    def _cells(
        self,
        left: float,
        widths: Sequence[float],
        columns: Sequence[Column],
        row: Sequence[str],
        size: float,
        colour: str,
        least: float = 0,
    ) -> float:
        """One row of cells; its height."""
        cells = [
            self.wrapped(text, "text", size, wide - CELL_GAP)
            for text, wide in zip(row, widths, strict=True)
        ]
        lead = size * ROW_LEAD
        tall = self.row_tall(row, size, widths, least)
        self.need(tall)
        low = (tall - self.row_tall(row, size, widths)) / 2  # to the middle of a taller swatch
        x = left
        for lines, wide, column in zip(cells, widths, columns, strict=True):
            right = column.align == "right"
            for at, line in enumerate(lines):
                self.text(
                    x + wide - CELL_GAP if right else x,
                    self.y + low + 3 + size + at * lead,
                    line,
                    "text",
                    size,
                    colour,
                    column.align,
                )
            x += wide
        self.y += tall
        return tall
