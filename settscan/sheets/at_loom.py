"""The words for the loom: raddle, reed and sley, threading."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from settscan.cloth.wishes import FrameKind
from settscan.quantities import INCH, format_density, format_length
from settscan.sheets.content import density, plural
from settscan.warping.model import Draft, SleyRun, WarpPlan

_MOST_REEDS = 8
_MOST_PROPOSED = 4
# Spaces of the raddles that are sold (common practice, no source).
_RADDLES = {"inch": (INCH / 2, INCH), "metric": (Fraction(5), Fraction(10), Fraction(20))}


def dents(plan: WarpPlan) -> tuple[int, ...]:
    """Ends in each dent across the whole width."""
    return tuple(run.ends_per_dent for run in plan.sley for _ in range(run.dents))


def sley_lines(plan: WarpPlan) -> tuple[str, ...]:
    """How the reed is sleyed from the left edge to the right one."""
    if plan.reed is None:
        return ("No reed is chosen, because the density of the cloth is not known.",)
    across, pattern = dents(plan), plan.reed.pattern
    times = 0
    while across[times * len(pattern) : (times + 1) * len(pattern)] == pattern:
        times += 1
    if times > 1 and len(across) - times * len(pattern) < len(pattern):
        lines = [_times(plan.reed.sleying, len(pattern), times, sum(pattern))]
        rest = across[times * len(pattern) :]
        if rest:
            lines.append(f"then {'-'.join(map(str, rest))} in the last {plural(len(rest), 'dent')}")
    else:
        lines = list(_runs_in_words(plan.sley))
    return (*lines, f"together {plan.ends} ends in {plural(len(across), 'dent')}")


_LONGEST = 12  # runs of dents in a stretch that is looked for again


def _runs_in_words(runs: Sequence[SleyRun]) -> Iterator[str]:
    """The runs one after the other; a stretch of them that comes again at once is written once."""
    at = 0
    while at < len(runs):
        times, length = max((_comes(runs, at, length), length) for length in range(1, _LONGEST + 1))
        stretch = runs[at : at + length]
        words = ", ".join(f"{plural(run.dents, 'dent')} of {run.ends_per_dent}" for run in stretch)
        yield f"{times} times: {words}" if times > 1 else words
        at += times * length


def _comes(runs: Sequence[SleyRun], at: int, length: int) -> int:
    """How often the stretch that begins here comes in a row; 1 for a single run."""
    stretch, times = runs[at : at + length], 1
    if len(stretch) < length:
        return 0
    while runs[at + times * length : at + (times + 1) * length] == stretch:
        times += 1
    return times if times > 1 or length == 1 else 0


def _times(pattern: str, dents: int, times: int, ends: int) -> str:
    if dents == 1:
        return f"{pattern} in each of {plural(times, 'dent')}"
    return f"{pattern}, {times} times ({times * dents} dents, {times * ends} ends)"


def shafts_of_ends(plan: WarpPlan) -> tuple[int | None, ...]:
    """Shaft of each end, left to right; None without a draft and for a floating selvedge."""
    if plan.draft is None:
        return (None,) * plan.ends
    threading = plan.draft.threading
    shafts: list[int | None] = [threading[end % len(threading)] for end in range(plan.ends)]
    if plan.wishes.piece.floating_selvedges:
        shafts[0] = shafts[-1] = None
    return tuple(shafts)


def threading_lines(draft: Draft, ends: int) -> tuple[str, ...]:
    """The threading from the left end to the right one, in words."""
    period = len(draft.threading)
    times, rest = divmod(ends, period)
    written = "-".join(map(str, draft.threading))
    lines = [f"{written}, {times} times ({times * period} ends)" if times > 1 else written]
    if rest and times:
        part = "-".join(map(str, draft.threading[:rest]))
        lines.append(f"then {part} ({plural(rest, 'end')})")
    return tuple(lines)


REED_HEAD = ("Reed", "Sleying", "Gives", "Off by", "Width", "")


def reed_rows(plan: WarpPlan) -> tuple[tuple[str, ...], ...]:
    """The best reeds, the chosen one first; fewer where none of them is the weaver's own."""
    units = plan.wishes.units
    most = _MOST_REEDS if plan.wishes.loom.reeds else _MOST_PROPOSED
    return tuple(
        (
            choice.reed.label,
            choice.sleying,
            density(choice.epi_per_mm, units),
            f"{float(choice.error) * 100:+.1f} %",
            format_length(choice.width_mm, units),
            choice.note,
        )
        for choice in plan.reeds[:most]
    )


# --- raddle ----------------------------------------------------------------------------------


def raddle_lines(plan: WarpPlan) -> tuple[str, ...]:
    """How the warp is spread in the raddle: the groups, how wide one is, ends for each space.

    Nothing for a sectional beam, which needs no raddle.
    """
    frame = plan.wishes.frame
    if frame.kind is FrameKind.SECTIONS:
        return ()
    group = min(frame.raddle_ends or frame.group_ends, plan.ends)
    whole, rest = divmod(plan.ends, group)
    last = f" and one of {rest}" if rest else ""
    lines = [f"{plural(whole, 'group')} of {group} ends{last}, from the left edge to the right one"]
    if plan.reed is None:
        return tuple(lines)
    units, sett = plan.wishes.units, plan.reed.epi_per_mm
    wide = format_length(group / sett, units)
    lines.append(f"{group} ends are {wide} wide at {format_density(sett, units)}")
    spaces = "; ".join(
        f"{format_length(space, units)}: {_in_each_space(space * sett)}"
        for space in _RADDLES[units]
    )
    lines.append(f"ends in one space of a raddle of {spaces}")
    return tuple(lines)


def _in_each_space(ends: Fraction) -> str:
    """So many ends, or the two numbers that come by turns."""
    if ends < 1:
        return "less than one"
    low = int(ends)
    return str(low) if ends == low else f"{low} or {low + 1}, {float(ends):.1f} on average"
