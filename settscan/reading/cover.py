"""Where the cloth is: where its weave is.

Table, floor and fringe may have passed for cloth when the picture was straightened. They do not
carry the wave of the weave, at its own frequency and direction. The box of columns and rows that
do is what is read.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.reading.carriers import Carrier, Course, demodulate_mirrored
from settscan.reading.profiles import Additive
from settscan.settings import COVER, CoverSettings

Floats = NDArray[Any]


class Waves(NamedTuple):
    """The weave's wave from place to place.

    Attributes:
        xs, ys: (N,), (M,) middles of its windows in pixels of the separated picture.
        amplitude: (M, N) of both diagonals and all colours together, any unit.
    """

    xs: Floats
    ys: Floats
    amplitude: Floats


def waves_of(split: Additive, carrier: Carrier) -> Waves:
    """The strength of the weave's main wave over the separated picture."""
    height, width = split.mask.shape
    along_x, along_y = Course.even(width, carrier.fx), Course.even(height, carrier.fy)
    power: Any = 0.0
    xs = ys = np.zeros(0)
    image = np.empty((height, width), np.float32)
    for c in range(3):
        cv2.extractChannel(split.residual, c, dst=image)
        xs, ys, *both = demodulate_mirrored(image, along_x, along_y)
        power = power + sum(np.abs(z) ** 2 for z in both)
    return Waves(xs, ys, np.sqrt(power))


def woven_box(
    split: Additive, waves: Waves, settings: CoverSettings = COVER
) -> tuple[int, int, int, int]:
    """The box (x0, x1, y0, y1), in pixels of the separated picture, that carries the weave."""
    height, width = split.mask.shape
    xs, ys = waves.xs, waves.ys
    light = split.columns.sum(axis=1)[None] + split.rows.sum(axis=1)[:, None]
    near = light[_near(ys, height)][:, _near(xs, width)]
    strength = waves.amplitude / np.maximum(near, 0.05)
    level = settings.share_of_usual * float(
        np.median(np.sort(strength.ravel())[strength.size // 2 :])
    )
    woven = strength > level
    # What hides the cloth says neither that it goes on nor that it ends.
    shown = split.mask[_near(ys, height)][:, _near(xs, width)]
    left, right, top, bottom = 0, len(xs) - 1, 0, len(ys) - 1
    for _ in range(4):
        part = slice(top, bottom + 1)
        left, right = _woven_run(woven[part], shown[part], settings)
        part = slice(left, right + 1)
        top, bottom = _woven_run(woven[:, part].T, shown[:, part].T, settings)
    half_x = (xs[1] - xs[0]) / 2 if len(xs) > 1 else width
    half_y = (ys[1] - ys[0]) / 2 if len(ys) > 1 else height
    x0 = 0 if left == 0 else int(xs[left] - half_x)
    x1 = width if right == len(xs) - 1 else int(np.ceil(xs[right] + half_x))
    y0 = 0 if top == 0 else int(ys[top] - half_y)
    y1 = height if bottom == len(ys) - 1 else int(np.ceil(ys[bottom] + half_y))
    return max(x0, 0), min(x1, width), max(y0, 0), min(y1, height)


def _near(at: Floats, length: int) -> NDArray[np.intp]:
    """The nearest elements of an axis."""
    return np.clip(at.astype(np.intp), 0, length - 1)


def _woven_run(
    woven: NDArray[np.bool_], shown: NDArray[np.bool_], settings: CoverSettings
) -> tuple[int, int]:
    """First and last window along the second axis of the part that carries the weave."""
    seen = shown.sum(axis=0)
    judged = np.flatnonzero(seen >= max(1.0, settings.least_shown * len(shown)))
    if len(judged) == 0:
        return 0, woven.shape[1] - 1
    share = (woven & shown).sum(axis=0)[judged] / seen[judged]
    first, last = _longest_run(share >= settings.least_woven, settings.bridge)
    return int(judged[first]), int(judged[last])


def _longest_run(good: NDArray[np.bool_], bridge: int) -> tuple[int, int]:
    """First and last index of the longest run of True, gaps of up to `bridge` bridged."""
    at = np.flatnonzero(good)
    if len(at) == 0:
        return 0, len(good) - 1
    breaks = np.flatnonzero(np.diff(at) > bridge + 1)
    starts = np.concatenate([[0], breaks + 1])
    stops = np.concatenate([breaks, [len(at) - 1]])
    longest = int(np.argmax(at[stops] - at[starts]))
    return int(at[starts[longest]]), int(at[stops[longest]])
