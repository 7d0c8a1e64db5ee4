"""Which of a row's longest ticks bear a numeral, where numerals are large enough to have a shape.

A numeral is ink like that of the ticks, of a numeral's size, beyond their ends or beside them,
and all numerals of a row stand at one distance from the ruler's edge. What shows through clear
plastic or lies beyond the ruler has other sizes and stands anywhere.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.ruler_core import Core
from settscan.photo.ruler_fold import Fold
from settscan.photo.ruler_ladder import goes_on
from settscan.photo.ruler_lines import Grey
from settscan.photo.ruler_scheme import Ladder
from settscan.photo.ruler_settle import fits_a_ruler
from settscan.photo.ruler_strip import Comb
from settscan.settings import FIGURES, FigureSettings

Array = NDArray[Any]
HALVES = 0


@dataclass(frozen=True, slots=True)
class _Patch:
    """The ruler beyond its second longest ticks, upright and to scale.

    Attributes:
        ink: (V, U) how much darker (lighter) than what surrounds it, where it is a thin stroke.
        shown: (U,) whether the frame holds the column.
        across: (V,) distance from the common part of the ticks in spacings.
        along: (U,) tick number from one of the longest.
        fine: samples per spacing.
    """

    ink: Array
    shown: Array
    across: Array
    along: Array
    fine: float


@dataclass(frozen=True, slots=True)
class _Glyph:
    """A piece of ink of a numeral's size, in spacings: its middle, and its height."""

    along: float
    across: float
    tall: float


def numbered_order(
    levels: tuple[Grey, ...], comb: Comb, where: Core, folded: Fold, orders: list[Ladder]
) -> Ladder | None:
    """That of the plain orders of an inch scale whose unit its numerals tell, or None.

    Every inch scale has eighths at least.
    """
    inches = [steps for steps in orders if steps.scheme.unit == "inch"]
    said = [ticks_per_inch(levels, comb, where, folded.slant, steps) for steps in inches]
    for steps, told in zip(inches, said, strict=True):
        if any(goes_on(other, steps) for other in inches) or told is None or told < 8:
            continue
        # Numerals that stand between those of an order make its inch a longer one than theirs.
        between = (
            (other, less)
            for other, less in zip(inches, said, strict=True)
            if goes_on(steps, other) and less is not None and 8 <= less < told
        )
        steps, told = min(between, key=lambda item: item[1], default=(steps, told))
        tick_mm = 25.4 / told
        if fits_a_ruler(steps, folded.core[1] - folded.core[0], tick_mm):
            scheme = replace(steps.scheme, tick_mm=tick_mm)
            return replace(steps, scheme=scheme, numbered=True)
    return None


def numerals_object(
    levels: tuple[Grey, ...], comb: Comb, where: Core, folded: Fold, steps: Ladder
) -> bool:
    """Whether, of the ticks taken for inches, every second bears no numeral that is seen.

    Then an inch may have twice as many ticks.
    """
    scheme = steps.scheme
    if scheme.unit != "inch" or not np.isclose(scheme.tick_mm * scheme.period, 25.4, rtol=0.01):
        return False
    return ticks_per_inch(levels, comb, where, folded.slant, steps) == HALVES


def numerals_lack(
    levels: tuple[Grey, ...], comb: Comb, where: Core, folded: Fold, steps: Ladder
) -> bool:
    """Whether ink alone told the unit of quarters, and no numerals are there, though large enough.

    Then the longer ticks of a finer scale are that ink.
    """
    scheme = steps.scheme
    large = scheme.period * comb.pitch_px >= FIGURES.least_inch_px
    if scheme.unit != "inch" or scheme.period >= 8 or not large:
        return False
    return ticks_per_inch(levels, comb, where, folded.slant, steps) in (None, scheme.period)


