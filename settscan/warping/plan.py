"""From a cloth and the weaver's wishes to a whole warp plan, every figure traceable."""

from __future__ import annotations

from fractions import Fraction

from settscan.cloth.model import Cloth, SequenceKind
from settscan.cloth.wishes import Wishes
from settscan.errors import BadInput
from settscan.measured import Measured
from settscan.quantities import format_density, format_length, format_share
from settscan.warping.layout import Layout, lay_out_warp, refuse_absurd
from settscan.warping.losses import (
    after,
    before,
    length_loss,
    on_loom_density,
    on_loom_length,
    width_loss,
)
from settscan.warping.model import Draft, LossRow, ReedChoice, SleyRun, Step, WarpPlan
from settscan.warping.reed import describe, rank_reeds, sley_order
from settscan.warping.sett import sett_warning
from settscan.warping.structure import draft_for
from settscan.warping.weft import (
    finished_length,
    plan_weft,
    plan_weft_layout,
    spread,
    square_check,
)
from settscan.warping.yarn import ends_of, plan_yarns, size_of

_TABLE_LOSSES = tuple(Fraction(percent, 100) for percent in (10, 15, 20, 25))


def plan_warp(cloth: Cloth, wishes: Wishes) -> WarpPlan:
    """The whole calculation, from finished cloth to what is wound, sleyed, woven and bought.

    Args:
        cloth: the record; its densities are of finished cloth and may be missing.
        wishes: sizes, losses, loom, stock.

    Raises:
        BadInput: if what was asked cannot be planned; the message says what to give.
    """
    _check_keys(cloth)
    lost_width, lost_length = width_loss(wishes.losses), length_loss(wishes.losses)
    density = cloth.warp.density
    layout = lay_out_warp(
        cloth.warp.sequence, wishes.piece, None if density is None else Fraction(density.value)
    )
    refuse_absurd(layout.threads, "ends")
    loom_density = None if density is None else on_loom_density(density, lost_width)
    reeds, sley = _reeds(wishes, layout, loom_density)
    width = None if loom_density is None else _through_reed(layout.threads, loom_density, reeds)
    finished = None if density is None else density.through(lambda each: layout.threads / each)
    weft_layout = plan_weft_layout(cloth, wishes)
    length, length_steps = _warp_length(cloth, wishes, weft_layout, lost_length)
    pick_mm = None if width is None else Fraction(width.value)
    weft = plan_weft(cloth, wishes, weft_layout, lost_length, pick_mm)
    threaded = layout.threads - (2 if wishes.piece.floating_selvedges else 0)
    draft = draft_for(
        cloth.weave, threaded, direction=cloth.twill_direction, shafts=wishes.loom.shafts
    )
    order = layout.order
    warp_mm = Fraction(length.value)
    steps = (
        *layout.steps,
        *_density_steps(cloth, wishes, loom_density, lost_width, reeds, width, finished),
        *length_steps,
        *weft.steps,
        *filter(None, (square_check(cloth, wishes),)),
    )
    warnings = (
        *_questions(cloth, "warp"),
        *_questions(cloth, "weft"),
        *layout.warnings,
        *_loom_warnings(cloth, wishes, layout, loom_density, width, reeds, draft),
        *weft.warnings,
    )
    return WarpPlan(
        cloth=cloth,
        wishes=wishes,
        ends=layout.threads,
        order=order,
        blocks=layout.blocks,
        repeats=layout.repeats,
        loom_density=loom_density,
        finished_width_mm=finished,
        width_in_reed_mm=width,
        reed=reeds[0] if reeds else None,
        reeds=reeds,
        sley=sley,
        warp_length_mm=length,
        ends_per_yarn=ends_of(order),
        yarns=plan_yarns(cloth, wishes, order, warp_mm, weft),
        weft=weft,
        draft=draft,
        loss_table=_loss_table(cloth, wishes, layout, weft_layout),
        steps=steps,
        warnings=warnings,
    )


def _check_keys(cloth: Cloth) -> None:
    known = {yarn.key for yarn in cloth.yarns}
    for name, threads in (("warp", cloth.warp), ("weft", cloth.weft)):
        for stripe in threads.sequence.stripes:
            if stripe.yarn not in known:
                raise BadInput(
                    f"The {name} uses yarn {stripe.yarn!r}, which is not among the yarns.",
                    "Add it to the list of yarns, or correct the letter.",
                )


