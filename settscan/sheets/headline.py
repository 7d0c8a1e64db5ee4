"""The plan in about a screen: what `settscan plan` says to those who do not ask for more."""

from __future__ import annotations

from settscan.cloth.notation import format_sequence
from settscan.sheets import content
from settscan.sheets.terminal import columns, heading, table, title, warning_list
from settscan.winding.wound import Wound

MOST_WARNINGS = 5  # at the head of a plan; the rest is for those who ask


def headline_text(winding: Wound) -> str:
    """The plan in about a screen: colours, key figures, yarn, what to look at."""
    plan = winding.plan
    sequences = format_sequence(plan.cloth.warp.sequence), format_sequence(plan.cloth.weft.sequence)
    weft = "as the warp" if sequences[0] == sequences[1] else sequences[1]
    figures = content.key_figures(plan, winding)
    found = content.warnings(plan, winding)
    shown = found if len(found) <= MOST_WARNINGS + 1 else found[:MOST_WARNINGS]
    more = len(found) - len(shown)
    parts = [
        title(content.title_of(plan)),
        table([("warp", sequences[0]), ("weft", weft)]),
        "",
        table([(figure.label, _with_note(figure)) for figure in figures]),
        heading("Yarn to buy"),
        _yarns(winding),
        warning_list("Look at this before winding", shown),
        f"    and {more} more: --verbose shows them" if more else None,
    ]
    return "\n".join(part for part in parts if part is not None)


def _with_note(figure: content.Figure) -> str:
    return f"{figure.value}  ({figure.note})" if figure.note else figure.value


def _yarns(winding: Wound) -> str:
    rows = []
    for need, row in zip(winding.yarns, content.yarn_rows(winding), strict=True):
        _, ends, warp, weft, total, mass, buy = row
        rows.append((need.key, ends, warp, weft, total, mass, f"{need.name}: {buy}"))
    head = ("yarn", "ends", "warp", "weft", "with spare", "mass", "buy")
    return columns(head, rows, right=(1, 2, 3, 4, 5))
