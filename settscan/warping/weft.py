"""The weft: picks and their order, the density to beat to, shuttles, squareness.

The record writes the weft from the top of the photo; weaving starts at the bottom, so the order
here is the other way round. A symmetric sequence is the same both ways.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

from settscan.cloth.model import Cloth, ColourSequence, SequenceKind, Stripe
from settscan.cloth.wishes import Wishes
from settscan.errors import BadInput
from settscan.measured import Measured, Origin
from settscan.quantities import format_density, format_length
from settscan.warping.layout import Layout, lay_out_weft
from settscan.warping.losses import length_loss, on_loom_density
from settscan.warping.model import Block, Step, WeftOrder, WovenStripe
from settscan.warping.parts import joined

PER_TAIL = Fraction(75)  # mm of weft turned in at each end of a stripe; common practice, no source


def weaving_order(sequence: ColourSequence) -> tuple[Stripe, ...]:
    """One repeat as it is woven, bottom of the photo first."""
    if sequence.kind is SequenceKind.SYMMETRIC:
        return joined(sequence.one_repeat())
    return joined(sequence.one_repeat()[::-1])


def weft_density(cloth: Cloth) -> Fraction | None:
    """Picks per mm of finished cloth, or None."""
    density = cloth.weft.density
    return None if density is None else Fraction(density.value)


def finished_length(cloth: Cloth, wishes: Wishes, layout: Layout | None) -> tuple[Fraction, Step]:
    """Finished length of one piece without hems: that of its whole picks, else as asked.

    Raises:
        BadInput: if neither a length nor a weft density is known.
    """
    density, asked, units = weft_density(cloth), wishes.piece.length_mm, wishes.units
    label = "Finished length of a piece"
    if asked is not None and (layout is None or density is None or _known_once(cloth)):
        return asked, Step(label, f"{format_length(asked, units)}, as asked")
    if layout is None or density is None:
        raise BadInput(
            "The length cannot be planned, because the weft density is not known.",
            "Count the picks in one inch and write them into the project file, as"
            ' ppi = "24 ppi" (on the page under The cloth), or give the finished length.',
        )
    length = layout.threads / density
    text = (
        f"{format_length(length, units)} = {layout.threads} picks at"
        f" {format_density(density, units, 'picks')}"
    )
    if asked is not None and format_length(asked, units) != format_length(length, units):
        text += f" (asked for: {format_length(asked, units)})"
    return length, Step(label, text)


def _known_once(cloth: Cloth) -> bool:
    return cloth.weft.sequence.kind is SequenceKind.PARTIAL


def plan_weft_layout(cloth: Cloth, wishes: Wishes) -> Layout | None:
    """The picks of one piece, or None if a length without a density leaves them unknown."""
    piece = wishes.piece
    if weft_density(cloth) is None and piece.length_mm is not None:
        return None
    return lay_out_weft(cloth.weft.sequence, piece, weft_density(cloth))


def _hem_picks(cloth: Cloth, wishes: Wishes) -> int:
    density = weft_density(cloth)
    return 0 if density is None else round(2 * wishes.piece.hem_mm * density)


def _sample_picks(wishes: Wishes, loom_ppi: Measured | None) -> int:
    return 0 if loom_ppi is None else round(wishes.piece.sample_mm * loom_ppi.value)


def _shuttles(order: tuple[Stripe, ...]) -> int:
    return len({stripe.yarn for stripe in order})


def plan_weft(
    cloth: Cloth,
    wishes: Wishes,
    layout: Layout | None,
    loss: Measured,
    pick_mm: Fraction | None,
) -> WeftOrder:
    """The weft of the whole warp.

    Args:
        cloth: the record.
        wishes: pieces, hems, sample.
        layout: of one piece, from `plan_weft_layout`.
        loss: in length, from the loom to the finished cloth.
        pick_mm: yarn in one pick, the width in the reed; None if not known.
    """
    density = cloth.weft.density
    loom_ppi = None if density is None else on_loom_density(density, loss)
    order = weaving_order(cloth.weft.sequence)
    steps, warnings = _explanations(cloth, wishes, layout, loom_ppi)
    woven = wishes.piece.pieces * wishes.piece.panels
    body = () if layout is None else layout.order[::-1]
    per_yarn: Counter[str] = Counter()
    for stripe in body:
        per_yarn[stripe.yarn] += stripe.threads * woven
    extra = _hem_picks(cloth, wishes) * woven + _sample_picks(wishes, loom_ppi)
    if extra and body:
        per_yarn[body[0].yarn] += extra
        steps.append(
            Step(
                "Hems and sample", f"{extra} picks more, counted in {cloth.yarn(body[0].yarn).name}"
            )
        )
    per_piece = sum(stripe.threads for stripe in body) + (_hem_picks(cloth, wishes) if body else 0)
    return WeftOrder(
        order=order,
        piece_order=body,
        blocks=() if layout is None else _as_woven(layout.blocks),
        picks=sum(per_yarn.values()),
        picks_per_piece=per_piece,
        loom_ppi=loom_ppi,
        finished_ppi=density,
        shuttles=_shuttles(order),
        colour_changes=max(0, len(body) - 1),
        pick_mm=pick_mm,
        picks_per_yarn=dict(per_yarn),
        steps=tuple(steps),
        warnings=tuple(warnings),
    )


def _as_woven(blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """The blocks from the bottom of the cloth up, repeats counted in the order of weaving."""
    found: list[Block] = []
    place = repeats = 0
    for block in reversed(blocks):
        label = block.label
        if label.startswith("repeat"):
            repeats += 1
            label = f"repeat {repeats}"
        elif not repeats:
            label = label.replace("closing", "opening")  # what closes the cloth is woven first
        found.append(Block(label=label, first_end=place, ends=block.ends))
        place += block.ends
    return tuple(found)


def woven_stripes(weft: WeftOrder) -> tuple[WovenStripe, ...]:
    """The stripes of one piece (of one repeat, if the length is not known) to weave by.

    With picks and inches: a weaver who has lost count measures from the first pick.
    """
    ppi = None if weft.loom_ppi is None else Fraction(weft.loom_ppi.value)
    stripes, done = [], 0
    for stripe in weft.piece_order or weft.order:
        stripes.append(
            WovenStripe(
                yarn=stripe.yarn,
                first_pick=done + 1,
                picks=stripe.threads,
                high_mm=None if ppi is None else stripe.threads / ppi,
                up_to_mm=None if ppi is None else (done + stripe.threads) / ppi,
            )
        )
        done += stripe.threads
    return tuple(stripes)


def _explanations(
    cloth: Cloth, wishes: Wishes, layout: Layout | None, loom_ppi: Measured | None
) -> tuple[list[Step], list[str]]:
    steps: list[Step] = [] if layout is None else list(layout.steps)
    warnings: list[str] = []
    if loom_ppi is not None and cloth.weft.density is not None:
        finished = format_density(cloth.weft.density.value, wishes.units, "picks")
        steps.append(
            Step(
                "Picks on the loom",
                f"{spread(loom_ppi, wishes.units, 'picks')}, measured under tension, for {finished}"
                " finished",
            )
        )
        if cloth.weft.density.origin is Origin.ASSUMED:
            warnings.append(
                f"The picks per inch of the cloth are not known; {finished} are assumed, as many as"
                " ends. Count them in one inch of the cloth and write them into the project file,"
                ' as ppi = "24 ppi".'
            )
    if cloth.weft.sequence.kind is SequenceKind.REPEATING:
        steps.append(
            Step(
                "Weaving order",
                "the weft is written from the top of the photo; weaving starts"
                " at the bottom, so the picks here run from the last stripe to the first",
            )
        )
    if layout is None:
        warnings.append(
            "The picks per inch of the weft are not known, so picks and weft yarn are not counted:"
            " count them in one inch of the cloth and write them into the project file, as"
            ' ppi = "24 ppi".'
        )
    elif _known_once(cloth):
        warnings.append(
            "The weft sequence is less than one repeat, so picks and weft yarn are counted for it"
            " once in each piece: complete it in the project file to fill the length."
        )
    return steps, warnings


def spread(value: Measured, units: str, of: str) -> str:
    """'21.5 ppi (20.1 to 22.4)', or without the range if it has none."""
    text = format_density(value.value, units, of)
    if value.is_certain:
        return text
    low, high = format_density(value.low, units, of), format_density(value.high, units, of)
    return f"{text} ({low.split()[0]} to {high.split()[0]})"


def square_check(cloth: Cloth, wishes: Wishes) -> tuple[Step, ...]:
    """Whether one repeat comes out square, and the picks per inch that would make it so."""
    warp, weft = cloth.warp, cloth.weft
    same = warp.sequence.threads == weft.sequence.threads
    if warp.density is None or weft.density is None or not same:
        return ()
    high = weft.sequence.threads / Fraction(weft.density.value)
    wide = warp.sequence.threads / Fraction(warp.density.value)
    if abs(high / wide - 1) <= Fraction(1, 50):
        return (Step("Square", "a finished repeat is square, within 2 %"),)
    units = wishes.units
    square = on_loom_density(warp.density, length_loss(wishes.losses))
    text = (
        f"a finished repeat is {format_length(wide, units)} wide and {format_length(high, units)}"
        f" high, as in the original; for a square one beat to"
        f" {format_density(square.value, units, 'picks')} on the loom, which finishes at"
        f" {format_density(warp.density.value, units, 'picks')}"
    )
    return (Step("Square", text),)
