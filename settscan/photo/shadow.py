"""The edge of a shadow that falls along the threads: light that steps where no stripe ends.

Smooth light cannot follow it, and what is left on both sides looks like stripes. But light
multiplies: at the edge of a shadow all three colours and the contrast of the other axis' stripes
step by the same factor. Where a stripe ends, they do not.
"""

from __future__ import annotations

from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from settscan.settings import SHADOW, ShadowSettings

Array = NDArray[np.float64]


class Edge(NamedTuple):
    """A step of the log illumination by `height` along an axis.

    `at` is its middle and `width` the scale of its logistic slope, as shares of the axis.
    """

    at: float
    width: float
    height: float

    def along(self, places: Array) -> Array:
        """Log illumination that it adds at shares 0..1 of the axis."""
        return np.asarray(self.height / (1 + np.exp(-(places - self.at) / self.width)))


def find_edge(
    gain: Array, level: Array, shown: Array, settings: ShadowSettings = SHADOW
) -> Edge | None:
    """The plainest edge of a shadow across an axis; None where there is none.

    Args:
        gain: (N,) log contrast of the other axis' stripes at each place.
        level: (N, 3) log light there.
        shown: (N,) how much of the cloth shows there; 0 tells nothing.
        settings: see `ShadowSettings`.
    """
    number = len(gain)
    signals = np.column_stack([gain, level])
    best: Edge | None = None
    for share, width in product(settings.reaches, settings.widths):
        reach, room = max(2, round(share * number)), int(np.ceil(2 * width * number))
        middle = np.arange(reach + room, number - reach - room)
        if not len(middle):
            continue
        before, slope_before, unlike_before, seen_before = _windows(
            signals, shown, middle - room - reach, reach
        )
        after, slope_after, unlike_after, seen_after = _windows(
            signals, shown, middle + room, reach
        )
        steps = after - before
        height = steps.mean(axis=1)
        slack = np.maximum(settings.slack, settings.share * np.abs(height))
        found = (np.abs(steps - height[:, None]) < slack[:, None]).all(axis=1)
        found &= np.maximum(unlike_before, unlike_after) < settings.even
        found &= np.minimum(seen_before, seen_after) > settings.least_shown * shown.max()
        found &= np.abs(height) > settings.least
        gap = 2 * room + reach
        if gap > settings.near * number:
            # Light that goes on falling across the gap is no edge.
            falling = (slope_before + slope_after) / 2 * gap
            found &= falling * np.sign(height) < settings.falling * np.abs(height)
        if not found.any():
            continue
        # A wider window takes in more of a soft edge, and a little more of anything else.
        usual = settings.wider * abs(best.height) if best else 0.0
        top = np.where(found, np.abs(height), 0.0)
        if top.max() <= usual:
            continue
        near = top > 0.95 * top.max()
        at = float(middle[near].mean()) / number
        best = Edge(at, width, float(height[int(top.argmax())]))
    return best


def _windows(
    signals: Array, shown: Array, starts: NDArray[np.intp], reach: int
) -> tuple[Array, Array, Array, Array]:
    """Signals (N, K) in windows: means (M, K), slope, most scatter and least shown, each (M,)."""
    from numpy.lib.stride_tricks import sliding_window_view

    windows = sliding_window_view(signals, reach, axis=0)[starts]
    level = windows[:, 1:]
    place = np.arange(reach) - (reach - 1) / 2
    return (
        np.asarray(windows.mean(axis=2)),
        np.asarray((level @ place).mean(axis=1) / (place @ place)),
        np.asarray(level.std(axis=2).max(axis=1)),
        np.asarray(sliding_window_view(shown, reach)[starts].min(axis=1)),
    )
