"""What was read from the photo, on paper: the cloth with a count at each stripe, and what to check.

The evidence picture is made for a screen; shrunk to a page its labels cannot be read. Here they are
set anew, in letters of a size for paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

from settscan.sheets.marks import INK, PAPER
from settscan.sheets.paper import GREY, LINE, Paper
from settscan.sheets.photos import Pictures, size_of
from settscan.sheets.seen import CHECKS_HEAD, SeenStripe, WhatWasSeen

_SIZES = (8.0, 7.5, 7.0, 6.5)  # of a label, points
_ROWS = (1, 2)  # of labels beside each other
_PITCH = 1.2  # from label to label, in its size
_GAP, _BAR, _FAN = 3.0, 9.0, 14.0  # from the cloth to the bars; their depth; to the labels
_BEYOND = 12.0  # so far labels may reach past an end of the cloth
_FINE = 4.0  # lines closer than this, on average, would cover the cloth
_DOUBT = "#b4321a"
_KEY = (
    "Letter: yarn, number: threads. A12? 11-13: to be checked, likely 11 to 13; A5+: cut off by the"
    " edge of the photo."
)


class _Margin(NamedTuple):
    """The labels of an axis: their size, how many rows of them, how deep one row is, and all."""

    size: float
    rows: int
    row: float
    deep: float


class _Laid(NamedTuple):
    """Both margins, and the cloth's width and height on the page."""

    above: _Margin
    beside: _Margin
    wide: float
    high: float


def draw_seen(sheet: Paper, pictures: Pictures) -> None:
    """A page with the straightened cloth, its stripes labelled, and what to check below it.

    Where nothing but the evidence picture is there, or the stripes are too many, it is printed.
    """
    assert pictures.evidence is not None
    sheet.new_page()
    sheet.title_line("What was read from the photo", "Compare it with the cloth before you wind.")
    seen, cloth = pictures.seen, pictures.flat
    if seen is not None and cloth is not None:
        yarns = ", ".join(f"{key} {name}" for key, name in seen.yarns)
        told = f"{_KEY} {yarns}."
        room = sheet.bottom - sheet.y - sheet.tall(told, "text", 9, sheet.inner) - 12
        laid = _laid(sheet, seen, size_of(cloth), room)
        if laid is not None:
            sheet.paragraph(told, size=9, colour=GREY, after=8)
            _draw(sheet, seen, cloth, laid)
            return
    room = sheet.bottom - sheet.y
    sheet.y += sheet.picture(pictures.evidence, sheet.left, sheet.y, sheet.inner, room)


def _laid(sheet: Paper, seen: WhatWasSeen, shape: tuple[int, int], room: float) -> _Laid | None:
    """The largest letters that fit beside each other; None where none do."""
    for size, up, down in product(_SIZES, _ROWS, _ROWS):
        above = _margin(sheet, seen.columns, size, up)
        beside = _margin(sheet, seen.rows, size, down)
        scale = min((sheet.inner - beside.deep) / shape[0], (room - above.deep) / shape[1])
        wide, high = shape[0] * scale, shape[1] * scale
        if _fits(seen.columns, above, wide) and _fits(seen.rows, beside, high):
            return _Laid(above, beside, wide, high)
    return None


def _margin(sheet: Paper, stripes: Sequence[SeenStripe], size: float, rows: int) -> _Margin:
    longest = max((sheet.width_of(s.label, _style(s), size) for s in stripes), default=0.0)
    return _Margin(size, rows, longest + 4, _GAP + _BAR + _FAN + rows * (longest + 4))


def _fits(stripes: Sequence[SeenStripe], margin: _Margin, length: float) -> bool:
    return len(stripes) * margin.size * _PITCH / margin.rows <= length + 2 * _BEYOND


def _style(stripe: SeenStripe) -> str:
    return "bold" if stripe.doubtful else "text"


