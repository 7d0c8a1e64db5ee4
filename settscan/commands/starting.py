"""A cloth to start from without a photo: typed, or taken from a draft."""

from __future__ import annotations

from pathlib import Path

from settscan.cloth.beginning import plain_cloth
from settscan.cloth.model import Cloth
from settscan.cloth.notation import parse_sequence
from settscan.commands.given import parse_pinned
from settscan.files import read_bytes
from settscan.measured import Measured

_MOST_DRAFT = 50_000_000  # bytes


def typed_cloth(
    name: str, warp: str, weft: str | None, epi: str, ppi: str | None, weave: str
) -> Cloth:
    """A cloth from the text of its sequences and densities; the weft is like the warp if not given.

    Raises:
        BadSequence: for a sequence, BadQuantity for a density that cannot be understood.
        BadInput: for a weave that is not known.
    """
    warp_sequence = parse_sequence(warp)
    weft_sequence = parse_sequence(weft) if weft is not None else warp_sequence
    ends = Measured.exact(parse_pinned(epi, "epi"))
    picks = Measured.exact(parse_pinned(ppi, "ppi")) if ppi is not None else ends
    return plain_cloth(name, warp_sequence, weft_sequence, ends, picks, weave)


def drafted_cloth(path: Path) -> Cloth:
    """The cloth of a draft in a WIF file.

    Raises:
        BadFile: if the file cannot be read, BadInput if it is no draft.
    """
    from settscan.sheets.wif_reading import read_wif

    content = read_bytes(path, _MOST_DRAFT)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("cp1252", "replace")  # older programs' accented names
    return read_wif(text, name=path.stem)
