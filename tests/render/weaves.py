"""Weaves as matrices: which warp threads lie on top at which picks.

Row index is the warp thread (left to right), column index the pick (top to bottom as shown).
"""

from __future__ import annotations

import numpy as np


def _twill(over: int, under: int, sign: int) -> np.ndarray:
    n = over + under
    i, j = np.mgrid[0:n, 0:n]
    return (i + sign * j) % n < over


def _herringbone(width: int = 12) -> np.ndarray:
    """2/2 twill whose direction turns after `width` ends, with a clean break (no long float)."""
    i, j = np.mgrid[0 : 2 * width, 0:4]
    turned = (2 * width - 1 - i + 2 + j) % 4 < 2
    return np.where(i < width, (i + j) % 4 < 2, turned)


def _hopsack() -> np.ndarray:
    i, j = np.mgrid[0:4, 0:4]
    return (i // 2 + j // 2) % 2 == 0


# A line of Z twill rises to the right. Picks are counted downwards here, so a line that rises to
# the right keeps i + j constant.
WEAVES = {
    "plain": np.array([[True, False], [False, True]]),
    "2/2 twill Z": _twill(2, 2, 1),
    "2/2 twill S": _twill(2, 2, -1),
    "2/1 twill Z": _twill(2, 1, 1),
    "2/1 twill S": _twill(2, 1, -1),
    "1/2 twill Z": _twill(1, 2, 1),
    "3/1 twill Z": _twill(3, 1, 1),
    "3/1 twill S": _twill(3, 1, -1),
    "1/3 twill Z": _twill(1, 3, 1),
    "herringbone": _herringbone(),
    "hopsack": _hopsack(),
}


def columns_on_top(weave: str, warp_across: bool) -> np.ndarray:
    """Whether a column thread lies on top, by (column, row) as the photo shows it.

    With the warp across, the cloth is turned a quarter clockwise: rows are ends, columns are
    picks counted from the right.
    """
    up = WEAVES[weave]
    if not warp_across:
        return up
    ends, picks = up.shape
    column, row = np.mgrid[0:picks, 0:ends]
    return ~up[row % ends, (-column) % picks]


def twill_direction(weave: str, warp_across: bool) -> str | None:
    """Direction "Z" or "S" as the photo shows it; None for weaves without one."""
    if weave[-2:] not in (" Z", " S"):
        return None
    shown = weave[-1]
    return {"Z": "S", "S": "Z"}[shown] if warp_across else shown