def _draw(sheet: Paper, seen: WhatWasSeen, cloth: bytes, laid: _Laid) -> None:
    """The cloth with both margins; then what to check, on the next page where it must."""
    left = sheet.left + laid.beside.deep
    top = sheet.y + laid.above.deep
    sheet.picture(cloth, left, top, laid.wide, laid.high)
    for stripes, margin, length, across, upright in (
        (seen.columns, laid.above, laid.wide, laid.high, True),
        (seen.rows, laid.beside, laid.high, laid.wide, False),
    ):
        side = _Side(sheet, left, top, upright)
        _edges(side, stripes, length, across)
        _labels(side, stripes, margin, length)
    sheet.y = top + laid.high + 6
    if seen.checks:
        sheet.heading(CHECKS_HEAD, keep=30)
        sheet.numbered(seen.checks, tick=True, size=9.5)


class _Side(NamedTuple):
    """A side of the cloth: places "along" it and "away" from it become places on the page."""

    sheet: Paper
    left: float
    top: float
    upright: bool  # the stripes run up and down; their labels stand above the cloth

    def point(self, along: float, away: float) -> tuple[float, float]:
        """A place on the page."""
        if self.upright:
            return self.left + along, self.top - away
        return self.left - away, self.top + along

    def line(
        self, start: tuple[float, float], end: tuple[float, float], colour: str, width: float
    ) -> None:
        """A line from one (along, away) to another."""
        self.sheet.rule(*self.point(*start), *self.point(*end), colour, width)


def _edges(side: _Side, stripes: Sequence[SeenStripe], length: float, across: float) -> None:
    """A bar of each stripe's colour, and the edges over the cloth: light and dark side by side."""
    crowded = length < _FINE * len(stripes)
    for stripe in stripes:
        start, end = stripe.start * length, stripe.end * length
        x, y = side.point(start, _GAP + _BAR)
        deep = (end - start, _BAR) if side.upright else (_BAR, end - start)
        rim = _DOUBT if stripe.doubtful else INK
        side.sheet.box(x, y, *deep, fill=stripe.colour, stroke=rim, width=0.4)
        if stripe.doubtful:
            for at in (start, end):
                side.line((at, _GAP), (at, -across), _DOUBT, 0.7)
        elif not crowded:
            for at in (start, end):
                side.line((at - 0.2, 0), (at - 0.2, -across), PAPER, 0.3)
                side.line((at + 0.1, 0), (at + 0.1, -across), INK, 0.2)


def _labels(side: _Side, stripes: Sequence[SeenStripe], margin: _Margin, length: float) -> None:
    """Each stripe's label as near to it as the others let it be, with a line that leads there."""
    middles = [(stripe.start + stripe.end) / 2 * length for stripe in stripes]
    pitch = margin.size * _PITCH / margin.rows
    for number, (stripe, middle, at) in enumerate(
        zip(stripes, middles, spread(middles, pitch, -_BEYOND, length + _BEYOND), strict=True)
    ):
        colour = _DOUBT if stripe.doubtful else INK
        near = _GAP + _BAR + _FAN + number % margin.rows * margin.row
        lead = _DOUBT if stripe.doubtful else LINE
        side.line((middle, _GAP + _BAR), (at, _GAP + _BAR + _FAN - 3), lead, 0.5)
        side.line((at, _GAP + _BAR + _FAN - 3), (at, near - 1.5), lead, 0.5)
        x, y = side.point(at, near)
        down = 0.36 * margin.size  # so that the letters lie about the line
        where = (x + down, y) if side.upright else (x, y + down)
        align = "left" if side.upright else "right"
        side.sheet.text(
            *where, stripe.label, _style(stripe), margin.size, colour, align, turned=side.upright
        )


def spread(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Places from `low` to `high`, `apart` or more from each other, as near as can be to `wanted`.

    The least sum of squares, by pooling neighbours that would stand too close. Wanted places come
    in order, and there is room for all.
    """
    pools: list[tuple[float, int]] = []  # mean of the places less what the labels before take
    for number, at in enumerate(wanted):
        mean, count = at - number * apart, 1
        while pools and pools[-1][0] > mean:
            before, many = pools.pop()
            mean, count = (before * many + mean * count) / (many + count), many + count
        pools.append((mean, count))
    most = high - (len(wanted) - 1) * apart
    free = [min(max(mean, low), most) for mean, count in pools for _ in range(count)]
    return [at + number * apart for number, at in enumerate(free)]
