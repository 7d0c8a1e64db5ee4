"""Project text and picture places -> the work on the table, and the places back to plain data.

The project file says which stripes the photo shows; the places say where. They are evidence
only: lost or out of step, they are worked out again from the counts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from settscan.cloth.model import Cloth, Stripe, StripeDoubt, ThreadSet
from settscan.cloth.notation import parse_sequence
from settscan.cloth.project_model import PhotoRecord
from settscan.errors import SettscanError
from settscan.page.laying import laid
from settscan.page.work import WARP, WEFT, Line, Shown, Side, Work

Data = dict[str, Any]


def work_of(data: Data, cloth: Cloth, photo: PhotoRecord | None, places: Data) -> Work:
    """The work on the table.

    Args:
        data: the project file as plain data.
        cloth: the same, checked.
        photo: the same, checked.
        places: see `places_of`; {} if not known.
    """
    like_warp = _table(data, WEFT).get("like_warp") is True
    warp = _side(WARP, cloth.warp, _table(data, WARP))
    weft = _side(WEFT, cloth.weft, {} if like_warp else _table(data, WEFT))
    if photo is not None:
        warp = _with_shown(warp, photo.shows_warp, places.get(WARP))
        weft = _with_shown(weft, photo.shows_weft, places.get(WEFT))
    return Work(
        yarns=cloth.yarns,
        warp=warp,
        weft=weft,
        like_warp=like_warp,
        weave=cloth.weave,
        direction=cloth.twill_direction or "",
        warp_runs=photo.warp_runs if photo else "",
    )


def places_of(work: Work) -> Data:
    """The places in the picture as plain data: edges as shares of the side, and what is cut."""
    return {side.name: _places(side) for side in (work.warp, work.weft) if side.shown}


def read_places(seen: Data, warp_runs: str) -> Data:
    """Places from what a reading told (see `reading.places`)."""
    across = warp_runs == "across"
    axes = {WARP: "rows" if across else "columns", WEFT: "columns" if across else "rows"}
    found = {}
    for name, axis in axes.items():
        stripes = seen.get(axis, {}).get("stripes", [])
        if stripes:
            edges = [one["start"] for one in stripes] + [stripes[-1]["end"]]
            found[name] = {"edges": edges, "cut": [one["cut"] for one in stripes], "exact": True}
    return found


def shown_text(side: Side) -> str:
    """The stripes that the picture shows, as the project file notes them."""
    return " ".join(f"{side.lines[one.of].yarn}{one.threads}" for one in side.shown)


def _side(name: str, threads: ThreadSet, table: Data) -> Side:
    """The written stripes with what is certain and what is doubted."""
    lines = [Line(stripe.yarn, stripe.threads) for stripe in threads.sequence.stripes]
    for position in _settled(table, lines):
        lines[position] = replace(lines[position], certain=True)
    for doubt in threads.doubts:
        lines[doubt.position] = replace(lines[doubt.position], doubt=doubt)
    return Side(name=name, kind=threads.sequence.kind, lines=tuple(lines), density=threads.density)


def _settled(table: Data, lines: Sequence[Line]) -> list[int]:
    """Places of the stripes that a hand has confirmed or corrected."""
    found = []
    for one in table.get("doubts", []):
        place = one.get("stripe", 0) - 1
        if not 0 <= place < len(lines):
            continue
        line = lines[place]
        count = str(one.get("count", "")).replace("/", "")
        if one.get("confirmed") is True or count != f"{line.yarn}{line.threads}":
            found.append(place)
    return found


def _with_shown(side: Side, shows: str, places: Any) -> Side:
    """The side with its stripes in the picture, as far as they are known."""
    try:
        stripes = parse_sequence(shows, partial=True).stripes if shows else ()
    except SettscanError:
        stripes = ()
    if not stripes:
        return side
    edges, cut, exact = _checked(places, stripes)
    found = [
        (stripe.yarn, Shown(0, stripe.threads, edges[k], edges[k + 1], cut[k]))
        for k, stripe in enumerate(stripes)
    ]
    return replace(laid(side, found), exact=exact)


def _checked(places: Any, stripes: Sequence[Stripe]) -> tuple[list[float], list[bool], bool]:
    """Edges and cuts for so many stripes; worked out from the counts where they do not fit."""
    if isinstance(places, dict):
        edges, cut = places.get("edges"), places.get("cut")
        if (
            isinstance(edges, list)
            and isinstance(cut, list)
            and len(edges) == len(stripes) + 1
            and len(cut) == len(stripes)
            and all(isinstance(one, int | float) and math.isfinite(one) for one in edges)
            and all(a <= b for a, b in zip(edges, edges[1:], strict=False))
        ):
            return [float(e) for e in edges], [bool(c) for c in cut], bool(places.get("exact"))
    total = sum(stripe.threads for stripe in stripes)
    worked_out, at = [0.0], 0
    for stripe in stripes:
        at += stripe.threads
        worked_out.append(at / total)
    last = len(stripes) - 1
    return worked_out, [k in (0, last) for k in range(len(stripes))], False


def _places(side: Side) -> Data:
    edges = [round(one.start, 5) for one in side.shown] + [round(side.shown[-1].end, 5)]
    return {"edges": edges, "cut": [one.cut for one in side.shown], "exact": side.exact}


def _table(data: Data, name: str) -> Data:
    found = data.get(name)
    return found if isinstance(found, dict) else {}


def as_doubt(line: Line, position: int) -> StripeDoubt | None:
    """The doubt of a line at its present place."""
    return None if line.doubt is None else replace(line.doubt, position=position)
