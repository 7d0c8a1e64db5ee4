"""Plain tables of ends, picks and stripes as CSV (RFC 4180: comma, quotes, CRLF)."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from io import StringIO
from itertools import chain, repeat

from settscan.cloth.model import Cloth, Stripe
from settscan.sheets.at_loom import shafts_of_ends
from settscan.warping.model import Draft, WarpPlan


def _csv(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue()


def _names(cloth: Cloth) -> dict[str, tuple[str, str]]:
    return {yarn.key: (yarn.name, yarn.colour) for yarn in cloth.yarns}


def dents_of_ends(plan: WarpPlan) -> list[int]:
    """The 1-based dent of each end, left to right; empty if no reed was chosen."""
    dents: list[int] = []
    at = 0
    for run in plan.sley:
        for _ in range(run.dents):
            at += 1
            dents += [at] * run.ends_per_dent
    return dents


def ends_csv(plan: WarpPlan) -> str:
    """One row for each end, left to right: its yarn, shaft and dent (empty if not known)."""
    names = _names(plan.cloth)
    shafts = shafts_of_ends(plan)
    keys = chain.from_iterable(repeat(s.yarn, s.threads) for s in plan.order)
    dents = chain(dents_of_ends(plan), repeat(""))
    rows = (
        (end + 1, key, *names[key], shafts[end] or "", dent)
        for end, (key, dent) in enumerate(zip(keys, dents, strict=False))
    )
    return _csv(("end", "yarn", "colour", "srgb", "shaft", "dent"), rows)


def picks_csv(plan: WarpPlan) -> str:
    """One row for each pick of one piece (of one repeat if its length is unknown), as woven."""
    names = _names(plan.cloth)
    order = plan.weft.piece_order or plan.weft.order
    keys = chain.from_iterable(repeat(s.yarn, s.threads) for s in order)
    rows = []
    for pick, key in enumerate(keys):
        rows.append((pick + 1, key, *names[key], *_shed(plan.draft, pick)))
    return _csv(("pick", "yarn", "colour", "srgb", "treadle", "shafts raised"), rows)


def _shed(draft: Draft | None, pick: int) -> tuple[object, str]:
    """Treadle and raised shafts of a pick; both empty without a draft."""
    if draft is None:
        return "", ""
    treadle = draft.treadling[pick % len(draft.treadling)]
    return treadle, " ".join(map(str, draft.tie_up[treadle - 1]))


def stripes_csv(plan: WarpPlan) -> str:
    """One row for each stripe of the warp, left to right, and of the weft, as woven."""
    weft = plan.weft.piece_order or plan.weft.order
    rows = chain(
        _stripe_rows("warp", plan.order, plan.cloth), _stripe_rows("weft", weft, plan.cloth)
    )
    head = ("axis", "stripe", "yarn", "colour", "srgb", "threads", "first", "last")
    return _csv(head, rows)


def _stripe_rows(
    axis: str, stripes: Iterable[Stripe], cloth: Cloth
) -> Iterable[tuple[object, ...]]:
    names = _names(cloth)
    done = 0
    for number, stripe in enumerate(stripes, 1):
        first, done = done + 1, done + stripe.threads
        yield (axis, number, stripe.yarn, *names[stripe.yarn], stripe.threads, first, done)
