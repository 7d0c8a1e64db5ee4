"""Counting by phase: where the threads lie along an axis, in threads, to a fraction of one.

Three signals carry the lattice of threads:

- the weave contrast: the residual projected on the difference of the two yarns that cross, which
  is the drawdown itself, whatever the colours;
- the weave shading: the residual relative to its surroundings, which shows the weave also where
  both yarns have one colour;
- the ripple: each thread seen edge on in the mean over all threads that cross it.

The first two have the frequency of the weave repeat and stay visible far below four pixels per
thread; the third has that of the single threads and tells how many make a repeat.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.sums import along_difference, by_strips
from settscan.reading.bent import phase_along, steadied
from settscan.reading.carriers import (
    Advance,
    Carrier,
    Course,
    advance,
    demodulate,
    demodulate_mirrored,
    find_carriers,
    spectrum,
    steps_along_x,
)
from settscan.reading.palette import Palette
from settscan.reading.profiles import Additive
from settscan.reading.stripes import Bands
from settscan.settings import THREADS, ThreadSettings

Floats = NDArray[Any]
FloatImage = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signals:
    """Pictures (H, W) that show the weave: `contrast` signed by colour, `shading` unsigned."""

    contrast: FloatImage
    shading: FloatImage
    mask: NDArray[np.bool_]

    def turned(self) -> Signals:
        """With x and y exchanged."""
        return Signals(contrast=self.contrast.T, shading=self.shading.T, mask=self.mask.T)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lattice:
    """Thread positions along one axis.

    Attributes:
        course: cycles of the carrier along the axis.
        multiple: threads in one cycle.
        found_by: "weave" or "ripple".
        ripple: strength of the single threads' ripple at `multiple` times the course, over its
            background; about 1 where none is seen.
        chance: that `multiple` is right.
        other: the next likely multiple.
        bowed: whether a bow of the threads that cross it would pass for an advance.
        beside: of threads counted by their ripple, the lattice of the weave where it shows, whose
            picture tells what weave it is.
    """

    course: Advance
    multiple: int
    found_by: str
    ripple: float = 1.0
    chance: float = 1.0
    other: int = 0
    bowed: bool = False
    beside: Lattice | None = None

    @property
    def of_weave(self) -> Lattice:
        """The one that follows the weave, if there are two."""
        return self.beside or self

    def threads(self, positions: Floats) -> Floats:
        """Thread coordinate of positions in pixels; differences are numbers of threads."""
        return self.course.between(positions) * self.multiple

    @property
    def mean_pitch(self) -> float:
        """Pixels per thread over the whole axis."""
        a = self.course
        return float((a.at[-1] - a.at[0]) / (self.multiple * (a.cycles[-1] - a.cycles[0])))

    def coherence_between(self, edges: Floats) -> Floats:
        """(n,) least coherence of the course within each stripe."""
        centre = self.course.at
        known = self.course.coherence
        if len(known) == len(centre) - 1:
            centre = (centre[1:] + centre[:-1]) / 2
        low = np.clip(np.searchsorted(centre, edges[:-1]), 0, len(known) - 1)
        high = np.clip(np.searchsorted(centre, edges[1:]), low + 1, len(known))
        return np.array([known[i:j].min() for i, j in zip(low, high, strict=True)])


def weave_signals(split: Additive, columns: Bands, rows: Bands, palette: Palette) -> Signals:
    """The residual as weave contrast and as weave shading."""
    height, width = split.mask.shape
    warp = palette.colours[palette.of_columns][columns.of_pixels(width)].astype(np.float32)
    weft = palette.colours[palette.of_rows][rows.of_pixels(height)].astype(np.float32)
    contrast = along_difference(split.residual, warp, weft)
    along_x, along_y = (e.sum(axis=1).astype(np.float32) for e in (split.columns, split.rows))
    shading = np.empty((height, width), np.float32)

    def shade(strip: slice) -> None:
        light = np.maximum(along_x + along_y[strip, None], np.float32(0.05))
        whole = cv2.transform(split.residual[strip], np.ones((1, 3), np.float32))
        np.divide(whole, light, out=shading[strip])

    by_strips(shade, height)
    return Signals(contrast=contrast, shading=shading, mask=split.mask)


def first_carriers(split: Additive) -> tuple[Carrier, ...]:
    """Waves of the weave before any yarn is known.

    The residual's sign follows W - F, which changes with the stripes; where the same sett runs
    both ways the changes cancel the wave itself and leave its sidebands. So the residual is first
    projected on a guess of W - F: the column effect less the row effect, as if both axes had the
    same mean colour. Failing that, its plain channels are searched.
    """
    warp = split.columns - split.columns.mean(axis=0)
    weft = split.rows - split.rows.mean(axis=0)
    signed = along_difference(split.residual, warp, weft)
    found = find_carriers(spectrum((signed,), split.mask))
    if found:
        return found
    planes = tuple(np.asarray(plane, np.float32) for plane in cv2.split(split.residual))
    return find_carriers(spectrum(planes, split.mask))


def weave_carriers(signals: Signals) -> tuple[Carrier, ...]:
    """The waves of the weave in either signal, strongest first."""
    return find_carriers(spectrum((signals.contrast,), signals.mask)) or find_carriers(
        spectrum((signals.shading,), signals.mask)
    )


def follow_weave(
    signals: Signals,
    carrier: Carrier,
    column_edges: Floats,
    row_edges: Floats,
    settings: ThreadSettings = THREADS,
) -> tuple[Advance, Advance] | None:
    """Cycles of the weave along x and along y, each pass measured against the one before.

    None where the wave is so long that the picture holds but one window of it.
    """
    height, width = signals.mask.shape
    along_x, along_y = Course.even(width, carrier.fx), Course.even(height, carrier.fy)
    turned = signals.turned()
    for _ in range(settings.passes):
        x = _weave_steps(signals, along_x, along_y, column_edges, settings)
        y = _weave_steps(turned, along_y, along_x, row_edges, settings)
        if min(len(x.at), len(y.at)) < 2:
            return None
        along_x, along_y = Course.following(x, width), Course.following(y, height)
    return (
        _forward(_weave_phase(signals, along_x, along_y)),
        _forward(_weave_phase(turned, along_y, along_x)),
    )


def _forward(found: Advance) -> Advance:
    """With cycles that rise (a wave may run against the axis)."""
    if found.cycles[-1] >= 0:
        return found
    return Advance(at=found.at, cycles=-found.cycles, coherence=found.coherence)


def _weave_steps(
    signals: Signals, along_x: Course, along_y: Course, edges: Floats, settings: ThreadSettings
) -> Advance:
    """Cycles of the weave along x, from both diagonals and both signals together.

    The shading's phase jumps where the colours change, so it helps only between edges.
    """
    at, total, moduli = np.zeros(0), np.zeros(0, complex), np.zeros(0)
    for image, weight in ((signals.contrast, 1.0), (signals.shading, settings.shading_weight)):
        at, _, *both = demodulate_mirrored(image, along_x, along_y)
        power = sum(float(np.mean(np.abs(z) ** 2)) for z in both) + 1e-30
        for z in both:
            steps, sizes = steps_along_x(z)
            if image is signals.shading:
                inside = ~_steps_across(at, edges)
                steps, sizes = steps * inside, sizes * inside
            total = total + weight * steps / power if total.size else weight * steps / power
            moduli = moduli + weight * sizes / power if moduli.size else weight * sizes / power
    return advance(at, total, moduli, along_x)


def _weave_phase(signals: Signals, along_x: Course, along_y: Course) -> Advance:
    """The course along x, freed of drift by the phase of the weave over the whole plane.

    The contrast tells it, or, in a cloth of one colour, the shading: whichever agrees better.
    """
    best: Advance | None = None
    for image in (signals.contrast, signals.shading):
        at, _, *both = demodulate_mirrored(image, along_x, along_y)
        phase, agreement, error = phase_along(both)
        if best is None or np.median(agreement) > np.median(best.coherence) + 0.1:
            cycles = np.interp(at, np.arange(len(along_x.cycles)), along_x.cycles)
            cycles = steadied(cycles + phase / (2 * np.pi), error / (2 * np.pi))
            best = Advance(at=at, cycles=cycles - cycles[0], coherence=agreement)
    assert best is not None
    return best


def _steps_across(at: Floats, edges: Floats) -> NDArray[np.bool_]:
    """Whether an inner edge lies between neighbouring positions."""
    inner = edges[1:-1]
    return np.asarray(np.searchsorted(inner, at[1:]) > np.searchsorted(inner, at[:-1]))


def ripple_signal(profile: Floats, bands: Bands, cell: float) -> Floats:
    """(N,) what single threads add to a profile: its rest after the bands, relative to them.

    Near an edge, where the fit of a step hides the threads, the ripple is set to zero.
    """
    step = bands.levels[bands.of_pixels(len(profile))]
    rest = (profile - step).sum(axis=1) / np.maximum(profile.sum(axis=1), 0.02)
    x = np.arange(len(profile))
    inner = bands.edges[1:-1]
    if len(inner):
        nearest = np.abs(x[:, None] - inner[None]).min(axis=1)
        rest = np.where(nearest < max(1.0, 0.75 * cell), 0.0, rest)
    return np.asarray(rest)


def ripple_strength(ripple: Floats, course: Advance, multiple: float) -> float:
    """Power of the ripple at a multiple of the course over that at neighbouring multiples."""
    beside = np.concatenate([np.arange(-0.4, -0.09, 0.05), np.arange(0.1, 0.41, 0.05)])
    background = float(np.mean([ripple_power(ripple, course, multiple + b) for b in beside]))
    return max(ripple_power(ripple, course, multiple), 1e-30) / max(background, 1e-30)


def ripple_power(ripple: Floats, course: Advance, multiple: float) -> float:
    """Power of the ripple (N,) at a multiple of the course."""
    cycles = course.between(np.arange(len(ripple), dtype=float))
    return float(np.abs(np.sum(ripple * np.exp(-2j * np.pi * multiple * cycles))) ** 2)


def ripple_course(
    ripple: Floats,
    mask_length: int,
    least: float | None = None,
    settings: ThreadSettings = THREADS,
) -> Advance | None:
    """Threads counted by their ripple alone, where the weave shows no wave of its own.

    Args:
        ripple: (N,) see `ripple_signal`.
        mask_length: number of threads' lengths averaged, pixels; unused rows carry no weight.
        least: power over its octave for it to be believed; None: alone, `least_ripple`.
        settings: see `ThreadSettings`.

    Returns:
        The course with one cycle a thread, or None if no ripple stands out.
    """
    if len(ripple) < 64 or mask_length < 16:
        return None
    frequency, strength = _ripple_peak(ripple, settings)
    if strength < (settings.least_ripple if least is None else least):
        return None
    course = Course.even(len(ripple), frequency)
    signal = ripple[None].astype(np.float32)
    found: Advance | None = None
    for _ in range(settings.passes):
        at, z = demodulate(signal, course, Course.even(1, 0.0), settings.ripple_windows)
        phase = np.unwrap(np.angle(z[0])) / (2 * np.pi)
        size = np.abs(z[0])
        cycles = np.interp(at, np.arange(len(ripple)), course.cycles) + phase
        found = Advance(
            at=at, cycles=cycles - cycles[0], coherence=size / (np.percentile(size, 90) + 1e-30)
        )
        course = Course.following(found, len(ripple))
    return found


def by_own_ripple(
    course: Advance,
    ripple: Floats,
    mask_length: int,
    threads: int | None = None,
    settings: ThreadSettings = THREADS,
) -> tuple[Advance, int] | None:
    """The ripple's own course, and threads in a cycle of the weave, where the weave's has slipped.

    The wave of a herringbone jumps where its lines turn back. Its course then loses threads, which
    shows in that their ripple, although it is there, does not keep step with it.

    Args:
        course: of the weave.
        ripple: (N,) of the same axis, see `ripple_signal`.
        mask_length: as for `ripple_course`.
        threads: in a cycle, if the other axis told them: a weaker ripple of that pace will do.
        settings: see `ThreadSettings`.
    """
    least = settings.least_ripple if threads is None else settings.least_ripple_told
    own = ripple_course(ripple, mask_length, least)
    if own is None:
        return None
    pace = own.rate / course.rate
    multiple = round(pace)
    known = [number for number, _ in settings.multiples] if threads is None else [threads]
    if multiple not in known or abs(pace - multiple) > settings.own_pace:
        return None
    if np.log(ripple_strength(ripple, course, multiple)) > settings.no_ripple:
        return None
    return own, multiple


def by_ripple_alone(
    course: Advance,
    ripple: Floats,
    mask_length: int,
    paces: list[int],
    settings: ThreadSettings = THREADS,
) -> tuple[Advance, int] | None:
    """The ripple's own course and its cycles in one of the weave, where that is not to be trusted.

    Where ends and picks are of one yarn the weave's course may have lost cycles, or gained some to
    a bow of the threads across: so the pace of the ripple need not be a whole number.

    Args:
        course: of the weave.
        ripple: (N,) of the same axis, see `ripple_signal`.
        mask_length: as for `ripple_course`.
        paces: that the ripple may have: of single threads, or of pairs.
        settings: see `ThreadSettings`.
    """
    own = ripple_course(ripple, mask_length, settings.least_ripple_told)
    if own is None:
        return None
    own = replace(own, coherence=_clearness(ripple, own, settings))
    pace = own.rate / course.rate
    fitting = [p for p in paces if p - settings.own_pace < pace < p * settings.most_slowed]
    return (own, fitting[0]) if len(fitting) == 1 else None


def _clearness(ripple: Floats, course: Advance, settings: ThreadSettings) -> Floats:
    """(N,) 0..1 under each window of a ripple's course, how far the ripple stands out of noise.

    A dark yarn ripples less than a light one, and is followed as surely where nothing else does.
    Noise is what shows at paces beside its own.
    """
    own = Course.following(course, len(ripple))
    signal, flat = ripple[None].astype(np.float32), Course.even(1, 0.0)

    def size(factor: float) -> Floats:
        beside = Course(cycles=own.cycles * factor, rate=own.rate * factor)
        at, z = demodulate(signal, beside, flat, settings.ripple_windows)
        return np.asarray(np.interp(course.at, at, np.abs(z[0]) ** 2))

    noise = np.mean([size(factor) for factor in (0.6, 0.75, 1.25, 1.4)], axis=0)
    return np.asarray(np.sqrt(np.clip(1 - noise / (size(1.0) + 1e-30), 0.0, 1.0)))


def _median(values: Floats) -> float:
    """The median of (N,) numbers; numpy's own takes longer to begin than to find it in a few."""
    half = len(values) // 2
    middle = np.partition(values, (half, half - 1))[half - 1 + len(values) % 2 : half + 1]
    return float(middle.sum() / len(middle))


