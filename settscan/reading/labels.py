"""Where the labels of many stripes go: near their stripes, in order, never on each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

_LEADER_PX = 3.0  # a leader line and the air on both sides of it


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A label that wants to stand at `at` along the axis and takes `room` pixels of it.

    `crowded` labels may stand on a second level, farther from the cloth.
    """

    at: float
    room: float
    crowded: bool = True


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a label stands: its middle along the axis, and its level (0 is nearest)."""

    at: float
    level: int


def place(
    wanted: Sequence[Wanted], low: float, high: float, levels: int
) -> tuple[Placed, ...] | None:
    """Places for labels in the order of the axis, moved as little as possible (least squares).

    Labels of different levels only need room for the leader of the farther one to pass the
    nearer one. Returns None if they do not fit between `low` and `high`.
    """
    if not wanted:
        return ()
    chosen = _levels(wanted, levels)
    steps = [0.0]
    for k in range(1, len(wanted)):
        steps.append(steps[-1] + _apart(wanted[k - 1], wanted[k], chosen[k - 1], chosen[k]))
    first, last = low + wanted[0].room / 2, high - wanted[-1].room / 2
    if first + steps[-1] > last:
        return None
    pooled = _in_order([w.at - s for w, s in zip(wanted, steps, strict=True)])
    placed = [min(max(p, first), last - steps[-1]) + s for p, s in zip(pooled, steps, strict=True)]
    return tuple(Placed(p, level) for p, level in zip(placed, chosen, strict=True))


def _levels(wanted: Sequence[Wanted], levels: int) -> list[int]:
    """Levels in turn along each run of crowded labels; 0 for the others."""
    chosen: list[int] = []
    for label in wanted:
        before = chosen[-1] if chosen else -1
        chosen.append((before + 1) % levels if label.crowded else 0)
    return chosen


def _apart(a: Wanted, b: Wanted, level_a: int, level_b: int) -> float:
    """Least distance of the middles of two neighbours."""
    if level_a == level_b:
        return (a.room + b.room) / 2
    nearer = a if level_a < level_b else b
    return (nearer.room + _LEADER_PX) / 2


def _in_order(values: Sequence[float]) -> list[float]:
    """The nearest rising sequence in the least-squares sense, by pooling neighbours."""
    pools: list[tuple[float, int]] = []
    for value in values:
        total, number = value, 1
        while pools and pools[-1][0] / pools[-1][1] > total / number:
            earlier = pools.pop()
            total, number = total + earlier[0], number + earlier[1]
        pools.append((total, number))
    return [total / number for total, number in pools for _ in range(number)]
