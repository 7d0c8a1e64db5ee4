"""Edits of the written stripes of a warp or weft, as pure functions: a side in, a side out.

Wherever a written stripe is split, joined or taken out, the same happens at every place where the
picture shows it, so that list and picture stay in step.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

from settscan.cloth.model import SequenceKind
from settscan.errors import BadInput
from settscan.page.laying import laid
from settscan.page.rebuilding import Parts, rebuilt, refilled
from settscan.page.work import Line, Shown, Side

MOST_THREADS = 100_000
"""Threads that one stripe may have; the whole warp of a loom has some thousands."""
_LEAST_SHARE = 1e-4  # of the picture's side: no stripe becomes narrower by dragging

T = TypeVar("T")


def counted(side: Side, index: int, threads: int) -> Side:
    """Another count for a stripe; counted by hand, it is certain."""
    line = side.line(index)
    _check(threads)
    lines = _with(side.lines, index, replace(line, threads=threads, certain=True, doubt=None))
    shown = tuple(
        replace(one, threads=min(one.threads, threads) if one.cut else threads)
        if one.of == index
        else one
        for one in side.shown
    )
    return replace(side, lines=lines, shown=shown)


def coloured(side: Side, index: int, yarn: str) -> Side:
    """Another yarn for a stripe; neighbours of the same yarn are joined with it."""
    line = side.line(index)
    return joined(replace(side, lines=_with(side.lines, index, replace(line, yarn=yarn))))


def merged(side: Side, index: int) -> Side:
    """A stripe and the next one as one stripe, of the yarn of the wider one."""
    first, second = side.line(index), side.line(index + 1)
    yarn = (first if first.threads >= second.threads else second).yarn
    lines = _with(side.lines, index, replace(first, yarn=yarn))
    return joined(replace(side, lines=_with(lines, index + 1, replace(second, yarn=yarn))))


def joined(side: Side) -> Side:
    """The side with neighbours of one yarn written as one stripe; a pivot counts both sides."""
    while True:
        for index, (first, second) in enumerate(zip(side.lines, side.lines[1:], strict=False)):
            if first.yarn == second.yarn:
                side = _join(side, index)
                break
        else:
            return side


def _join(side: Side, index: int) -> Side:
    """Stripes `index` and `index + 1`, of one yarn, as one."""
    n = len(side.lines)
    first, second = side.lines[index], side.lines[index + 1]
    threads = first.threads + second.threads
    symmetric = side.kind is SequenceKind.SYMMETRIC and n > 2
    if symmetric and index == 0:
        threads += second.threads
    if symmetric and index + 1 == n - 1:
        threads += first.threads
    line = Line(first.yarn, threads, first.certain and second.certain)
    lines = (*side.lines[:index], line, *side.lines[index + 2 :])
    parts = [((k if k <= index else k - 1, 1.0),) for k in range(n)]
    return rebuilt(side, lines, parts)


def split(side: Side, index: int, first: int, yarn: str) -> Side:
    """The stripe's first threads stay, the rest takes another yarn.

    Of a pivot, so many threads in its middle stay and both sides take the other yarn.
    """
    line, n = side.line(index), len(side.lines)
    rest = line.threads - first
    if yarn == line.yarn:
        raise BadInput("Both parts would be of one yarn.", "Choose another yarn for the rest.")
    pivot = side.kind is SequenceKind.SYMMETRIC and n > 1 and index in (0, n - 1)
    if first < 1 or rest < (2 if pivot else 1) or (pivot and rest % 2):
        raise BadInput(
            f"{line.threads} threads cannot be split so that {first} stay.",
            "Both sides of a pivot are alike, so an even number must be left for them."
            if pivot
            else f"Write a number from 1 to {line.threads - 1}.",
        )
    if pivot:
        half = rest // 2
        kept, beside = replace(line, threads=first, doubt=None), Line(yarn, half)
        share = half / line.threads
        at_left = index == 0
        new = (kept, beside) if at_left else (beside, kept)
        middle, outer = (index, index + 1) if at_left else (index + 1, index)
        parts: Parts = ((outer, share), (middle, first / line.threads), (outer, share))
    else:
        new = (replace(line, threads=first, doubt=None), Line(yarn, rest))
        parts = ((index, first / line.threads), (index + 1, rest / line.threads))
    lines = (*side.lines[:index], *new, *side.lines[index + 1 :])
    become = [((k if k < index else k + 1, 1.0),) for k in range(n)]
    return joined(rebuilt(side, lines, [*become[:index], parts, *become[index + 1 :]]))


def inserted(side: Side, index: int, yarn: str, threads: int, before: int | None = None) -> Side:
    """A stripe that was overlooked.

    Args:
        side: the warp or weft.
        index: the stripe after which it lies, or in which it lies.
        yarn: of the new stripe.
        threads: of the new stripe.
        before: None to put it after stripe `index`, with its threads added; else it lies inside
            the stripe, behind so many of its threads, and takes its threads from it.
    """
    line, n = side.line(index), len(side.lines)
    _check(threads)
    if before is None:
        return _inserted_after(side, index, Line(yarn, threads, certain=True))
    rest = line.threads - before - threads
    if yarn == line.yarn or before < 1 or rest < 1:
        raise BadInput(
            f"{threads} threads of another yarn do not fit behind {before} of {line.threads}.",
            "Leave at least one thread on both sides, and choose another yarn.",
        )
    total = line.threads
    mirrored = side.kind is SequenceKind.SYMMETRIC and n > 1 and index in (0, n - 1)
    if mirrored:
        raise BadInput(
            "A line inside a pivot would lie there twice.",
            "Split the pivot instead: its middle stays and both sides become another stripe.",
        )
    new = (
        replace(line, threads=before, doubt=None),
        Line(yarn, threads, certain=True),
        replace(line, threads=rest, doubt=None),
    )
    lines = (*side.lines[:index], *new, *side.lines[index + 1 :])
    become: list[Parts] = [((k if k < index else k + 2, 1.0),) for k in range(n)]
    become[index] = tuple((index + k, part.threads / total) for k, part in enumerate(new))
    return rebuilt(side, lines, become)


def _inserted_after(side: Side, index: int, new: Line) -> Side:
    n = len(side.lines)
    last = index == n - 1
    neighbours = {side.lines[index].yarn, *(() if last else (side.lines[index + 1].yarn,))}
    if new.yarn in neighbours:
        raise BadInput(
            "The new stripe would lie beside one of the same yarn.",
            "Choose another yarn, or change the count of the stripe that is there.",
        )
    lines = (*side.lines[: index + 1], new, *side.lines[index + 1 :])
    share = min(0.5, new.threads / (new.threads + side.lines[index].threads))
    become: list[Parts] = [((k if k <= index else k + 1, 1.0),) for k in range(n)]
    become[index] = ((index, 1 - share), (index + 1, share))
    if side.kind is SequenceKind.SYMMETRIC and index in (0, n - 1) and n > 1:
        half = share / 2
        become[index] = ((index + 1, half), (index, 1 - share), (index + 1, half))
        if last:  # the new stripe is the pivot now
            become[index] = ((index, (1 - share) / 2), (index + 1, share), (index, (1 - share) / 2))
    return rebuilt(side, lines, become)


def deleted(side: Side, index: int) -> Side:
    """Without a stripe that is not there; what lay beside it closes up."""
    side.line(index)
    n = len(side.lines)
    if n == 1:
        raise BadInput(
            f"It is the only stripe of the {side.name}.", "Change its yarn or count instead."
        )
    lines = (*side.lines[:index], *side.lines[index + 1 :])
    become: list[Parts] = [((k if k < index else k - 1, 1.0),) for k in range(n)]
    before, after = index - 1, index
    if side.kind is SequenceKind.SYMMETRIC and index == 0:
        before = 0
    elif before < 0:
        before = len(lines) - 1 if side.kind is SequenceKind.REPEATING else 0
    if after >= len(lines):
        after = 0 if side.kind is SequenceKind.REPEATING else len(lines) - 1
    become[index] = ((before, 0.5), (after, 0.5))
    found = rebuilt(side, lines, become)
    if side.kind is SequenceKind.SYMMETRIC and n > 2 and index in (0, n - 1):
        place = 0 if index == 0 else len(lines) - 1
        doubled = replace(lines[place], threads=2 * lines[place].threads)
        found = replace(found, lines=_with(found.lines, place, doubled))
        found = refilled(found, place)
    return joined(found)


def moved(side: Side, place: int, to: float) -> Side:
    """The edge between two stripes of the picture, moved: threads go with it.

    Their counts are shared out anew in proportion to the widths; a count that is certain stays.

    Args:
        side: the warp or weft.
        place: index in the picture of the stripe before the edge.
        to: where the edge lies now, as a share of the picture's side.
    """
    if not 0 <= place < len(side.shown) - 1:
        raise BadInput("There is no such edge in the picture.", "Choose one between two stripes.")
    left, right = side.shown[place], side.shown[place + 1]
    least = min(_LEAST_SHARE, (right.end - left.start) / 2)
    to = min(max(to, left.start + least), right.end - least)
    threads = left.threads + right.threads
    share = (to - left.start) / (right.end - left.start)
    first = min(max(round(threads * share), 1), threads - 1)
    shown = list(side.shown)
    shown[place] = replace(left, end=to)
    shown[place + 1] = replace(right, start=to)
    side = replace(side, shown=tuple(shown), exact=True)
    for one, count in ((place, first), (place + 1, threads - first)):
        side = _recounted(side, one, count)
    return side


def _recounted(side: Side, place: int, count: int) -> Side:
    """The count that a width tells, for the stripe at a place of the picture."""
    one = side.shown[place]
    line = side.lines[one.of]
    if line.certain:
        return side
    if one.cut:
        shown = _with(side.shown, place, replace(one, threads=min(count, line.threads)))
        return replace(side, shown=shown)
    lines = _with(side.lines, one.of, replace(line, threads=count, doubt=None))
    return refilled(replace(side, lines=lines), one.of)


def marked(side: Side, index: int, certain: bool) -> Side:
    """A stripe marked as certain, or no longer."""
    line = side.line(index)
    return replace(side, lines=_with(side.lines, index, replace(line, certain=certain)))


def mended(side: Side, place: int) -> Side:
    """A stripe that breaks the repeat, taken for a slip of the weaver: the repeat holds."""
    if not 0 <= place < len(side.shown):
        raise BadInput("There is no such stripe in the picture.", "Choose one of those listed.")
    one = side.shown[place]
    fixed = replace(one, threads=side.lines[one.of].threads)
    return replace(side, shown=_with(side.shown, place, fixed))


def written_out(side: Side) -> Side:
    """Every stripe of the picture written singly, slips and all, to be used once."""
    if not side.shown:
        raise BadInput(
            "It is not known which stripes the photo shows.", "Read the photo again first."
        )
    lines = tuple(
        replace(side.lines[one.of], threads=one.threads, certain=side.lines[one.of].certain)
        for one in side.shown
    )
    shown = tuple(replace(one, of=k) for k, one in enumerate(side.shown))
    return joined(replace(side, kind=SequenceKind.PARTIAL, lines=lines, shown=shown))


def as_kind(side: Side, kind: SequenceKind) -> Side:
    """The same written stripes, going on in another way."""
    if kind is SequenceKind.SYMMETRIC and len(side.lines) < 2:
        raise BadInput(
            "A sequence that turns back needs two stripes at least, its pivots.", "Add a stripe."
        )
    found = [(side.lines[one.of].yarn, one) for one in side.shown]
    return laid(replace(side, kind=kind), found)


def breaks(side: Side) -> tuple[int, ...]:
    """Places in the picture whose whole count is not that of the written stripe.

    An outermost stripe that is too narrow is none of them: the cloth begins or ends within it.
    """
    last = len(side.shown) - 1

    def slips(place: int, one: Shown) -> bool:
        written = side.lines[one.of].threads
        return one.threads > written or (one.threads < written and 0 < place < last)

    return tuple(place for place, one in enumerate(side.shown) if not one.cut and slips(place, one))


def _with(items: tuple[T, ...], index: int, item: T) -> tuple[T, ...]:
    return (*items[:index], item, *items[index + 1 :])


def _check(threads: int) -> None:
    if not 1 <= threads <= MOST_THREADS:
        raise BadInput(
            f"{threads} is no count for a stripe.", f"Write a number from 1 to {MOST_THREADS:,}."
        )