def _ripple_peak(ripple: Floats, settings: ThreadSettings) -> tuple[float, float]:
    """Frequency (cycles per pixel) of the strongest ripple and its strength over its octave.

    Sharp threads ripple at twice their pace too, and may do so more strongly: where half the
    pace shows by itself, it is that of the threads.
    """
    segment = min(len(ripple), settings.ripple_segment_px)
    starts = np.linspace(0, len(ripple) - segment, max(1, 2 * len(ripple) // segment - 1))
    window = np.hanning(segment)
    padded = 4 * segment
    power = np.zeros(padded // 2 + 1)
    for start in starts.astype(int):
        part = ripple[start : start + segment]
        power += np.abs(np.fft.rfft((part - part.mean()) * window, padded)) ** 2
    frequencies = np.arange(len(power)) / padded
    usable = (frequencies > settings.ripple_low) & (frequencies < settings.ripple_high)
    whitened = np.zeros_like(power)
    for i in np.flatnonzero(usable):
        around = power[int(i / 1.4) : min(int(i * 1.4) + 1, len(power))]
        whitened[i] = power[i] / (_median(around) + 1e-30)
    best = int(np.argmax(whitened))
    near = np.abs(frequencies - frequencies[best] / 2) < 1 / segment
    half = int(np.argmax(np.where(near, whitened, 0.0)))
    if whitened[half] >= settings.least_ripple:
        best = half
    return float(frequencies[best]), float(whitened[best])
