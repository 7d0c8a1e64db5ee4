"""How close a yarn can be set: diameters, wraps, intersections, cover.

Ashenhurst's rule: a yarn of Y yd/lb has about 0.9 sqrt(Y) diameters in an inch when it is firm
(cotton, worsted), 0.84 sqrt(Y) when soft (woollen). A weave takes room for the ends and for each
place where the weft passes between them, so the closest sett is
diameters x ends / (ends + intersections) over one repeat. What is woven is usually about three
quarters of that, or a little more.
"""

from __future__ import annotations

from fractions import Fraction
from math import sqrt
from typing import NamedTuple

from settscan.numbering import yards_per_pound
from settscan.quantities import INCH, format_density
from settscan.warping.model import Draft, Step
from settscan.warping.structure import intersections

FIRM = 0.90
SOFT = 0.84
_TOO_OPEN = 0.5  # of the closest sett: below this the threads slip (common practice, no source)


def diameters_per_inch(tex: Fraction, constant: float = FIRM) -> float:
    """Yarn diameters that fit side by side in an inch."""
    return constant * sqrt(yards_per_pound(tex))


def closest_sett(diameters: float, ends: int, crossings: int) -> float:
    """The most ends per inch in a weave with so many intersections in so many ends."""
    return diameters * ends / (ends + crossings)


def sett_from_wraps(wraps_per_inch: float, ends: int, crossings: int) -> float:
    """Ends per inch from wraps round a ruler: half of them in plain weave, 2/3 in 2/2 twill."""
    return closest_sett(wraps_per_inch, ends, crossings)


def same_firmness(sett: float, ends: int, old_crossings: int, new_crossings: int) -> float:
    """The sett in a new weave that is as firm as `sett` in the old, over the same ends."""
    return sett * (ends + old_crossings) / (ends + new_crossings)


def sett_for_yarn(sett: float, old_tex: Fraction, new_tex: Fraction) -> float:
    """The sett of another yarn in the same weave: it goes with the root of the length by weight."""
    return sett * sqrt(old_tex / new_tex)


def cover(per_inch: float, diameters: float) -> float:
    """The share of the cloth that threads of one direction hide, at most 1."""
    return min(1.0, per_inch / diameters)


def cloth_cover(warp: float, weft: float) -> float:
    """The share that both directions hide together."""
    return warp + weft - warp * weft


_WOOLLEN = ("run", "cut", "ysw", "yorkshire", "gala", "west of england")


def constant_for(size: str) -> float:
    """Ashenhurst's constant: that of soft yarn if the size is typed in a woollen system."""
    return SOFT if any(system in size.lower() for system in _WOOLLEN) else FIRM


class SettByYarn(NamedTuple):
    """What a yarn and a weave allow, in threads per mm on the loom."""

    weave: str
    diameters: float  # that fit side by side in a mm
    closest: float
    known_by: str = "its size"  # or "its wraps"

    @property
    def usual(self) -> float:
        """Three quarters of the closest: what is usually woven, or a little more."""
        return 0.75 * self.closest


def sett_by_yarn(tex: Fraction, draft: Draft, constant: float = FIRM) -> SettByYarn:
    """The closest sett of a yarn in a weave, by diameters and intersections."""
    return sett_of_diameters(diameters_per_inch(tex, constant) / float(INCH), draft)


def sett_of_diameters(per_mm: float, draft: Draft, known_by: str = "its size") -> SettByYarn:
    """The closest sett in a weave of a yarn of so many diameters, or wraps, in a mm."""
    closest = closest_sett(per_mm, *intersections(draft))
    return SettByYarn(weave=draft.name, diameters=per_mm, closest=closest, known_by=known_by)


def sett_step(sett: SettByYarn, loom_density: Fraction, units: str) -> Step:
    """How the sett on the loom stands to what the yarn allows."""
    share = float(loom_density) / sett.closest
    return Step(
        "Sett by the yarn",
        f"at most about {format_density(sett.closest, units)} in {sett.weave}"
        f" ({format_density(sett.diameters, units, 'diameters')} by {sett.known_by}, less the"
        f" intersections); planned: {share * 100:.0f} % of that, where 75 % or a little more is"
        " usual",
    )


def sett_warning(sett: SettByYarn, loom_density: Fraction, units: str) -> str:
    """One sentence if the sett on the loom is too close or too open for yarn and weave, or ""."""
    limit = format_density(sett.closest, units)
    now = format_density(loom_density, units)
    if loom_density > sett.closest:
        return (
            f"{now} on the loom is closer than this yarn can lie in {sett.weave} (about {limit}"
            " by diameters and intersections): take a finer yarn or a more open sett."
        )
    if loom_density < _TOO_OPEN * sett.closest:
        return (
            f"{now} on the loom is very open for this yarn in {sett.weave} (at most about {limit}"
            " would fit): the cloth may be sleazy; take a thicker yarn or a closer sett."
        )
    return ""


def cloth_mass(
    warp_per_cm: Fraction,
    warp_tex: Fraction,
    warp_crimp: Fraction,
    weft_per_cm: Fraction,
    weft_tex: Fraction,
    weft_crimp: Fraction,
) -> Fraction:
    """Grams in a square metre from threads per cm, tex and crimp (on the length in the cloth)."""
    warp = warp_per_cm * warp_tex * (1 + warp_crimp)
    return (warp + weft_per_cm * weft_tex * (1 + weft_crimp)) / 10
