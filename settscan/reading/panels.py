"""The strip below the cloth: the photo with what was found in it, the misfit, yarns and words."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from settscan.measured import Measured
from settscan.photo.draw import (
    Box,
    Colour,
    Dots,
    Line,
    Mark,
    Picture,
    Text,
    drawn,
    text_width,
    thumbnail,
)
from settscan.photo.flat import CardFound, FlatCloth, Photo, RulerFound, Scale
from settscan.reading.margins import DOUBT, FAINT, INK, PAPER, is_doubtful, rgb
from settscan.reading.misfit import Misfit
from settscan.reading.model import AxisRead, ClothRead

Floats = NDArray[np.float64]

_LINE = 21.0  # from one line of text to the next
_SIZE = 15.0
_HEAD = 17.0
_SEEN: Colour = (255, 214, 10)  # outlines on the photo, with a dark rim
_FULL = 0.5  # misfit, as a share of the contrast, that is drawn darkest
_RAMP = np.array([PAPER, (222, 203, 200), (186, 120, 130), (120, 46, 84), (45, 12, 48)], float)


def photo_panel(
    photo: Photo,
    cloth: Floats,
    longest: int,
    *,
    rulers: tuple[RulerFound, ...],
    card: CardFound | None,
) -> Picture:
    """The photo in small, with the outlines of the cloth (N, 2), the ruler and the card."""
    small = thumbnail(photo, longest)
    factor = small.shape[1] / photo.width

    def at(
        points: Floats,
    ) -> tuple[tuple[float, float], ...]:
        scaled = (np.asarray(points, dtype=np.float64) + 0.5) * factor - 0.5
        return tuple((float(x), float(y)) for x, y in scaled)

    marks: list[Mark] = list(_outlined(at(cloth)))
    for ruler in rulers:
        marks += _outlined(at(_closed(ruler.outline_px)))
        marks.append(Dots(points=at(ruler.ticks_px), colour=DOUBT, radius=1.3))
    if card is not None:
        marks += _outlined(at(_closed(card.outline_px)))
    return drawn(small, marks)


def _closed(
    corners: Floats,
) -> Floats:
    return np.vstack([corners, corners[:1]])


def _outlined(points: tuple[tuple[float, float], ...]) -> tuple[Line, Line]:
    """A line that shows on light and dark."""
    return (
        Line(points=points, colour=(0, 0, 0), width=4, opacity=0.6),
        Line(points=points, colour=_SEEN, width=2),
    )


def shaded(values: Floats) -> Picture:
    """Misfit as shades, pale to dark; where there is none (NaN), a middle grey."""
    share = np.clip(np.nan_to_num(values, nan=0.0) / _FULL, 0, 1) * (len(_RAMP) - 1)
    low = np.minimum(share.astype(int), len(_RAMP) - 2)
    part = (share - low)[..., None]
    colours = _RAMP[low] * (1 - part) + _RAMP[low + 1] * part
    colours[np.isnan(values)] = (205, 205, 205)
    return np.asarray(np.rint(colours), dtype=np.uint8)


def misfit_panel(misfit: Misfit, width: int, height: int) -> Picture:
    """The misfit of each place of the cloth, scaled to the given size."""
    rows = np.arange(height) * misfit.blocks.shape[0] // height
    columns = np.arange(width) * misfit.blocks.shape[1] // width
    return np.asarray(shaded(misfit.blocks)[rows][:, columns])


def misfit_key(left: float, top: float) -> list[Mark]:
    """The shades with their numbers."""
    marks: list[Mark] = []
    for k, share in enumerate(np.linspace(0, _FULL, 11)):
        colour = tuple(int(c) for c in shaded(np.array([share]))[0])
        box = left + 16 * k
        marks.append(
            Box(
                left=box,
                top=top,
                right=box + 15,
                bottom=top + 12,
                fill=(colour[0], colour[1], colour[2]),
            )
        )
    marks.append(Box(left=left, top=top, right=left + 175, bottom=top + 12, edge=FAINT))
    text = f"0 to {100 * _FULL:.0f} % of the picture's contrast, or more"
    marks.append(Text(at=(left + 186, top + 6), text=text, colour=INK, size=13.0))
    return marks


def heading(left: float, top: float, text: str) -> Text:
    """The heading of a panel."""
    return Text(at=(left, top), text=text, colour=INK, size=_HEAD, anchor="lt", strong=True)


def yarn_marks(read: ClothRead, left: float, top: float) -> tuple[list[Mark], float]:
    """The yarns with swatches, letters, names and colours; returns the marks and their end."""
    marks: list[Mark] = []
    for yarn in read.yarns:
        marks += [
            Box(
                left=left,
                top=top,
                right=left + 30,
                bottom=top + 17,
                fill=rgb(yarn.colour),
                edge=INK,
            ),
            Text(at=(left + 40, top + 9), text=yarn.key, colour=INK, size=_SIZE, strong=True),
            Text(
                at=(left + 66, top + 9), text=f"{yarn.name} {yarn.colour}", colour=INK, size=_SIZE
            ),
        ]
        top += _LINE + 3
    return marks, top


def word_marks(
    lines: tuple[tuple[str, bool], ...], left: float, top: float, width: float
) -> tuple[list[Mark], float]:
    """Paragraphs (text, whether it is a doubt) in lines no wider than `width`, and their end."""
    marks: list[Mark] = []
    for text, is_doubt in lines:
        if is_doubt:
            mark = Text(
                at=(left, top), text="?", colour=DOUBT, size=_SIZE, anchor="lt", strong=True
            )
            marks.append(mark)
        for line in wrapped(text, width - 18):
            at = (left + 18, top)
            marks.append(Text(at=at, text=line, colour=INK, size=_SIZE, anchor="lt"))
            top += _LINE
        top += 5
    return marks, top


def wrapped(text: str, width: float) -> list[str]:
    """The text in lines no wider than `width` pixels, as far as its words allow."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, _SIZE) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def words_of(
    flat: FlatCloth, read: ClothRead, left_out: int, *, warp_is_columns: bool
) -> tuple[tuple[str, bool], ...]:
    """What was read, then each doubt once, with True."""
    names = ("warp", "weft") if warp_is_columns else ("weft", "warp")
    lines = [
        (_axis_words(f"Columns ({names[0]})", read.columns), False),
        (_axis_words(f"Rows ({names[1]})", read.rows), False),
        (_scale_words(flat.scale), False),
    ]
    if left_out:
        lines.append(
            (f"{left_out} counts had no room beside the cloth; the project file has all.", True)
        )
    every = (*read.doubts, *read.columns.doubts, *read.rows.doubts)
    return (*lines, *((text, True) for text in dict.fromkeys(str(d) for d in every)))


