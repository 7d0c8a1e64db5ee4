"""The project as the page shows it: plain data for the stripes, the yarns and what to look at."""

from __future__ import annotations

from typing import Any

from settscan.cloth.model import SequenceKind
from settscan.cloth.notation import format_sequence
from settscan.page.desk import Desk, View
from settscan.page.stripes import breaks
from settscan.page.work import WARP, WEFT, Line, Side, Work
from settscan.sheets.marks import marks_of

_NARROW = 2  # threads: such lines are overlooked most easily
_KIND_WORDS = {
    SequenceKind.SYMMETRIC: "turns back at both ends",
    SequenceKind.REPEATING: "begins again from the first stripe",
    SequenceKind.PARTIAL: "used once, as written",
}


def state_of(desk: Desk) -> dict[str, Any]:
    """Everything that the stripes view needs."""
    view = desk.view()
    history = desk.history
    found: dict[str, Any] = {
        "revision": view.revision,
        "file": desk.path.name,
        "problem": view.problem,
        "undo": history.now.told if history.can_undo and history.now else "",
        "redo": (later.told if (later := history.forth()) else ""),
    }
    if view.work is not None and view.project is not None:
        found |= _cloth(view, view.work)
    return found


def _cloth(view: View, work: Work) -> dict[str, Any]:
    assert view.project is not None
    cloth, photo = view.project.cloth, view.project.photo
    marks = marks_of(work.yarns)
    used = {line.yarn for side in (work.warp, work.weft) for line in side.lines}
    return {
        "name": cloth.name,
        "units": view.project.wishes.units,
        "notes": list(cloth.notes),
        "weave": work.weave,
        "direction": work.direction,
        "likeWarp": work.like_warp,
        "warpRuns": work.warp_runs,
        "photo": photo.file if photo else "",
        "yarns": [
            {
                "key": yarn.key,
                "name": yarn.name,
                "colour": yarn.colour,
                "ink": marks[yarn.key].ink,
                "hatch": marks[yarn.key].hatch.value,
                "used": yarn.key in used,
            }
            for yarn in work.yarns
        ],
        WARP: _side(work.warp),
        WEFT: _side(work.weft),
    }


def _side(side: Side) -> dict[str, Any]:
    sequence = side.sequence
    symmetric = sequence.kind is SequenceKind.SYMMETRIC
    last = len(side.lines) - 1
    return {
        "sequence": format_sequence(sequence),
        "kind": sequence.kind.value,
        "kindWords": _KIND_WORDS[sequence.kind],
        "repeat": sequence.threads,
        "totals": sequence.threads_per_yarn(),
        "pivots": [0, last] if symmetric and last > 0 else [],
        "lines": [_line(line) for line in side.lines],
        "shown": [
            [one.of, one.threads, round(one.start, 5), round(one.end, 5), one.cut]
            for one in side.shown
        ],
        "exact": side.exact,
        "look": look_first(side),
        "breaks": [
            {
                "place": place,
                "line": side.shown[place].of,
                "found": side.shown[place].threads,
                "written": side.lines[side.shown[place].of].threads,
            }
            for place in breaks(side)
        ],
    }


def _line(line: Line) -> dict[str, Any]:
    doubt = line.doubt
    return {
        "yarn": line.yarn,
        "threads": line.threads,
        "certain": line.certain,
        "doubt": None
        if doubt is None or line.certain
        else {
            "low": doubt.low,
            "high": doubt.high,
            "chance": round(doubt.chance * 100),
            "note": doubt.note,
        },
    }


def look_first(side: Side) -> list[int]:
    """Stripes to be looked at, the most doubtful first, then narrow lines that nobody confirmed."""

    def order(index: int) -> tuple[bool, float, int]:
        line = side.lines[index]
        if line.doubtful and line.doubt is not None:
            return (False, line.doubt.chance, line.threads)
        return (True, float(line.threads), index)

    wanted = [
        index
        for index, line in enumerate(side.lines)
        if line.doubtful or (line.threads <= _NARROW and not line.certain)
    ]
    return sorted(wanted, key=order)
