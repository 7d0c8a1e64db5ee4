"""When written stripes are split, joined or taken out: what becomes of them in the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from settscan.cloth.model import SequenceKind
from settscan.errors import BadInput
from settscan.page.laying import runs_backward
from settscan.page.work import Line, Shown, Side

MOST_STRIPES = 5_000
Parts = tuple[tuple[int, float], ...]
"""What a written stripe becomes: index of the new one and its share of the width, in order."""


def rebuilt(side: Side, lines: tuple[Line, ...], become: Sequence[Parts]) -> Side:
    """The side with other lines; each stripe of the picture becomes its parts, like ones joined.

    Args:
        side: as it is.
        lines: the written stripes from now on.
        become: for each written stripe as it is, its parts among the new ones.
    """
    if len(lines) > MOST_STRIPES:
        raise BadInput(f"More than {MOST_STRIPES} stripes are too many.", "Check the sequence.")
    kind = side.kind
    if kind is SequenceKind.SYMMETRIC and len(lines) < 2:
        kind = SequenceKind.REPEATING
    pieces: list[Shown] = []
    for place, one in enumerate(side.shown):
        for piece in _pieces(side, place, become[one.of], lines):
            if pieces and pieces[-1].of == piece.of:
                piece = _joined(pieces.pop(), piece, lines)
            pieces.append(piece)
    edges = {0, len(pieces) - 1}
    shown = tuple(
        piece
        if not piece.cut or k in edges
        else replace(piece, cut=False, threads=lines[piece.of].threads)
        for k, piece in enumerate(pieces)
    )
    return replace(side, kind=kind, lines=lines, shown=shown)


def refilled(side: Side, index: int) -> Side:
    """Whole stripes of the picture with the count that is written for them."""
    threads = side.lines[index].threads
    shown = tuple(
        replace(one, threads=min(one.threads, threads) if one.cut else threads)
        if one.of == index
        else one
        for one in side.shown
    )
    return replace(side, shown=shown)


def _pieces(side: Side, place: int, parts: Parts, lines: Sequence[Line]) -> list[Shown]:
    """What one stripe of the picture becomes."""
    one = side.shown[place]
    if len(parts) == 1:
        new = parts[0][0]
        same = one.cut or lines[new].threads == side.lines[one.of].threads
        threads = one.threads if same else lines[new].threads
        return [
            replace(one, of=new, threads=min(threads, lines[new].threads) if one.cut else threads)
        ]
    if runs_backward(side, place):
        parts = parts[::-1]
    if one.cut:
        return _cut_pieces(side, place, parts, lines)
    found, at = [], one.start
    for k, (new, share) in enumerate(parts):
        end = one.end if k == len(parts) - 1 else at + share * (one.end - one.start)
        found.append(Shown(new, lines[new].threads, at, end))
        at = end
    return found


def _cut_pieces(side: Side, place: int, parts: Parts, lines: Sequence[Line]) -> list[Shown]:
    """The parts that show of a stripe that the picture cuts: its inner ones are whole."""
    one = side.shown[place]
    at_left = place == 0 and len(side.shown) > 1
    whole = side.lines[one.of].threads
    left, found = float(one.threads), []
    for new, share in parts[::-1] if at_left else parts:
        visible = min(share * whole, left)
        if visible < 0.5:
            break
        left -= visible
        cut = visible < share * whole - 0.5
        found.append((new, visible, cut))
    found[-1] = (*found[-1][:2], True)
    if at_left:
        found.reverse()
    total, at, pieces = sum(v for _, v, _ in found), one.start, []
    for k, (new, visible, cut) in enumerate(found):
        end = one.end if k == len(found) - 1 else at + visible / total * (one.end - one.start)
        threads = lines[new].threads
        threads = max(1, min(round(visible), threads)) if cut else threads
        pieces.append(Shown(new, threads, at, end, cut))
        at = end
    return pieces


def _joined(first: Shown, second: Shown, lines: Sequence[Line]) -> Shown:
    """Two neighbouring pieces of one written stripe as one."""
    cut = first.cut or second.cut
    most = lines[first.of].threads
    threads = min(first.threads + second.threads, most) if cut else most
    return Shown(first.of, threads, first.start, second.end, cut)
