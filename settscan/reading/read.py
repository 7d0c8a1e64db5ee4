"""Flat cloth to reading: the eye's own table of contents, from pixels to counts with chances."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.cloth.model import Yarn
from settscan.cloth.notation import yarn_key
from settscan.doubts import Doubt, doubt
from settscan.measured import Measured, Origin
from settscan.photo.flat import FlatCloth
from settscan.reading.axis import AxisWork, read_axis
from settscan.reading.both_ways import with_unlike_ways_doubted
from settscan.reading.colournames import name_colours
from settscan.reading.colours import difference, to_hex, to_lab
from settscan.reading.hidden import Glance
from settscan.reading.keys import in_written_order
from settscan.reading.lattices import Expected
from settscan.reading.look import Look, look_closely
from settscan.reading.model import AxisRead, ClothRead
from settscan.reading.palette import Palette
from settscan.reading.threads import Lattice
from settscan.reading.unlike import with_unlike_doubted
from settscan.reading.weave import (
    as_told,
    disputed,
    recognise,
    threads_of_cycle,
    with_warp_across,
)
from settscan.reading.woven_end import woven_ends
from settscan.reading.woven_part import WovenPart, woven_part
from settscan.settings import READ, ReadSettings

Floats = NDArray[Any]


def read_cloth(
    flat: FlatCloth,
    *,
    pinned_columns: Measured | None = None,
    pinned_rows: Measured | None = None,
    warp_is_columns: bool = True,
    weave: str | None = None,
    glance: Glance | None = None,
    settings: ReadSettings = READ,
) -> ClothRead:
    """Read yarns, stripes, counts, repeats and weave from a flat cloth.

    Args:
        flat: the straightened picture.
        pinned_columns: density of the column threads (threads per mm), if the person gave it.
        pinned_rows: density of the row threads.
        warp_is_columns: whether the warp runs up and down; its yarns are named first.
        weave: its one name, if the person gave it.
        glance: at this cloth, if one was taken already.
        settings: see `ReadSettings`.

    Raises:
        Refusal: if there is too little cloth to read.
    """
    expected = (
        _expected_pitch(flat.scale.px_per_mm_x, pinned_columns),
        _expected_pitch(flat.scale.px_per_mm_y, pinned_rows),
    )
    part, look = _looked_at(flat, glance, expected, threads_of_cycle(weave), settings)
    keys = tuple(yarn_key(i) for i in range(len(look.palette.colours)))
    along_x, along_y = look.column_lattice, look.row_lattice
    seen = recognise(
        look.signals,
        along_x and along_x.of_weave,
        along_y and along_y.of_weave,
        look.palette.column_share,
        look.diagonals,
        warp_is_columns,
    )
    if weave is None:
        look = _weighed_by_weave(look, seen.confidence, settings)
    seen = seen if warp_is_columns else with_warp_across(seen)
    columns, rows = _read_axes(flat, part, look, keys, (pinned_columns, pinned_rows))
    read = ClothRead(
        yarns=_describe(look.palette, keys),
        columns=columns,
        rows=rows,
        weave=seen if weave is None else as_told(seen, weave),
        column_share=look.palette.column_share,
    )
    read = in_written_order(read, warp_is_columns=warp_is_columns)
    if weave is not None and disputed(weave, look.diagonals):
        read = replace(read, doubts=(*read.doubts, doubt("weave-disputed", weave=weave)))
    return _doubted(read, look, flat, (pinned_columns, pinned_rows), settings)


def _looked_at(
    flat: FlatCloth,
    glance: Glance | None,
    expected: Expected,
    cycle: int | None,
    settings: ReadSettings,
) -> tuple[WovenPart, Look]:
    """What is read of the picture, as far as the cloth's own edges, and a look at it."""
    part = woven_part(flat, glance, settings)
    look = look_closely(part.split, expected, settings, cycle)
    ends = woven_ends(flat, part.split, look, part.own)
    if part.moved(ends, (look.columns.cell, look.rows.cell)):
        # A fringe passed for stripes, or stripes for a fringe.
        part = woven_part(flat, glance, settings, ends)
        look = look_closely(part.split, expected, settings, cycle)
    return part._replace(own=ends), look


def _doubted(
    read: ClothRead,
    look: Look,
    flat: FlatCloth,
    pinned: tuple[Measured | None, Measured | None],
    settings: ReadSettings,
) -> ClothRead:
    """The reading with all that is to be doubted of it."""
    read = with_unlike_doubted(with_unlike_ways_doubted(read), flat, settings)
    scale = flat.scale
    read = replace(
        read,
        columns=_disputed(read.columns, "columns", pinned[0], scale.px_per_mm_x, look.unlike[0]),
        rows=_disputed(read.rows, "rows", pinned[1], scale.px_per_mm_y, look.unlike[1]),
    )
    lattices = (look.column_lattice, look.row_lattice)
    pairs = _maybe_pairs(lattices, settings)
    if pairs:
        # Both weaves would fold to the same picture: it tells no more than the threads do.
        chance = min(lattice.chance for lattice in lattices if lattice is not None)
        known = replace(read.weave, confidence=min(read.weave.confidence, chance))
        read = replace(read, weave=known)
    return replace(read, doubts=(*_doubts(read, flat, settings), *pairs, *read.doubts))


