"""The margin beside the cloth for one axis: a bar per stripe, its count, doubts and pivots.

Everything is laid out "along" the axis and "away" from the cloth, and turned into picture
positions at the end, so that columns (margin above) and rows (margin at the left) are one code.
"""

from __future__ import annotations

from dataclasses import dataclass

from settscan.cloth.model import SequenceKind, Yarn
from settscan.photo.draw import Colour, Line, Mark, Point, Shape, Text, capital_height, text_width
from settscan.reading.labels import Placed, Wanted, place
from settscan.reading.model import AxisRead, BandSeen, StripeRead

INK: Colour = (38, 38, 42)
FAINT: Colour = (150, 148, 144)
DOUBT: Colour = (196, 44, 18)
PAPER: Colour = (250, 248, 243)

SURE = 0.9  # a chance below this is marked, as is every interval of more than one count

_GAP = 6.0  # from the cloth to the bars
_BAR = 24.0
_FAN = 26.0  # where leaders run slanting from stripe to label
_REPEAT = 34.0
_MOST_MOVED = 26.0  # a label farther from its stripe is hard to follow
_TRIES = ((16.0, 1), (14.0, 1), (14.0, 2), (12.0, 1), (12.0, 2), (10.0, 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """Where the margin of an axis lies in the picture.

    Attributes:
        is_columns: above the cloth; otherwise at its left.
        left, top: of the cloth in the picture.
        factor: picture pixels per flat pixel.
        length: of the cloth along the axis, picture pixels.
    """

    is_columns: bool
    left: float
    top: float
    factor: float
    length: float

    def point(self, along: float, away: float) -> Point:
        """Picture position of a place beside the cloth."""
        if self.is_columns:
            return (self.left + along, self.top - away)
        return (self.left - away, self.top + along)

    def along(self, flat_px: float) -> float:
        """Picture pixels along the axis of a flat position (0 is the middle of a pixel)."""
        return (flat_px + 0.5) * self.factor - 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """The text of a stripe, and how it is set."""

    stripe: int
    text: str
    doubtful: bool
    upright: bool  # runs along the picture's x axis
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """All labels of an axis with their places, and how far the margin reaches.

    `left_out` labels had no room.
    """

    labels: tuple[Label, ...]
    places: tuple[Placed, ...]
    size: float
    level_away: tuple[float, ...]
    reach: float
    left_out: int


def is_doubtful(stripe: StripeRead) -> bool:
    """Whether a whole stripe's count is to be checked by hand (a cut one always is)."""
    return not stripe.cut and (stripe.low != stripe.high or stripe.chance < SURE)


def label_of(stripe: StripeRead) -> str:
    """Such as "B12"; "B12? 11-13" or "B12? 71 %" if doubtful; "B5+" if cut off."""
    text = f"{stripe.yarn}{stripe.threads}"
    if stripe.cut:
        return text + "+"
    if not is_doubtful(stripe):
        return text
    if stripe.low != stripe.high:
        return f"{text}? {stripe.low}-{stripe.high}"
    return f"{text}? {100 * stripe.chance:.0f} %"


def lay_out(axis: AxisRead, side: Side) -> Layout:
    """Choose the largest type whose labels stay near their stripes; leave out what cannot fit."""
    shown = list(range(len(axis.stripes)))
    best: Layout | None = None
    while best is None and shown:
        best = _first_fit(axis, side, shown)
        if best is None:
            shown = _fewer(axis, shown)
    if best is None:
        return Layout(
            labels=(),
            places=(),
            size=_TRIES[0][0],
            level_away=(),
            reach=_GAP + _BAR,
            left_out=len(axis.stripes),
        )
    return best


def _fewer(axis: AxisRead, shown: list[int]) -> list[int]:
    """About an eighth fewer labels, evenly: plain ones first, then those of doubtful stripes."""
    plain = [k for k in shown if not is_doubtful(axis.stripes[k])]
    out = set((plain or shown)[7::8] or (plain or shown)[-1:])
    return [k for k in shown if k not in out]


def _first_fit(axis: AxisRead, side: Side, shown: list[int]) -> Layout | None:
    """The first of the tries in which no label moves far, else the smallest that fits."""
    fits: Layout | None = None
    for size, levels in _TRIES:
        labels = tuple(_label(axis.stripes[k], k, side, size) for k in shown)
        wanted = [_wanted(label, axis, side, size) for label in labels]
        places = place(wanted, -24.0, side.length + 24.0, levels)
        if places is None:
            continue
        away = _levels_away(labels, places, side, size)
        fits = Layout(
            labels=labels,
            places=places,
            size=size,
            level_away=away[:-1],
            reach=away[-1] + _REPEAT,
            left_out=len(axis.stripes) - len(shown),
        )
        if max(abs(p.at - w.at) for p, w in zip(places, wanted, strict=True)) <= _MOST_MOVED:
            break
    return fits


def _label(stripe: StripeRead, index: int, side: Side, size: float) -> Label:
    text, doubtful = label_of(stripe), is_doubtful(stripe)
    width = text_width(text, size, strong=doubtful)
    room = side.factor * (stripe.end_px - stripe.start_px)
    return Label(
        stripe=index,
        text=text,
        doubtful=doubtful,
        upright=not side.is_columns or width + 6 <= room,
        width=width,
    )


def _wanted(label: Label, axis: AxisRead, side: Side, size: float) -> Wanted:
    stripe = axis.stripes[label.stripe]
    across = label.width + 8 if side.is_columns and label.upright else capital_height(size) + 2
    return Wanted(
        at=side.along((stripe.start_px + stripe.end_px) / 2),
        room=across,
        crowded=not (side.is_columns and label.upright),
    )


def _levels_away(
    labels: tuple[Label, ...], places: tuple[Placed, ...], side: Side, size: float
) -> tuple[float, ...]:
    """How far from the cloth each level of labels begins, and where the last one ends."""
    away = [_GAP + _BAR + _FAN]
    for level in range(max(p.level for p in places) + 1):
        deep = [
            capital_height(size) if side.is_columns and label.upright else label.width
            for label, p in zip(labels, places, strict=True)
            if p.level == level
        ]
        away.append(away[-1] + max(deep) + 8)
    return tuple(away)


def margin_marks(axis: AxisRead, side: Side, layout: Layout, yarns: tuple[Yarn, ...]) -> list[Mark]:
    """Bars, labels with leaders, and the repeat's pivots."""
    colours = {yarn.key: rgb(yarn.colour) for yarn in yarns}
    marks: list[Mark] = []
    for band in axis.stripes or axis.bands:
        marks += _bar(band, side, colours[band.yarn])
    for label, at in zip(layout.labels, layout.places, strict=True):
        marks += _label_marks(axis.stripes[label.stripe], label, at, side, layout)
    if axis.stripes:
        marks += _repeat_marks(axis, side, layout.reach - _REPEAT + 4)
    return marks


def rgb(colour: str) -> Colour:
    """The three numbers of "#rrggbb"."""
    return (int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16))


def _bar(band: StripeRead | BandSeen, side: Side, colour: Colour) -> list[Mark]:
    """The swatch of a stripe: rimmed where there is room, heavy if doubtful, torn if cut."""
    start, end = side.along(band.start_px), side.along(band.end_px)
    corners = _rectangle(side, start, end, _GAP, _GAP + _BAR)
    marks: list[Mark] = [Shape(points=corners, colour=colour)]
    doubtful = isinstance(band, StripeRead) and is_doubtful(band)
    if doubtful:
        heavy = _rectangle(side, start, end, _GAP + _BAR, _GAP + _BAR + 6)
        marks.append(Shape(points=heavy, colour=DOUBT))
    if end - start >= 5:
        rim = DOUBT if doubtful else INK
        marks.append(Line(points=(*corners, corners[0]), colour=rim, width=2 if doubtful else 1))
    if isinstance(band, StripeRead) and band.cut:
        marks += _torn(side, start, end)
    return marks


def _rectangle(
    side: Side, start: float, end: float, near: float, far: float
) -> tuple[Point, Point, Point, Point]:
    return (
        side.point(start, near),
        side.point(end, near),
        side.point(end, far),
        side.point(start, far),
    )


def _torn(side: Side, start: float, end: float) -> list[Mark]:
    """A zigzag like torn paper, on the outer end of a bar that the frame cuts off."""
    outer = start if start < side.length - end else end
    turn = -1.0 if outer == start else 1.0
    depth = 5.0
    zigzag = [
        side.point(outer - turn * (depth if k % 2 else 0.0), _GAP + k * _BAR / 6) for k in range(7)
    ]
    beyond = (
        side.point(outer + turn * 4, _GAP + _BAR + 1),
        side.point(outer + turn * 4, _GAP - 1),
    )
    return [
        Shape(points=(*zigzag, *beyond), colour=PAPER),
        Line(points=tuple(zigzag), colour=INK, width=2),
    ]


def _label_marks(
    stripe: StripeRead, label: Label, at: Placed, side: Side, layout: Layout
) -> list[Mark]:
    """A label, and the leader that ties it to its bar."""
    colour = DOUBT if label.doubtful else INK
    middle = side.along((stripe.start_px + stripe.end_px) / 2)
    foot = _GAP + _BAR + (6 if label.doubtful else 0)
    away = layout.level_away[at.level]
    turned = side.is_columns and not label.upright
    leader = (
        side.point(middle, foot + 2),
        side.point(at.at, _GAP + _BAR + _FAN - 6),
        side.point(at.at, away - 3),
    )
    anchor = ("mb" if label.upright else "lm") if side.is_columns else "rm"
    return [
        Line(
            points=leader,
            colour=DOUBT if label.doubtful else FAINT,
            width=2 if label.doubtful else 1,
        ),
        Text(
            at=side.point(at.at, away),
            text=label.text,
            colour=colour,
            size=layout.size,
            anchor=anchor,
            angle=90.0 if turned else 0.0,
            strong=label.doubtful,
        ),
    ]


def _repeat_marks(axis: AxisRead, side: Side, away: float) -> list[Mark]:
    """Brackets over the repeats: from pivot to pivot, or from start to start."""
    repeat = axis.repeat
    if repeat.kind is SequenceKind.PARTIAL or not repeat.members:
        return []
    if repeat.kind is SequenceKind.SYMMETRIC:
        return _pivot_marks(axis, side, away)
    starts = [side.along(axis.stripes[k].start_px) for k in sorted(repeat.members[0])]
    marks: list[Mark] = []
    for start, end in zip(starts[:-1], starts[1:], strict=True):
        marks += _bracket(side, start, end, away, f"repeat {repeat.threads}")
    return marks


def _pivot_marks(axis: AxisRead, side: Side, away: float) -> list[Mark]:
    """A slash at each pivot, and a bracket for each half that lies between two of them."""
    members = axis.repeat.members
    first, last = set(members[0]), set(members[-1])
    pivots = sorted(first | last)
    written = [axis.repeat.sequence.stripes[0 if k in first else -1].threads for k in pivots]
    turns = [side.along(_turn(axis, k, n)) for k, n in zip(pivots, written, strict=True)]
    marks: list[Mark] = []
    for k in range(len(pivots) - 1):
        if (pivots[k] in first) != (pivots[k + 1] in first):
            marks += _bracket(side, turns[k], turns[k + 1], away, "half the repeat")
    for at, threads in zip(turns, written, strict=True):
        marks += _pivot(side, at, away, f"/{threads}")
    return marks


def _turn(axis: AxisRead, number: int, threads: int) -> float:
    """Where a pivot of so many threads turns, in flat pixels: its middle.

    Of one that the cloth's own edge halves that is the edge.
    """
    stripe = axis.stripes[number]
    halved = not stripe.cut and abs(2 * stripe.threads - threads) <= 1
    if halved and number == 0:
        return stripe.start_px
    if halved and number == len(axis.stripes) - 1:
        return stripe.end_px
    return (stripe.start_px + stripe.end_px) / 2


def _bracket(side: Side, start: float, end: float, away: float, text: str) -> list[Mark]:
    """A line with feet towards the cloth, and a text on it where it fits."""
    points = (
        side.point(start + 2, away),
        side.point(start + 2, away + 8),
        side.point(end - 2, away + 8),
        side.point(end - 2, away),
    )
    marks: list[Mark] = [Line(points=points, colour=INK)]
    if text_width(text, 13.0) + 30 <= end - start:
        marks.append(
            Text(
                at=side.point((start + end) / 2, away + 13),
                text=text,
                colour=INK,
                size=13.0,
                anchor="mb",
                angle=0.0 if side.is_columns else 90.0,
            )
        )
    return marks


def _pivot(side: Side, at: float, away: float, text: str) -> list[Mark]:
    """A triangle that points at the pivot stripe, with the sign of a pivot: a slash."""
    tip = (side.point(at, away - 3), side.point(at - 6, away + 9), side.point(at + 6, away + 9))
    return [
        Shape(points=tip, colour=INK),
        Text(
            at=side.point(at, away + 13),
            text=text,
            colour=INK,
            size=14.0,
            anchor="mb",
            angle=0.0 if side.is_columns else 90.0,
            strong=True,
        ),
    ]
