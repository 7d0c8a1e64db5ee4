"""Weaves and setts: which yarn each thread has, and which of two threads lies above."""

from __future__ import annotations

import re

import numpy as np


def unfold(sett: str, kind: str) -> list[tuple[str, int]]:
    """One whole repeat of "A24 B4 C2"; a symmetric one turns at its first and last stripe."""
    stripes = [(key, int(n)) for key, n in re.findall(r"([A-Z])(\d+)", sett)]
    return stripes + stripes[-2:0:-1] if kind == "symmetric" else stripes


def threads_of(sett: str, kind: str, count: int, phase: int) -> np.ndarray:
    """(count,) yarn letters of threads, beginning at thread `phase` of the repeat."""
    ring = np.array([key for key, n in unfold(sett, kind) for _ in range(n)])
    return ring[(np.arange(count) + phase) % len(ring)]


def warp_above(weave: str, ends: int, picks: int, turn: int = 12) -> np.ndarray:
    """(ends, picks) whether the end lies above the pick; picks are numbered downwards.

    A Z twill climbs to the right, so that end + pick stays the same along its line.
    """
    i, j = np.arange(ends)[:, None], np.arange(picks)[None, :]
    if weave == "plain":
        return (i + j) % 2 == 0
    over, under = int(weave[0]), int(weave[2])
    size = over + under
    if "hopsack" in weave:
        return (i // over + j // under) % 2 == 0
    if "herringbone" in weave:
        return (_turning(ends, turn)[:, None] + j) % size < over
    return (j + (i if weave.endswith("Z") else -i)) % size < over


def _turning(ends: int, turn: int) -> np.ndarray:
    """Where each end of a herringbone stands in the twill: up, and after `turn` ends down."""
    steps = np.where(np.arange(ends) // turn % 2 == 0, 1, -1)
    steps[turn::turn] = 2
    return np.cumsum(steps)