def _disputed(
    axis: AxisRead,
    name: str,
    pinned: Measured | None,
    px_per_mm: Measured | None,
    pitch: float | None,
) -> AxisRead:
    """The axis with a doubt if its threads were seen at another density than is known.

    Known from a person, who is to be followed, or from a close-up.
    """
    if pinned is None or px_per_mm is None or pitch is None:
        return axis
    given, seen = 10 * float(pinned.value), 10 * float(px_per_mm.value) / pitch
    if pinned.origin is Origin.PINNED:
        apart = doubt("density-disputed", axis=name, given=given, seen=seen)
    else:
        apart = doubt("pitch-disputed", axis=name, first=seen, second=given)
    return replace(axis, doubts=(*axis.doubts, apart))


def _maybe_pairs(
    lattices: tuple[Lattice | None, Lattice | None], settings: ReadSettings
) -> tuple[Doubt, ...]:
    """The doubt that single threads and pairs of them may be taken for each other."""
    for lattice in lattices:
        if lattice is None or {lattice.multiple, lattice.other} != {2, 4}:
            continue
        if lattice.found_by == "weave" and lattice.chance < settings.surely_single:
            return (doubt("pairs"),)
    return ()


def _read_axes(
    flat: FlatCloth,
    part: WovenPart,
    look: Look,
    keys: tuple[str, ...],
    pinned: tuple[Measured | None, Measured | None],
) -> tuple[AxisRead, AxisRead]:
    """Columns and rows counted."""
    split, reaches, own = part
    columns = read_axis(
        AxisWork(
            name="columns",
            bands=look.columns,
            yarns=tuple(keys[i] for i in look.palette.of_columns),
            lattice=look.column_lattice,
            start_px=float(split.x0),
            reaches=(reaches[0], reaches[2]),
            px_per_mm=flat.scale.px_per_mm_x,
            pinned=pinned[0],
            blind=split.blind_columns,
            shown=split.mask.sum(axis=0),
            own=(own[0], own[2]),
        )
    )
    rows = read_axis(
        AxisWork(
            name="rows",
            bands=look.rows,
            yarns=tuple(keys[i] for i in look.palette.of_rows),
            lattice=look.row_lattice,
            start_px=float(split.y0),
            reaches=(reaches[1], reaches[3]),
            px_per_mm=flat.scale.px_per_mm_y,
            pinned=pinned[1],
            blind=split.blind_rows,
            shown=split.mask.sum(axis=1),
            own=(own[1], own[3]),
        )
    )
    return columns, rows


def _weighed_by_weave(look: Look, confidence: float, settings: ReadSettings) -> Look:
    """The lattices, surer of their multiple if the folded picture is a weave that is known.

    A wrong number of threads to the cycle folds different crossings onto each other, and what
    comes out is no weave.
    """

    def weighed(lattice: Lattice | None) -> Lattice | None:
        if lattice is None or lattice.found_by != "weave":
            return lattice
        if {lattice.multiple, lattice.other} == {2, 4}:
            # Folded in pairs a hopsack is a plain weave, so the picture tells nothing.
            return lattice
        chance = lattice.chance + (1 - lattice.chance) * confidence**2
        if confidence < settings.weave_unsure:
            chance = min(chance, settings.most_without_weave)
        return replace(lattice, chance=chance)

    return replace(
        look,
        column_lattice=weighed(look.column_lattice),
        row_lattice=weighed(look.row_lattice),
    )


def _expected_pitch(px_per_mm: Measured | None, density: Measured | None) -> float | None:
    """Pixels per thread that follow from a density that somebody gave, if there is a scale."""
    if px_per_mm is None or density is None:
        return None
    return float(px_per_mm.value) / float(density.value)


def _describe(palette: Palette, keys: tuple[str, ...]) -> tuple[Yarn, ...]:
    """Yarns with names, hex and CIELAB."""
    lab = to_lab(np.clip(palette.colours, 0, 1))
    names = name_colours(lab)
    return tuple(
        Yarn(
            key=key,
            name=name,
            colour=to_hex(colour),
            lab=(round(float(v[0]), 2), round(float(v[1]), 2), round(float(v[2]), 2)),
        )
        for key, name, colour, v in zip(keys, names, palette.colours, lab, strict=True)
    )


def _doubts(read: ClothRead, flat: FlatCloth, settings: ReadSettings) -> tuple[Doubt, ...]:
    """Doubts that concern the whole cloth."""
    found = list(flat.doubts)
    yarns = [y for y in read.yarns if y.lab is not None]
    for i, first in enumerate(yarns):
        for second in yarns[i + 1 :]:
            apart = float(difference(np.array(first.lab), np.array(second.lab)))
            if apart < settings.lookalikes:
                found.append(doubt("lookalikes", a=first.key, b=second.key, difference=apart))
    if read.weave.name == "unknown":
        found.append(doubt("weave-unknown"))
    if not flat.neutral:
        found.append(doubt("neutral-missing"))
    return tuple(found)
