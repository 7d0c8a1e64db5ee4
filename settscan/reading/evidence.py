"""What the reader saw, drawn over the straightened cloth, for a person to check.

The cloth in the middle with the edges of its stripes; above it and at its left every stripe
with yarn and count; below, the photo, the misfit, the yarns and what is in doubt.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from settscan.photo.draw import (
    Line,
    Mark,
    Picture,
    Text,
    draw,
    flat_picture,
    hatching,
)
from settscan.photo.flat import CardFound, FlatCloth, Mask, Photo, RulerFound
from settscan.reading.margins import (
    DOUBT,
    FAINT,
    INK,
    PAPER,
    Layout,
    Side,
    is_doubtful,
    lay_out,
    margin_marks,
)
from settscan.reading.misfit import Misfit, misfit_of
from settscan.reading.model import AxisRead, ClothRead
from settscan.reading.panels import (
    heading,
    misfit_key,
    misfit_panel,
    photo_panel,
    shaded,
    word_marks,
    words_of,
    yarn_marks,
)

_LONGEST_PX = 1800
_MOST_PX = 2600  # for cloths of hundreds of stripes, whose labels need the room
_STRIPE_PX = 7.0  # what a stripe's label takes at least, on average
_ENLARGE = 4.0  # a small picture gets room for its labels
_ROOM = 36  # about everything
_TITLE = 98
_STRIP = 14  # misfit along the right and lower edge of the cloth
_PANEL = 460  # longest side of the small pictures
_YARNS = 280  # width of the list of yarns
_WORDS = 440  # least width for sentences beside the pictures

_Part = tuple[Picture, int, int]  # a picture, and its left and top on the page


@dataclass(frozen=True, slots=True, kw_only=True)
class _Page:
    """The parts of the picture and where the cloth lies on it."""

    cloth: Picture
    left: int
    top: int
    columns: tuple[AxisRead, Side, Layout]
    rows: tuple[AxisRead, Side, Layout]

    @property
    def below(self) -> int:
        """Where the panels begin."""
        return self.top + int(self.cloth.shape[0]) + _STRIP + 40

    @property
    def width(self) -> int:
        return max(self.left + int(self.cloth.shape[1]) + _STRIP + 12 + _ROOM, 1200)


def evidence_png(
    photo: Photo,
    flat: FlatCloth,
    read: ClothRead,
    *,
    rulers: tuple[RulerFound, ...],
    card: CardFound | None,
    warp_is_columns: bool,
) -> bytes:
    """PNG of the straightened cloth with all that was read on it.

    Args:
        photo: the photo.
        flat: the straightened cloth.
        read: what was read from it.
        rulers: those found in the photo.
        card: the scale card, if found.
        warp_is_columns: whether the warp runs up and down in the photo.
    """
    page = _page(flat, read)
    misfit = misfit_of(flat, read)
    seen = photo_panel(photo, _outline(flat, read), _PANEL, rulers=rulers, card=card)
    pasted: list[_Part] = [(page.cloth, page.left, page.top)]
    marks = [*_title(page, photo, read, warp_is_columns), *_cloth_marks(page, read)]
    panels, words, bottom = _panels(page, flat, read, misfit, seen, warp_is_columns)
    pasted += panels
    marks += words
    if misfit is not None:
        pasted += _strips(page, misfit)
    canvas = np.full((round(bottom) + _ROOM, page.width, 3), PAPER, dtype=np.uint8)
    for part, left, top in pasted:
        canvas[top : top + part.shape[0], left : left + part.shape[1]] = part
    return draw(canvas, marks)


def _page(flat: FlatCloth, read: ClothRead) -> _Page:
    """Lay the cloth and its margins out."""
    longest = max(flat.pixels.shape[:2])
    crowd = max(
        len(axis.stripes) * _STRIPE_PX * longest / length
        for axis, length in zip((read.rows, read.columns), flat.pixels.shape[:2], strict=True)
    )
    cloth = flat_picture(flat, round(min(max(crowd, _LONGEST_PX), _MOST_PX)), _ENLARGE)
    height, width = cloth.shape[:2]
    factors = (width / flat.pixels.shape[1], height / flat.pixels.shape[0])
    sides = [
        Side(is_columns=True, left=0, top=0, factor=factors[0], length=width),
        Side(is_columns=False, left=0, top=0, factor=factors[1], length=height),
    ]
    layouts = [
        lay_out(axis, side) for axis, side in zip((read.columns, read.rows), sides, strict=True)
    ]
    left, top = round(_ROOM + layouts[1].reach), round(_ROOM + _TITLE + layouts[0].reach)
    placed = [
        Side(is_columns=s.is_columns, left=left, top=top, factor=s.factor, length=s.length)
        for s in sides
    ]
    return _Page(
        cloth=_with_hatching(cloth, flat.opened() & _spanned(flat, read)),
        left=left,
        top=top,
        columns=(read.columns, placed[0], layouts[0]),
        rows=(read.rows, placed[1], layouts[1]),
    )


def _spans(flat: FlatCloth, read: ClothRead) -> tuple[tuple[float, float], tuple[float, float]]:
    """From where to where bands lie along x and y; all of an axis without any."""
    low_high = []
    for axis, length in zip((read.columns, read.rows), flat.pixels.shape[1::-1], strict=True):
        low = min((band.start_px for band in axis.bands), default=-0.5)
        high = max((band.end_px for band in axis.bands), default=length - 0.5)
        low_high.append((max(low, -0.5), min(high, length - 0.5)))
    return low_high[0], low_high[1]


def _spanned(flat: FlatCloth, read: ClothRead) -> Mask:
    """True where bands of both axes lie; an axis without any says nothing."""
    height, width = flat.pixels.shape[:2]
    across, down = (
        (np.arange(length) > low - 0.5) & (np.arange(length) < high + 0.5)
        for length, (low, high) in zip((width, height), _spans(flat, read), strict=True)
    )
    return np.asarray(np.logical_and.outer(down, across))


def _outline(flat: FlatCloth, read: ClothRead) -> NDArray[np.float64]:
    """(N, 2) photo pixels all round what was read, closed."""
    (left, right), (top, bottom) = _spans(flat, read)
    corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom], [left, top]])
    steps = np.linspace(0, 1, 33)[:-1, None]
    sides = [a + (b - a) * steps for a, b in pairwise(corners)]
    return flat.photo_points(np.concatenate([*sides, corners[-1:]]))


def _with_hatching(cloth: Picture, mask: Mask) -> Picture:
    """The cloth with what was not read paled and hatched."""
    height, width = cloth.shape[:2]
    rows = np.arange(height) * mask.shape[0] // height
    columns = np.arange(width) * mask.shape[1] // width
    unread = ~mask[rows][:, columns]
    result = cloth.copy()
    result[unread] = cloth[unread] // 2 + 112
    strokes = hatching(height, width, 12, 2) & unread
    result[strokes] = (96, 96, 100)
    return result


def _title(page: _Page, photo: Photo, read: ClothRead, warp_is_columns: bool) -> list[Mark]:
    warp, weft = ("columns", "rows") if warp_is_columns else ("rows", "columns")
    weave = read.weave.name
    if read.weave.twill_direction:
        weave += f" {read.weave.twill_direction}"
    if weave != "unknown":
        weave += f" ({100 * read.weave.confidence:.0f} %)"
    told = f"Warp = {warp}, weft = {weft}, weave: {weave}."
    key = (
        "Letter = yarn, number = threads.  B12? 11-13 = to be checked, likely 11 to 13."
        "  B5+ = cut off by the frame.  /12 = pivot.  Hatched = not read."
    )
    return [
        Text(
            at=(_ROOM, _ROOM),
            text=f"What the reader saw in {photo.file}",
            colour=INK,
            size=26.0,
            anchor="lt",
            strong=True,
        ),
        Text(at=(_ROOM, _ROOM + 40), text=key, colour=INK, size=15.0, anchor="lt"),
        Text(at=(_ROOM, _ROOM + 62), text=told, colour=INK, size=15.0, anchor="lt"),
    ]


def _cloth_marks(page: _Page, read: ClothRead) -> list[Mark]:
    """Both margins, and the lattice of edges on the cloth."""
    height, width = page.cloth.shape[:2]
    marks: list[Mark] = []
    for (axis, side, layout), across in ((page.columns, height), (page.rows, width)):
        marks += _lattice(axis, side, across)
        marks += margin_marks(axis, side, layout, read.yarns)
    return marks


def _lattice(axis: AxisRead, side: Side, across: int) -> list[Mark]:
    """The edges of the stripes: light and dark side by side.

    About a doubtful stripe they are red, with heavy ends; thin dashes between these leave its
    threads free to be counted.
    """
    marks: list[Mark] = []
    edges = sorted({edge for band in axis.bands for edge in (band.start_px, band.end_px)})
    apart = side.length / max(len(edges), 1)
    opacity = min(0.5, 0.035 * apart)  # so that a crowd of lines leaves the cloth to be seen
    for edge in edges:
        at = side.along(edge)
        for shift, colour in ((-0.5, (255, 255, 255)), (0.5, (0, 0, 0))):
            ends = (side.point(at + shift, 0), side.point(at + shift, 1 - across))
            marks.append(Line(points=ends, colour=colour, opacity=opacity))
    for stripe in filter(is_doubtful, axis.stripes):
        heavy = 3 if side.along(stripe.end_px) - side.along(stripe.start_px) > 10 else 2
        for edge in (stripe.start_px, stripe.end_px):
            at = side.along(edge)
            ends = (side.point(at, 0), side.point(at, 1 - across))
            marks.append(Line(points=ends, colour=DOUBT, dash=6))
            for outer, inner in ((5.0, -14.0), (-across - 4.0, 15.0 - across)):
                cap = (side.point(at, outer), side.point(at, inner))
                marks.append(Line(points=cap, colour=DOUBT, width=heavy))
    return marks


def _strips(page: _Page, misfit: Misfit) -> list[_Part]:
    """The misfit of each column below the cloth, and of each row at its right."""
    height, width = page.cloth.shape[:2]
    columns = misfit.columns[np.arange(width) * len(misfit.columns) // width]
    rows = misfit.rows[np.arange(height) * len(misfit.rows) // height]
    below = np.repeat(shaded(columns)[None], _STRIP, axis=0)
    beside = np.repeat(shaded(rows)[:, None], _STRIP, axis=1)
    return [
        (below, page.left, page.top + height + 6),
        (beside, page.left + width + 6, page.top),
    ]


def _panels(
    page: _Page,
    flat: FlatCloth,
    read: ClothRead,
    misfit: Misfit | None,
    seen: Picture,
    warp_is_columns: bool,
) -> tuple[list[_Part], list[Mark], float]:
    """Pictures and words below the cloth, and where they end."""
    top, left = page.below, _ROOM
    under = top + 30
    parts: list[_Part] = [(seen, left, under)]
    marks: list[Mark] = [heading(left, top, "The photo, and what was read")]
    bottom = float(under + seen.shape[0])
    left += max(int(seen.shape[1]), 350) + 40
    if misfit is not None:
        panel = _misfit_picture(misfit, flat)
        parts.append((panel, left, under))
        marks.append(heading(left, top, "Misfit: a dark line means a wrong stripe"))
        marks += misfit_key(left, under + panel.shape[0] + 10)
        bottom = max(bottom, under + panel.shape[0] + 30.0)
        left += max(int(panel.shape[1]), 430) + 40
    marks.append(heading(left, top, "Yarns"))
    yarns, end = yarn_marks(read, left, under)
    bottom = max(bottom, end)
    left += _YARNS
    if page.width - left < _WORDS:
        left, top = _ROOM, round(bottom) + 24
    marks.append(heading(left, top, "What was read, and what to check"))
    left_out = page.columns[2].left_out + page.rows[2].left_out
    lines = words_of(flat, read, left_out, warp_is_columns=warp_is_columns)
    words, last = word_marks(lines, left, top + 30, page.width - left - _ROOM)
    rule = Line(
        points=((_ROOM, page.below - 14), (page.width - _ROOM, page.below - 14)), colour=FAINT
    )
    return parts, [rule, *marks, *yarns, *words], max(bottom, last)


def _misfit_picture(misfit: Misfit, flat: FlatCloth) -> Picture:
    height, width = flat.pixels.shape[:2]
    factor = _PANEL / max(height, width)
    return misfit_panel(misfit, max(1, round(width * factor)), max(1, round(height * factor)))
