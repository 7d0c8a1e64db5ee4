"""The printable scale card as a list of shapes in millimetres: the one source of all drawings.

Card coordinates are (x, y) in mm from the top left corner of the card, x right and y down.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

CARD_WIDTH = 150.0
CARD_HEIGHT = 100.0
DICTIONARY = cv2.aruco.DICT_5X5_50  # eight bits between any two marks: cloth won't imitate one
CELLS = 7  # five data cells and a black border on both sides
MARK_SIDE = 17.5  # mm: cells of 2.5 mm, still 5 px where 1 mm has 2 px
INCH = 25.4

# Left top corner of each mark by its number in the dictionary. Around each is white paper of at
# least one cell, as the detector asks.
MARKS: dict[int, tuple[float, float]] = {
    0: (6.0, 14.0),
    1: (126.5, 14.0),
    2: (6.0, 68.5),
    3: (126.5, 68.5),
}

# sRGB codes of the grey row, light to dark, about even steps to the eye; none so dark that a
# printer's glossy black or so light that bare paper would do.
GREYS = (235, 200, 165, 130, 95, 60)
_GREY_BOX = (6.0, 40.0, 22.0, 20.0)  # left, top, width, height of the first patch
_GREY_STEP = 23.2


@dataclass(frozen=True, slots=True)
class Box:
    """A filled upright rectangle; `grey` is an sRGB code, 0 black to 255 white."""

    x: float
    y: float
    width: float
    height: float
    grey: int = 0


@dataclass(frozen=True, slots=True)
class Label:
    """A line of text, its baseline's middle at (x, y); `size` is the type size in mm."""

    x: float
    y: float
    text: str
    size: float = 2.6


@cache
def shapes() -> tuple[Box | Label, ...]:
    """Everything on the card, in the order in which it is painted on white paper."""
    return (*_frame(), *_marks(), *_greys(), *_millimetres(), *_inches(), *_words())


def mark_corners(number: int) -> NDArray[np.float64]:
    """(4, 2) mm: left top, right top, right bottom, left bottom of a mark's black square."""
    x, y = MARKS[number]
    side = MARK_SIDE
    return np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]])


def grey_boxes() -> tuple[Box, ...]:
    """The patches of the grey row, light to dark."""
    x, y, width, height = _GREY_BOX
    return tuple(Box(x + i * _GREY_STEP, y, width, height, g) for i, g in enumerate(GREYS))


def outline() -> NDArray[np.float64]:
    """(4, 2) mm: the corners of the card, clockwise from the left top."""
    return np.array([[0, 0], [CARD_WIDTH, 0], [CARD_WIDTH, CARD_HEIGHT], [0, CARD_HEIGHT]])


def _frame() -> list[Box]:
    """A hairline along which to cut."""
    line = 0.15
    return [
        Box(0, 0, CARD_WIDTH, line, 120),
        Box(0, CARD_HEIGHT - line, CARD_WIDTH, line, 120),
        Box(0, 0, line, CARD_HEIGHT, 120),
        Box(CARD_WIDTH - line, 0, line, CARD_HEIGHT, 120),
    ]


def _marks() -> list[Box]:
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    cell = MARK_SIDE / CELLS
    boxes = []
    for number, (x, y) in MARKS.items():
        boxes.append(Box(x, y, MARK_SIDE, MARK_SIDE, 0))
        bits = cv2.aruco.generateImageMarker(dictionary, number, CELLS)
        for row, column in np.argwhere(np.asarray(bits) > 0).tolist():
            boxes.append(Box(x + column * cell, y + row * cell, cell, cell, 255))
    return boxes


def _greys() -> list[Box | Label]:
    drawn: list[Box | Label] = []
    for box in grey_boxes():
        drawn.append(box)
        drawn.append(
            Label(box.x + box.width / 2, box.y + box.height + 3.4, f"sRGB {box.grey}", 2.4)
        )
    return drawn


def _tick(x: float, length: float, from_top: bool, width: float = 0.2) -> Box:
    y = 0.0 if from_top else CARD_HEIGHT - length
    return Box(x - width / 2, y, width, length)


def _millimetres() -> list[Box | Label]:
    """0 to 140 mm along the upper edge."""
    drawn: list[Box | Label] = []
    for mm in range(141):
        length = 6.0 if mm % 10 == 0 else 4.5 if mm % 5 == 0 else 3.0
        drawn.append(_tick(5 + mm, length, from_top=True))
        if mm % 10 == 0:
            drawn.append(Label(5 + mm, 9.0, str(mm) if mm else "0 mm"))
    return drawn


def _inches() -> list[Box | Label]:
    """0 to 5 1/2 inches in sixteenths along the lower edge."""
    lengths = {16: 7.0, 8: 5.5, 4: 4.5, 2: 3.5, 1: 2.5}
    drawn: list[Box | Label] = []
    for sixteenth in range(89):
        step = next(s for s in lengths if sixteenth % s == 0)
        x = 5 + sixteenth * INCH / 16
        drawn.append(_tick(x, lengths[step], from_top=False))
        if step == 16:
            inch = sixteenth // 16
            drawn.append(Label(x, CARD_HEIGHT - 8.2, str(inch) if inch else "0 in"))
    return drawn


def _words() -> list[Label]:
    middle = CARD_WIDTH / 2
    return [
        Label(middle, 20.0, "Scale and grey card", 5.0),
        Label(middle, 26.0, "Lay it flat on the cloth, all four marks in the picture.", 2.9),
        Label(middle, 30.2, "Printed at 100 %? The scale above must be 140 mm long.", 2.9),
        Label(middle, 76.0, "Greys are sRGB codes; paper and ink change them a little.", 2.6),
        Label(middle, 80.0, "They serve to balance the light, not to match dyes.", 2.6),
    ]
