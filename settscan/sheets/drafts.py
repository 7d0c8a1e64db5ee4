"""The draft as a drawing: threading above, tie-up at the right, treadling and drawdown below.

Only places and marks are worked out here; the page and the paper draw them.
"""

from __future__ import annotations

from dataclasses import dataclass

from settscan.warping.model import Draft

_MOST_ENDS = 32
_MOST_PICKS = 16
_FEWEST = 16  # threads shown of a short repeat, so that the weave can be seen


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftCells:
    """Filled squares of the four fields, each as (column, row) from its top left corner.

    The first pick is in the bottom row of `treadling` and `drawdown`, as the cloth grows on the
    loom; shaft 1 is the bottom row of `threading` and `tie_up`. In `drawdown` a filled square
    is an end lying over the pick.
    """

    ends: int
    picks: int
    shafts: int
    treadles: int
    threading: tuple[tuple[int, int], ...]
    tie_up: tuple[tuple[int, int], ...]
    treadling: tuple[tuple[int, int], ...]
    drawdown: tuple[tuple[int, int], ...]
    labels: tuple[int, ...]  # shaft of each end shown, left to right


def draft_cells(draft: Draft) -> DraftCells:
    """At least one repeat of the draft, if it is not too long to show."""
    ends = _shown(len(draft.threading), _MOST_ENDS)
    picks = _shown(len(draft.treadling), _MOST_PICKS)
    shafts = tuple(draft.threading[end % len(draft.threading)] for end in range(ends))
    treadles = [draft.treadling[pick % len(draft.treadling)] for pick in range(picks)]
    return DraftCells(
        ends=ends,
        picks=picks,
        shafts=draft.shafts,
        treadles=draft.treadles,
        threading=tuple((end, draft.shafts - shaft) for end, shaft in enumerate(shafts)),
        tie_up=tuple(
            (treadle, draft.shafts - shaft)
            for treadle, raised in enumerate(draft.tie_up)
            for shaft in raised
        ),
        treadling=tuple((treadle - 1, picks - 1 - pick) for pick, treadle in enumerate(treadles)),
        drawdown=tuple(
            (end, picks - 1 - pick)
            for pick in range(picks)
            for end in range(ends)
            if draft.warp_is_up(pick, end)
        ),
        labels=shafts,
    )


def _shown(period: int, most: int) -> int:
    """Whole repeats up to about `_FEWEST` threads; a long repeat is cut off."""
    return min(most, period * max(1, _FEWEST // period))