def _reeds(
    wishes: Wishes, layout: Layout, loom_density: Measured | None
) -> tuple[tuple[ReedChoice, ...], tuple[SleyRun, ...]]:
    """Reeds, best first, and the sley order in the best; both empty without a density."""
    if loom_density is None:
        return (), ()
    reeds = rank_reeds(
        wishes.loom.reeds, Fraction(loom_density.value), layout.threads, wishes.units
    )
    sley = sley_order(
        reeds[0].pattern,
        layout.threads,
        selvedge=wishes.piece.selvedge_ends,
        floating=wishes.piece.floating_selvedges,
    )
    return reeds, sley


def _through_reed(ends: int, loom_density: Measured, reeds: tuple[ReedChoice, ...]) -> Measured:
    """Width in the reed: exact once a reed is chosen."""
    if reeds:
        return Measured.exact(reeds[0].width_mm, loom_density.origin)
    return loom_density.through(lambda each: ends / each)


def _warp_length(
    cloth: Cloth, wishes: Wishes, weft_layout: Layout | None, loss: Measured
) -> tuple[Measured, tuple[Step, ...]]:
    """Length of warp to wind, and how it came about. Loom waste is added, never multiplied."""
    piece, units = wishes.piece, wishes.units
    length, first = finished_length(cloth, wishes, weft_layout)
    woven_finished = length + 2 * piece.hem_mm
    on_loom = on_loom_length(Measured.exact(woven_finished), loss)
    count = piece.pieces * piece.panels
    added = count * 2 * piece.fringe_mm + piece.sample_mm + wishes.loom.waste_mm
    total = on_loom.through(lambda each: count * each + added)
    divided = (
        f"{format_length(on_loom.value, units)} = {format_length(woven_finished, units)}"
        f" / (1 - {format_share(loss.value)}): losses divide"
    )
    terms = [f"{count} x {format_length(on_loom.value, units)}"]
    if piece.fringe_mm:
        terms.append(f"fringes {count} x 2 x {format_length(piece.fringe_mm, units)}")
    if piece.sample_mm:
        terms.append(f"sample {format_length(piece.sample_mm, units)}")
    terms.append(f"loom waste {format_length(wishes.loom.waste_mm, units)}")
    text = f"{format_length(total.value, units)} = {' + '.join(terms)}"
    if not total.is_certain:
        low, high = format_length(total.low, units), format_length(total.high, units)
        text += f" ({low} to {high} by the range of the losses)"
    return total, (first, Step("Woven length on the loom", divided), Step("Warp length", text))


def _density_steps(
    cloth: Cloth,
    wishes: Wishes,
    loom: Measured | None,
    loss: Measured,
    reeds: tuple[ReedChoice, ...],
    width: Measured | None,
    finished: Measured | None,
) -> tuple[Step, ...]:
    density, units = cloth.warp.density, wishes.units
    if density is None or loom is None or width is None or finished is None:
        return ()
    sett = (
        f"{spread(loom, units, 'ends')} = {format_density(density.value, units)} finished"
        f" x (1 - {format_share(loss.value)})"
    )
    reed = describe(reeds[0], units)
    if abs(reeds[0].error) >= Fraction(1, 100):
        comes_out = after(reeds[0].width_mm, Fraction(loss.value))
        reed += f"; at the same loss it finishes {format_length(comes_out, units)} wide"
    if not reeds[0].owned:
        reed += " (no reed was listed, so a common size is proposed)"
    return (
        Step("Finished width", format_length(finished.value, units)),
        Step("Density on the loom", sett),
        Step("Reed", reed),
        Step(
            "Width in the reed",
            f"{format_length(width.value, units)} = {reeds[0].width_mm * reeds[0].epi_per_mm}"
            f" ends at {format_density(reeds[0].epi_per_mm, units)}",
        ),
    )


