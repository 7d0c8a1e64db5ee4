"""Along the loom: the length of warp to wind, from finished pieces to loom waste."""

from __future__ import annotations

from fractions import Fraction

from settscan.cloth.model import Cloth
from settscan.cloth.wishes import Wishes
from settscan.measured import Measured
from settscan.quantities import format_length, format_share
from settscan.warping.layout import Layout
from settscan.warping.losses import before, on_loom_length
from settscan.warping.model import LossRow, Step
from settscan.warping.weft import finished_length

_TABLE_LOSSES = tuple(Fraction(percent, 100) for percent in (10, 15, 20, 25))


def warp_length(
    cloth: Cloth, wishes: Wishes, weft_layout: Layout | None, loss: Measured
) -> tuple[Measured, tuple[Step, ...]]:
    """Length of warp to wind, with the range of the losses, and how it came about.

    What is woven is divided by what the losses keep; fringes, gaps, sample and loom waste are not
    woven into the cloth and are added as they are.

    Raises:
        BadInput: if the length cannot be planned.
    """
    units = wishes.units
    length, first = finished_length(cloth, wishes, weft_layout)
    finished = length + 2 * wishes.piece.hem_mm
    on_loom = on_loom_length(Measured.exact(finished), loss)
    count = wishes.piece.pieces * wishes.piece.panels
    extras = _extras(wishes, count)
    added = sum((each for _, each in extras), Fraction(0))
    total = on_loom.through(lambda each: count * each + added)
    divided = (
        f"{format_length(on_loom.value, units)} = {format_length(finished, units)}"
        f" / (1 - {format_share(loss.value)}): losses divide"
    )
    terms = [f"{count} x {format_length(on_loom.value, units)}"]
    terms += [words for words, _ in extras]
    text = f"{format_length(total.value, units)} = {' + '.join(terms)}"
    if not total.is_certain:
        low, high = format_length(total.low, units), format_length(total.high, units)
        text += f" ({low} to {high} by the range of the losses)"
    return total, (first, Step("Woven length on the loom", divided), Step("Warp length", text))


def _extras(wishes: Wishes, count: int) -> tuple[tuple[str, Fraction], ...]:
    """What is added to the woven lengths, in words and in mm; loom waste always."""
    piece, units = wishes.piece, wishes.units
    optional = (
        ("fringes of", 2 * count, piece.fringe_mm),
        ("gaps of", count - 1, piece.gap_mm),
        ("sample of", 1, piece.sample_mm),
    )
    extras = tuple(
        (f"{number} {name} {format_length(each, units)}", number * each)
        for name, number, each in optional
        if number * each
    )
    waste = wishes.loom.waste_mm
    return (*extras, (f"loom waste {format_length(waste, units)}", waste))


def loss_table(
    cloth: Cloth, wishes: Wishes, layout: Layout, weft_layout: Layout | None
) -> tuple[LossRow, ...]:
    """The same counts at other losses, the same in width and length; () without a density."""
    density = cloth.warp.density
    if density is None:
        return ()
    finished = layout.threads / Fraction(density.value)
    rows = []
    for loss in _TABLE_LOSSES:
        length, _ = warp_length(cloth, wishes, weft_layout, Measured.exact(loss))
        rows.append(
            LossRow(
                loss=loss,
                loom_density=Fraction(density.value) * (1 - loss),
                width_in_reed_mm=before(finished, loss),
                warp_length_mm=Fraction(length.value),
            )
        )
    return tuple(rows)
