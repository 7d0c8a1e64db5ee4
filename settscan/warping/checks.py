"""What to look at before winding: questions, and what does not fit the loom or the yarn."""

from __future__ import annotations

from fractions import Fraction

from settscan.cloth.model import Cloth, SequenceKind
from settscan.cloth.wishes import Wishes
from settscan.errors import BadInput
from settscan.quantities import format_length, format_share
from settscan.warping.across import Across
from settscan.warping.losses import after
from settscan.warping.model import Draft, Step
from settscan.warping.reed import describe
from settscan.warping.structure import first_throw

_FAR_OFF = Fraction(5, 100)  # a density or width this far from what was asked is worth a sentence
_LONG_FLOAT = Fraction(10)  # mm of finished cloth: longer floats catch (common practice, no source)


def check_keys(cloth: Cloth, wishes: Wishes) -> None:
    """Every stripe, border and selvedge has a yarn of the cloth.

    Raises:
        BadInput: naming the yarn that is missing.
    """
    known = {yarn.key for yarn in cloth.yarns}
    used = [("warp", stripe.yarn) for stripe in cloth.warp.sequence.stripes]
    used += [("weft", stripe.yarn) for stripe in cloth.weft.sequence.stripes]
    used += [("border", stripe.yarn) for stripe in wishes.piece.border]
    if wishes.piece.selvedge_yarn:
        used.append(("selvedge", wishes.piece.selvedge_yarn))
    for name, key in used:
        if key not in known:
            raise BadInput(
                f"The {name} uses yarn {key!r}, which is not among the yarns.",
                "Add it to the list of yarns, or correct the letter.",
            )


def questions(cloth: Cloth) -> tuple[str, ...]:
    """Stripes that no hand has confirmed, asked as questions."""
    asked = []
    for axis, threads in (("warp", cloth.warp), ("weft", cloth.weft)):
        for doubt in threads.doubts:
            stripe = threads.sequence.stripes[doubt.position]
            name = f"{axis} stripe {doubt.position + 1} ({cloth.yarn(stripe.yarn).name})"
            if doubt.is_cut:
                asked.append(
                    f"The photo's edge cuts {name}: it has at least {doubt.low} threads; count it"
                    " on the cloth before winding."
                )
                continue
            asked.append(
                f"Are there {stripe.threads} threads in {name}? The photo allows {doubt.low} to"
                f" {doubt.high}; count it on the cloth before winding."
            )
    return tuple(asked)


def sample_steps(wishes: Wishes) -> tuple[Step, ...]:
    """Where the losses came from, if a sample was measured."""
    sample, losses, units = wishes.sample, wishes.losses, wishes.units
    stages = (
        (
            "Width of the sample",
            (sample.width_in_reed_mm, sample.width_off_loom_mm, sample.width_washed_mm),
            ("draw-in", losses.draw_in, "shrinkage", losses.width_shrinkage),
        ),
        (
            "Length of the sample",
            (sample.length_on_loom_mm, sample.length_off_loom_mm, sample.length_washed_mm),
            ("take-up", losses.take_up, "shrinkage", losses.length_shrinkage),
        ),
    )
    steps = []
    for label, measures, (first, lost, second, shrunk) in stages:
        if not all(measures):
            continue
        on_loom, off_loom, washed = (format_length(each or 0, units) for each in measures)
        text = (
            f"{on_loom} on the loom, {off_loom} off the loom, {washed} washed: {first}"
            f" {format_share(lost.value)}, {second} {format_share(shrunk.value)}"
        )
        steps.append(Step(label, text))
    return tuple(steps)


def width_warnings(cloth: Cloth, wishes: Wishes, across: Across) -> tuple[str, ...]:
    """What is odd about the width, the reed or the loom's width."""
    if across.in_reed_mm is None:
        return (
            "The ends per inch of the cloth are not known, so the width is not known either; the"
            " ends are. Count one inch on the cloth and type it before choosing a reed.",
        )
    units, limit, warnings = wishes.units, wishes.loom.weaving_width_mm, []
    if limit is not None and across.in_reed_mm.value > limit:
        warnings.append(
            f"The warp is {format_length(across.in_reed_mm.value, units)} wide in the reed and the"
            f" loom takes {format_length(limit, units)}: plan fewer repeats, or panels."
        )
    best = across.reeds[0]
    warnings += _aligned_width(wishes, across)
    if abs(best.error) > _FAR_OFF:
        warnings.append(f"No reed comes within 5 % of the density wanted: {describe(best, units)}.")
    if best.note:
        note = f"Reed {best.reed.label} sleyed {best.sleying}: {best.note}"
        warnings.append(note if best.owned else f"{note}{_other_reed(wishes, across)}")
    return (*warnings, *_missed_width(cloth, wishes, across))


