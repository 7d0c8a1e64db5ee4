"""Across the loom: ends, their density, the reed and the width in it."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from settscan.cloth.model import Cloth
from settscan.cloth.wishes import Losses, Wishes
from settscan.measured import Measured
from settscan.quantities import format_density, format_length, format_share
from settscan.warping.layout import Layout, lay_out_warp, refuse_absurd
from settscan.warping.losses import after, on_loom_density, width_loss
from settscan.warping.model import ReedChoice, SleyRun, Step
from settscan.warping.reed import aligned_sley, describe, rank_reeds, sley_order, with_sley
from settscan.warping.weft import spread


class Across(NamedTuple):
    """The warp in its width. What depends on a density is None or empty where none is known.

    Attributes:
        layout: the ends in order.
        loss: in the width, from the reed to the finished cloth.
        loom_density: ends per mm on the loom.
        finished_mm: width of the finished cloth.
        reeds: choices, best first.
        sley: in the best reed, across the whole width.
        in_reed_mm: width in the best reed.
    """

    layout: Layout
    loss: Measured
    loom_density: Measured | None = None
    finished_mm: Measured | None = None
    reeds: tuple[ReedChoice, ...] = ()
    sley: tuple[SleyRun, ...] = ()
    in_reed_mm: Measured | None = None


def plan_across(cloth: Cloth, wishes: Wishes) -> Across:
    """Ends, density, reed and width.

    Raises:
        BadInput: if the width cannot be planned, or is absurd.
    """
    density, loss = cloth.warp.density, width_loss(wishes.losses)
    known = None if density is None else Fraction(density.value)
    layout = lay_out_warp(cloth.warp.sequence, wishes.piece, known)
    refuse_absurd(layout.threads, "ends")
    if density is None:
        return Across(layout=layout, loss=loss)
    loom = on_loom_density(density, loss)
    reeds = rank_reeds(wishes.loom.reeds, Fraction(loom.value), layout.threads, wishes.units)
    sley = _sley(wishes, layout, reeds[0])
    best = with_sley(reeds[0], sley)
    return Across(
        layout=layout,
        loss=loss,
        loom_density=loom,
        finished_mm=density.through(lambda each: layout.threads / each),
        reeds=(best, *reeds[1:]),
        sley=sley,
        in_reed_mm=Measured.exact(best.width_mm, loom.origin),
    )


def _sley(wishes: Wishes, layout: Layout, choice: ReedChoice) -> tuple[SleyRun, ...]:
    piece, threads = wishes.piece, [stripe.threads for stripe in layout.order]
    if not wishes.loom.align_stripes:
        return sley_order(
            choice.pattern,
            layout.threads,
            selvedge=piece.selvedge_ends,
            floating=piece.floating_selvedges,
        )
    if piece.floating_selvedges:
        threads[0] -= 1
        threads[-1] -= 1
        threads = [1, *threads, 1]
    return aligned_sley(tuple(threads), choice.pattern)


def across_steps(cloth: Cloth, wishes: Wishes, across: Across) -> tuple[Step, ...]:
    """How the figures across came about."""
    density, loom, units = cloth.warp.density, across.loom_density, wishes.units
    if density is None or loom is None or across.finished_mm is None:
        return across.layout.steps
    best = across.reeds[0]
    width = format_length(best.width_mm, units)
    finished = spread_length(across.finished_mm, units)
    wide = comes_out_mm(across.in_reed_mm, wishes.losses)
    return (
        *across.layout.steps,
        Step(
            "Finished width",
            f"{finished} = {across.layout.threads} ends at {format_density(density.value, units)}"
            + _asked(wishes),
        ),
        *_panel_steps(wishes, across.finished_mm),
        Step(
            "Density on the loom",
            f"{spread(loom, units, 'ends')} = {format_density(density.value, units)} finished"
            f" x (1 - {format_share(across.loss.value)})",
        ),
        Step("Reed", _reed_text(best, units)),
        Step("Width in the reed", f"{width} = {best.dents} dents of {best.reed.label}"),
        *([_comes_out(best, wide, across.loss, units)] if wide is not None else []),
    )


def _asked(wishes: Wishes) -> str:
    """The width that was asked for, where it leads and is that of one panel."""
    piece = wishes.piece
    if piece.width_mm is None or piece.warp_repeats is not None or piece.panels > 1:
        return ""
    return f" (asked for: {format_length(piece.width_mm, wishes.units)})"


def _panel_steps(wishes: Wishes, finished: Measured) -> tuple[Step, ...]:
    panels, units = wishes.piece.panels, wishes.units
    if panels == 1:
        return ()
    text = (
        f"{format_length(panels * finished.value, units)} = {panels} panels of"
        f" {format_length(finished.value, units)}, less what the seams take up"
    )
    return (Step("Joined width", text),)


def comes_out_mm(in_reed_mm: Measured | None, losses: Losses) -> Measured | None:
    """What a width in the reed finishes at, with the range of the losses; None without a reed.

    It is not the finished width that is planned wherever the reed is not quite the one wanted.
    """
    if in_reed_mm is None:
        return None
    wide = Fraction(in_reed_mm.value)
    return width_loss(losses).through(lambda lost: after(wide, Fraction(lost)))


def _comes_out(best: ReedChoice, wide: Measured, loss: Measured, units: str) -> Step:
    text = (
        f"{spread_length(wide, units)} = {format_length(best.width_mm, units)} in the reed"
        f" x (1 - {format_share(loss.value)})"
    )
    if not wide.is_certain:
        text += ", by the range of the losses"
    return Step("Comes out at", text)


def _reed_text(best: ReedChoice, units: str) -> str:
    text = describe(best, units)
    if not best.owned:
        text += " (no reed was listed, so a common size is proposed)"
    return text


def spread_length(value: Measured, units: str) -> str:
    """'31 in (30.4 to 31.6 in)', or without the range if it has none."""
    text = format_length(value.value, units)
    if value.is_certain:
        return text
    return f"{text} ({format_length(value.low, units)} to {format_length(value.high, units)})"
