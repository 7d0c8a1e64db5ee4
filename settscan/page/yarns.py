"""Edits of the yarns, and of warp and weft together: the work in, the work out."""

from __future__ import annotations

import re
from dataclasses import replace

from settscan.cloth.model import SequenceKind, Yarn
from settscan.cloth.notation import yarn_key
from settscan.errors import BadInput
from settscan.page.stripes import coloured, joined
from settscan.page.work import WARP, WEFT, Side, Work, following

_LONGEST_NAME = 60


def renamed(work: Work, key: str, name: str) -> Work:
    """Another name for a colour."""
    told = " ".join(name.split())
    if not told or len(told) > _LONGEST_NAME or not told.isprintable():
        raise BadInput("A colour needs a name of one line.", f"Write 1 to {_LONGEST_NAME} letters.")
    return _with_yarn(work, replace(work.yarn(key), name=told))


def recoloured(work: Work, key: str, colour: str) -> Work:
    """Another colour for a yarn, "#rrggbb"."""
    return _with_yarn(work, replace(work.yarn(key), colour=_checked(colour), lab=None))


def added(work: Work, name: str, colour: str) -> tuple[Work, str]:
    """One yarn more, and its key."""
    there = {yarn.key for yarn in work.yarns}
    key = next(one for one in map(yarn_key, range(702)) if one not in there)
    yarn = Yarn(key=key, name="new", colour=_checked(colour))
    return renamed(replace(work, yarns=(*work.yarns, yarn)), key, name), key


def taken_out(work: Work, key: str) -> Work:
    """Without a yarn that no stripe uses."""
    work.yarn(key)
    sides = (work.warp, work.weft)
    used = [side.name for side in sides if any(line.yarn == key for line in side.lines)]
    if used:
        raise BadInput(
            f"The {' and the '.join(used)} still use{'' if len(used) > 1 else 's'} yarn {key}.",
            "Merge it into another yarn, or give those stripes another colour first.",
        )
    return replace(work, yarns=tuple(yarn for yarn in work.yarns if yarn.key != key))


def merged_yarns(work: Work, key: str, into: str) -> Work:
    """All stripes of one yarn given another, and the yarn gone; neighbours are joined."""
    work.yarn(key)
    work.yarn(into)
    if key == into:
        raise BadInput("A yarn cannot be merged with itself.", "Choose another one.")
    for name in (WARP, WEFT):
        side = work.side(name)
        lines = tuple(replace(line, yarn=into) if line.yarn == key else line for line in side.lines)
        side = joined(replace(side, lines=lines))
        work = replace(work, warp=side) if name == WARP else replace(work, weft=side)
    return replace(work, yarns=tuple(yarn for yarn in work.yarns if yarn.key != key))


def set_apart(work: Work, side_name: str, index: int, name: str) -> Work:
    """A stripe whose colour is one of its own: a new yarn for it, to begin with of its colour."""
    side = work.side(side_name)
    old = work.yarn(side.line(index).yarn)
    work, key = added(work, name or f"{old.name} 2", old.colour)
    return work.with_side(coloured(work.side(side_name), index, key))


def swapped(work: Work) -> Work:
    """What was taken for the warp is the weft, and the other way round.

    A cloth whose warp runs across the photo is turned so that the photo's top is the warp's left
    and the photo's right is the first pick; a twill then rises the other way.
    """
    if work.like_warp:
        work = own_weft(work)
    to_across = work.warp_runs != "across"
    warp, weft = replace(work.weft, name=WARP), replace(work.warp, name=WEFT)
    if to_across:
        weft = _turned(weft)
    else:
        warp = _turned(warp)
    return replace(
        work,
        warp=warp,
        weft=weft,
        direction={"Z": "S", "S": "Z"}.get(work.direction, ""),
        warp_runs=("across" if to_across else "down") if work.warp_runs else "",
    )


def weft_like_warp(work: Work) -> Work:
    """The weft takes the sequence of the warp."""
    return replace(work, like_warp=True, weft=following(work.weft, work.warp))


def own_weft(work: Work) -> Work:
    """The weft gets a sequence of its own, to begin with that of the warp."""
    return replace(work, like_warp=False)


def _turned(side: Side) -> Side:
    """Written from the other end; a symmetric sequence reads the same in the loom."""
    if side.kind is SequenceKind.SYMMETRIC:
        return side
    last = len(side.lines) - 1
    shown = tuple(replace(one, of=last - one.of) for one in side.shown)
    return replace(side, lines=side.lines[::-1], shown=shown)


def _with_yarn(work: Work, yarn: Yarn) -> Work:
    return replace(work, yarns=tuple(yarn if one.key == yarn.key else one for one in work.yarns))


def _checked(colour: str) -> str:
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", colour):
        raise BadInput(f'"{colour[:20]}" is not a colour.', 'Write it as "#1b2654".')
    return colour.lower()