def _axis_words(name: str, axis: AxisRead) -> str:
    """Stripes, threads, density and how they were counted."""
    if not axis.stripes:
        return f"{name}: {len(axis.bands)} stripes seen; their threads could not be counted."
    threads = sum(stripe.threads for stripe in axis.stripes)
    unsure = sum(is_doubtful(stripe) for stripe in axis.stripes)
    how = {
        "weave": "counted along the weave",
        "ripple": "counted thread by thread",
        "density": "counted from their widths with the density given",
    }.get(axis.counted_by, axis.counted_by)
    parts = [f"{len(axis.stripes)} stripes, {threads} threads seen, {how}"]
    if axis.density is not None:
        parts.append(_density_words(axis.density))
    parts.append(f"{unsure} of the counts to be checked" if unsure else "no count in doubt")
    return f"{name}: " + "; ".join(parts) + "."


def _density_words(density: Measured) -> str:
    inch = 25.4 * float(density.value)
    return f"{inch:.1f} per inch, {10 * float(density.value):.2f} per cm, finished"


def _scale_words(scale: Scale) -> str:
    if scale.relative_error is None:
        return "Scale: none, so sizes are unknown; counts need none."
    error = 100 * scale.relative_error
    return f"Scale: from {scale.source}, within {error:.1f} %; it changes sizes, not counts."
