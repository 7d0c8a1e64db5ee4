"""The order of the threads across the width: repeats, closed edges, borders, selvedges, panels.

Whole repeats are fitted to a width and closed so that both edges match: a symmetric sequence on
its pivot, a repeating one on its first stripe. A pivot is shared by its two halves and never
doubled, inside the warp or at a seam.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe
from settscan.cloth.wishes import Edges, Piece
from settscan.errors import BadInput
from settscan.warping.centred import centred_window, edges_around
from settscan.warping.model import Block, Step
from settscan.warping.parts import Part, joined, part_of, repeats_of
from settscan.warping.turned import (
    check_turned,
    half_of_whole,
    is_turned,
    repeats_of_whole,
    turned_notes,
)

MOST_THREADS = 100_000  # ends or picks in one piece: past this a number is a slip of the pen


@dataclass(frozen=True, kw_only=True)  # no slots: its sums are kept once they are made
class Layout:
    """All threads of one axis in order, as named parts. `repeats` counts whole ones."""

    parts: tuple[Part, ...]
    repeats: int
    steps: tuple[Step, ...]
    warnings: tuple[str, ...] = ()

    @cached_property
    def threads(self) -> int:
        """Threads in all parts."""
        return sum(part.threads for part in self.parts)

    @cached_property
    def order(self) -> tuple[Stripe, ...]:
        """The stripes in order, neighbours of one yarn joined."""
        return joined(tuple(stripe for part in self.parts for stripe in part.stripes))

    @cached_property
    def blocks(self) -> tuple[Block, ...]:
        """The parts with the place of their first thread."""
        blocks, place = [], 0
        for part in self.parts:
            blocks.append(Block(label=part.label, first_end=place, ends=part.threads))
            place += part.threads
        return tuple(blocks)


def mirrored(stripes: tuple[Stripe, ...]) -> tuple[Stripe, ...]:
    """The same stripes from the other side."""
    return stripes[::-1]


def started_on(sequence: ColourSequence, edges: Edges) -> ColourSequence:
    """The same sequence written from another starting stripe."""
    if edges is Edges.LAST and sequence.kind is SequenceKind.SYMMETRIC:
        return ColourSequence(sequence.kind, sequence.stripes[::-1])
    if edges is Edges.LAST and sequence.kind is SequenceKind.REPEATING:
        return ColourSequence(sequence.kind, sequence.stripes[-1:] + sequence.stripes[:-1])
    return sequence


def closing(sequence: ColourSequence) -> tuple[Stripe, ...]:
    """What is added after the last whole repeat so that both edges match."""
    if sequence.kind is SequenceKind.PARTIAL or len(sequence.stripes) < 2:
        return ()
    return sequence.stripes[:1]


def fit_repeats(wanted: Fraction, repeat: int, added: int) -> int:
    """Whole repeats, at least one, for which repeats x `repeat` + `added` is nearest `wanted`."""
    return max(1, int((wanted - added) / repeat + Fraction(1, 2)))


def _halved(sequence: ColourSequence, count: int) -> tuple[Part, ...]:
    """Repeats that begin and end in the middle of the first pivot; an odd one is cut unevenly."""
    pivot = sequence.stripes[0]
    inner = sequence.one_repeat()[1:]
    head = Stripe(pivot.yarn, pivot.threads - pivot.threads // 2)
    tail = Stripe(pivot.yarn, pivot.threads // 2)
    return repeats_of(joined((head, *inner, tail)), count)


def repeat_parts(
    sequence: ColourSequence, count: int, *, close: bool, edges: Edges
) -> tuple[Part, ...]:
    """So many repeats from the chosen edge, and what closes them."""
    halved = edges is Edges.HALF and sequence.kind is not SequenceKind.PARTIAL
    if halved and len(sequence.stripes) > 1:
        return _halved(sequence, count)
    written = started_on(sequence, edges)
    parts = [*repeats_of(written.one_repeat(), count)]
    if close and closing(written):
        label = "closing pivot" if sequence.kind is SequenceKind.SYMMETRIC else "closing stripe"
        parts.append(part_of(label, closing(written)))
    return tuple(parts)


def _ground(sequence: ColourSequence, threads: int) -> tuple[Part, ...]:
    """A cloth of one colour: no repeat to keep whole."""
    return (part_of("ground", (Stripe(sequence.stripes[0].yarn, threads),)),)


def _ground_threads(
    sequence: ColourSequence, repeats: int | None, size: Fraction | None, density: Fraction | None
) -> int | None:
    """Threads of a one-colour axis that is to fill a size; None for any other."""
    one_colour = len(sequence.stripes) == 1 and sequence.kind is not SequenceKind.PARTIAL
    if not one_colour or repeats is not None or size is None or density is None:
        return None
    return max(1, round(size * density))


def _explained(parts: tuple[Part, ...], threads: str) -> Step:
    """'432 ends = 3 repeats of 140 + closing pivot 12'."""
    repeats = [part for part in parts if _is_repeat(part)]
    total = sum(part.threads for part in parts)
    terms: list[str] = []
    counted = False
    for part in parts:
        if not _is_repeat(part):
            # Weaving begins at the bottom, so there it opens the cloth.
            label = part.label.replace("closing", "opening") if threads == "picks" else part.label
            terms.append(f"{label} {part.threads}")
        elif not counted:
            word = "repeat" if len(repeats) == 1 else "repeats"
            terms.append(f"{len(repeats)} {word} of {part.threads}")
            counted = True
    return Step(threads.capitalize(), f"{total} {threads} = {' + '.join(terms)}")


def _is_repeat(part: Part) -> bool:
    return part.label.startswith("repeat")


def count_repeats(
    sequence: ColourSequence,
    piece: Piece,
    *,
    repeats: int | None,
    size_mm: Fraction | None,
    density: Fraction | None,
    extra: int,
    threads: str,
) -> int:
    """How many whole repeats: as asked, or nearest to a finished size.

    Args:
        sequence: of this axis.
        piece: for whether it is closed.
        repeats: as asked; leads over `size_mm`.
        size_mm: finished width or length wanted.
        density: threads per mm, finished.
        extra: threads outside the repeats (borders).
        threads: "ends" or "picks", for messages.

    Raises:
        BadInput: if nothing was asked, or a size without a density.
    """
    size, across, per_inch = (
        ("width", "warp", "epi") if threads == "ends" else ("length", "weft", "ppi")
    )
    if sequence.kind is SequenceKind.PARTIAL:
        if repeats is not None and repeats > 1:
            raise BadInput(
                f"The {across} sequence is less than one repeat, so it cannot be repeated.",
                "Complete it in the project file and mark it symmetric or repeating.",
            )
        return 1
    if repeats is not None:
        if repeats < 1:
            raise BadInput(f"{repeats} {across} repeats make no cloth.", "Ask for 1 or more.")
        return repeats
    if size_mm is None:
        raise BadInput(
            f"Neither a finished {size} nor a number of {across} repeats was given.",
            f'Give one of them in the project file, as {size} = "54 in".',
        )
    if density is None:
        raise BadInput(
            f"A {size} cannot be planned, because the {across} density is not known.",
            f"Count the {threads} in one inch and write them into the project file, as"
            f' {per_inch} = "24 {per_inch}" (on the page under The cloth), or ask for whole repeats'
            " instead.",
        )
    closes = piece.close_on_pivot and piece.edges is not Edges.HALF
    added = sum(stripe.threads for stripe in closing(started_on(sequence, piece.edges)))
    return fit_repeats(size_mm * density, sequence.threads, extra + (added if closes else 0))


def _selvedges(piece: Piece, body: tuple[Stripe, ...]) -> tuple[tuple[Part, ...], tuple[Part, ...]]:
    """Parts outside the left edge and outside the right edge, outermost first and last."""
    left: list[Part] = []
    right: list[Part] = []
    for count, name in (
        (piece.selvedge_ends, "selvedge"),
        (1 if piece.floating_selvedges else 0, "floating selvedge"),
    ):
        if count:
            keys = (piece.selvedge_yarn or body[0].yarn, piece.selvedge_yarn or body[-1].yarn)
            left.insert(0, part_of(f"left {name}", (Stripe(keys[0], count),)))
            right.append(part_of(f"right {name}", (Stripe(keys[1], count),)))
    return tuple(left), tuple(right)


def _panels_edges(sequence: ColourSequence, piece: Piece) -> tuple[Edges, bool, tuple[str, ...]]:
    """Edges and closing of one panel, so that joined ones meet in pattern at the seam."""
    if piece.panels == 1:
        return piece.edges, piece.close_on_pivot, ()
    pivot = sequence.stripes[0].threads
    if sequence.kind is SequenceKind.SYMMETRIC and pivot % 2 == 0 and len(sequence.stripes) > 1:
        note = (
            f"Each panel begins and ends with half of the first pivot ({pivot // 2} ends), so that"
            " two panels complete it at the seam."
        )
        return Edges.HALF, False, (note,)
    note = (
        "Each panel is whole repeats and is not closed, so that the pattern runs on across the"
        " seam; the outer edges differ. A seam takes up a little cloth at each edge."
    )
    return piece.edges, False, (note,)


def lay_out_warp(sequence: ColourSequence, piece: Piece, density: Fraction | None) -> Layout:
    """The ends of one panel, left to right.

    Args:
        sequence: of the warp.
        piece: what is wanted.
        density: ends per mm of finished cloth; None if not known.

    Raises:
        BadInput: if the width cannot be planned, or the warp would be absurdly wide.
    """
    _check_piece(sequence, piece)
    border = sum(stripe.threads for stripe in piece.border)
    turned = is_turned(piece)
    if turned:
        parts, count, notes = _turned(sequence, piece, density)
    elif piece.exact_width and sequence.kind is not SequenceKind.PARTIAL:
        parts, count, notes = _exact(sequence, piece, density, border)
    else:
        parts, count, notes = _whole(sequence, piece, density, border)
    if piece.border:
        right = part_of("right border", mirrored(piece.border))
        parts = (
            part_of("left border", piece.border),
            *parts,
            *(() if turned else (right,)),
        )
    body = tuple(stripe for part in parts for stripe in part.stripes)
    outer = _selvedges(piece, body)
    parts = outer[0] + parts + outer[1]
    notes += _seam_notes(piece, sum(part.threads for part in outer[1]))
    return Layout(parts=parts, repeats=count, steps=(_explained(parts, "ends"),), warnings=notes)


def _seam_notes(piece: Piece, extra: int) -> tuple[str, ...]:
    """What to know about selvedges that come to lie at a seam."""
    if piece.panels == 1 or not extra:
        return ()
    return (
        f"{extra} selvedge end{'s lie' if extra > 1 else ' lies'} at each seam edge too, beyond the"
        " pattern: take them up in the seam.",
    )


def _turned(
    sequence: ColourSequence, piece: Piece, density: Fraction | None
) -> tuple[tuple[Part, ...], int, tuple[str, ...]]:
    """Parts, whole repeats and notes of a panel that is half of the joined cloth."""
    written = started_on(sequence, piece.edges)
    repeats = repeats_of_whole(written, piece, density)
    if repeats is None:  # says what is missing
        repeats = count_repeats(
            sequence, piece, repeats=None, size_mm=piece.width_mm, density=density, extra=0,
            threads="ends",
        )  # fmt: skip
    refuse_absurd(repeats * sequence.threads, "ends")
    parts = half_of_whole(written, repeats)
    return parts, repeats // 2, turned_notes(parts[-1].stripes[-1], piece)


def _exact(
    sequence: ColourSequence, piece: Piece, density: Fraction | None, border: int
) -> tuple[tuple[Part, ...], int, tuple[str, ...]]:
    """Parts, whole repeats and notes of a pattern cut to the width, a stripe in its middle."""
    size = _per_panel(piece)
    if size is None or density is None or piece.warp_repeats is not None:
        raise BadInput(
            "An exact width needs a finished width and the density of the warp.",
            "Give both and no number of repeats, or set exact_width to false.",
        )
    wanted = max(Fraction(1), size * density - 2 * border)
    refuse_absurd(int(wanted), "ends")
    parts, notes = centred_window(sequence, piece.centre_stripe or 1, wanted)
    return parts, sum(map(_is_repeat, parts)), notes


def _whole(
    sequence: ColourSequence, piece: Piece, density: Fraction | None, border: int
) -> tuple[tuple[Part, ...], int, tuple[str, ...]]:
    """Parts, whole repeats and notes of repeats that are kept whole."""
    edges, close, notes = _panels_edges(sequence, piece)
    panel = piece._replace(edges=edges, close_on_pivot=close)
    count = count_repeats(
        sequence,
        panel,
        repeats=piece.warp_repeats,
        size_mm=_per_panel(piece),
        density=density,
        extra=2 * border,
        threads="ends",
    )
    refuse_absurd(count * sequence.threads, "ends")
    ground = _ground_threads(sequence, piece.warp_repeats, _per_panel(piece), density)
    if ground is not None:
        refuse_absurd(ground, "ends")
        return _ground(sequence, max(1, ground - 2 * border)), count, notes
    if piece.centre_stripe and piece.panels == 1:
        edges = edges_around(sequence, piece, count)
    return repeat_parts(sequence, count, close=close, edges=edges), count, notes


def lay_out_weft(sequence: ColourSequence, piece: Piece, density: Fraction | None) -> Layout:
    """The picks of one piece without its hems, in the written order (as the photo shows them).

    Raises:
        BadInput: as `lay_out_warp`.
    """
    wanted = piece._replace(edges=Edges.FIRST)
    count = count_repeats(
        sequence,
        wanted,
        repeats=piece.weft_repeats,
        size_mm=piece.length_mm,
        density=density,
        extra=0,
        threads="picks",
    )
    refuse_absurd(count * sequence.threads, "picks")
    ground = _ground_threads(sequence, piece.weft_repeats, piece.length_mm, density)
    if ground is None:
        parts = repeat_parts(sequence, count, close=piece.close_on_pivot, edges=Edges.FIRST)
    else:
        parts = _ground(sequence, ground)
    return Layout(parts=parts, repeats=count, steps=(_explained(parts, "picks"),))


def _per_panel(piece: Piece) -> Fraction | None:
    return None if piece.width_mm is None else piece.width_mm / piece.panels


def _check_piece(sequence: ColourSequence, piece: Piece) -> None:
    if not sequence.stripes or any(stripe.threads < 1 for stripe in sequence.stripes):
        raise BadInput(
            "The warp sequence has no stripes, or one without threads.",
            "Write it as A/24 B4 C/2 in the project file.",
        )
    if piece.panels < 1 or piece.pieces < 1:
        raise BadInput("Less than one piece or panel was asked for.", "Ask for 1 or more.")
    if is_turned(piece):
        check_turned(sequence, piece)
    elif piece.panels > 1 and piece.exact_width:
        raise BadInput(
            "An exact width does not go with panels from one warp, because the pattern would be cut"
            " at the seams too.",
            "Leave it out, or plan one panel.",
        )


def refuse_absurd(threads: int, name: str) -> None:
    """Stops before a slip of the pen fills the memory.

    Raises:
        BadInput: above `MOST_THREADS`.
    """
    if threads > MOST_THREADS:
        raise BadInput(
            f"{threads} {name} are more than any loom holds ({MOST_THREADS} at most here).",
            "Check the width, the length, the density and the number of repeats.",
        )
