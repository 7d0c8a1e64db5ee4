"""The plan as JSON for other programs: a versioned form with units in its names."""

from __future__ import annotations

import json
from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from settscan import __version__
from settscan.cloth.model import Stripe
from settscan.cloth.notation import format_sequence
from settscan.measured import Measured, Number
from settscan.warping.model import Draft, ReedChoice, WarpPlan, YarnNeed
from settscan.winding.model import Bout, WindingPlan, WindingStep
from settscan.winding.sections import SectionPlan
from settscan.winding.wound import Wound

FORMAT = "settscan plan"
VERSION = 1

Json = dict[str, Any]


def plan_json(plan: WarpPlan, winding: Wound | None = None) -> str:
    """The warp plan, and the winding plan if given, as JSON text.

    Counts are whole numbers. Other figures are decimal numbers in the unit of their name; an
    uncertain one is an object with `value`, `low` and `high`. What is not known is null.
    """
    body: Json = {
        "format": FORMAT,
        "version": VERSION,
        "program": f"settscan {__version__}",
        "cloth": _cloth(plan),
        "warp": _warp(plan),
        "weft": _weft(plan),
        "draft": _draft(plan.draft) if plan.draft else None,
        "yarns": [_yarn(need) for need in (winding or plan).yarns],
        "winding": _winding(winding) if isinstance(winding, WindingPlan) else None,
        "sections": _sections(winding) if isinstance(winding, SectionPlan) else None,
        "warnings": list(plan.warnings) + (list(winding.warnings) if winding else []),
    }
    return json.dumps(body, ensure_ascii=False, indent=1) + "\n"


def _number(value: Number | None) -> float | int | None:
    """A decimal number of at most nine figures after the point, whole where it is whole."""
    if value is None:
        return None
    if isinstance(value, Fraction) and value.denominator == 1:
        return int(value)
    return round(float(value), 9)


def _measured(value: Measured | None) -> Json | None:
    if value is None:
        return None
    return {
        "value": _number(value.value),
        "low": _number(value.low),
        "high": _number(value.high),
        "origin": value.origin.value,
    }


def _stripes(stripes: Iterable[Stripe]) -> list[Json]:
    return [{"yarn": stripe.yarn, "threads": stripe.threads} for stripe in stripes]


def _cloth(plan: WarpPlan) -> Json:
    cloth = plan.cloth
    return {
        "name": cloth.name,
        "weave": cloth.weave,
        "twill_direction": cloth.twill_direction,
        "yarns": [
            {"key": y.key, "name": y.name, "srgb": y.colour, "size": y.size} for y in cloth.yarns
        ],
        "warp": {
            "kind": cloth.warp.sequence.kind.value,
            "sequence": format_sequence(cloth.warp.sequence),
            "finished_ends_per_mm": _measured(cloth.warp.density),
        },
        "weft": {
            "kind": cloth.weft.sequence.kind.value,
            "sequence": format_sequence(cloth.weft.sequence),
            "finished_picks_per_mm": _measured(cloth.weft.density),
        },
        "notes": list(cloth.notes),
    }


def _warp(plan: WarpPlan) -> Json:
    return {
        "ends": plan.ends,
        "repeats": plan.repeats,
        "order": _stripes(plan.order),
        "blocks": [
            {"label": b.label, "first_end": b.first_end + 1, "ends": b.ends} for b in plan.blocks
        ],
        "ends_per_yarn": dict(plan.ends_per_yarn),
        "loom_ends_per_mm": _measured(plan.loom_density),
        "finished_width_mm": _measured(plan.finished_width_mm),
        "width_in_reed_mm": _measured(plan.width_in_reed_mm),
        "warp_length_mm": _measured(plan.warp_length_mm),
        "reed": _reed(plan.reed) if plan.reed else None,
        "sley": [{"dents": r.dents, "ends_per_dent": r.ends_per_dent} for r in plan.sley],
        "steps": [{"label": step.label, "text": step.text} for step in plan.steps],
    }


def _reed(choice: ReedChoice) -> Json:
    return {
        "label": choice.reed.label,
        "dents_per_mm": _number(choice.reed.dents_per_mm),
        "sleying": choice.sleying,
        "ends_per_mm": _number(choice.epi_per_mm),
        "relative_error": _number(choice.error),
        "width_mm": _number(choice.width_mm),
        "dents": choice.dents,
    }


