"""Reeds: which of those owned suits the density, and the sley order dent by dent.

Ends per dent on average = ends per mm / dents per mm, spread as evenly as possible. Two ends in
each dent are best: knots pass and the reed marks the cloth least.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import groupby

from settscan.quantities import INCH, Reed, decimal, format_density
from settscan.warping.model import ReedChoice, SleyRun

LONGEST_PATTERN = 10  # dents before the sleying repeats: more cannot be kept in the head
CROWDED = 4  # ends in a dent beyond which the reed marks the cloth
# A sley within this of the density wanted is close enough: Osterkamp's substitution chart of 2023
# takes 12 1/2 for 12, and losses are seldom known better.
TOLERANCE = Fraction(5, 100)

NEAR = Fraction(10, 100)  # a plain sleying no further off than this is worth a look

# Sizes that are easily found; proposed when the weaver owns none (the columns of the common
# substitution charts; the metric ones are common practice, no source).
_COMMON_INCH = (5, 6, 8, 10, 12, 15, 16, 18, 20)
_COMMON_METRIC = (20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 100)


def common_reeds(units: str) -> tuple[Reed, ...]:
    """Common reed sizes, in dents per inch or per 10 cm."""
    if units == "inch":
        return tuple(
            Reed(dents_per_mm=Fraction(size) / INCH, label=f"{size} dpi") for size in _COMMON_INCH
        )
    return tuple(
        Reed(dents_per_mm=Fraction(size, 100), label=f"{size}/10cm") for size in _COMMON_METRIC
    )


def even_pattern(ends: int, dents: int) -> tuple[int, ...]:
    """So many ends in so many dents, as evenly as possible, fuller dents last: 7 in 3 is 2-2-3."""
    return tuple((dent + 1) * ends // dents - dent * ends // dents for dent in range(dents))


def sley_density(reed: Reed, pattern: tuple[int, ...]) -> Fraction:
    """Ends per mm of a pattern repeated in a reed: dents x mean ends per dent."""
    return reed.dents_per_mm * sum(pattern) / len(pattern)


def patterns_near(mean: Fraction) -> tuple[tuple[int, ...], ...]:
    """The nearest even pattern of each length up to `LONGEST_PATTERN`, duplicates left out."""
    found: dict[Fraction, tuple[int, ...]] = {}
    for dents in range(1, LONGEST_PATTERN + 1):
        ends = max(1, int(mean * dents + Fraction(1, 2)))
        found.setdefault(Fraction(ends, dents), even_pattern(ends, dents))
    return tuple(found.values())


def awkwardness(pattern: tuple[int, ...]) -> Fraction:
    """How much a sleying is to be avoided, on the scale of 1 % of error in the density.

    The weights are a judgement: two in a dent is free, one costs little (knots catch), three and
    four a little more, empty dents and crowded ones much; an irregular pattern costs by its length.
    """
    mean = Fraction(sum(pattern), len(pattern))
    cost = Fraction(0)
    if max(pattern) != min(pattern):
        cost += 1 + Fraction(len(pattern), 4)
    if mean < 1:
        cost += 3
    elif mean < 2:
        cost += 1
    elif mean > 2:
        cost += mean - 2
    return cost + 3 * max(0, max(pattern) - CROWDED)


def _choice(reed: Reed, pattern: tuple[int, ...], wanted: Fraction, ends: int) -> ReedChoice:
    density, dents = sley_density(reed, pattern), dents_needed(pattern, ends)
    return ReedChoice(
        reed=reed,
        pattern=pattern,
        epi_per_mm=density,
        error=(density - wanted) / wanted,
        width_mm=dents / reed.dents_per_mm,
        dents=dents,
        note=_note(pattern),
    )


def _note(pattern: tuple[int, ...]) -> str:
    if min(pattern) == 0:
        return "Some dents stay empty: thick yarn may rub, and the cloth may show stripes."
    if max(pattern) > CROWDED:
        return "Many ends in one dent: reed marks, and knots may not pass."
    if max(pattern) == 1:
        return "One end in a dent: check that knots pass."
    if max(pattern) != min(pattern):
        return "An irregular sleying may leave marks until it is washed."
    return ""


def _cost(choice: ReedChoice) -> tuple[Fraction, Fraction, int]:
    outside = max(Fraction(0), abs(choice.error) - TOLERANCE)
    cost = (abs(choice.error) + 4 * outside) * 100 + awkwardness(choice.pattern)
    return cost, abs(choice.error), len(choice.pattern)


def rank_reeds(
    reeds: tuple[Reed, ...], wanted: Fraction, ends: int, units: str = "inch"
) -> tuple[ReedChoice, ...]:
    """One choice for each reed, its best sleying, the best reed first.

    Of the common sizes, proposed where none is owned, also those that sleyed the same in every
    dent come near.

    Args:
        reeds: owned; when empty, common sizes are ranked and marked as not owned, and one that
            is close enough and has nothing to be warned of goes before the others.
        wanted: ends per mm on the loom.
        ends: in the whole warp.
        units: which common sizes to propose.
    """
    best = []
    for reed in reeds or common_reeds(units):
        options = [
            _choice(reed, pattern, wanted, ends)
            for pattern in patterns_near(wanted / reed.dents_per_mm)
        ]
        best.append(min(options, key=_cost))
        if not reeds and best[-1].note:
            best += [each for each in options[:1] if not each.note and abs(each.error) <= NEAR]
    ranked = tuple(sorted(best, key=_cost))
    if reeds:
        return ranked
    first = sorted(ranked, key=lambda one: bool(one.note) or abs(one.error) > TOLERANCE)
    return tuple(choice._replace(owned=False) for choice in first)


def with_sley(choice: ReedChoice, sley: tuple[SleyRun, ...]) -> ReedChoice:
    """The choice with the dents and the width that a whole sley order really takes."""
    dents = sum(run.dents for run in sley)
    return choice._replace(dents=dents, width_mm=dents / choice.reed.dents_per_mm)


def dents_needed(pattern: tuple[int, ...], ends: int) -> int:
    """Dents from the first to the last with an end in it."""
    return len(sley_dents(pattern, ends))


def sley_dents(pattern: tuple[int, ...], ends: int) -> tuple[int, ...]:
    """Ends in one dent after another, the last dent perhaps not full; carries exactly `ends`."""
    if sum(pattern) == 0:
        raise ValueError("a sley pattern must carry ends")
    whole, rest = divmod(ends, sum(pattern))
    dents = list(pattern * whole)
    for in_dent in pattern:
        if rest == 0:
            break
        dents.append(min(in_dent, rest))
        rest -= dents[-1]
    while dents and dents[-1] == 0:  # an empty dent outside the last end is not part of the warp
        dents.pop()
    return tuple(dents)


def runs(dents: tuple[int, ...]) -> tuple[SleyRun, ...]:
    """The same, run-length coded."""
    return tuple(SleyRun(len(tuple(same)), ends) for ends, same in groupby(dents))


def sley_order(
    pattern: tuple[int, ...], ends: int, *, selvedge: int = 0, floating: bool = False
) -> tuple[SleyRun, ...]:
    """Ends per dent across the whole width.

    Args:
        pattern: of the ground.
        ends: in the whole warp, selvedges included.
        selvedge: extra ends at each edge, sleyed at twice the fullest dent of the pattern.
        floating: whether the outermost end on each side has a dent of its own.

    Returns:
        Runs that carry exactly `ends`.
    """
    outer = (1,) if floating else ()
    edge = sley_dents((2 * max(pattern),), selvedge) if selvedge else ()
    ground = ends - 2 * (sum(outer) + selvedge)
    return runs(outer + edge + sley_dents(pattern, ground) + edge[::-1] + outer)


def aligned_sley(stripes: tuple[int, ...], pattern: tuple[int, ...]) -> tuple[SleyRun, ...]:
    """A sley order in which every stripe begins in a new dent, for crisp edges.

    The last dent of a stripe may hold fewer ends than the pattern says; the width grows by that.
    Neighbouring lines too narrow to fill a dent, as in one and one, are sleyed as one stripe.
    """
    together: list[int] = []
    narrow = False
    for ends in stripes:
        if narrow and ends < max(pattern):
            together[-1] += ends
        else:
            together.append(ends)
        narrow = ends < max(pattern)
    return runs(tuple(dent for ends in together for dent in sley_dents(pattern, ends)))


def describe(choice: ReedChoice, units: str) -> str:
    """'12 dpi sleyed 2 in each dent, 24 epi (0.8 % closer than wanted)'."""
    each = " in each dent" if len(choice.pattern) == 1 else ""
    text = f"{choice.reed.label} sleyed {choice.sleying}{each}"
    text += f", {format_density(choice.epi_per_mm, units)}"
    off = off_by(choice)
    return f"{text}, {off} than wanted" if off else f"{text}, exactly as wanted"


def off_by(choice: ReedChoice) -> str:
    """'0.8 % closer' or '4.3 % more open' than the density wanted; "" if it is that."""
    if choice.error == 0:
        return ""
    way = "closer" if choice.error > 0 else "more open"
    return f"{decimal(abs(choice.error) * 100, 1)} % {way}"
