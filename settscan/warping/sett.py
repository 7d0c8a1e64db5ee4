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

from settscan.numbering import yards_per_pound
from settscan.quantities import INCH, format_density
from settscan.warping.model import Draft
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


def sett_warning(loom_density: Fraction, tex: Fraction, draft: Draft, units: str) -> str:
    """One sentence if the sett on the loom is too close or too open for yarn and weave, or ""."""
    ends, crossings = intersections(draft)
    closest = closest_sett(diameters_per_inch(tex), ends, crossings)
    per_inch = float(loom_density * INCH)
    limit = format_density(Fraction(closest) / INCH, units)
    now = format_density(loom_density, units)
    if per_inch > closest:
        return (
            f"{now} on the loom is closer than this yarn can lie in {draft.name} (about {limit}"
            " by diameters and intersections): take a finer yarn or a more open sett."
        )
    if per_inch < _TOO_OPEN * closest:
        return (
            f"{now} on the loom is very open for this yarn in {draft.name} (at most about {limit}"
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
