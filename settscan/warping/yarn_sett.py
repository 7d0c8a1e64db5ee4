"""How the sett stands to the yarn: from wraps where they were counted, else from its size."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import NamedTuple

from settscan.cloth.model import Cloth
from settscan.cloth.wishes import Wishes
from settscan.quantities import INCH, closer_than_spun
from settscan.warping.across import Across
from settscan.warping.model import Draft, Step
from settscan.warping.sett import (
    SettByYarn,
    cloth_cover,
    constant_for,
    cover,
    diameters_per_inch,
    sett_of_diameters,
    sett_step,
    sett_warning,
)
from settscan.warping.yarn import ends_of, size_of, stock_of, typed_size


class _Diameters(NamedTuple):
    """Diameters that fit side by side in a mm, and what they are known by."""

    per_mm: float
    known_by: str


def _diameters(cloth: Cloth, wishes: Wishes, counts: Mapping[str, int]) -> _Diameters | None:
    """Of so many threads of each yarn side by side; None if one yarn is not known.

    Wraps that the weaver counted lead over the size: they are the yarn itself.
    """
    wide, wrapped, threads = 0.0, 0, 0
    for key, count in counts.items():
        wraps, tex = stock_of(wishes, key).wraps_per_mm, size_of(cloth, wishes, key)
        if wraps is not None:
            per_mm, wrapped = float(wraps), wrapped + 1
        elif tex is not None:
            constant = constant_for(typed_size(cloth, wishes, key))
            per_mm = diameters_per_inch(tex, constant) / float(INCH)
        else:
            return None
        wide, threads = wide + count / per_mm, threads + count
    if not threads:
        return None
    known_by = "wraps and size" if wrapped else "its size"
    if wrapped == len(counts):
        known_by = "its wraps"
    return _Diameters(threads / wide, known_by)


def yarn_sett(
    cloth: Cloth, wishes: Wishes, across: Across, draft: Draft | None
) -> SettByYarn | None:
    """What the warp yarns allow in this weave; None if a yarn, the weave or the density is not."""
    if draft is None or across.loom_density is None:
        return None
    found = _diameters(cloth, wishes, ends_of(across.layout.order))
    return None if found is None else sett_of_diameters(found.per_mm, draft, found.known_by)


def yarn_sett_steps(
    cloth: Cloth, wishes: Wishes, across: Across, sett: SettByYarn | None
) -> tuple[Step, ...]:
    """The sett that the yarn allows, and how much of the cloth the threads hide."""
    if sett is None or across.loom_density is None:
        return ()
    step = sett_step(sett, Fraction(across.loom_density.value), wishes.units)
    warp, weft = cloth.warp, cloth.weft
    found = _diameters(cloth, wishes, weft.sequence.threads_per_yarn())
    if warp.density is None or weft.density is None or found is None:
        return (step,)
    covers = (
        cover(float(warp.density.value), sett.diameters),
        cover(float(weft.density.value), found.per_mm),
    )
    text = (
        f"finished, the warp hides {covers[0] * 100:.0f} % and the weft {covers[1] * 100:.0f} %,"
        f" together {cloth_cover(*covers) * 100:.0f} %"
    )
    return step, Step("Cover", text)


def closeness_warnings(cloth: Cloth, units: str, sett: SettByYarn | None) -> tuple[str, ...]:
    """Densities that spun yarn cannot have, where the yarn is not known to be finer."""
    if sett is not None:
        return ()
    ends, picks = cloth.warp.density, cloth.weft.density
    alike = ends is not None and picks is not None and ends.value == picks.value
    told = [
        closer_than_spun(density.value, units, name)
        for density, name in ((ends, "ends"), (None if alike else picks, "picks"))
        if density is not None
    ]
    return tuple(filter(None, told))


def yarn_sett_warnings(wishes: Wishes, across: Across, sett: SettByYarn | None) -> tuple[str, ...]:
    """Too close or too open for the yarn."""
    if sett is None or across.loom_density is None:
        return ()
    warning = sett_warning(sett, Fraction(across.loom_density.value), wishes.units)
    return (warning,) if warning else ()
