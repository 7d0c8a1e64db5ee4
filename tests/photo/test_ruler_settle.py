"""The unit of an order of ticks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from settscan.photo.load import load_photo
from settscan.photo.ruler import find_rulers
from settscan.photo.ruler_fold import Fold
from settscan.photo.ruler_scheme import HALF_CM, SCHEMES, Ladder
from settscan.photo.ruler_settle import settled_order
from tests.benchmark.rows import ROWS, draw
from tests.render import scene as renderer

EIGHTHS = next(s for s in SCHEMES if s.unit == "inch" and s.period == 8)
QUARTERS = next(s for s in SCHEMES if s.unit == "inch" and s.period == 4)
HALF_CENTIMETRES = next(s for s in SCHEMES if s.tick_mm == HALF_CM)


def eighths(longest: list[float]) -> tuple[Ladder, np.ndarray]:
    """Ticks of eighths of an inch, 18 px apart, with their whole inches of these lengths."""
    numbers = np.arange(8.0 * len(longest))
    whole = numbers.astype(int)
    lengths = np.select([whole % 4 == 0, whole % 2 == 0], [0.97, 0.35], 0.0)
    lengths[whole % 8 == 0] = longest
    noise = 0.02 * np.random.default_rng(1).standard_normal(len(numbers))
    steps = Ladder(
        numbers, np.maximum(lengths + noise, 0), EIGHTHS, 0, 10.0, 0.97, 1.0, 1, False,
        (0.0, 0.35, 0.97, float(np.median(longest))),
    )  # fmt: skip
    return steps, np.where(whole % 8 == 0, 0.2, 0.0)


def folded() -> Fold:
    """What lies about them: their common part is a little over one spacing long."""
    nothing = np.zeros((1, 8), np.float32)
    return Fold(np.zeros(1), np.zeros(1), nothing, np.ones(1), (0.0, 0.0), (-0.98, 0.33), 1 / 18)


def test_inches_that_run_into_their_numerals_are_inches():
    """Of five whole inches a thin 1 lengthens one and a 5 another: two of the same three."""
    settled = settled_order(*_with(eighths([2.0, 1.63, 1.65, 1.62, 3.39])))
    assert settled is not None
    assert settled.scheme.tick_mm == pytest.approx(25.4 / 8)


def test_numbered_ticks_of_two_lengths_are_in_doubt():
    """Where every second is shorter, and all are numbered, they may be halves and wholes."""
    assert settled_order(*_with(eighths([2.0, 1.2, 2.1, 1.2, 2.0, 1.22]))) is None


def _with(ticks: tuple[Ladder, np.ndarray]) -> tuple[Ladder, Fold, np.ndarray]:
    return ticks[0], folded(), ticks[1]


def by_turns(spread: float) -> Ladder:
    """Ticks of which every second is longer, those of either kind scattered about their mean."""
    numbers = np.arange(44.0)
    whole = numbers.astype(int)
    scatter = spread * np.random.default_rng(2).permutation(np.linspace(-1, 1, 44))
    lengths = np.where(whole % 2 == 0, 0.5 + scatter, -0.1)
    return Ladder(
        numbers, lengths, HALF_CENTIMETRES, 0, 6.6, 0.7, 0.95, 1, False, (-0.1, 0.5),
    )  # fmt: skip


@pytest.mark.parametrize(("spread", "sure"), [(0.2, True), (0.9, False)])
def test_half_centimetres_are_all_alike(spread, sure):
    """Ticks whose lengths scatter by more than a step may be quarters and eighths of an inch."""
    on_ticks = np.tile(np.array([200, 200, 200, 120, 60, 120, 200, 200], np.float32), 44)[None]
    seen = replace(folded(), numbers=np.arange(44.0), grey=on_ticks, pixel=1 / 13.0)
    settled = settled_order(by_turns(spread), seen, np.zeros(44))
    assert (settled is not None) == sure


@pytest.mark.parametrize(
    ("longest", "inches"),
    [
        ([2.5, 2.5, 4.3, 2.5, 3.2, 2.5, 4.5, 2.5], True),
        ([2.4, 2.9, 2.5, 4.3, 2.5, 3.2, 2.6, 4.5], False),
        (5 * [3.6, 2.7] + [3.9, 3.0, 4.0, 3.2, 2.7, 3.5, 4.7], False),  # one inch ends too soon
    ],
)
def test_ticks_that_are_longer_by_turns_are_not_all_inches(longest, inches):
    """Inches, some of which run into their numerals; and quarters, halves and whole ones.

    The ends of halves and whole inches beyond quarters were taken for numerals.
    """
    whole = np.arange(8 * len(longest))
    lengths = np.select([whole % 4 == 0, whole % 2 == 0], [1.2, 0.2], -0.2)
    lengths[::8] = longest
    steps = Ladder(
        whole.astype(float), lengths, QUARTERS, 0, 8.8, 0.7, 0.95, 1, False, (-0.2, 0.2, 2.4),
    )  # fmt: skip
    settled = settled_order(steps, folded(), np.where(whole % 8 == 0, 0.3, 0.0))
    assert (settled is not None) == inches


def test_inches_that_run_into_their_numerals_are_those_that_the_numerals_tell(tmp_path):
    """Eighths of an inch: halves and inches seemed to be of two lengths, which told no unit."""
    row = next(r for r in ROWS if r.name == "6 px, hopsack")
    made = renderer.render(*draw(row, 1070, 0))
    (tmp_path / "photo.jpg").write_bytes(made.jpeg)
    (found,) = find_rulers(load_photo(tmp_path / "photo.jpg"))
    (true,) = made.truth["rulers"]
    assert found.unit == true["unit"] == "inch"
    ticks = np.array(true["ticks_px"])
    first, last = (
        int(np.linalg.norm(ticks - end, axis=1).argmin()) for end in found.ticks_px[[0, -1]]
    )
    between = abs(last - first) * true["tick_mm"]
    assert abs(found.ticks_mm[-1] - found.ticks_mm[0]) == pytest.approx(between, abs=0.1)
