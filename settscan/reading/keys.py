"""Yarn keys in the order in which the warp, then the weft, is written: A is the first stripe."""

from __future__ import annotations

from dataclasses import replace

from settscan.cloth.model import ColourSequence, Stripe
from settscan.cloth.notation import yarn_key
from settscan.reading.model import AxisRead, ClothRead


def in_written_order(read: ClothRead, *, warp_is_columns: bool) -> ClothRead:
    """The same reading with its yarns named anew, and listed in the order of their names."""
    axes = (read.columns, read.rows) if warp_is_columns else (read.rows, read.columns)
    order: dict[str, str] = {}
    for axis in axes:
        used = [s.yarn for s in axis.repeat.sequence.stripes]
        used += [s.yarn for s in axis.stripes] + [b.yarn for b in axis.bands]
        for key in used:
            order.setdefault(key, yarn_key(len(order)))
    for yarn in read.yarns:
        order.setdefault(yarn.key, yarn_key(len(order)))
    yarns = sorted(
        (replace(yarn, key=order[yarn.key]) for yarn in read.yarns),
        key=lambda yarn: (len(yarn.key), yarn.key),
    )
    return replace(
        read,
        yarns=tuple(yarns),
        columns=_renamed(read.columns, order),
        rows=_renamed(read.rows, order),
    )


def _renamed(axis: AxisRead, order: dict[str, str]) -> AxisRead:
    """An axis with the new keys."""
    sequence = ColourSequence(
        axis.repeat.sequence.kind,
        tuple(Stripe(order[s.yarn], s.threads) for s in axis.repeat.sequence.stripes),
    )
    return replace(
        axis,
        bands=tuple(replace(band, yarn=order[band.yarn]) for band in axis.bands),
        stripes=tuple(replace(stripe, yarn=order[stripe.yarn]) for stripe in axis.stripes),
        repeat=replace(axis.repeat, sequence=sequence),
    )
