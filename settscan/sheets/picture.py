"""From a plan, or from a cloth alone, to the picture that `preview` draws."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import chain, repeat

from settscan.cloth.model import Stripe
from settscan.sheets.content import cut_out, drawn_caption
from settscan.sheets.marks import checked_colour
from settscan.sheets.preview import ClothPicture, Lift
from settscan.warping.model import Draft, WarpPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownPart:
    """The part of the cloth that the photo shows.

    Attributes:
        warp: stripes from left to right, or from the top down if the warp lies across the photo.
        weft: stripes the other way.
        warp_across: whether the warp lies across the photo.
    """

    warp: tuple[Stripe, ...]
    weft: tuple[Stripe, ...]
    warp_across: bool = False


_FALLBACK_MM = 2.0  # thread pitch for a cloth whose density nobody knows: only proportions count


def lift_of(draft: Draft | None, picks: int) -> Lift:
    """One weave repeat, top pick first, for a cloth of so many picks (the first at the bottom).

    Without a draft it is plain weave, which shows the colours without claiming a pattern.
    """
    if draft is None:
        return ((True, False), (False, True))
    down, across = len(draft.treadling), len(draft.threading)
    return tuple(
        tuple(draft.warp_is_up((picks - 1 - row) % down, end) for end in range(across))
        for row in range(down)
    )


def picture_of(plan: WarpPlan) -> ClothPicture:
    """One piece as it will be woven, as wide as the warp; without a length, a square of it."""
    picks = plan.weft.piece_order or _about(plan.weft.order, plan.ends)
    known = "" if plan.weft.piece_order else "; the length is not known, so a part is shown"
    return _picture(plan, plan.order, picks, f"{plan.cloth.name}: drawn from the counts{known}")


def detail_of(plan: WarpPlan, most: int = 120) -> ClothPicture:
    """The first ends and picks of the warp and weft, large enough to see each thread."""
    ends = min(most, plan.ends)
    picks = _about(plan.weft.order, ends, exact=True)
    caption = f"{plan.cloth.name}: the first {ends} ends, thread by thread"
    return _picture(plan, cut_out(plan.order, 0, ends), picks, caption)


def part_of(plan: WarpPlan, shown: ShownPart) -> ClothPicture | None:
    """What the photo shows, drawn from the counts and lying the same way round.

    None if it has yarns that the cloth no longer has, as after an edit.
    """
    keys = {yarn.key for yarn in plan.cloth.yarns}
    stripes = shown.warp + shown.weft
    if not (shown.warp and shown.weft) or any(stripe.yarn not in keys for stripe in stripes):
        return None
    picture = _picture(plan, shown.warp, shown.weft[::-1], f"{plan.cloth.name}: as in the photo")
    if not shown.warp_across:
        return picture
    return replace(
        picture,
        warp=picture.weft,
        weft=picture.warp,
        lift=tuple(tuple(not up for up in column) for column in zip(*picture.lift, strict=True)),
        end_mm=picture.pick_mm,
        pick_mm=picture.end_mm,
    )


def beside_photo(plan: WarpPlan, shown: ShownPart | None) -> tuple[ClothPicture, str]:
    """The cloth as it is drawn on the overview, and the line below it.

    As much as the photo shows, so that both have one scale; else the whole piece.
    """
    part = None if shown is None else part_of(plan, shown)
    if part is None:
        return picture_of(plan), drawn_caption(plan)
    weave = "" if plan.draft else "; the weave is not known"
    return part, f"Drawn from the counts, as much as the photo shows{weave}"


def _about(order: tuple[Stripe, ...], picks: int, *, exact: bool = False) -> tuple[Stripe, ...]:
    """The weft repeat over and over, for at least so many picks, or exactly so many."""
    one = sum(stripe.threads for stripe in order)
    whole = tuple(chain.from_iterable(repeat(order, -(-picks // one))))
    return cut_out(whole, 0, picks) if exact else whole


def _picture(
    plan: WarpPlan, warp: tuple[Stripe, ...], weft: tuple[Stripe, ...], caption: str
) -> ClothPicture:
    ends, picks = plan.cloth.warp.density, plan.cloth.weft.density
    if plan.draft is None:
        caption += "; the weave is not known and is drawn as plain"
    end_mm = 1 / float(ends.value) if ends else None
    pick_mm = 1 / float(picks.value) if picks else None
    return ClothPicture(
        warp=warp,
        weft=weft[::-1],
        colours={yarn.key: checked_colour(yarn) for yarn in plan.cloth.yarns},
        lift=lift_of(plan.draft, sum(stripe.threads for stripe in weft)),
        end_mm=end_mm or pick_mm or _FALLBACK_MM,
        pick_mm=pick_mm or end_mm or _FALLBACK_MM,
        caption=caption,
    )
