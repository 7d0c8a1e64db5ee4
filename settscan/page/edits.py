"""The edits that the page may ask for, by name, with what each of them needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from settscan.cloth.model import SequenceKind
from settscan.cloth.weaves import weave_name
from settscan.errors import BadInput
from settscan.page import stripes, yarns
from settscan.page.work import Line, Side, Work

Done = tuple[Work, str]
"""The work after an edit, and one line that says what was done."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the page sent along with an edit, checked as it is taken."""

    given: Mapping[str, Any]

    def number(self, key: str) -> int:
        """A whole number."""
        value = self.given.get(key)
        if isinstance(value, bool) or not isinstance(value, int):
            raise BadInput(f"The edit lacks a whole number for {key}.", "Write one, as in 12.")
        return value

    def share(self, key: str) -> float:
        """A number from 0 to 1."""
        value = self.given.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= 1:
            raise BadInput(f"The edit lacks a place for {key}.", "Give a share from 0 to 1.")
        return float(value)

    def text(self, key: str) -> str:
        """A line of text."""
        value = self.given.get(key)
        if not isinstance(value, str) or len(value) > 500:
            raise BadInput(f"The edit lacks a text for {key}.", "Write one.")
        return value

    def truth(self, key: str) -> bool:
        """True or false."""
        return self.given.get(key) is True


def edited(work: Work, edit: Mapping[str, Any]) -> Done:
    """The work after an edit.

    Args:
        work: as it is.
        edit: its `name`, and what it needs.

    Raises:
        BadInput: for an edit that is not known, or that makes no sense.
    """
    name = edit.get("name")
    wanted = Wanted(edit)
    if name in _ON_SIDES:
        side = work.side(wanted.text("side"))
        if side.name == "weft" and work.like_warp:
            raise BadInput("The weft is made like the warp.", "Give it stripes of its own first.")
        if "yarn" in edit:
            work.yarn(wanted.text("yarn"))
        new, told = _ON_SIDES[name](side, wanted)
        return work.with_side(new), f"{side.name.capitalize()}: {told}"
    if name in _ON_WORK:
        return _ON_WORK[name](work, wanted)
    raise BadInput(f'There is no edit "{str(name)[:30]}".', "Reload the page.")


# --- stripes -------------------------------------------------------------------------------------


def _label(side: Side, index: int) -> str:
    line: Line = side.line(index)
    return f"stripe {index + 1} ({line.yarn}{line.threads})"


def _count(side: Side, w: Wanted) -> tuple[Side, str]:
    index, threads = w.number("line"), w.number("threads")
    told = f"{_label(side, index)} has {threads} threads"
    return stripes.counted(side, index, threads), told


def _colour(side: Side, w: Wanted) -> tuple[Side, str]:
    index, yarn = w.number("line"), w.text("yarn")
    return stripes.coloured(side, index, yarn), f"{_label(side, index)} is of yarn {yarn}"


def _merge(side: Side, w: Wanted) -> tuple[Side, str]:
    index = w.number("line")
    return stripes.merged(side, index), f"{_label(side, index)} merged with the next"


def _split(side: Side, w: Wanted) -> tuple[Side, str]:
    index, first = w.number("line"), w.number("threads")
    new = stripes.split(side, index, first, w.text("yarn"))
    return new, f"{_label(side, index)} split at {first}"


def _insert(side: Side, w: Wanted) -> tuple[Side, str]:
    index, threads, yarn = w.number("line"), w.number("threads"), w.text("yarn")
    before = w.number("before") if "before" in w.given else None
    new = stripes.inserted(side, index, yarn, threads, before)
    return new, f"{yarn}{threads} inserted {'in' if before else 'after'} {_label(side, index)}"


def _delete(side: Side, w: Wanted) -> tuple[Side, str]:
    index = w.number("line")
    return stripes.deleted(side, index), f"{_label(side, index)} taken out"


def _move(side: Side, w: Wanted) -> tuple[Side, str]:
    place = w.number("place")
    new = stripes.moved(side, place, w.share("to"))
    return new, f"edge {place + 1} moved"


