"""Which stripe of the truth a read stripe is: by place, in order, and by colour.

The flat picture is a crop of the photo whose corner is not known here, and its scale may be
wrong, so the place of a read axis on the true one is sought first (offset and stretch), then
stripes are paired in order. Nothing here looks at thread counts, which are to be judged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment
from skimage.color import deltaE_ciede2000, rgb2lab

LOOKS = 600
# A colour this far off (CIEDE2000) weighs 1/e of a right one when two places fit equally.
COLOUR_WEIGHT = 30.0
# How far a paired stripe's middle may lie off, in shares of the axis; a drape moves stripes.
REACH = 0.02


@dataclass(frozen=True, slots=True)
class Placed:
    """A read axis laid on the true one: true mm = offset + stretch * read place."""

    offset: float
    stretch: float
    agreement: float

    def __call__(self, read):
        """True mm of read places."""
        return self.offset + self.stretch * np.asarray(read, float)


def lab_of(srgb) -> np.ndarray:
    """(N, 3) CIELAB (D65) of sRGB colours 0..255."""
    return rgb2lab(np.asarray(srgb, float).reshape(1, -1, 3) / 255.0)[0]


def differences(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """(N, M) CIEDE2000 between two lists of CIELAB colours."""
    return deltaE_ciede2000(first[:, None, :], second[None, :, :])


def edges_of(stripes: list[dict]) -> np.ndarray:
    """(stripes + 1,) edges; a gap between neighbours is closed in its middle."""
    starts = np.array([s["start_mm"] for s in stripes], float)
    ends = np.array([s["end_mm"] for s in stripes], float)
    return np.r_[starts[0], (starts[1:] + ends[:-1]) / 2, ends[-1]]


def labels(edges: np.ndarray, yarns: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Yarn number at each place; -1 outside."""
    which = np.searchsorted(edges, at, side="right") - 1
    inside = (which >= 0) & (which < len(yarns))
    return np.where(inside, yarns[np.clip(which, 0, len(yarns) - 1)], -1)


def confusion(read, true, place: Placed, shape: tuple[int, int]) -> np.ndarray:
    """Share of the true axis on which each read yarn (row) lies over each true one (column).

    `read` and `true` are (edges, yarn numbers).
    """
    at = np.linspace(true[0][0], true[0][-1], LOOKS + 2)[1:-1]
    mine = labels(place(read[0]), read[1], at)
    theirs = labels(*true, at)
    both = (mine >= 0) & (theirs >= 0)
    counts = np.bincount(mine[both] * shape[1] + theirs[both], minlength=shape[0] * shape[1])
    return counts.reshape(shape) / LOOKS


def place(read, true, weight: np.ndarray) -> Placed | None:
    """Where a read axis lies on the true one; None if it has no two inner edges.

    Every pair of far-apart read edges is laid on every pair of true edges; the best is the one
    that covers most of the truth with the right colours. Read places are in mm, or by the counts
    at the truth's pitch, so that a stretch near 1 decides between places that fit alike.
    """
    inner, marks = read[0], true[0]
    if len(inner) < 2 or len(marks) < 2:
        return None
    best = _best_place(read, true, weight, 0.04)
    if best is None or best.agreement < 0.4:
        best = _best_place(read, true, weight, 2.0) or best
    return best


def _best_place(read, true, weight, freedom: float) -> Placed | None:
    """The best place whose stretch differs by no more than `freedom` (logarithm) from 1."""
    inner, marks = read[0], true[0]
    share = (inner[-1] - inner[0]) / (marks[-1] - marks[0])
    best: Placed | None = None
    for i in range(min(3, len(inner) - 1)):
        for j in range(max(i + 1, len(inner) - 3), len(inner)):
            stretches = (marks[None, :] - marks[:, None]) / (inner[j] - inner[i])
            fits = (stretches * share > 0.3) & (stretches * share < 1.15)
            fits &= np.abs(np.log(np.maximum(stretches, 1e-9))) < freedom
            for k, m in np.argwhere(fits):
                stretch = float(stretches[k, m])
                trial = Placed(float(marks[k] - stretch * inner[i]), stretch, 0.0)
                right = _agreement(read, true, trial, weight)
                if best is None or right > best.agreement:
                    best = Placed(trial.offset, stretch, right)
    return best


def _agreement(read, true, trial: Placed, weight: np.ndarray) -> float:
    shares = confusion(read, true, trial, weight.shape)
    right = float((shares * weight).max(axis=1).sum())
    return right - 0.1 * min(1.0, abs(np.log(trial.stretch)) / 0.3)


def pair_yarns(shares: np.ndarray, apart: np.ndarray) -> dict[int, int]:
    """Read yarn -> true yarn, one to one: by overlap, and by colour where overlap says nothing."""
    merit = shares / max(shares.sum(), 1e-9) + 0.05 * np.exp(-apart / COLOUR_WEIGHT)
    rows, columns = linear_sum_assignment(-merit)
    return dict(zip(rows.tolist(), columns.tolist(), strict=True))


def pair_stripes(read, true, at: Placed, yarns: dict[int, int]) -> list[tuple[int, int]]:
    """Pairs (read, true) of stripes in order, places first; a wrong yarn costs, but may pair.

    Pairing is done twice: the places of the first pairing straighten the second, so that a
    drape that was not undone does not part stripes from their truths.
    """
    middles = (true[0][1:] + true[0][:-1]) / 2
    widths = np.diff(true[0])
    whole = true[0][-1] - true[0][0]
    mine = at((read[0][1:] + read[0][:-1]) / 2)
    pairs: list[tuple[int, int]] = []
    for _ in range(2):
        straight = mine
        if len(pairs) > 2:
            i, j = np.array(pairs).T
            off = _smooth(middles[j] - mine[i])
            straight = mine + np.interp(mine, mine[i], off)
        far = np.abs(straight[:, None] - middles[None, :])
        reach = REACH * whole + widths[None, :] / 2
        same = np.array([[yarns.get(a) == b for b in true[1]] for a in read[1]])
        gain = np.where(far < reach, np.where(same, 1.0, 0.3) - 0.25 * far / reach, -1.0)
        pairs = _in_order(gain)
    return pairs


def _smooth(values: np.ndarray) -> np.ndarray:
    """Median over five neighbours."""
    padded = np.pad(values, 2, mode="edge")
    return np.median(np.stack([padded[k : k + len(values)] for k in range(5)]), axis=0)


def _in_order(gain: np.ndarray) -> list[tuple[int, int]]:
    """The pairs of greatest summed gain that do not cross; only those of positive gain."""
    n, m = gain.shape
    best = np.zeros((n + 1, m + 1))
    for i in range(1, n + 1):
        for j in range(1, m + 1):
            joined = best[i - 1, j - 1] + max(0.0, gain[i - 1, j - 1])
            best[i, j] = max(best[i - 1, j], best[i, j - 1], joined)
    pairs, i, j = [], n, m
    while i and j:
        if best[i, j] == best[i - 1, j]:
            i -= 1
        elif best[i, j] == best[i, j - 1]:
            j -= 1
        else:
            i, j = i - 1, j - 1
            pairs.append((i, j))
    return pairs[::-1]
