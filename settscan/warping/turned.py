"""Two panels of one warp, of which the second is turned round before they are joined.

Each panel is half of the joined cloth, cut through the middle of the pivot at the seam. Turned
round in its plane (not over), the second panel brings its border to the other outer edge and its
half of the pivot to the seam, and a twill keeps its direction. So one warp serves a cloth whose
outer edges differ from its seam: with a border, or with whole pivots outside (common practice,
no source).
"""

from __future__ import annotations

from fractions import Fraction

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe
from settscan.cloth.wishes import Edges, Piece
from settscan.errors import BadInput
from settscan.warping.parts import Part, part_of, repeats_of


def is_turned(piece: Piece) -> bool:
    """Whether the second of two panels is turned round: as asked, or because of a border."""
    return piece.panels > 1 and (piece.turn_panel or bool(piece.border))


def check_turned(sequence: ColourSequence, piece: Piece) -> None:
    """Refuse what cannot be half of a joined cloth.

    Raises:
        BadInput: naming what does not go with it, and what to do instead.
    """
    what = "A border on panels" if piece.border else "A panel that is turned round"
    if piece.panels > 2:
        raise BadInput(
            f"{what} goes with two panels only, because a third would lie between two seams.",
            "Plan the outer two as one project, and the inner ones as another with no border.",
        )
    if sequence.kind is not SequenceKind.SYMMETRIC or len(sequence.stripes) < 2:
        raise BadInput(
            f"{what} needs a symmetric warp sequence: another one does not meet at the seam when"
            " one panel is turned round.",
            "Leave it out, or plan one panel.",
        )
    if piece.exact_width or piece.edges is Edges.HALF:
        field = "exact_width = true" if piece.exact_width else 'edges = "half pivot"'
        raise BadInput(f"{what} does not go with {field}.", "Leave one of them out.")


def half_of_whole(written: ColourSequence, repeats: int) -> tuple[Part, ...]:
    """The left half of so many whole repeats closed on their first pivot.

    Args:
        written: symmetric, beginning with the pivot at the outer edge.
        repeats: of the joined cloth. An even number has that pivot at the seam too, an odd one
            the other. Of an odd pivot each panel takes the larger half.
    """
    whole, odd = divmod(repeats, 2)
    parts = [*repeats_of(written.one_repeat(), whole)]
    pivot = written.stripes[-1] if odd else written.stripes[0]
    half = Stripe(pivot.yarn, -(-pivot.threads // 2))
    if odd:
        parts.append(part_of("half repeat", (*written.stripes[:-1], half)))
    else:
        parts.append(part_of("half pivot", (half,)))
    return tuple(parts)


def repeats_of_whole(written: ColourSequence, piece: Piece, density: Fraction | None) -> int | None:
    """Whole repeats in the joined cloth nearest to its width; None where the width is no guide."""
    if piece.warp_repeats is not None:
        return 2 * piece.warp_repeats
    if piece.width_mm is None or density is None:
        return None
    outside = 2 * sum(stripe.threads for stripe in piece.border) + written.stripes[0].threads
    wanted = (piece.width_mm * density - outside) / written.threads
    return max(1, int(wanted + Fraction(1, 2)))


def turned_notes(pivot: Stripe, piece: Piece) -> tuple[str, ...]:
    """How two such panels are joined.

    Args:
        pivot: half of the one at the seam, as each panel has it.
        piece: for its border.
    """
    outside = "the border lies" if piece.border else "whole pivots lie"
    return (
        "Turn the second panel round (not over) before sewing: the right-hand edges of both then"
        f" meet at the seam, where they complete a pivot of {pivot.threads} + {pivot.threads} ends,"
        f" and {outside} outside on both sides.",
    )


def weft_note(piece: Piece, order: tuple[Stripe, ...]) -> tuple[str, ...]:
    """What to know about the picks of a panel that is turned round.

    Args:
        piece: what is woven.
        order: stripes of the weft of one panel.
    """
    if not is_turned(piece) or order == order[::-1]:
        return ()
    return (
        "Weave the second panel from the last stripe of the weft to the first, because it is"
        " turned round: the stripes across then meet at the seam.",
    )
