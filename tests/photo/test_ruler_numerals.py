"""Ink beside a row of ticks where numerals stand."""

from __future__ import annotations

import numpy as np

from settscan.photo.ruler_fold import PHASES, ROWS, Fold
from settscan.photo.ruler_numerals import ink_beyond
from settscan.photo.ruler_scheme import SCHEMES, Ladder

SIXTEENTHS = next(s for s in SCHEMES if s.unit == "inch" and s.period == 16)
LENGTHS = (0.0, 0.3, 0.6, 1.2, 1.8)
TICKS = 49
SEEN = np.arange(-1.0, TICKS + 1)  # one more at either end


def ticks() -> Ladder:
    """Ticks of what may be sixteenths, three inches of them, one spacing long and more."""
    numbers = np.arange(float(TICKS))
    whole = numbers.astype(int)
    every = [whole % 16 == 0, whole % 8 == 0, whole % 4 == 0, whole % 2 == 0]
    lengths = np.select(every, LENGTHS[:0:-1], 0.0)
    return Ladder(numbers, lengths, SIXTEENTHS, 0, 10.0, 0.97, 1.0, 1, False, LENGTHS)


def folded(body: float, dark: np.ndarray) -> Fold:
    """A light body that ends `body` spacings from the feet of the ticks, cloth beyond.

    Args:
        body: spacings.
        dark: (N,) whether the cloth is dark below a tick.
    """
    rows = np.arange(-2 * ROWS, 8 * ROWS) / ROWS
    rng = np.random.default_rng(3)
    grey = (200 + rng.normal(0, 2, (len(rows), len(SEEN) * PHASES))).astype(np.float32)
    cloth = np.where(np.repeat(dark, PHASES), 30.0, 120.0)
    grey[(rows < 0) | (rows > body)] = cloth
    for number, length in zip(range(TICKS), ticks().lengths, strict=True):
        on = (rows >= 0) & (rows < 1 + length)
        grey[on, (number + 1) * PHASES + PHASES // 2] = 40
    core = (0.0, 1.0)
    return Fold(SEEN, rows, grey, np.ones(len(SEEN)), (0.0, 0.0), core, 1 / 28)


def test_stripes_of_the_cloth_beyond_the_ruler_are_no_numerals():
    """They stood below every second inch of eighths, which were taken for sixteenths."""
    near = np.abs((SEEN + 8) % 16 - 8) < 3
    assert ink_beyond(ticks(), folded(5.0, near), LENGTHS[-1]).max() < 0.02


def test_numerals_on_the_body_are_seen():
    """A block as large as a numeral below every inch."""
    picture = folded(7.5, np.zeros(len(SEEN), dtype=bool))
    for inch in range(0, TICKS, 16):
        at = slice(inch * PHASES, (inch + 3) * PHASES)
        rows = (picture.rows > 3.2) & (picture.rows < 5.0)
        picture.grey[rows, at] = np.where(np.arange(PHASES * len(SEEN))[at] % 4 < 2, 40, 200)
    ink = ink_beyond(ticks(), picture, LENGTHS[-1])
    whole = ticks().whole
    assert ink[whole % 16 == 0].min() > 0.05 > 2 * ink[whole % 16 == 8].max()
