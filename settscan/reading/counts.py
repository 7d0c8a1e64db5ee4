"""All counts of an axis decoded together: thread coordinates of the edges to whole threads.

A colour changes between two threads, so the thread coordinates of all edges are whole numbers
plus one offset that hardly changes along the axis. A hidden Markov model over that offset gives
each count its chance and runners-up: an edge that lies badly is doubted together with both of its
stripes, and a coordinate that is known only from a width (a pinned density) lets the offset
wander in proportion to the width, so that wide stripes become uncertain and narrow ones do not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.settings import COUNTS, CountSettings

Floats = NDArray[Any]


@dataclass(frozen=True, slots=True)
class Count:
    """Chances of whole numbers of threads, likeliest first: ((12, 0.93), (11, 0.05), ...)."""

    chances: tuple[tuple[int, float], ...]

    @property
    def threads(self) -> int:
        """The likeliest number."""
        return self.chances[0][0]

    @property
    def chance(self) -> float:
        """That it is right."""
        return self.chances[0][1]

    def interval(self, share: float = 0.9) -> tuple[int, int]:
        """A narrow run of whole numbers that holds at least `share` of the chance.

        It grows from the likeliest to the next number with any chance on one side or the other,
        however far that is: half as many threads, say, where the weave may be another.
        """
        table = sorted(self.chances)
        first = last = next(k for k, (n, _) in enumerate(table) if n == self.threads)
        held = self.chance
        while held < share - 1e-9 and (first > 0 or last < len(table) - 1):
            below = table[first - 1][1] if first > 0 else -1.0
            above = table[last + 1][1] if last < len(table) - 1 else -1.0
            if below >= above:
                first -= 1
            else:
                last += 1
            held += max(below, above)
        return table[first][0], table[last][0]

    @classmethod
    def from_table(cls, table: dict[int, float]) -> Count:
        """From unnormalised weights of whole numbers."""
        total = sum(table.values())
        kept = {n: w / total for n, w in table.items() if w / total > 1e-6}
        return cls(tuple(sorted(kept.items(), key=lambda item: -item[1])))


def decode(
    coordinates: Floats, edge_sd: Floats, drift_sd: Floats, settings: CountSettings = COUNTS
) -> tuple[Count, ...]:
    """Counts between neighbouring edges.

    Args:
        coordinates: (n + 1,) thread coordinates of the edges, rising.
        edge_sd: (n + 1,) standard deviation of each coordinate on its own, threads.
        drift_sd: (n,) standard deviation of what the offset wanders along each stripe, threads.
        settings: see `CountSettings`.

    Returns:
        n counts, each at least one thread.
    """
    bins = settings.offset_bins
    offsets = np.arange(bins) / bins
    likelihood = np.stack(
        [_seen(at, sd, offsets, settings) for at, sd in zip(coordinates, edge_sd, strict=True)]
    )
    moves = [_move(sd, offsets, settings) for sd in drift_sd]
    forward = [likelihood[0] / likelihood[0].sum()]
    for k, (weights, _) in enumerate(moves):
        step = (forward[-1] @ weights) * likelihood[k + 1]
        forward.append(step / step.sum())
    backward = [np.ones(bins)]
    for k in range(len(moves) - 1, -1, -1):
        step = moves[k][0] @ (backward[0] * likelihood[k + 1])
        backward.insert(0, step / step.sum())
    counts = []
    for k, (weights, _) in enumerate(moves):
        joint = forward[k][:, None] * weights * (likelihood[k + 1] * backward[k + 1])[None]
        ends = (
            _turns(coordinates[k], edge_sd[k], offsets, settings),
            _turns(coordinates[k + 1], edge_sd[k + 1], offsets, settings),
        )
        counts.append(
            _tally(joint, (coordinates[k], coordinates[k + 1]), ends, offsets, drift_sd[k])
        )
    return tuple(counts)


def _seen(at: float, sd: float, offsets: Floats, settings: CountSettings) -> Floats:
    """Likelihood of each offset (bins,) given one edge: wrapped normal with a small floor."""
    sd = float(np.hypot(sd, settings.least_edge_sd))
    away = (at - offsets + 0.5) % 1.0 - 0.5
    peak = np.zeros_like(offsets)
    for turn in (-1, 0, 1):
        peak += np.exp(-0.5 * ((away + turn) / sd) ** 2)
    peak /= peak.sum()
    return np.asarray((1 - settings.stray) * peak + settings.stray / len(offsets))


def _move(sd: float, offsets: Floats, settings: CountSettings) -> tuple[Floats, float]:
    """Transition weights (bins, bins) of the offset along one stripe, wrapped."""
    sd = float(np.hypot(sd, settings.least_drift_sd))
    apart = offsets[None] - offsets[:, None]
    weights = np.zeros_like(apart)
    reach = int(np.ceil(4 * sd)) + 1
    for turn in range(-reach, reach + 1):
        weights += np.exp(-0.5 * ((apart + turn) / sd) ** 2)
    return weights / weights.sum(axis=1, keepdims=True), sd


def _turns(at: float, sd: float, offsets: Floats, settings: CountSettings) -> Floats:
    """(3, bins) chances that an edge belongs one thread lower, to the nearest, or one higher."""
    sd = float(np.hypot(sd, settings.least_edge_sd))
    away = (at - offsets + 0.5) % 1.0 - 0.5
    weights = np.exp(-0.5 * ((away[None] - np.array([-1.0, 0.0, 1.0])[:, None]) / sd) ** 2)
    return np.asarray(weights / (weights.sum(axis=0) + 1e-300))


def _tally(
    joint: Floats,
    at: tuple[float, float],
    turns: tuple[Floats, Floats],
    offsets: Floats,
    drift_sd: float,
) -> Count:
    """Chances of each whole number from the joint chance of the offsets at both edges.

    An edge belongs to the whole number that its coordinate less the offset is nearest to, or,
    if the edge is soft, to one beside it (`turns`). The offset may have wandered by more than a
    whole thread where `drift_sd` is large; those windings share by their own normal weights.
    """
    low = np.floor(at[0] - offsets + 0.5)[:, None]
    high = np.floor(at[1] - offsets + 0.5)[None]
    between = (high - low).astype(int)
    apart = offsets[None] - offsets[:, None]
    sd = max(float(drift_sd), 0.05)
    reach = int(np.ceil(4 * sd)) + 1
    windings = np.arange(-reach, reach + 1)
    weights = np.exp(-0.5 * ((apart[None] + windings[:, None, None]) / sd) ** 2)
    weights /= weights.sum(axis=0, keepdims=True) + 1e-300
    least = int(between.min()) - reach - 2
    held = np.zeros(int(between.max()) + reach + 3 - least)
    for winding, weight in zip(windings, weights, strict=True):
        mass = joint * weight
        for i, first in enumerate(turns[0]):
            for j, last in enumerate(turns[1]):
                # An offset that rose leaves so many fewer whole threads between.
                numbers = between - winding + (j - i) - least
                shared = mass * first[:, None] * last[None]
                held += np.bincount(numbers.ravel(), shared.ravel(), minlength=len(held))
    table = {int(n + least): float(held[n]) for n in np.flatnonzero(held > 1e-12) if n + least >= 1}
    if not table:
        table = {max(1, round(at[1] - at[0])): 1.0}
    return Count.from_table(table)


def settle_together(
    counts: tuple[Count, ...], groups: tuple[tuple[int, ...], ...], settings: CountSettings = COUNTS
) -> tuple[Count, ...]:
    """Let stripes that repeat or mirror each other vote.

    Each stripe's chances are multiplied by those of its partners, save for the small chance that
    it breaks the repeat (a weaving mistake), for which it stands alone.
    """
    settled = list(counts)
    for group in groups:
        if len(group) < 2:
            continue
        for member in group:
            own = dict(counts[member].chances)
            votes = {
                n: float(np.prod([_chance(counts[g], n) for g in group if g != member]))
                for n in own
            }
            total = sum(votes.values())
            if total <= 0:
                continue
            settled[member] = Count.from_table(
                {
                    n: weight
                    * ((1 - settings.break_chance) * votes[n] / total + settings.break_chance)
                    for n, weight in own.items()
                }
            )
    return tuple(settled)


def _chance(count: Count, number: int) -> float:
    """Chance of one number, never quite zero."""
    return max(dict(count.chances).get(number, 0.0), 1e-6)