def ticks_per_inch(
    levels: tuple[Grey, ...],
    comb: Comb,
    where: Core,
    slant: tuple[float, float],
    steps: Ladder,
    settings: FigureSettings = FIGURES,
) -> int | None:
    """How many ticks go to an inch, as the numerals say: the period of the order, or its double.

    Args:
        levels: the grey pyramid.
        comb: the ticks.
        where: what they have in common.
        slant: of the ticks, as in `Core`.
        steps: their order: its longest ticks are inches, or inches and halves.
        settings: sizes of numerals.

    Returns:
        None where there are too few numerals to tell, or too small ones; HALVES where every second
        of the longest ticks may bear one, which is not plain enough for a double period.
    """
    period = steps.scheme.period
    pitch = comb.pitch_px
    if period * pitch < settings.least_inch_px:
        return None
    patch = _patch(levels, comb, where, slant, steps, pitch, settings)
    tops = np.arange(-(-steps.whole.min() // period), steps.whole.max() // period + 1) * period
    full = _full_ink(patch, tops, steps)
    if full is None:
        return None
    glyphs = _glyphs(patch, full, steps, settings)
    found = [
        told
        for told in (_told(glyphs, g, tops, steps, patch, full, settings) for g in glyphs)
        if told is not None
    ]
    return found[0] if found and all(f == found[0] for f in found) else None


def _patch(
    levels: tuple[Grey, ...],
    comb: Comb,
    where: Core,
    slant: tuple[float, float],
    steps: Ladder,
    pitch: float,
    settings: FigureSettings,
) -> _Patch:
    """Samples are no finer than photo px, and no finer than a numeral's stroke needs."""
    period, strip = float(steps.scheme.period), comb.strip
    fine = min(pitch, settings.samples_per_inch / period)
    beyond = steps.classes[-2]
    across = beyond + np.arange(0.05 * period, settings.reach * period, 1 / fine)
    first, last = steps.whole.min() - period / 4, steps.whole.max() + period / 4
    along = np.arange(first, last, 1 / fine)
    n = along + steps.phase
    spacing = np.abs(comb.place(n + 0.5) - comb.place(n - 0.5))
    start = (where.high if steps.side > 0 else where.low) - comb.v
    dv = start + steps.side * across[:, None] * spacing
    place = comb.place(n)
    u = place + (slant[0] + slant[1] * place) * dv
    level = 0
    while level < len(levels) - 1 and pitch * 2.0 ** -(level + 1) >= fine:
        level += 1
    at = strip.origin + u[..., None] * strip.along + (comb.v + dv)[..., None] * strip.across
    at = ((at + 0.5) * 2.0**-level - 0.5).astype(np.float32)
    grey = cv2.remap(
        levels[level], np.ascontiguousarray(at[..., 0]), np.ascontiguousarray(at[..., 1]),
        cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    size = 2 * round(settings.stroke * period * fine) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    kind = cv2.MORPH_TOPHAT if steps.light else cv2.MORPH_BLACKHAT
    ink = cv2.morphologyEx(grey, kind, kernel).astype(np.float64)
    inside = np.all((at > 0) & (at < np.array(levels[level].shape[::-1]) - 1), axis=2)
    return _Patch(ink, inside[: len(across) // 2].all(axis=0), across, along, fine)


def _full_ink(patch: _Patch, tops: Array, steps: Ladder) -> float | None:
    """How strong ink is on the longest ticks, where they stand out of the second longest."""
    end = steps.classes[-2] + 0.7 * (steps.classes[-1] - steps.classes[-2])
    rows = patch.across < end
    columns = [np.abs(patch.along - top) <= max(0.1, 1 / patch.fine) for top in tops]
    inks = [patch.ink[rows][:, c].max(axis=1).mean() for c in columns if c.any() and rows.any()]
    return float(np.median(inks)) if inks else None


def _glyphs(patch: _Patch, full: float, steps: Ladder, settings: FigureSettings) -> list[_Glyph]:
    """Pieces of ink of a numeral's size that are no ticks."""
    period = float(steps.scheme.period)
    mask = (patch.ink > settings.as_strong * full).astype(np.uint8)
    nearest = np.round(patch.along / period) * period
    on_tick = np.abs(patch.along - nearest) < max(0.15, 1.5 / patch.fine)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    # A tick that runs into its numeral is no shape to tell by.
    start = np.ix_(patch.across < steps.classes[-2] + 0.1 * period, on_tick)
    ticks = np.unique(labels[start])
    unit = patch.fine * period
    low, high = settings.tall
    found = []
    for k in np.setdiff1d(np.arange(1, count), ticks):
        left, top, width, height, _ = stats[k]
        fits = low * unit <= height <= high * unit and width <= settings.wide * unit
        if fits and top > 0 and top + height < len(patch.across):
            along = patch.along[0] + (left + (width - 1) / 2) / patch.fine
            across = patch.across[0] + (top + (height - 1) / 2) / patch.fine
            found.append(_Glyph(float(along), float(across), height / patch.fine))
    return _without_far_ticks(found, period, settings)


def _without_far_ticks(
    glyphs: list[_Glyph], period: float, settings: FigureSettings
) -> list[_Glyph]:
    """The glyphs but the ticks of the ruler's other edge, which all end on its line.

    Numerals end on a line too, but beside the longest ticks; where many stand elsewhere and end
    on one, those on it beside the longest ticks are of the same kind.
    """
    ends = np.array([g.across + g.tall / 2 for g in glyphs])
    off = np.array([abs(g.along - period * round(g.along / period)) for g in glyphs])
    elsewhere = ends[off > settings.beside * period]
    if not len(elsewhere):
        return glyphs
    near = settings.one_line * period
    fellows = (np.abs(elsewhere[:, None] - elsewhere) < near).sum(axis=1)
    if fellows.max() < settings.far_ticks:
        return glyphs
    line = float(np.median(elsewhere[np.abs(elsewhere - elsewhere[fellows.argmax()]) < near]))
    return [g for g, end in zip(glyphs, ends, strict=True) if abs(end - line) >= near]


def _told(
    glyphs: list[_Glyph],
    first: _Glyph,
    tops: Array,
    steps: Ladder,
    patch: _Patch,
    full: float,
    settings: FigureSettings,
) -> int | None:
    """What the glyphs say that stand in line with one of them."""
    period = steps.scheme.period
    row = [
        g
        for g in glyphs
        if abs(g.across - first.across) < settings.aligned * period
        and abs(np.log(g.tall / first.tall)) < np.log(settings.alike)
    ]
    off = np.array([g.along - period * round(g.along / period) for g in row])
    usual = float(np.median(off))
    near = np.abs(off - usual) < settings.beside * period
    if near.mean() < settings.most_numbered:
        return None
    numbered = np.unique([period * round((g.along - usual) / period) for g in row])
    numbered = numbered[(numbered >= tops[0]) & (numbered <= tops[-1])]
    if len(numbered) < 2:
        return None
    between = tops[(tops >= numbered[0]) & (tops <= numbered[-1])]
    shown = sum(_in_frame(patch, top + usual) for top in tops)
    many = len(numbered) >= settings.least_numbered * shown  # two by chance are no row of numerals
    if len(numbered) == len(between):
        return int(period) if many else None
    bare = np.setdiff1d(between, numbered)
    alternate = (np.diff(numbered) == 2 * period).all() and len(bare) == len(numbered) - 1
    empty = all(_is_empty(patch, top + usual, first, full, settings, period) for top in bare)
    # One that is bare may have lost its numeral, unless its tick is shorter as well.
    if many and alternate and empty and (len(bare) > 1 or _are_longer(numbered, bare, steps)):
        return int(2 * period)
    return HALVES if (np.diff(numbered) % (2 * period) == 0).all() else None


def _in_frame(patch: _Patch, at: float) -> bool:
    """Whether the frame holds the place of a numeral."""
    column = int(np.abs(patch.along - at).argmin())
    return bool(patch.shown[column]) and abs(float(patch.along[column]) - at) <= 1 / patch.fine


def _is_empty(
    patch: _Patch, at: float, like: _Glyph, full: float, settings: FigureSettings, period: int
) -> bool:
    """Whether there is no trace of ink where a numeral like another would stand."""
    rows = np.abs(patch.across - like.across) < like.tall / 2
    columns = np.abs(patch.along - at) < settings.beside * period
    if not columns.any() or not patch.shown[columns].all():
        return False
    return bool(patch.ink[np.ix_(rows, columns)].max() < settings.trace * full)


def _are_longer(numbered: Array, bare: Array, steps: Ladder) -> bool:
    """Whether the ticks that bear a numeral are all longer than those that bear none."""
    length = dict(zip(steps.whole.tolist(), steps.lengths.tolist(), strict=True))
    with_numeral = [length[int(n)] for n in numbered if int(n) in length]
    without = [length[int(n)] for n in bare if int(n) in length]
    return bool(with_numeral and without and min(with_numeral) > max(without))
