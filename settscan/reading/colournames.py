"""Plain colour words for yarns, as a weaver would say them at the mill.

The words are common English ones; the CIELAB anchors were chosen by eye for this project (common
practice, no source). A word is used once: the second navy becomes "dark navy" or "navy 2".
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.colours import difference

Floats = NDArray[Any]

_ANCHORS: dict[str, tuple[float, float, float]] = {
    "black": (10, 0, 0),
    "charcoal": (28, 0, 0),
    "grey": (52, 0, 0),
    "light grey": (76, 0, 0),
    "white": (96, 0, 1),
    "cream": (88, 0, 14),
    "fawn": (70, 5, 20),
    "tan": (58, 12, 32),
    "brown": (34, 14, 22),
    "dark brown": (20, 8, 12),
    "rust": (44, 38, 40),
    "orange": (64, 40, 62),
    "gold": (68, 12, 58),
    "yellow": (84, 0, 70),
    "olive": (42, -4, 34),
    "lime": (78, -34, 62),
    "green": (42, -34, 22),
    "dark green": (26, -20, 10),
    "bottle green": (16, -12, 4),
    "sage": (62, -10, 14),
    "teal": (44, -26, -8),
    "turquoise": (68, -34, -10),
    "sky blue": (70, -8, -26),
    "blue": (42, 6, -44),
    "slate blue": (44, -2, -16),
    "navy": (16, 8, -28),
    "lilac": (66, 18, -22),
    "purple": (30, 30, -32),
    "plum": (26, 26, -8),
    "pink": (72, 30, 4),
    "magenta": (48, 60, -10),
    "red": (42, 56, 36),
    "dark red": (28, 40, 22),
    "maroon": (20, 26, 10),
}


def name_colours(lab: Floats) -> tuple[str, ...]:
    """A different word for each colour.

    Args:
        lab: (n, 3) CIELAB.
    """
    words = list(_ANCHORS)
    anchors = np.array([_ANCHORS[w] for w in words], dtype=float)
    apart = difference(lab[:, None], anchors[None])
    names: list[str] = []
    for row in apart:
        word = words[int(np.argmin(row))]
        number = 2
        name = word
        while name in names:
            name = f"{word} {number}"
            number += 1
        names.append(name)
    return tuple(names)