def _certain(side: Side, w: Wanted) -> tuple[Side, str]:
    index, certain = w.number("line"), w.truth("certain")
    word = "marked as certain" if certain else "no longer certain"
    return stripes.marked(side, index, certain), f"{_label(side, index)} {word}"


def _mend(side: Side, w: Wanted) -> tuple[Side, str]:
    place = w.number("place")
    return stripes.mended(side, place), f"slip at place {place + 1} mended"


def _write_out(side: Side, w: Wanted) -> tuple[Side, str]:
    return stripes.written_out(side), "every stripe of the photo written out"


def _kind(side: Side, w: Wanted) -> tuple[Side, str]:
    try:
        kind = SequenceKind(w.text("kind"))
    except ValueError:
        raise BadInput(
            "A sequence is symmetric, repeating or partial.", "Choose one of these."
        ) from None
    return stripes.as_kind(side, kind), f"sequence is {kind.value}"


_ON_SIDES: dict[object, Callable[[Side, Wanted], tuple[Side, str]]] = {
    "count": _count,
    "colour": _colour,
    "merge": _merge,
    "split": _split,
    "insert": _insert,
    "delete": _delete,
    "move": _move,
    "certain": _certain,
    "mend": _mend,
    "write-out": _write_out,
    "kind": _kind,
}


# --- yarns, warp and weft ------------------------------------------------------------------------


def _rename_yarn(work: Work, w: Wanted) -> Done:
    key, name = w.text("yarn"), w.text("text")
    return yarns.renamed(work, key, name), f"Yarn {key} is called {name}"


def _recolour_yarn(work: Work, w: Wanted) -> Done:
    key, colour = w.text("yarn"), w.text("colour")
    return yarns.recoloured(work, key, colour), f"Yarn {key} is {colour}"


def _merge_yarns(work: Work, w: Wanted) -> Done:
    key, into = w.text("yarn"), w.text("into")
    return yarns.merged_yarns(work, key, into), f"Yarn {key} merged into {into}"


def _add_yarn(work: Work, w: Wanted) -> Done:
    new, key = yarns.added(work, w.text("text"), w.text("colour"))
    return new, f"Yarn {key} added"


def _remove_yarn(work: Work, w: Wanted) -> Done:
    key = w.text("yarn")
    return yarns.taken_out(work, key), f"Yarn {key} taken out"


def _set_apart(work: Work, w: Wanted) -> Done:
    side, index = w.text("side"), w.number("line")
    if side == "weft" and work.like_warp:
        raise BadInput("The weft is made like the warp.", "Give it stripes of its own first.")
    told = f"{side.capitalize()}: {_label(work.side(side), index)} has a colour of its own"
    return yarns.set_apart(work, side, index, w.text("text")), told


def _swap(work: Work, w: Wanted) -> Done:
    return yarns.swapped(work), "Warp and weft swapped"


def _weft_like_warp(work: Work, w: Wanted) -> Done:
    if w.truth("on"):
        return yarns.weft_like_warp(work), "Weft made like the warp"
    return yarns.own_weft(work), "Weft has stripes of its own"


def _weave(work: Work, w: Wanted) -> Done:
    from dataclasses import replace

    name, direction = w.text("weave").strip(), w.text("direction").strip().upper()
    weave_name(name)
    if direction not in ("", "Z", "S"):
        raise BadInput("A twill rises to the right (Z) or the left (S).", "Choose one of the two.")
    return replace(work, weave=name.lower(), direction=direction), f"Weave is {name} {direction}"


_ON_WORK: dict[object, Callable[[Work, Wanted], Done]] = {
    "rename-yarn": _rename_yarn,
    "recolour-yarn": _recolour_yarn,
    "merge-yarns": _merge_yarns,
    "add-yarn": _add_yarn,
    "remove-yarn": _remove_yarn,
    "set-apart": _set_apart,
    "swap": _swap,
    "weft-like-warp": _weft_like_warp,
    "weave": _weave,
}
