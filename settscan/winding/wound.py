"""How a warp is made ready: in bouts on a mill, reel or board, or in sections on the beam."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from settscan.cloth.wishes import FrameKind
from settscan.warping.model import WarpPlan
from settscan.winding.model import WindingPlan
from settscan.winding.plan import plan_winding

if TYPE_CHECKING:
    from settscan.winding.sections import SectionPlan

# Sections are read in only for a sectional beam.
Wound: TypeAlias = "WindingPlan | SectionPlan"


def plan_wound(plan: WarpPlan) -> Wound:
    """The winding of a warp in the way that the weaver's frame asks for.

    Raises:
        BadInput: if the warp cannot be wound so; the message says why.
    """
    if plan.wishes.frame.kind is FrameKind.SECTIONS:
        from settscan.winding.sections import plan_sections

        return plan_sections(plan)
    return plan_winding(plan)
