"""Which bands are one yarn: colours grouped with their errors and with the light that is left.

Bands of one yarn never show quite one colour. The lamp's fall-off that no stripe could tell is a
smooth trend along the axis; the two axes see the yarn from different sides; a line of one thread
is diluted by its neighbours; threads are dyed and lit unevenly. Each of these is written down as
an error of its own kind, and two groups are joined as long as their colours differ by no more
than these errors explain. The trends are shared by all bands, so that they are found by whatever
groups they bring together, and the order in which groups are joined is that of the least cost.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.settings import GROUPS, GroupSettings

Floats = NDArray[Any]
Ints = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """Colours to be grouped.

    Attributes:
        colours: (N, 3) linear light.
        errors: (N, 3, 3) covariance of each, of its own.
        trends: (N, 3, Q) change of each colour per unit of each shared trend.
        spreads: (Q,) standard deviation of the trends before anything is seen.
        beside: (N, 2) the samples that lie before and after each in the cloth; -1 for none.
        clear: the same samples with the errors and trends that they have between two neighbours
            of their own yarn, where blur changes nothing; None if blur is no error of theirs.
    """

    colours: Floats
    errors: Floats
    trends: Floats
    spreads: Floats
    beside: Ints | None = None
    clear: Samples | None = None

    def part(self, chosen: NDArray[np.bool_]) -> Samples:
        """Some of the samples."""
        beside = self.beside
        if beside is not None:
            place = np.append(np.where(chosen, np.cumsum(chosen) - 1, -1), -1)
            beside = place[beside[chosen]]
        return replace(
            self,
            colours=self.colours[chosen],
            errors=self.errors[chosen],
            trends=self.trends[chosen],
            beside=beside,
            clear=None if self.clear is None else self.clear.part(chosen),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Groups:
    """The answer: group of each sample (N,), colours of the groups (M, 3), and the trends (Q,)."""

    of: Ints
    colours: Floats
    trends: Floats


@dataclass(frozen=True, slots=True)
class _Sums:
    """Weighted sums over the samples of each group; the sums of two groups joined are added.

    Attributes:
        own: (G, 3, 3), colour: (G, 3), shared: (G, 3, Q), trend: (G, Q, Q), pull: (G, Q).
    """

    own: Floats
    colour: Floats
    square: Floats
    shared: Floats
    trend: Floats
    pull: Floats

    def of(self, one: Ints, two: Ints) -> _Sums:
        """Those of pairs of groups joined."""
        parts = (self.own, self.colour, self.square, self.shared, self.trend, self.pull)
        return _Sums(*(part[one] + part[two] for part in parts))

    def reduced(self) -> tuple[Floats, Floats, Floats]:
        """Each group's misfit (G,), its normal matrix (G, Q, Q) and pull (G, Q) for the trends.

        The group's colour is the best for whatever the trends are.
        """
        solved = np.linalg.solve(
            self.own, np.concatenate([self.colour[..., None], self.shared], axis=2)
        )
        colour, shared = solved[..., 0], solved[..., 1:]
        misfit = self.square - np.einsum("gi,gi->g", self.colour, colour)
        trend = self.trend - np.einsum("giq,gir->gqr", self.shared, shared)
        pull = self.pull - np.einsum("giq,gi->gq", self.shared, colour)
        return misfit, trend, pull


def group(
    samples: Samples,
    start: Ints,
    settings: GroupSettings = GROUPS,
    *,
    neighbours_differ: bool = False,
) -> Groups:
    """Join groups, the cheapest pair first, as long as a pair costs less than a yarn of its own.

    Args:
        samples: the colours.
        start: (N,) groups to begin with, numbered from 0.
        settings: see `GroupSettings`.
        neighbours_differ: whether no two that lie beside each other are of one group.
    """
    labels = np.unique(start, return_inverse=True)[1].astype(np.intp)
    parts = _parts(samples)
    prior = np.diag(1 / samples.spreads**2)
    apart = samples.beside if neighbours_differ else None
    while (fewer := _with_two_joined(samples, parts, labels, prior, apart, settings)) is not None:
        labels = fewer
    sums = _sums(parts, labels)
    _, trend, pull = sums.reduced()
    trends = np.linalg.solve(prior + trend.sum(axis=0), pull.sum(axis=0))
    colours = np.linalg.solve(sums.own, (sums.colour - sums.shared @ trends)[..., None])[..., 0]
    return Groups(of=labels, colours=colours, trends=trends)


def _with_two_joined(
    samples: Samples,
    parts: _Sums,
    labels: Ints,
    prior: Floats,
    apart: Ints | None,
    settings: GroupSettings,
) -> Ints | None:
    """The groups with the cheapest pair joined; None where each pair costs more than a yarn.

    What lies beside each sample, `apart` (N, 2), is of another group.
    """
    sums = _sums(parts, labels)
    misfit, trend, pull = sums.reduced()
    normal, total = prior + trend.sum(axis=0), pull.sum(axis=0)
    now = _chi_squared(misfit, normal, total)
    one, two = np.triu_indices(len(misfit), 1)
    joined, joined_trend, joined_pull = sums.of(one, two).reduced()
    normals = normal[None] + joined_trend - trend[one] - trend[two]
    pulls = total[None] + joined_pull - pull[one] - pull[two]
    gained = np.einsum("pq,pq->p", pulls, np.linalg.solve(normals, pulls[..., None])[..., 0])
    cost = misfit.sum() + joined - misfit[one] - misfit[two] - gained - now
    for pair in np.argsort(cost, kind="stable").tolist():
        if cost[pair] >= settings.price:
            break
        together = np.where(labels == two[pair], one[pair], labels)
        if apart is not None and (np.append(together, -1)[apart] == together[:, None]).any():
            continue
        if _blurless(samples, labels, together, prior, now, settings) < settings.price:
            return np.unique(together, return_inverse=True)[1].astype(np.intp)
    return None


def _blurless(
    samples: Samples, labels: Ints, together: Ints, prior: Floats, apart: float, s: GroupSettings
) -> float:
    """The cost of joining groups if lines come to stand within their own, blurred by nothing.

    Blur makes a line more or less like its neighbours. Between two neighbours of its own yarn
    it has nothing to mix: what is off there is the line's own, or what the weave lends to many
    lines alike.

    Args:
        samples: the colours.
        labels: (N,) their groups before.
        together: (N,) and with two of these joined.
        prior: (Q, Q) what is known of the trends.
        apart: chi squared of all groups before.
        s: settings.
    """
    if samples.beside is None or samples.clear is None:
        return -np.inf
    within = _within(together, samples.beside) & ~_within(labels, samples.beside)
    if not within.any():
        return -np.inf
    errors = np.where(within[:, None, None], samples.clear.errors, samples.errors)
    trends = np.where(within[:, None, None], samples.clear.trends, samples.trends)
    sums = _sums(_parts(replace(samples, errors=errors, trends=trends)), together)
    misfit, trend, pull = sums.reduced()
    whole = _chi_squared(misfit, prior + trend.sum(axis=0), pull.sum(axis=0))
    return (whole - apart) * min(1.0, s.witnesses / int(within.sum()))


def _chi_squared(misfit: Floats, normal: Floats, total: Floats) -> float:
    """What groups (G,) are off by in all, the trends being the best for them.

    `normal` (Q, Q) and `total` (Q,) are the normal matrix and the pull for the trends.
    """
    return float(misfit.sum() - total @ np.linalg.solve(normal, total))


def _within(labels: Ints, beside: Ints) -> NDArray[np.bool_]:
    """(N,) whether both neighbours, `beside` (N, 2), of a sample are of its group."""
    return np.asarray((np.append(labels, -1)[beside] == labels[:, None]).all(axis=1))


def _parts(samples: Samples) -> _Sums:
    """What each sample adds to the sums of its group."""
    weight = np.linalg.inv(samples.errors)
    say = np.einsum("nij,nj->ni", weight, samples.colours)
    shared = weight @ samples.trends
    return _Sums(
        weight,
        say,
        np.einsum("ni,ni->n", samples.colours, say),
        shared,
        np.einsum("niq,nir->nqr", samples.trends, shared),
        np.einsum("niq,ni->nq", samples.trends, say),
    )


def _sums(parts: _Sums, labels: Ints) -> _Sums:
    """The sums of each group of samples, the groups in the order of their numbers."""
    labels = np.unique(labels, return_inverse=True)[1]
    count = int(labels.max()) + 1

    def total(part: Floats) -> Floats:
        out = np.zeros((count, *part.shape[1:]))
        np.add.at(out, labels, part)
        return out

    return _Sums(
        total(parts.own),
        total(parts.colour),
        total(parts.square),
        total(parts.shared),
        total(parts.trend),
        total(parts.pull),
    )