def _weft(plan: WarpPlan) -> Json:
    weft = plan.weft
    return {
        "order": _stripes(weft.order),
        "piece_order": _stripes(weft.piece_order),
        "picks": weft.picks,
        "picks_per_piece": weft.picks_per_piece,
        "picks_per_yarn": dict(weft.picks_per_yarn),
        "loom_picks_per_mm": _measured(weft.loom_ppi),
        "shuttles": weft.shuttles,
        "colour_changes": weft.colour_changes,
        "pick_mm": _number(weft.pick_mm),
        "blocks": [
            {"label": b.label, "first_pick": b.first_end + 1, "picks": b.ends} for b in weft.blocks
        ],
    }


def _draft(draft: Draft) -> Json:
    return {
        "name": draft.name,
        "shafts": draft.shafts,
        "treadles": draft.treadles,
        "threading": list(draft.threading),
        "tie_up": [list(shafts) for shafts in draft.tie_up],
        "treadling": list(draft.treadling),
        "heddles": list(draft.heddles),
        "direction": draft.direction,
    }


def _yarn(need: YarnNeed) -> Json:
    return {
        "key": need.key,
        "name": need.name,
        "srgb": need.colour,
        "warp_ends": need.warp_ends,
        "warp_mm": _number(need.warp_mm),
        "weft_mm": _number(need.weft_mm),
        "total_mm": _number(need.total_mm),
        "mass_g": _number(need.mass_g),
        "to_buy_g": _number(need.to_buy_g),
        "packages": need.packages,
        "cost": _number(need.cost),
        "pirns": need.pirns,
    }


def _winding(winding: WindingPlan) -> Json:
    path = winding.path
    return {
        "frame": winding.frame.kind.value,
        "turns": _number(path.turns),
        "path_mm": _number(path.length_mm),
        "wanted_mm": _number(path.wanted_mm),
        "guide_cord_mm": _number(path.guide_cord_mm),
        "passes": winding.passes,
        "knots": winding.knots,
        "turns_in_all": _number(winding.turns_in_all),
        "yarn_through_the_hand_mm": _number(winding.walking_mm),
        "minutes": _measured(winding.minutes),
        "setting_up": list(path.steps),
        "before_taking_off": list(winding.before_taking_off),
        "if_the_count_is_lost": list(winding.recover),
        "ends_in_hand": [
            {"in_hand": c.in_hand, "passes": c.passes, "odd": c.odd, "uneven": c.uneven}
            for c in winding.hand_choices
        ],
        "odd_stripes": [
            {
                "bout": odd.bout,
                "stripe": odd.stripe + 1,
                "yarn": odd.yarn,
                "ends": odd.ends,
                "done": odd.done,
                "ways_out": list(odd.ways_out),
            }
            for odd in winding.odd_stripes
        ],
        "bouts": [_bout(bout) for bout in winding.bouts],
        "ties": [
            {
                "kind": tie.kind.value,
                "bout": tie.bout,
                "number": tie.number,
                "text": tie.text,
                "after_end": tie.after_end,
                "places_mm": [_number(place) for place in tie.places_mm],
            }
            for tie in winding.ties
        ],
    }


def _sections(beam: SectionPlan) -> Json:
    return {
        "spools": beam.spools,
        "each_section_mm": _number(beam.each_section_mm),
        "lots": [
            {
                "yarn": lot.yarn,
                "spools": lot.spools,
                "sections": lot.sections,
                "length_mm": _number(lot.length_mm),
            }
            for lot in beam.lots
        ],
        "sections": [
            {
                "number": section.number,
                "first_end": section.first_end,
                "last_end": section.last_end,
                "order": _stripes(section.order),
                "change": section.change,
            }
            for section in beam.sections
        ],
    }


def _bout(bout: Bout) -> Json:
    return {
        "number": bout.number,
        "ends": bout.ends,
        "first_end": bout.first_end,
        "last_end": bout.last_end,
        "per_yarn": dict(bout.per_yarn),
        "tag": bout.tag,
        "passes": bout.passes,
        "split_reason": bout.split_reason,
        "steps": [_step(step) for step in bout.steps],
    }


def _step(step: WindingStep) -> Json:
    """Every field of a step, under its own name."""
    return {
        "number": step.number,
        "yarn": step.yarn,
        "held": list(step.held),
        "colour_name": step.colour_name,
        "ends": step.ends,
        "passes": step.passes,
        "in_hand": step.in_hand,
        "bout_total": step.bout_total,
        "warp_total": step.warp_total,
        "begins_at": step.begins_at,
        "finishes_at": step.finishes_at,
        "stripe": step.stripe + 1,
        "stripe_ends": step.stripe_ends,
        "stripe_done": step.stripe_done,
        "change": step.change,
        "change_short": step.change_short,
        "broken_off": list(step.broken_off),
        "left_hanging": list(step.left_hanging),
        "taken_up": list(step.taken_up),
        "tied_on": list(step.tied_on),
        "ties": list(step.ties),
        "repeat": step.repeat_label,
    }
