"""The whole cloth in another yarn or size: what can be chosen, each with its errors shown.

There are three ways. The same counts in another sett make the cloth smaller or larger. The same
size in another sett needs other counts. Scaled means another size in the same sett. Whole, even
counts seldom fit exactly, so several sound answers may stand side by side; the weaver picks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from settscan.cloth.model import Cloth, ThreadSet
from settscan.cloth.wishes import Wishes
from settscan.errors import BadInput
from settscan.measured import Measured
from settscan.warping.sett import sett_for_yarn
from settscan.warping.sizing import Resized, Rules, choices, describe, same_counts, scaled
from settscan.warping.yarn import size_of

_PARTS = 1000  # a sett by rule of thumb is not known closer than to a thousandth


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothChoice:
    """One way to weave the cloth anew. `lines` show every stripe, old and new, with its error."""

    cloth: Cloth
    warp: Resized
    weft: Resized
    lines: tuple[str, ...]


def same_counts_in_sett(cloth: Cloth, epi: Fraction, ppi: Fraction) -> ClothChoice:
    """The counts as they are at other densities (threads per mm, finished)."""
    return _choice(
        cloth, same_counts(cloth.warp.sequence), same_counts(cloth.weft.sequence), epi, ppi
    )


def same_size_in_sett(
    cloth: Cloth, epi: Fraction, ppi: Fraction, rules: Rules | None = None
) -> tuple[ClothChoice, ...]:
    """The size as it is at other densities, best first.

    Args:
        cloth: with both densities known.
        epi: ends per mm of finished cloth, new.
        ppi: picks per mm of finished cloth, new.
        rules: what the counts must keep to.

    Raises:
        BadInput: if a density of the cloth is not known.
    """
    return _choices(
        cloth, epi / _known(cloth.warp, "warp"), ppi / _known(cloth.weft, "weft"), epi, ppi, rules
    )


def scaled_size(
    cloth: Cloth, factor: Fraction, rules: Rules | None = None
) -> tuple[ClothChoice, ...]:
    """A pattern larger or smaller by a factor in the same sett, best first; no density needed."""
    return _choices(cloth, factor, factor, None, None, rules)


def with_repeat(cloth: Cloth, ends: int, rules: Rules | None = None) -> tuple[ClothChoice, ...]:
    """The warp repeat with exactly so many ends, the weft in proportion, in the same sett.

    Raises:
        BadInput: if no counts that keep to the rules add up to it.
    """
    warp, weft = cloth.warp.sequence, cloth.weft.sequence
    answers = scaled(warp, Fraction(1), total=ends, rules=rules)
    if warp == weft:
        return tuple(_choice(cloth, answer, answer, None, None) for answer in answers)
    across = scaled(weft, Fraction(ends, warp.threads), rules=rules)[0]
    return tuple(_choice(cloth, answer, across, None, None) for answer in answers)


def in_another_yarn(cloth: Cloth, wishes: Wishes, tex: Fraction) -> Fraction:
    """By how much the sett is to change for a yarn of this size to lie as firmly: a factor.

    Raises:
        BadInput: if the size of a yarn of the warp is not known.
    """
    old, threads = Fraction(0), 0
    for key, count in cloth.warp.sequence.threads_per_yarn().items():
        size = size_of(cloth, wishes, key)
        if size is None:
            raise BadInput(
                f"The size of yarn {key} is not known, so a sett for another yarn is not either.",
                'Write the sizes of the yarns into the project, as size = "2/8 worsted".',
            )
        old, threads = old + size * count, threads + count
    factor = sett_for_yarn(1.0, old / threads, tex)
    return Fraction(round(factor * _PARTS), _PARTS)


def _known(threads: ThreadSet, name: str) -> Fraction:
    if threads.density is None:
        raise BadInput(
            f"The {name} density of the cloth is not known, so its size is not either.",
            "Count one inch and type it, or scale the counts by a factor.",
        )
    return Fraction(threads.density.value)


def _choices(
    cloth: Cloth,
    across: Fraction,
    along: Fraction,
    epi: Fraction | None,
    ppi: Fraction | None,
    rules: Rules | None,
) -> tuple[ClothChoice, ...]:
    """Warp and weft answers paired by rank; a sequence that both share stays shared."""
    warps = choices(cloth.warp.sequence, across, rules=rules)
    if cloth.warp.sequence == cloth.weft.sequence and across == along:
        return tuple(_choice(cloth, answer, answer, epi, ppi) for answer in warps)
    wefts = choices(cloth.weft.sequence, along, rules=rules)
    longest = max(len(warps), len(wefts))
    return tuple(
        _choice(cloth, warps[min(n, len(warps) - 1)], wefts[min(n, len(wefts) - 1)], epi, ppi)
        for n in range(longest)
    )


def _choice(
    cloth: Cloth, warp: Resized, weft: Resized, epi: Fraction | None, ppi: Fraction | None
) -> ClothChoice:
    lines = tuple(f"warp {line}" for line in describe(warp, cloth.warp.sequence))
    if cloth.weft.sequence != cloth.warp.sequence or weft != warp:
        lines += tuple(f"weft {line}" for line in describe(weft, cloth.weft.sequence))
    made = replace(
        cloth,
        warp=_threads(cloth.warp, warp, epi),
        weft=_threads(cloth.weft, weft, ppi),
        notes=cloth.notes + _unsure(cloth),
    )
    return ClothChoice(cloth=made, warp=warp, weft=weft, lines=lines)


def _threads(old: ThreadSet, new: Resized, density: Fraction | None) -> ThreadSet:
    """New counts; doubts stay only where the counts are the old ones."""
    return replace(
        old,
        sequence=new.sequence,
        density=old.density if density is None else Measured.exact(density),
        doubts=old.doubts if new.sequence == old.sequence else (),
    )


def _unsure(cloth: Cloth) -> tuple[str, ...]:
    unsure = len(cloth.warp.doubts) + len(cloth.weft.doubts)
    if not unsure:
        return ()
    return (f"Made from a reading in which {unsure} counts were not certain; check them first.",)
