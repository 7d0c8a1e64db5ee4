"""Which written stripe each stripe in the picture is: the sequence laid along the picture."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from settscan.cloth.model import SequenceKind
from settscan.page.work import Line, Shown, Side

Found = tuple[str | None, Shown]
"""A stripe in the picture with its yarn; None keeps the yarn of the written stripe it had."""


def laid(side: Side, found: Sequence[Found]) -> Side:
    """The side with its written stripes laid along the picture.

    Every start of the repeat, both ways round, is tried; the colours must agree, and of several
    that do the one whose counts agree best is taken. Where none does, nothing is shown.

    Args:
        side: its lines and kind.
        found: the stripes in the picture.
    """
    if not found:
        return replace(side, shown=())
    counts = [one.threads for _, one in found]
    cuts = [one.cut for _, one in found]
    fitting = _fitting(side, [yarn for yarn, _ in found])
    best = min(fitting, key=lambda order: _apart(side.lines, order, counts, cuts), default=None)
    if best is None:
        return replace(side, shown=())
    shown = tuple(replace(one, of=of) for of, (_, one) in zip(best, found, strict=True))
    return replace(side, shown=shown)


def going_on(kind: SequenceKind, lines: int) -> tuple[int, ...]:
    """Indices of the written stripes in one whole repeat: out and back for a symmetric one."""
    out = tuple(range(lines))
    if kind is SequenceKind.SYMMETRIC and lines > 2:
        return out + out[-2:0:-1]
    return out


def runs_backward(side: Side, place: int) -> bool:
    """Whether the written stripe is seen from its last thread to its first at this place."""
    shown, n = side.shown, len(side.lines)
    here = shown[place].of
    steps = []
    if place + 1 < len(shown):
        steps.append((shown[place + 1].of - here) % n)
    if place > 0:
        steps.append((here - shown[place - 1].of) % n)
    if side.kind is SequenceKind.SYMMETRIC and here in (0, n - 1):
        return False
    return bool(steps) and all(step == n - 1 for step in steps) and n > 2


def _fitting(side: Side, yarns: Sequence[str | None]) -> Iterator[list[int]]:
    """The ways in which the written stripes can lie along stripes of these yarns."""
    n, length = len(side.lines), len(yarns)
    written = [line.yarn for line in side.lines]
    partial = side.kind is SequenceKind.PARTIAL
    period = going_on(side.kind, n)
    p = len(period)
    both = side.kind is not SequenceKind.SYMMETRIC  # the period of a symmetric one holds both
    for step in (1, -1) if both else (1,):
        for first in range(p):
            if partial and not 0 <= first + step * (length - 1) < n:
                continue
            places = (period[(first + step * k) % p] for k in range(length))
            if all(
                yarn is None or written[at] == yarn for at, yarn in zip(places, yarns, strict=True)
            ):
                yield [period[(first + step * k) % p] for k in range(length)]


def _apart(
    lines: Sequence[Line], order: Sequence[int], counts: Sequence[int], cuts: Sequence[bool]
) -> float:
    """How far the counts are from those written; a cut stripe may only be too large."""
    total = 0.0
    for of, count, cut in zip(order, counts, cuts, strict=True):
        more = count - lines[of].threads
        total += max(0, more) if cut else abs(more)
    return total
