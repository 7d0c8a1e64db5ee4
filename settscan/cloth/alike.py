"""Whether the weft is the sett of the warp, written the other way round."""

from __future__ import annotations

from dataclasses import replace

from settscan.cloth.model import Cloth, ColourSequence, SequenceKind


def reversed_sequence(sequence: ColourSequence) -> ColourSequence:
    """The same stripes from the last to the first."""
    return replace(sequence, stripes=sequence.stripes[::-1])


def weft_as_warp(cloth: Cloth) -> Cloth:
    """The cloth with its weft written the way round that its warp is, if both are one sett.

    A symmetric sequence read from its other pivot is the same sett. Written alike, warp and weft
    close on the same pivot at the selvedges and at the ends of a piece.
    """
    weft, warp = cloth.weft, cloth.warp.sequence
    if weft.sequence == warp or warp.kind is not SequenceKind.SYMMETRIC:
        return cloth
    turned = reversed_sequence(weft.sequence)
    if turned != warp:
        return cloth
    last = len(warp.stripes) - 1
    doubts = tuple(replace(doubt, position=last - doubt.position) for doubt in weft.doubts[::-1])
    return replace(cloth, weft=replace(weft, sequence=turned, doubts=doubts))
