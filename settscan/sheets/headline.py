"""The plan in about a screen: what `settscan plan` says to those who do not ask for more."""

from __future__ import annotations

from settscan.cloth.notation import format_sequence
from settscan.sheets import content
from settscan.sheets.terminal import columns, heading, table, title, warning_list
from settscan.sheets.to_look_at import short_warnings
from settscan.winding.wound import Wound

MOST_WARNINGS = 8  # at the head of a plan; the rest is for those who ask


def headline_text(winding: Wound, *, in_full: bool = False) -> str:
    """The plan in about a screen: colours, key figures, yarn, what to look at.

    Args:
        winding: the warp and how it is wound.
        in_full: whether every warning is told in full, however many there are.
    """
    plan = winding.plan
    sequences = format_sequence(plan.cloth.warp.sequence), format_sequence(plan.cloth.weft.sequence)
    weft = "as the warp" if sequences[0] == sequences[1] else sequences[1]
    figures = content.key_figures(plan, winding)
    every = content.warnings(plan, winding)
    found = every if in_full else short_warnings(plan, winding)
    shown = found if in_full or len(found) <= MOST_WARNINGS + 1 else found[:MOST_WARNINGS]
    parts = [
        title(content.title_of(plan)),
        table([("warp", sequences[0]), ("weft", weft)]),
        "",
        table([(figure.label, _with_note(figure)) for figure in figures]),
        heading("Yarn to buy"),
        _yarns(winding),
        warning_list("Look at this before winding", shown) or None,
        _rest(len(found) - len(shown), shortened=found != every),
    ]
    return "\n".join(part for part in parts if part is not None)


def _rest(more: int, *, shortened: bool) -> str | None:
    """Where to find what is not shown."""
    if more:
        return f"    and {more} more: --verbose shows all of them in full"
    return "    Each stripe with what the photo allows: --verbose" if shortened else None


def _with_note(figure: content.Figure) -> str:
    return f"{figure.value}  ({figure.note})" if figure.note else figure.value


def _yarns(winding: Wound) -> str:
    rows = []
    for need, row in zip(winding.yarns, content.yarn_rows(winding), strict=True):
        _, ends, warp, weft, total, mass, buy = row
        rows.append((need.key, ends, warp, weft, total, mass, f"{need.name}: {buy}"))
    head = ("yarn", "ends", "warp", "weft", "with spare", "mass", "buy")
    return columns(head, rows, right=(1, 2, 3, 4, 5))
