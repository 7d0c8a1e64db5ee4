"""Finished cloth, cloth off the loom, cloth on the loom: what is lost, and how to allow for it.

A loss is a fraction of the larger, earlier number. Losses in a row compound,
1 - (1 - a)(1 - b), and they are allowed for by dividing: 10 in at a loss of 20 % needs
10 / 0.8 = 12.5 in. Adding 20 % would give 12 in, which comes out at 9.6.

**Crimp** is measured on the length in the cloth, **take-up** on the length of the yarn (ASTM
D3883): a crimp of 10 % is a take-up of 9.09 %. No function here accepts one for the other.
"""

from __future__ import annotations

from fractions import Fraction

from settscan.cloth.wishes import Losses, SampleRecord
from settscan.errors import BadInput
from settscan.measured import Measured, Number, Origin


def compound(first: Fraction, *others: Fraction) -> Fraction:
    """One loss that equals several in a row."""
    kept = 1 - first
    for loss in others:
        kept *= 1 - loss
    return 1 - kept


def before(after: Fraction, loss: Fraction) -> Fraction:
    """What is needed before a loss to have `after` left; divides.

    Raises:
        BadInput: for a loss of 1 or more, which leaves nothing, or below 0.
    """
    if not 0 <= loss < 1:
        raise BadInput(
            f"A loss of {float(loss):.0%} cannot be.", "Give it as a share below 100 %, as 12 %."
        )
    return after / (1 - loss)


def after(before_: Fraction, loss: Fraction) -> Fraction:
    """What a loss leaves of `before_`."""
    return before_ * (1 - loss)


def compound_measured(first: Measured, second: Measured) -> Measured:
    """Two losses in a row with their ranges; the extremes are taken together."""
    origin = Origin.ASSUMED if Origin.ASSUMED in (first.origin, second.origin) else first.origin
    return Measured(
        compound(Fraction(first.value), Fraction(second.value)),
        compound(Fraction(first.low), Fraction(second.low)),
        compound(Fraction(first.high), Fraction(second.high)),
        origin,
    )


def width_loss(losses: Losses) -> Measured:
    """From the width in the reed to the finished width: draw-in, then shrinkage."""
    return compound_measured(losses.draw_in, losses.width_shrinkage)


def length_loss(losses: Losses) -> Measured:
    """From the warp on the loom to the finished length: take-up, then shrinkage."""
    return compound_measured(losses.take_up, losses.length_shrinkage)


def on_loom_density(finished: Measured, loss: Measured) -> Measured:
    """Threads per mm on the loom from threads per mm of finished cloth; ranges carried.

    The extremes are taken together: the sparsest reading with the largest loss.
    """
    return Measured(
        finished.value * _kept(loss.value),
        finished.low * _kept(loss.high),
        finished.high * _kept(loss.low),
        loss.origin if loss.origin is Origin.ASSUMED else finished.origin,
    )


def on_loom_length(finished: Measured, loss: Measured) -> Measured:
    """Length or width on the loom from the finished one; ranges carried, extremes together."""
    return Measured(
        finished.value / _kept(loss.value),
        finished.low / _kept(loss.low),
        finished.high / _kept(loss.high),
        loss.origin if loss.origin is Origin.ASSUMED else finished.origin,
    )


def _kept(loss: Number) -> Fraction:
    if not 0 <= loss < 1:
        raise BadInput(f"A loss of {float(loss):.0%} cannot be.", "Give a share below 100 %.")
    return 1 - Fraction(loss)


def crimp(in_cloth: Fraction, straightened: Fraction) -> Fraction:
    """Yarn crimp (D - F) / F of ASTM D3883: on the length F in the cloth."""
    _check_straightened(in_cloth, straightened)
    return (straightened - in_cloth) / in_cloth


def take_up(in_cloth: Fraction, straightened: Fraction) -> Fraction:
    """Yarn take-up (D - F) / D of ASTM D3883: on the length D of the straightened yarn."""
    _check_straightened(in_cloth, straightened)
    return (straightened - in_cloth) / straightened


def _check_straightened(in_cloth: Fraction, straightened: Fraction) -> None:
    if not 0 < in_cloth <= straightened:
        raise BadInput(
            "The straightened yarn is shorter than the cloth that it came from.",
            "Give the length between the marks in the cloth first, then that of the yarn.",
        )


def take_up_from_crimp(share: Fraction) -> Fraction:
    """Take-up c / (1 + c) of a yarn with crimp c."""
    return share / (1 + share)


def crimp_from_take_up(share: Fraction) -> Fraction:
    """Crimp t / (1 - t) of a yarn with take-up t."""
    return share / (1 - share)


def losses_from_sample(sample: SampleRecord, losses: Losses | None = None) -> Losses:
    """The weaver's own losses, exact as measured, to plan the next warp with.

    Args:
        sample: what was measured, across, along or both.
        losses: for the direction that was not measured; the usual assumptions if None.

    Raises:
        BadInput: if the cloth grew at a stage, or one of three measures is missing.
    """
    found = losses or Losses()
    across = (sample.width_in_reed_mm, sample.width_off_loom_mm, sample.width_washed_mm)
    along = (sample.length_on_loom_mm, sample.length_off_loom_mm, sample.length_washed_mm)
    if any(across):
        names = ("width in the reed", "width off the loom", "washed width")
        draw_in, shrinkage = _lost_twice(across, names)
        found = found._replace(draw_in=draw_in, width_shrinkage=shrinkage)
    if any(along):
        names = ("length on the loom", "length off the loom", "washed length")
        take, shrinkage = _lost_twice(along, names)
        found = found._replace(take_up=take, length_shrinkage=shrinkage)
    return found


def _lost_twice(
    measures: tuple[Fraction | None, ...], names: tuple[str, str, str]
) -> tuple[Measured, Measured]:
    """The losses between three measures of one stretch."""
    for measure, name in zip(measures, names, strict=True):
        if not measure:
            raise BadInput(
                f"The sample has no {name}.",
                "Measure the same stretch on the loom, off the loom and washed, or leave all three"
                " out.",
            )
    first, second, third = (Fraction(measure or 0) for measure in measures)
    return _lost(first, second, names[1]), _lost(second, third, names[2])


def _lost(larger: Fraction, smaller: Fraction, name: str) -> Measured:
    if not 0 < smaller <= larger:
        raise BadInput(
            f"In the sample the {name} is larger than the measure before it.",
            "Measure the same stretch on the loom, off the loom and washed.",
        )
    return Measured.exact((larger - smaller) / larger, Origin.TYPED)


def estimated_contraction(
    picks_per_inch: Fraction, crossings_per_pick: Fraction, cotton_count: Fraction, *, heavy: bool
) -> Fraction:
    """A rule of thumb for the contraction of a cotton warp, from how often the weft crosses it.

    Per cent = crossings in an inch x k / count of the weft, with k = 4 for heavily picked cloth and
    3 for medium (Taylor, Cotton Weaving and Designing, 6th ed.). He warns that only experience
    gives the length exactly; and his share is added to the cloth, so it is a crimp.

    Args:
        picks_per_inch: in the cloth.
        crossings_per_pick: 1 in plain weave, 1/2 in 2/2 twill, 2/5 in five-end satin.
        cotton_count: of the weft.
        heavy: whether the cloth is heavily picked.

    Returns:
        The share to add to the cloth length; `take_up_from_crimp` makes a loss of it.
    """
    return picks_per_inch * crossings_per_pick * (4 if heavy else 3) / cotton_count / 100
