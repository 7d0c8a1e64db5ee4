"""A cloth to begin with that was typed, with colours to be changed."""

from __future__ import annotations

from settscan.cloth.model import Cloth, ColourSequence, ThreadSet, Yarn
from settscan.cloth.weaves import weave_name
from settscan.measured import Measured

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


def plain_cloth(
    name: str,
    warp: ColourSequence,
    weft: ColourSequence,
    ends: Measured,
    picks: Measured,
    weave: str,
) -> Cloth:
    """A cloth from its sequences and finished densities, with colours to be changed.

    Raises:
        BadInput: for a weave that is not known.
    """
    weave_name(weave)
    used = dict.fromkeys(stripe.yarn for one in (warp, weft) for stripe in one.stripes)
    return Cloth(
        name=name,
        yarns=tuple(_yarn(key, place) for place, key in enumerate(sorted(used, key=_order))),
        warp=ThreadSet(sequence=warp, density=ends),
        weft=ThreadSet(sequence=weft, density=picks),
        weave=weave,
        twill_direction="Z" if "twill" in weave else None,
    )


def _order(key: str) -> tuple[int, str]:
    return len(key), key


def _yarn(key: str, place: int) -> Yarn:
    name, colour = _COLOURS[place % len(_COLOURS)]
    return Yarn(key=key, name=name if place < len(_COLOURS) else f"{name} {key}", colour=colour)
