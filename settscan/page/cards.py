"""The winding as cards, one action each: what the weaver at the mill is shown, step by step."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from typing import Any

from settscan.sheets.content import mixed, plural, section_row
from settscan.sheets.winding_lines import due_ties
from settscan.winding.model import Bout, TieKind, WindingPlan, WindingStep
from settscan.winding.sections import SectionPlan
from settscan.winding.wound import Wound

Card = dict[str, Any]


def cards_of(winding: Wound) -> list[Card]:
    """All cards in the order of the work.

    Each has `kind` ("prepare", "wind", "tie", "take off", "section" or "done"), `head`, `lines`,
    and the ends in the bout and the warp when it is done (`bout_total`, `warp_total`). A card for
    winding has also `ends`, `yarns`, `colour`, `begins`, `finishes`, `change` and `stripe`; one
    for setting up, how many of its first lines are steps that the sheets number (`numbered`).
    """
    if isinstance(winding, SectionPlan):
        return _sections(winding)
    found = [_prepare(winding)]
    before = 0
    for bout in winding.bouts:
        found += _bout(winding, bout, before)
        before += bout.ends
    found.append(_done(before, "on their chains", winding.cautions[-1]))
    return found


def mark(cards: Sequence[Card]) -> str:
    """A short mark of these cards; other cards have another."""
    told = [[card["kind"], card["head"], card["warp_total"], card["lines"]] for card in cards]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:16]


def _card(kind: str, head: str, lines: Sequence[str], bout: int, total: int, warp: int) -> Card:
    return {
        "kind": kind,
        "head": head,
        "lines": list(lines),
        "bout": bout,
        "bout_total": total,
        "warp_total": warp,
    }


def _prepare(winding: WindingPlan) -> Card:
    kind = winding.frame.kind.value
    lines = [*winding.path.steps, f"{mixed(winding.path.turns)} turns in all."]
    card = _card("prepare", f"Set up the {kind}", lines, 0, 0, 0)
    return card | {"numbered": len(winding.path.steps)}


def _bout(winding: WindingPlan, bout: Bout, before: int) -> list[Card]:
    """The cards of a bout: winding and counting ties, then the ties, then taking off.

    Each also tells the ends of the whole bout (`bout_ends`).
    """
    found: list[Card] = []
    due = due_ties(bout)
    for step in bout.steps:
        found.append(_wind(winding, bout, step, before))
        if step.number in due:
            tie = _card(
                "tie",
                "Counting tie",
                due[step.number],
                bout.number,
                step.bout_total,
                before + step.bout_total,
            )
            found.append(tie)
    after = before + bout.ends
    kinds = (TieKind.CROSS, TieKind.CHOKE, TieKind.LOOP_END)
    ties = [tie.text for tie in winding.ties if tie.bout == bout.number and tie.kind in kinds]
    number = f"bout {bout.number} of {len(winding.bouts)}"
    found.append(_card("tie", f"Tie {number}", ties, bout.number, bout.ends, after))
    lines = [*winding.before_taking_off, f"Tag: {bout.tag}"]
    found.append(_card("take off", f"Take off {number}", lines, bout.number, bout.ends, after))
    return [card | {"bout_ends": bout.ends} for card in found]


def _wind(winding: WindingPlan, bout: Bout, step: WindingStep, before: int) -> Card:
    card = _card(
        "wind",
        f"{step.ends} {step.colour_name}",
        _stripe_line(step),
        bout.number,
        step.bout_total,
        before + step.bout_total,
    )
    return card | {
        "ends": step.ends,
        "passes": step.passes,
        "in_hand": step.in_hand,
        "yarns": list(step.yarns),
        "colour": step.colour_name,
        "begins": step.begins_at,
        "finishes": step.finishes_at,
        "change": step.change,
        "repeat": step.repeat_label,
    }


def _stripe_line(step: WindingStep) -> list[str]:
    """How far a divided stripe has come, and what one pass carries."""
    lines = []
    if step.stripe_ends != step.ends:
        lines.append(f"makes {step.stripe_done} of {step.stripe_ends} in this stripe")
    if step.in_hand > 1:
        lines.append(f"{plural(step.passes, 'pass', 'passes')} of {step.in_hand} ends in the hand")
    return lines


def _sections(beam: SectionPlan) -> list[Card]:
    """A card for each section of a sectional beam."""
    found = [_card("prepare", "Make the beam ready", [*beam.notes, *beam.how], 0, 0, 0)]
    total = 0
    for section in beam.sections:
        total += section.ends
        *_, order, change = section_row(section)
        ends = f"{section.ends} ends, {section.first_end} to {section.last_end} from the left"
        head = f"Section {section.number} of {len(beam.sections)}"
        lines = [change, f"Spools from left to right: {order}", ends]
        found.append(_card("section", head, lines, section.number, section.ends, total))
    found.append(_done(total, "on the beam"))
    return found


def _done(total: int, where: str, caution: str = "") -> Card:
    lines = ["Well wound.", f"{total} ends are {where}."]
    return _card("done", "The warp is wound", [*lines, caution] if caution else lines, 0, 0, total)