def _loss_table(
    cloth: Cloth, wishes: Wishes, layout: Layout, weft_layout: Layout | None
) -> tuple[LossRow, ...]:
    """The same counts at other losses, the same in width and length."""
    density = cloth.warp.density
    if density is None:
        return ()
    rows = []
    for loss in _TABLE_LOSSES:
        length, _ = _warp_length(cloth, wishes, weft_layout, Measured.exact(loss))
        rows.append(
            LossRow(
                loss=loss,
                loom_density=Fraction(density.value) * (1 - loss),
                width_in_reed_mm=before(layout.threads / Fraction(density.value), loss),
                warp_length_mm=Fraction(length.value),
            )
        )
    return tuple(rows)


def _questions(cloth: Cloth, axis: str) -> tuple[str, ...]:
    """Stripes that no hand has confirmed, asked as questions."""
    threads = cloth.warp if axis == "warp" else cloth.weft
    questions = []
    for doubt in threads.doubts:
        stripe = threads.sequence.stripes[doubt.position]
        name = cloth.yarn(stripe.yarn).name
        questions.append(
            f"Are there {stripe.threads} threads in {axis} stripe {doubt.position + 1} ({name})?"
            f" The photo allows {doubt.low} to {doubt.high}; count it on the cloth before winding."
        )
    return tuple(questions)


def _loom_warnings(
    cloth: Cloth,
    wishes: Wishes,
    layout: Layout,
    loom: Measured | None,
    width: Measured | None,
    reeds: tuple[ReedChoice, ...],
    draft: Draft | None,
) -> tuple[str, ...]:
    """What does not fit the loom, the reed or the yarn."""
    warnings = [*_width_warnings(cloth, wishes, layout, width), *_draft_warnings(wishes, draft)]
    if reeds and abs(reeds[0].error) > Fraction(5, 100):
        warnings.append(
            f"No reed comes within 5 % of the density wanted; {describe(reeds[0], wishes.units)}."
        )
    sizes = [size_of(cloth, wishes, key) for key in ends_of(layout.order)]
    if loom is not None and draft is not None and sizes and None not in sizes:
        counts = list(ends_of(layout.order).values())
        mean = sum(tex * ends for tex, ends in zip(sizes, counts, strict=True) if tex) / sum(counts)
        warnings.append(sett_warning(Fraction(loom.value), Fraction(mean), draft, wishes.units))
    return tuple(warning for warning in warnings if warning)


def _width_warnings(
    cloth: Cloth, wishes: Wishes, layout: Layout, width: Measured | None
) -> list[str]:
    if width is None:
        return [
            "The ends per inch of the cloth are not known, so the width is not known either; the"
            " ends are. Count one inch on the cloth and type it before choosing a reed."
        ]
    units, limit = wishes.units, wishes.loom.weaving_width_mm
    warnings = []
    if limit is not None and width.value > limit:
        warnings.append(
            f"The warp is {format_length(width.value, units)} wide in the reed and the loom takes"
            f" {format_length(limit, units)}: plan fewer repeats, or panels."
        )
    asked, density = wishes.piece.width_mm, cloth.warp.density
    if asked is not None and density is not None and wishes.piece.warp_repeats is None:
        got = layout.threads / Fraction(density.value) * wishes.piece.panels
        if abs(got / asked - 1) > Fraction(5, 100):
            once = cloth.warp.sequence.kind is SequenceKind.PARTIAL
            reason = "the sequence is used once" if once else "repeats are kept whole"
            warnings.append(
                f"The cloth comes out {format_length(got, units)} wide instead of"
                f" {format_length(asked, units)}, because {reason}."
            )
    return warnings


def _draft_warnings(wishes: Wishes, draft: Draft | None) -> list[str]:
    if draft is None:
        return ["The weave is not known, so nothing is threaded: type it into the project file."]
    warnings = list(draft.notes)
    if draft.shafts > wishes.loom.shafts:
        warnings.append(
            f"{draft.name.capitalize()} needs {draft.shafts} shafts and the loom has"
            f" {wishes.loom.shafts}."
        )
    most = wishes.loom.heddles_per_shaft
    if most is not None and max(draft.heddles) > most:
        warnings.append(
            f"{max(draft.heddles)} heddles are needed on one shaft and the loom has {most}."
        )
    return warnings