def _aligned_width(wishes: Wishes, across: Across) -> list[str]:
    """Stripes that begin in new dents leave dents half empty: said if that shows in the width."""
    best = across.reeds[0]
    plain = across.layout.threads / best.epi_per_mm
    if not wishes.loom.align_stripes or best.width_mm <= plain * (1 + _FAR_OFF):
        return []
    more = format_share(best.width_mm / plain - 1)
    return [
        f"Stripes that begin in new dents make the warp {more} wider in the reed than its sett"
        f" ({format_length(best.width_mm, wishes.units)} instead of"
        f" {format_length(plain, wishes.units)}), because the last dents of many are not full: make"
        f" the counts multiples of {max(best.pattern)}, or set align_stripes to false."
    ]


def _other_reed(wishes: Wishes, across: Across) -> str:
    """Where no reed was listed: the nearest one that sleys plainly, to choose instead."""
    plain = min(
        (choice for choice in across.reeds if not choice.note),
        key=lambda choice: abs(choice.error),
        default=None,
    )
    listing = " No reed was listed: put yours under [loom]."
    if plain is None:
        return listing
    width = format_length(after(plain.width_mm, Fraction(across.loss.value)), wishes.units)
    return (
        f" Or {describe(plain, wishes.units)}, which finishes {width} wide and is sleyed"
        f" plainly.{listing}"
    )


def _missed_width(cloth: Cloth, wishes: Wishes, across: Across) -> tuple[str, ...]:
    asked, density = wishes.piece.width_mm, cloth.warp.density
    if asked is None or density is None or wishes.piece.warp_repeats is not None:
        return ()
    got = across.layout.threads / Fraction(density.value) * wishes.piece.panels
    if abs(got / asked - 1) <= _FAR_OFF:
        return ()
    once = cloth.warp.sequence.kind is SequenceKind.PARTIAL
    reason = "the sequence is used once" if once else "repeats are kept whole"
    return (
        f"The cloth comes out {format_length(got, wishes.units)} wide instead of"
        f" {format_length(asked, wishes.units)}, because {reason}.",
    )


def draft_warnings(
    cloth: Cloth, wishes: Wishes, across: Across, draft: Draft | None
) -> tuple[str, ...]:
    """What is odd about the weave on this loom."""
    if draft is None:
        return ("The weave is not known, so nothing is threaded: type it into the project file.",)
    warnings = []
    if draft.direction and cloth.twill_direction is None:
        warnings.append(
            "The direction of the twill is not known; it is drafted rising to the right (Z)."
        )
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
    floating = wishes.piece.floating_selvedges
    if not floating and first_throw(draft, across.layout.threads) == "neither":
        warnings.append(
            "The edge ends do not weave in with one shuttle: use a floating selvedge at each edge."
        )
    return (*warnings, *_float_warnings(cloth, wishes, draft))


def _float_warnings(cloth: Cloth, wishes: Wishes, draft: Draft) -> tuple[str, ...]:
    """Floats so long in the finished cloth that they catch."""
    warnings = []
    for name, threads, density in (
        ("warp", draft.longest_float[0], cloth.weft.density),
        ("weft", draft.longest_float[1], cloth.warp.density),
    ):
        if density is not None and threads > 1 and threads / density.value > _LONG_FLOAT:
            span = format_length(threads / density.value, wishes.units)
            warnings.append(f"The {name} floats over {span} in {draft.name}; such floats catch.")
    return tuple(warnings)


def edge_steps(wishes: Wishes, across: Across, draft: Draft | None) -> tuple[Step, ...]:
    """From which side to start the shuttle, where it matters."""
    if draft is None or wishes.piece.floating_selvedges:
        return ()
    side = first_throw(draft, across.layout.threads)
    if side not in ("left", "right"):
        return ()
    return (Step("Edges", f"throw the first pick from the {side}: both edge ends then weave in"),)
