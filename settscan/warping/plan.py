"""From a cloth and the weaver's wishes to a whole warp plan, every figure traceable."""

from __future__ import annotations

from fractions import Fraction

from settscan.cloth.model import Cloth
from settscan.cloth.wishes import Wishes
from settscan.warping.across import Across, across_steps, plan_across
from settscan.warping.checks import (
    check_keys,
    draft_warnings,
    edge_steps,
    questions,
    sample_steps,
    width_warnings,
)
from settscan.warping.length import loss_table, warp_length
from settscan.warping.losses import length_loss, losses_from_sample
from settscan.warping.model import Draft, WarpPlan
from settscan.warping.structure import draft_for
from settscan.warping.turned import weft_note
from settscan.warping.weft import plan_weft, plan_weft_layout, square_check
from settscan.warping.yarn import ends_of, plan_yarns
from settscan.warping.yarn_sett import (
    closeness_warnings,
    yarn_sett,
    yarn_sett_steps,
    yarn_sett_warnings,
)


def plan_warp(cloth: Cloth, wishes: Wishes) -> WarpPlan:
    """The whole calculation, from finished cloth to what is wound, sleyed, woven and bought.

    Args:
        cloth: the record; its densities are of finished cloth and may be missing.
        wishes: sizes, losses, loom, stock.

    Raises:
        BadInput: if what was asked cannot be planned; the message says what to give.
    """
    check_keys(cloth, wishes)
    wishes = wishes._replace(losses=losses_from_sample(wishes.sample, wishes.losses))
    loss = length_loss(wishes.losses)
    across = plan_across(cloth, wishes)
    weft_layout = plan_weft_layout(cloth, wishes)
    length, length_steps = warp_length(cloth, wishes, weft_layout, loss)
    pick = None if across.in_reed_mm is None else Fraction(across.in_reed_mm.value)
    weft = plan_weft(cloth, wishes, weft_layout, loss, pick)
    draft = _draft(cloth, wishes, across)
    sett = yarn_sett(cloth, wishes, across, draft)
    order = across.layout.order
    return WarpPlan(
        cloth=cloth,
        wishes=wishes,
        ends=across.layout.threads,
        order=order,
        blocks=across.layout.blocks,
        repeats=across.layout.repeats,
        loom_density=across.loom_density,
        finished_width_mm=across.finished_mm,
        width_in_reed_mm=across.in_reed_mm,
        reed=across.reeds[0] if across.reeds else None,
        reeds=across.reeds,
        sley=across.sley,
        warp_length_mm=length,
        ends_per_yarn=ends_of(order),
        yarns=plan_yarns(cloth, wishes, order, Fraction(length.value), weft),
        weft=weft,
        draft=draft,
        loss_table=loss_table(cloth, wishes, across.layout, weft_layout),
        steps=(
            *sample_steps(wishes),
            *across_steps(cloth, wishes, across),
            *yarn_sett_steps(cloth, wishes, across, sett),
            *length_steps,
            *weft.steps,
            *edge_steps(wishes, across, draft),
            *square_check(cloth, wishes),
        ),
        warnings=(
            *closeness_warnings(cloth, wishes.units, sett),
            *questions(cloth),
            *across.layout.warnings,
            *width_warnings(cloth, wishes, across),
            *draft_warnings(cloth, wishes, across, draft),
            *yarn_sett_warnings(wishes, across, sett),
            *weft.warnings,
            *weft_note(wishes.piece, weft.piece_order),
        ),
    )


def _draft(cloth: Cloth, wishes: Wishes, across: Across) -> Draft | None:
    """The draft for all ends that go through heddles."""
    floating = 2 if wishes.piece.floating_selvedges else 0
    return draft_for(
        cloth.weave,
        across.layout.threads - floating,
        direction=cloth.twill_direction,
        shafts=wishes.loom.shafts,
    )
