"""Thread coordinates along both axes of a cloth whose bands and yarns are known."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.carriers import Advance, Carrier
from settscan.reading.diagonals import Diagonals, find_diagonals
from settscan.reading.fold import Crossings, parts_of
from settscan.reading.multiples import Multiple, choose_multiple, other_sides
from settscan.reading.profiles import Additive
from settscan.reading.settling import settled
from settscan.reading.stripes import Bands
from settscan.reading.threads import (
    Lattice,
    Signals,
    by_own_ripple,
    by_ripple_alone,
    follow_weave,
    ripple_course,
    ripple_signal,
    weave_carriers,
)
from settscan.settings import READ, THREADS, ReadSettings

Floats = NDArray[Any]
Expected = tuple[float | None, float | None]  # pixels per thread along x and y, if told


def find_lattices(
    split: Additive,
    columns: Bands,
    rows: Bands,
    signals: Signals,
    crossings: Crossings,
    cells: tuple[float, float],
    expected: Expected,
    cycle: int | None = None,
) -> tuple[Lattice | None, Lattice | None, Diagonals | None]:
    """Thread coordinates along both axes, from the weave if it shows, else from the ripple.

    And the diagonals, if the weave shows. `cycle` is how many threads its wave has, if told.
    """
    base = split.columns.mean(axis=0)
    ripples = (
        ripple_signal(split.columns, columns, cells[0]),
        ripple_signal(split.rows + base, replace(rows, levels=rows.levels + base), cells[1]),
    )
    waves = weave_carriers(signals)
    courses = _followed(signals, waves, columns, rows)
    lengths = (split.mask.shape[0], split.mask.shape[1])
    if courses is not None:
        diagonals = find_diagonals(signals, courses)
        courses = settled(crossings, parts_of(split.mask.shape, diagonals), courses)
        single = diagonals.single()
        edges = (columns.edges, rows.edges)
        smear = diagonals.smear(courses) if single else None
        found = choose_multiple(
            courses, ripples, edges, single, expected, cycle, smear, other_sides(waves)
        )
        along_x, along_y = _by_weave(courses, ripples, lengths, found, single, cycle)
        if len(rows.widths) == 1:
            along_x = _crossed_by_one(along_x, ripples[0], lengths[0], single)
        if len(columns.widths) == 1:
            along_y = _crossed_by_one(along_y, ripples[1], lengths[1], single)
        return along_x, along_y, diagonals
    alone = [ripple_course(r, n) for r, n in zip(ripples, lengths, strict=True)]
    one, two = (
        None if course is None else Lattice(course=course, multiple=1, found_by="ripple")
        for course in alone
    )
    return one, two, None


def _followed(
    signals: Signals, waves: tuple[Carrier, ...], columns: Bands, rows: Bands
) -> tuple[Advance, Advance] | None:
    """The courses of the weave's main wave; None where it shows none, or is lost on the way."""
    if not waves:
        return None
    main = waves[0]
    courses = follow_weave(signals, main, columns.edges, rows.edges)
    if courses is None:
        return None
    for course, found in zip(courses, (main.fx, abs(main.fy)), strict=True):
        if float(np.median(course.coherence)) < THREADS.least_agreement:
            return None
        # So far no spacing wanders all along: that is another wave, an overtone's part.
        if abs(np.log(course.rate / found)) > THREADS.most_strayed:
            return None
    return courses


def _by_weave(
    courses: tuple[Advance, Advance],
    ripples: tuple[Floats, Floats],
    lengths: tuple[int, int],
    found: Multiple,
    one_diagonal: bool,
    cycle: int | None,
) -> list[Lattice]:
    """Lattices along x and y that follow the weave, or the ripple where the weave has slipped."""
    axes = list(zip(courses, ripples, lengths, strict=True))
    alone = [by_own_ripple(*axis) for axis in axes]
    if one_diagonal and max(found.ripple) > np.exp(THREADS.plain_ripple):
        alone = [own and _without_overtone(*own, found.threads) for own in alone]
    if cycle is not None:
        alone = [own if own is not None and own[1] == cycle else None for own in alone]
    told = {own[1] for own in alone if own is not None}
    if len(told) == 1:
        (threads,) = told
        alone = [
            own or by_own_ripple(*axis, threads) for own, axis in zip(alone, axes, strict=True)
        ]
        if threads != found.threads:
            found = replace(found, threads=threads, other=found.threads, chance=READ.told_by_ripple)
    lattices = []
    for course, own, strength in zip(courses, alone, found.ripple, strict=True):
        if own is None:
            lattice = Lattice(
                course=course,
                multiple=found.threads,
                found_by="weave",
                ripple=strength,
                chance=found.chance,
                other=found.other,
            )
        else:
            lattice = Lattice(course=own[0], multiple=1, found_by="ripple")
            if (
                own[1] == 2 and not one_diagonal and cycle is None
            ):  # the ripple may be that of pairs
                lattice = replace(lattice, chance=found.chance, other=2)
        lattices.append(lattice)
    return lattices


def _crossed_by_one(lattice: Lattice, ripple: Floats, length: int, one_diagonal: bool) -> Lattice:
    """A lattice by the weave, where one yarn alone crosses, by the threads' own ripple if it shows.

    That yarn shows no edge by which its threads were laid straight: if all lines of the weave lean
    one way, their bow passes for an advance of these. And in stripes of the same yarn the weave
    shows by its shading alone. Its picture still tells what weave it is.
    """
    if lattice.found_by != "weave":
        return lattice
    single = lattice.multiple
    paces = [single] if one_diagonal or single % 2 else [single, single // 2]
    own = by_ripple_alone(lattice.course, ripple, length, paces)
    if own is None:
        return replace(lattice, bowed=one_diagonal)
    course, pace = own
    other = lattice.other // pace if lattice.other % pace == 0 else 0
    return replace(
        lattice,
        course=course,
        multiple=single // pace,
        found_by="ripple",
        chance=lattice.chance if other else 1.0,
        other=other,
        beside=lattice,
    )


def _without_overtone(course: Advance, pace: int, threads: int) -> tuple[Advance, int]:
    """A ripple's course and pace, at the pace of single threads that show on the other axis.

    Sharp threads ripple at twice their own pace as well. Threads of twice the number would not
    show at theirs, but in a hopsack, where they lie in pairs.
    """
    if pace != 2 * threads:
        return course, pace
    return replace(course, cycles=course.cycles / 2), threads


def as_expected(
    lattice: Lattice | None, pitch: float | None, settings: ReadSettings = READ
) -> Lattice | None:
    """The lattice, unless its pitch cannot be that of the density that somebody gave."""
    if lattice is None or pitch is None:
        return lattice
    return lattice if abs(lattice.mean_pitch / pitch - 1) < settings.unlike_pinned else None


def left_out(seen: Lattice | None, kept: Lattice | None) -> float | None:
    """The pitch in pixels of a lattice that was seen and is not used."""
    return seen.mean_pitch if seen is not None and kept is None else None
