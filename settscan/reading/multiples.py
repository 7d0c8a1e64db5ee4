"""How many threads make one cycle of the weave's wave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.carriers import Advance, Carrier
from settscan.reading.threads import ripple_power, ripple_strength
from settscan.settings import THREADS, ThreadSettings

Floats = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Multiple:
    """Threads in one cycle of the weave.

    Attributes:
        threads: the likeliest number.
        chance: that it is right.
        other: the runner-up.
        ripple: strength of the ripple of single threads along x and along y.
    """

    threads: int
    chance: float
    other: int
    ripple: tuple[float, float]


def choose_multiple(
    courses: tuple[Advance, Advance],
    ripples: tuple[Floats, Floats],
    edges: tuple[Floats, Floats],
    one_diagonal: bool,
    expected: tuple[float | None, float | None] = (None, None),
    told: int | None = None,
    smear: float | None = None,
    beside: Mapping[int, float] | None = None,
    settings: ThreadSettings = THREADS,
) -> Multiple:
    """How many threads make one cycle of the weave.

    Four witnesses: the ripple of single threads at that multiple of the weave's own course
    (where the pixels can show it), the edges, which must fall between threads, the number of
    diagonals: a plain weave shows two alike, a twill one, and the waves beside the main one,
    which say `beside` for each number (see `other_sides`). A fifth, where somebody gave the
    density: the pitch in pixels that is to be expected along x and y. Where somebody named the
    weave its number is `told`, and nothing is to be chosen. `smear` is how many pixels the hand
    must have moved for one diagonal of a plain weave to be lost, where one alone shows.
    """
    if told is not None:
        seen = _ripples_at(courses, ripples, told, settings)
        ripple = (float(np.exp(seen[0])), float(np.exp(seen[1])))
        return Multiple(threads=told, chance=1.0, other=told, ripple=ripple)
    strengths = {
        multiple: _ripples_at(courses, ripples, multiple, settings)
        for multiple, _ in settings.multiples
    }
    plain = _smeared(smear, settings) if one_diagonal else 0.0
    scores = _witnesses(courses, ripples, edges, strengths, one_diagonal, expected, settings)
    scores[2] += plain
    for multiple, waves in (beside or {}).items():
        scores[multiple] += waves
    # The witnesses are not independent: their sum overstates, so it is halved; and once more
    # where the pixels are too coarse to show the single threads of either number, for then the
    # edges speak alone.
    finest = max(course.rate for course in courses)
    coarse = finest * min(sorted(scores, key=lambda m: -scores[m])[:2]) >= settings.ripple_high
    chances = {
        multiple: (0.25 if coarse else 0.5) * scores[multiple]
        + prior
        - (settings.odd_diagonals if multiple != 2 and not one_diagonal else 0.0)
        for multiple, prior in settings.multiples
    }
    ranked = sorted(chances, key=lambda m: -chances[m])
    weights = [float(np.exp(chances[m] - chances[ranked[0]])) for m in ranked]
    seen = strengths[ranked[0]]
    return Multiple(
        threads=ranked[0],
        chance=1 / sum(weights),
        other=ranked[1],
        ripple=(float(np.exp(seen[0])), float(np.exp(seen[1]))),
    )


def other_sides(waves: tuple[Carrier, ...], settings: ThreadSettings = THREADS) -> dict[int, float]:
    """Log strength of what shows beside the weave's main wave, by the threads that it tells of.

    A weave is seen at its threads and nowhere between them. A wave of one n-th of a cycle a thread
    passes through the same threads as one of n - 1 n-ths that runs the other way, and shows as
    both, along either axis; so it does at 2 n - 1, and so on. The overtones of a twill rise as
    steeply as its main wave does, so that none of them is taken for it.

    Args:
        waves: that the weave shows, the main one first.
        settings: see `ThreadSettings`.
    """
    told = {multiple: 0.0 for multiple, _ in settings.multiples}
    for wave in waves[1:]:
        along, across = wave.fx / waves[0].fx, wave.fy / waves[0].fy
        steep, flat = max(abs(along), abs(across)), min(abs(along), abs(across))
        cycle = round(steep) + 1
        apart = max(abs(steep + 1 - cycle), abs(flat - 1))
        # That of 2 is the other diagonal, which is looked at place by place.
        if along * across > 0 or cycle < 3 or apart > settings.same_wave:
            continue
        for multiple in told:
            if cycle % multiple == 0:
                told[multiple] += float(np.log(wave.strength))
    return told


def _witnesses(
    courses: tuple[Advance, Advance],
    ripples: tuple[Floats, Floats],
    edges: tuple[Floats, Floats],
    strengths: Mapping[int, tuple[float, float]],
    one_diagonal: bool,
    expected: tuple[float | None, float | None],
    settings: ThreadSettings,
) -> dict[int, float]:
    """What the witnesses say for each number of threads, as log chances, summed."""
    ripple = {multiple: sum(strong) for multiple, strong in strengths.items()}
    if not one_diagonal:
        ripple[4] = _of_hopsack(courses, ripples, strengths, settings)
    between = {
        multiple: sum(
            _edges_between_threads(course, multiple, edge, settings)
            for course, edge in zip(courses, edges, strict=True)
        )
        for multiple, _ in settings.multiples
    }
    scores: dict[int, float] = {}
    for multiple in strengths:
        score = ripple[multiple]
        # Edges between every second thread lie between threads.
        score += max(told for other, told in between.items() if multiple % other == 0)
        for course, pitch in zip(courses, expected, strict=True):
            if pitch is not None:
                off = np.log(pitch * course.rate * multiple) / settings.expected_spread
                score -= min(0.5 * float(off) ** 2, settings.most_unexpected)
        scores[multiple] = score
    return scores


def _smeared(smear: float | None, settings: ThreadSettings) -> float:
    """Log chance of a plain weave that shows one diagonal only: a smear hid the other."""
    if smear is None:
        return -settings.wrong_diagonals
    return -min(settings.wrong_diagonals, 0.5 * (smear / settings.usual_smear_px) ** 2)


def _of_hopsack(
    courses: tuple[Advance, Advance],
    ripples: tuple[Floats, Floats],
    strengths: Mapping[int, tuple[float, float]],
    settings: ThreadSettings,
) -> float:
    """Log strength of the ripple of a hopsack, whose threads lie in pairs, on both axes.

    Its pairs ripple as the single threads of a plain weave do: that speaks for neither of the
    two. Its single threads ripple at four times the wave's frequency, where a plain weave has an
    overtone only, which is weak for round threads.
    """
    score, missing = 0.0, True
    for course, ripple, pairs, singles in zip(
        courses, ripples, strengths[2], strengths[4], strict=True
    ):
        unseen = course.rate * 4 >= settings.ripple_high
        finer = unseen or singles > settings.plain_ripple
        missing = missing and pairs < settings.plain_ripple and finer
        told = 0.0 if unseen else _overtone(course, ripple, pairs, settings)
        score += pairs if unseen else max(pairs, singles) + told
    # Threads so wide would show: where only finer ones do, or could, they are no such threads. Of
    # one axis alone a course that slipped, or stripes that hide the weave, may keep the ripple.
    return score + (2 * settings.missing_ripple if missing else 0.0)


def _overtone(course: Advance, ripple: Floats, pairs: float, settings: ThreadSettings) -> float:
    """What the ripple at four times the wave's frequency says for a hopsack, as a log chance.

    `pairs` is the log strength of the ripple at half of that.
    """
    powers = [max(ripple_power(ripple, course, m), 1e-30) for m in (2, 4)]
    # A lens and square pixels blur the finer of the two more: its power is made good for it, as
    # far as the blur is known.
    finer = 12 * (2 * np.pi * course.rate) ** 2
    seen = float(np.log(powers[1] / powers[0])) + finer * settings.usual_blur_px**2
    spread = np.hypot(settings.overtone_spread, finer * settings.blur_spread_px2)
    weight = settings.overtone_apart / spread**2
    told = (seen - settings.overtone) * weight
    if told < 0:
        # Nap, and fulling, take from a ripple as blur does, four times as much at half the pitch.
        # They show in a ripple of the pairs that is weaker than usual.
        lost = 3 * max(0.0, settings.clear_ripple - pairs)
        told = min(0.0, (seen + lost - settings.overtone) * weight)
    # What is absent may be lost, to a lens or, if it is fine, to the file's coding: that tells
    # less than what is there.
    pace = course.rate * 4
    least = settings.most_lost if pace > settings.easily_lost else settings.most_absent
    least = 0.0 if pace > settings.hardly_shown else least
    return 2 * float(np.clip(told, -least, settings.most_overtone))


def _ripples_at(
    courses: tuple[Advance, Advance],
    ripples: tuple[Floats, Floats],
    multiple: int,
    settings: ThreadSettings,
) -> tuple[float, float]:
    """Log strength of the ripple on both axes, not below what its absence leaves open."""
    found = []
    for course, ripple in zip(courses, ripples, strict=True):
        pace = course.rate * multiple
        strength = settings.unseen_ripple if pace > settings.hardly_shown else 0.0
        if pace < settings.ripple_high:
            seen = float(np.log(ripple_strength(ripple, course, multiple)))
            strength = max(strength, seen)
        found.append(strength)
    return found[0], found[1]


def _edges_between_threads(
    course: Advance, multiple: int, edges: Floats, settings: ThreadSettings
) -> float:
    """Zero where the edges may lie between threads of this multiple, negative where they do not.

    Neighbouring edges are compared, so that a slow drift of the coordinate does no harm.
    """
    inner = edges[1:-1]
    if len(inner) < 3:
        return 0.0
    apart = np.diff(course.between(inner)) * multiple
    agreement = float(np.mean(np.cos(2 * np.pi * apart)))
    # Edges known to 0.12 threads give 0.57 on average; chance gives 0.
    return min(0.0, agreement - 0.45) * settings.edge_weight * len(inner) / settings.edges_weighed
