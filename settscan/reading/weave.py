"""Which weave: the drawdown itself, folded from the picture by its own thread coordinates.

With every pixel's thread coordinates known, the weave contrast can be averaged over all places
that are the same crossing of the weave repeat. The average is the drawdown: high where the column
thread lies on top. It is compared with the weaves that a handweaver meets.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.cloth.weaves import COUNTED, UNKNOWN
from settscan.reading.diagonals import Diagonals, ends_between_turns
from settscan.reading.model import WeaveRead
from settscan.reading.threads import Lattice, Signals
from settscan.settings import THREADS, WEAVE, ThreadSettings, WeaveSettings

Floats = NDArray[Any]

# Rows of one repeat, "1" where the column thread is on top, first row on top of the drawing.
_KNOWN: dict[str, tuple[str, ...]] = {
    "plain": ("10", "01"),
    "2/2 twill": ("1100", "0110", "0011", "1001"),
    "2/1 twill": ("110", "011", "101"),
    "1/2 twill": ("100", "010", "001"),
    "3/1 twill": ("1110", "0111", "1011", "1101"),
    "1/3 twill": ("1000", "0100", "0010", "0001"),
    "hopsack": ("1100", "1100", "0011", "0011"),
    "3/2 twill": ("11100", "01110", "00111", "10011", "11001"),
    "2/3 twill": ("11000", "01100", "00110", "00011", "10001"),
    "3/3 twill": ("111000", "011100", "001110", "000111", "100011", "110001"),
    "4/4 twill": (
        "11110000", "01111000", "00111100", "00011110",
        "00001111", "10000111", "11000011", "11100001",
    ),
}  # fmt: skip


def fold(signals: Signals, columns: Lattice, rows: Lattice, size: int) -> tuple[Floats, float]:
    """Average of the weave contrast at each crossing of a `size` x `size` repeat.

    Args:
        signals: the weave contrast (H, W), positive where the column thread shows.
        columns: lattice along x.
        rows: lattice along y.
        size: threads in one repeat of the weave.

    Returns:
        the folded picture (size, size), rows down, scaled to mean 0 and spread 1, and the share
        of the contrast's variance between crossings that it explains (0..1).
    """
    height, width = signals.mask.shape
    x = np.arange(width)
    y = np.arange(height)
    i, offset_x = _cells(columns.threads(x.astype(float)), size)
    j, offset_y = _cells(rows.threads(y.astype(float)), size)
    best: tuple[Floats, float] = (np.zeros((size, size)), -1.0)
    for shift_x in offset_x:
        for shift_y in offset_y:
            picture, spread = _average(signals, (i + shift_x) % size, (j + shift_y) % size, size)
            if spread > best[1]:
                best = (picture, spread)
    return best


def _cells(threads: Floats, size: int) -> tuple[Floats, tuple[float, ...]]:
    """Thread coordinates within a repeat, and trial offsets of the thread centres."""
    return threads % size, (0.0, 0.25, 0.5, 0.75)


def _average(signals: Signals, i: Floats, j: Floats, size: int) -> tuple[Floats, float]:
    """Folded means for one trial offset, from the middle of each thread, and their spread."""
    step_y = max(1, signals.mask.shape[0] // 700)
    step_x = max(1, signals.mask.shape[1] // 700)
    i, j = i[::step_x], j[::step_y]
    inner_x = np.abs(i % 1.0 - 0.5) < 0.3
    inner_y = np.abs(j % 1.0 - 0.5) < 0.3
    part = signals.contrast[::step_y, ::step_x][np.ix_(inner_y, inner_x)]
    fold_x = np.eye(size, dtype=np.float32)[i[inner_x].astype(int) % size]
    fold_y = np.eye(size, dtype=np.float32)[j[inner_y].astype(int) % size]
    total = fold_y.T @ part @ fold_x
    number = np.maximum(np.outer(fold_y.sum(axis=0), fold_x.sum(axis=0)), 1)
    picture = total.astype(np.float64) / number
    picture = picture - picture.mean()
    spread = float(picture.std())
    return (picture / spread if spread > 0 else picture), spread


def recognise(
    signals: Signals,
    columns: Lattice | None,
    rows: Lattice | None,
    column_share: float,
    diagonals: Diagonals | None = None,
    warp_is_columns: bool = True,
    settings: WeaveSettings = WEAVE,
) -> WeaveRead:
    """Name the weave by the known drawdown that the folded picture resembles most.

    A twill's direction is told as the photo shows it: "Z" rises to the right. A weave with more
    ends over than under is named as if the columns were the warp, see `with_warp_across`.

    Args:
        signals: the weave's contrast.
        columns: lattice along x.
        rows: lattice along y.
        column_share: k of the additive model.
        diagonals: of the weave's wave.
        warp_is_columns: whether the warp runs up and down.
        settings: see `WeaveSettings`.
    """
    turning = None if diagonals is None else diagonals.turning()
    if diagonals is not None and turning is not None and columns and rows:
        return _herringbone(diagonals, turning, (columns, rows), warp_is_columns)
    if columns is None or rows is None or columns.found_by != "weave":
        return WeaveRead(name="unknown", confidence=0.0)
    size = columns.multiple
    scores: list[tuple[float, str, str | None]] = []
    picture, _ = fold(signals, columns, rows, size)
    for name, lines in _KNOWN.items():
        drawing = np.array([[int(c) for c in line] for line in lines], float)
        if size % len(drawing) != 0:
            continue
        tiled = np.tile(drawing, (size // len(drawing),) * 2)
        directions = ("Z", "S") if "twill" in name else (None,)
        for direction in directions:
            # The drawings above fall to the right; turned upside down they rise.
            turned = tiled[::-1] if direction == "Z" else tiled
            likeness = _best_match(picture, turned)
            likeness -= settings.share_weight * abs(turned.mean() - column_share)
            scores.append((likeness, name, direction))
    if not scores:
        return WeaveRead(name="unknown", confidence=0.0)
    scores.sort(key=lambda s: -s[0])
    best, name, direction = scores[0]
    runner_up = next((s[0] for s in scores if s[1:] != (name, direction)), 0.0)
    confidence = float(np.clip(best, 0, 1) * np.clip((best - runner_up) / 0.2, 0, 1))
    if best < settings.least_likeness:
        return WeaveRead(name="unknown", confidence=confidence)
    return WeaveRead(name=name, confidence=confidence, twill_direction=direction)


def _herringbone(
    diagonals: Diagonals,
    axis: int,
    lattices: tuple[Lattice, Lattice],
    warp_is_columns: bool,
    settings: ThreadSettings = THREADS,
) -> WeaveRead:
    """A twill whose lines turn back, with the ends between two turns where the ends turn it."""
    name = "herringbone"
    number = ends_between_turns(lattices[axis].threads(diagonals.turns(axis)))
    if number is not None and (axis == 0) == warp_is_columns:
        name += f" {number}"
    least, full = settings.least_lean, settings.full_lean
    sure = (diagonals.sizes[axis] - least) / (full - least)
    return WeaveRead(name=name, confidence=float(np.clip(sure, 0.0, 1.0)))


def _best_match(picture: Floats, drawing: Floats) -> float:
    """Highest correlation over all shifts of the drawing."""
    normal = drawing - drawing.mean()
    normal = normal / (normal.std() + 1e-12)
    size = len(picture)
    return max(
        float(np.mean(picture * np.roll(normal, (a, b), axis=(0, 1))))
        for a in range(size)
        for b in range(size)
    )


def threads_of_cycle(told: str | None) -> int | None:
    """Threads in one cycle of the wave of a weave that somebody named; None where that is open."""
    if told is None:
        return None
    counted = COUNTED.fullmatch(told)
    if counted is None:
        return 2 if told == "plain" else None
    return int(counted[1]) + int(counted[2])


def as_told(seen: WeaveRead, told: str) -> WeaveRead:
    """The weave that somebody named, with what the picture tells of it besides."""
    if told == UNKNOWN:
        return seen
    if "herringbone" in told and "herringbone" in seen.name:
        return replace(seen, confidence=1.0)
    direction = seen.twill_direction if "twill" in told else None
    short = told if "twill" in told else told.removeprefix("2/2 ")
    return WeaveRead(name=short, confidence=1.0, twill_direction=direction)


def disputed(told: str, diagonals: Diagonals | None) -> bool:
    """Whether the picture shows other diagonals than the weave that somebody named has.

    Twills and herringbones show one at each place. More is not asked: counted by another number
    of threads than it has, a weave folds into some other.
    """
    if threads_of_cycle(told) is None or diagonals is None:
        return False
    return diagonals.single() != ("twill" in told or "herringbone" in told)


def with_warp_across(weave: WeaveRead) -> WeaveRead:
    """The weave named by its warp where the warp runs across the photo: 2/1 is then 1/2."""
    over, _, rest = weave.name.partition("/")
    under, _, kind = rest.partition(" ")
    if kind != "twill":
        return weave
    return replace(weave, name=f"{under}/{over} twill")
