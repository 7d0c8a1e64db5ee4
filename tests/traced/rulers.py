"""Rulers as things: how they look, and their bodies with bevels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SANS, BOLD = "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"
NARROW, SERIF = "DejaVuSansCondensed.ttf", "DejaVuSerif.ttf"


@dataclass(frozen=True)
class Design:
    """How a ruler looks.

    Attributes:
        length, width: in mm.
        profile: (share of the width, height in mm) of its upper side, from the first edge.
        upper, lower: units along the first and the second edge: mm, half (cm and half cm only),
            in16, in8, or None.
        ink, ground: sRGB 0..255.
        material: plastic, steel, wood or paper.
        mm: lengths of the ticks at 1, 5 and 10 mm, in mm.
        stroke: width of the ticks in mm.
        font: typeface of the numerals.
        text: their height in mm.
        gap: from the longest tick to the numerals, in mm.
        per: what each cm is written as (1, or 10 for mm).
        margin: blank before the zero in mm.
        line: whether a line runs along the ends of the short ticks.
        brass: width of a brass edge in mm.
        maker: words on it.
    """

    length: float = 200.0
    width: float = 30.0
    profile: tuple = ((0, 0.7), (0.35, 2.2), (1, 2.2))
    upper: str | None = "mm"
    lower: str | None = None
    ink: tuple = (25, 25, 25)
    ground: tuple = (235, 235, 230)
    material: str = "plastic"
    mm: tuple = (3.5, 5.0, 7.0)
    stroke: float = 0.18
    font: str = SANS
    text: float = 3.2
    gap: float = 1.0
    per: int = 1
    margin: float = 5.0
    line: bool = False
    brass: float = 0.0
    maker: str = ""


DESIGNS = {
    "plastic": Design(lower="in16", maker="RULE No. 7"),
    "plastic_plain": Design(
        width=32,
        length=160,
        ground=(246, 246, 243),
        ink=(10, 10, 12),
        upper="mm",
        lower=None,
        mm=(4, 5.5, 7.5),
        font=NARROW,
        text=4.0,
    ),
    "steel": Design(
        length=160,
        width=25,
        profile=((0, 0.6), (1, 0.6)),
        upper="mm",
        lower="in16",
        material="steel",
        ground=(190, 190, 188),
        ink=(20, 20, 20),
        mm=(3, 4.2, 5.5),
        text=2.2,
        stroke=0.12,
        margin=0.0,
        gap=0.5,
    ),
    "steel_long": Design(
        length=310,
        width=30,
        profile=((0, 1.0), (1, 1.0)),
        upper="mm",
        lower="half",
        material="steel",
        ground=(190, 190, 188),
        ink=(15, 15, 15),
        mm=(4, 6, 8),
        text=3,
        stroke=0.16,
        margin=5.0,
        per=10,
    ),
    "wood": Design(
        length=310,
        width=28,
        profile=((0, 1.2), (0.3, 4.0), (1, 4.0)),
        upper="mm",
        lower=None,
        material="wood",
        ground=(214, 172, 112),
        ink=(30, 22, 15),
        mm=(3.5, 5.5, 7.5),
        font=SERIF,
        text=4,
        stroke=0.22,
        margin=6,
        brass=1.2,
    ),
    "wood_school": Design(
        length=330,
        width=30,
        profile=((0, 1.0), (0.35, 5.0), (1, 5.0)),
        upper="half",
        lower=None,
        material="wood",
        ground=(222, 190, 135),
        ink=(40, 30, 20),
        mm=(3.0, 4.5, 8),
        font=BOLD,
        text=4.5,
        stroke=0.3,
        margin=8,
    ),
    "inch": Design(
        length=308,
        width=28,
        profile=((0, 1.0), (0.3, 2.5), (1, 2.5)),
        upper="in16",
        lower=None,
        material="wood",
        ground=(228, 196, 140),
        ink=(20, 15, 12),
        font=BOLD,
        text=5,
        stroke=0.22,
        margin=3,
    ),
    "inch_yellow": Design(
        length=310,
        width=32,
        profile=((0, 0.8), (1, 0.8)),
        upper="in16",
        lower="in8",
        ground=(240, 205, 60),
        ink=(10, 10, 10),
        font=BOLD,
        text=4.5,
        stroke=0.25,
        margin=2,
    ),
    "tape": Design(
        length=420,
        width=16,
        profile=((0, 0.35), (1, 0.35)),
        upper="mm",
        lower=None,
        ground=(238, 222, 150),
        ink=(25, 20, 20),
        material="paper",
        mm=(3, 5, 7.5),
        font=BOLD,
        text=4.2,
        stroke=0.25,
        margin=4,
        gap=0.8,
    ),
    "tape_white": Design(
        length=600,
        width=19,
        profile=((0, 0.4), (1, 0.4)),
        upper="mm",
        lower="mm",
        ground=(236, 234, 228),
        ink=(150, 25, 30),
        material="paper",
        mm=(3, 4.5, 6),
        font=SANS,
        text=3.6,
        stroke=0.25,
        margin=6,
        gap=0.6,
        line=True,
    ),
    "black": Design(
        length=160,
        width=26,
        profile=((0, 0.8), (0.3, 2.0), (1, 2.0)),
        upper="mm",
        lower="in16",
        ground=(28, 28, 30),
        ink=(235, 235, 230),
        mm=(3, 4.5, 6.0),
        text=3.2,
        stroke=0.2,
    ),
    "set_square": Design(
        length=120,
        width=36,
        profile=((0, 0.6), (0.25, 1.8), (1, 1.8)),
        upper="mm",
        ground=(225, 232, 236),
        ink=(200, 30, 30),
        mm=(3, 4, 5),
        text=2.8,
        stroke=0.14,
        margin=8,
    ),
}


def prism(design: Design, at: np.ndarray, angle: float, z: float):
    """Its body: (points in mm, faces, uv).

    The rest of the ruler lies to the right of its first edge, as a picture hangs below its upper.

    Args:
        design: of the ruler.
        at: x, y in mm where its first edge begins.
        angle: that the edge runs along, in radians.
        z: height of its underside in mm.
    """
    way = np.array([np.cos(angle), np.sin(angle), 0])
    side = np.array([np.sin(angle), -np.cos(angle), 0])
    cut = [(0.0, 0.0), *design.profile, (1.0, 0.0)]
    points, uv, faces = [], [], []
    for share, high in cut:
        across = np.r_[at, z] + side * share * design.width
        for end in (0, 1):
            points.append(across + way * end * design.length + [0, 0, high])
            uv.append((end, share))
    for k in range(len(cut) - 1):
        a = 2 * k
        faces += [(a, a + 2, a + 1), (a + 1, a + 2, a + 3)]
    for k in range(1, len(cut) - 1):  # the two ends
        faces += [(0, 2 * k, 2 * k + 2), (1, 2 * k + 3, 2 * k + 1)]
    return np.array(points), np.array(faces), np.array(uv)
