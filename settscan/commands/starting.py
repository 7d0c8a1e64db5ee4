"""A cloth to start from without a photo: typed, or taken from a draft."""

from __future__ import annotations

from pathlib import Path

from settscan.cloth.model import Cloth, ThreadSet, Yarn
from settscan.cloth.notation import parse_sequence
from settscan.cloth.weaves import weave_name
from settscan.commands.given import parse_pinned
from settscan.files import read_bytes
from settscan.measured import Measured

_MOST_DRAFT = 50_000_000  # bytes

# Colours that are told apart on a screen and in print; names and order are of no account.
_COLOURS = (
    ("navy", "#1b2654"),
    ("cream", "#efe6d0"),
    ("brick", "#a03a2c"),
    ("moss", "#5f6b34"),
    ("gold", "#c99a2e"),
    ("sky", "#7fa6c9"),
    ("brown", "#5a3d2b"),
    ("grey", "#8a8a86"),
)


def typed_cloth(
    name: str, warp: str, weft: str | None, epi: str, ppi: str | None, weave: str
) -> Cloth:
    """A cloth from the text of its sequences and densities; the weft is like the warp if not given.

    Raises:
        BadSequence: for a sequence, BadQuantity for a density that cannot be understood.
        BadInput: for a weave that is not known.
    """
    weave_name(weave)
    warp_sequence = parse_sequence(warp)
    weft_sequence = parse_sequence(weft) if weft is not None else warp_sequence
    used = dict.fromkeys(
        stripe.yarn for one in (warp_sequence, weft_sequence) for stripe in one.stripes
    )
    ends = Measured.exact(parse_pinned(epi, "epi"))
    picks = Measured.exact(parse_pinned(ppi, "ppi")) if ppi is not None else ends
    return Cloth(
        name=name,
        yarns=tuple(_yarn(key, place) for place, key in enumerate(sorted(used, key=_order))),
        warp=ThreadSet(sequence=warp_sequence, density=ends),
        weft=ThreadSet(sequence=weft_sequence, density=picks),
        weave=weave,
        twill_direction="Z" if "twill" in weave else None,
    )


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


def _order(key: str) -> tuple[int, str]:
    return len(key), key


def _yarn(key: str, place: int) -> Yarn:
    name, colour = _COLOURS[place % len(_COLOURS)]
    return Yarn(key=key, name=name if place < len(_COLOURS) else f"{name} {key}", colour=colour)
