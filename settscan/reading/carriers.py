"""The weave as a wave: its carrier frequencies, and how far a wave advances from place to place.

A weave that repeats every m ends and n picks is, seen from afar, a sum of plane waves whose
frequencies are multiples of (1/(m p), 1/(n q)) cycles per pixel, with p and q the pitches. The
strongest is found in an averaged power spectrum. Its phase advance between two places, times m,
is the number of threads between them, however the pitch wanders on the way.

The advance is summed from products of neighbouring windows, Z(x + 1, y) conj Z(x, y), over all
y: a slow drift of the cloth along y, or a change of colour, cancels in each product.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.settings import CARRIERS, CarrierSettings

Floats = NDArray[Any]
FloatImage = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Carrier:
    """A plane wave in the picture: cycles per pixel along x and y, and its strength.

    `strength` is the peak's power over the median power of its surroundings, `power` its share of
    all power. `fx >= 0`.
    """

    fx: float
    fy: float
    strength: float
    power: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Advance:
    """Cycles of a carrier along one axis.

    Attributes:
        at: (N,) positions in pixels, rising.
        cycles: (N,) cycles passed since the first position.
        coherence: (N - 1,) 0..1, how well the picture agrees on each step.
    """

    at: Floats
    cycles: Floats
    coherence: Floats

    @property
    def rate(self) -> float:
        """Mean cycles per pixel."""
        return float((self.cycles[-1] - self.cycles[0]) / (self.at[-1] - self.at[0]))

    def between(self, positions: Floats) -> Floats:
        """Cycles at any positions, straight between and going on at the ends."""
        inner = np.interp(positions, self.at, self.cycles)
        # Beyond its windows the course keeps the pace of several, not the slip of one.
        reach = min(5, len(self.at) - 1)
        first = (self.cycles[reach] - self.cycles[0]) / (self.at[reach] - self.at[0])
        last = (self.cycles[-1] - self.cycles[-1 - reach]) / (self.at[-1] - self.at[-1 - reach])
        inner = np.where(
            positions < self.at[0], self.cycles[0] + (positions - self.at[0]) * first, inner
        )
        return np.asarray(
            np.where(
                positions > self.at[-1], self.cycles[-1] + (positions - self.at[-1]) * last, inner
            )
        )


def spectrum(
    images: tuple[FloatImage, ...], mask: NDArray[np.bool_], settings: CarrierSettings = CARRIERS
) -> Floats:
    """Averaged power spectrum (T, T/2 + 1) of tiles of some (H, W) signals, whitened tile by tile.

    Each tile is divided by its own total power, so that a contrasty corner does not decide alone.
    Rows are frequencies along y in FFT order, columns along x from 0 to one half.
    """
    height, width = mask.shape
    size = min(settings.tile_px, height, width)
    window = np.outer(np.hanning(size), np.hanning(size)).astype(np.float32)
    total = np.zeros((size, size // 2 + 1))
    for y, x in _tile_corners(height, width, size, settings.most_tiles):
        if mask[y : y + size, x : x + size].mean() < settings.least_cover:
            continue
        power = np.zeros_like(total)
        for image in images:
            tile = image[y : y + size, x : x + size]
            waves = np.fft.rfft2((tile - tile.mean()) * window)
            power += waves.real**2 + waves.imag**2
        whole = power.sum()
        if whole > 0:
            total += power / whole
    return total


def _tile_corners(height: int, width: int, size: int, most: int) -> list[tuple[int, int]]:
    """Evenly spread corners (y, x) of about `most` tiles, overlapping by up to half."""
    down = max(1, min(2 * height // size - 1, round((most * height / width) ** 0.5)))
    across = max(1, min(2 * width // size - 1, max(1, most // down)))
    ys = np.linspace(0, height - size, down).astype(int)
    xs = np.linspace(0, width - size, across).astype(int)
    return [(int(y), int(x)) for y in ys for x in xs]


def find_carriers(power: Floats, settings: CarrierSettings = CARRIERS) -> tuple[Carrier, ...]:
    """The plane waves that stand out of a spectrum, the most powerful first.

    The spectrum is compared with its own median over rings of equal frequency; peaks on the axes
    (stripes, threads seen edge on) are left to the one-dimensional search, and so are waves that
    no weave makes, whose two periods are too unlike (the sensor's own pattern among them).
    """
    size = power.shape[0]
    fy = np.fft.fftfreq(size)[:, None]
    fx = np.arange(power.shape[1])[None] / size
    ring = np.hypot(fx, fy)
    smooth = _box3(power)
    ratio = smooth / _ring_median(smooth, ring, size)
    guard = 1.5 / size
    usable = (ring > settings.least_cycles / size) & (np.abs(fy) > guard) & (fx > guard)
    usable &= (np.abs(fy) < 0.5 - guard) & (fx < 0.5 - guard)
    unlike = np.maximum(fx, np.abs(fy)) / np.maximum(np.minimum(fx, np.abs(fy)), 1e-6)
    usable &= unlike < settings.most_unlike
    least = max(settings.least_strength, _chance_strength(ratio[usable], settings))
    # Overtones stand out more than the wave itself, whose surroundings are brighter: so power
    # decides among what stands out.
    standing = np.where(usable & (ratio >= least), smooth, 0.0)
    found: list[Carrier] = []
    for _ in range(settings.most_carriers):
        row, column = np.unravel_index(int(np.argmax(standing)), standing.shape)
        if standing[row, column] <= 0:
            break
        py, px = _centre_of_peak(power, int(row), int(column))
        wave = px / size, (py if py < size / 2 else py - size) / size
        if min(wave[0], abs(wave[1])) > guard:  # else what stands out is the foot of an axis
            share = float(smooth[row, column] / power.sum())
            found.append(Carrier(*wave, float(ratio[row, column]), share))
        near = np.hypot(fx - fx[0, column], fy - fy[row, 0])
        standing[near < max(4.0 / size, 0.18 * ring[row, column])] = 0.0
    return tuple(found)


def _chance_strength(ratio: Floats, settings: CarrierSettings) -> float:
    """What chance alone may reach, from the scatter of the bins, most of which hold no wave.

    Few tiles average little: their bins scatter more, and the bar rises.
    """
    logs = np.log(np.maximum(ratio, 1e-12))
    spread = 1.4826 * float(np.median(np.abs(logs - np.median(logs))))
    return float(np.exp(settings.chance_spreads * spread))


def _box3(power: Floats) -> Floats:
    """Mean over 3 x 3 bins; rows wrap round, the borders of the columns are held."""
    wide = np.pad(power, ((0, 0), (1, 1)), mode="edge")
    across = (wide[:, :-2] + wide[:, 1:-1] + wide[:, 2:]) / 3
    return np.asarray((np.roll(across, 1, 0) + across + np.roll(across, -1, 0)) / 3)


def _ring_median(power: Floats, ring: Floats, size: int) -> Floats:
    """The median power of all bins at about the same distance from zero."""
    index = np.minimum((ring * size / 2).astype(int), size // 2)
    floor = np.zeros(index.max() + 1)
    for k in range(len(floor)):
        members = power[index == k]
        floor[k] = np.median(members) if len(members) else np.inf
    floor[~np.isfinite(floor)] = floor[np.isfinite(floor)].max()
    return np.asarray(np.maximum(floor, 1e-30)[index])


def _centre_of_peak(power: Floats, row: int, column: int) -> tuple[float, float]:
    """Centre of gravity of a peak, in bins (row may exceed the range by wrapping)."""
    reach = 2
    rows = np.arange(row - reach, row + reach + 1)
    columns = np.arange(max(column - reach, 0), min(column + reach + 1, power.shape[1]))
    patch = power[np.ix_(rows % power.shape[0], columns)]
    patch = np.maximum(patch - np.median(patch), 0)
    total = patch.sum() or 1.0
    return (
        float((patch.sum(axis=1) * rows).sum() / total) % power.shape[0],
        float((patch.sum(axis=0) * columns).sum() / total),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A wave's expected phase along one axis: cycles at each pixel, (length,), and its mean rate.

    A course that follows the pitch as it wanders leaves only a small rest to be measured, which
    noise cannot pull aside. A rate of zero means no wave: averages over bands.
    """

    cycles: Floats
    rate: float

    @classmethod
    def even(cls, length: int, frequency: float) -> Course:
        """A wave of one frequency."""
        return cls(cycles=frequency * np.arange(length), rate=frequency)

    @classmethod
    def following(cls, found: Advance, length: int) -> Course:
        """The course of an advance that was measured."""
        cycles = found.between(np.arange(length, dtype=float))
        return cls(cycles=cycles, rate=float((cycles[-1] - cycles[0]) / max(length - 1, 1)))

    def reversed(self) -> Course:
        """The wave that runs the other way."""
        return Course(cycles=-self.cycles, rate=-self.rate)


@dataclass(frozen=True, slots=True)
class _Windows:
    """Overlapping Hann windows times the wave's phasor.

    Attributes:
        starts: (N,) first element of each window, `hop` apart.
        weights: (N, reach) complex.
    """

    starts: NDArray[np.intp]
    weights: NDArray[np.complex64]

    @property
    def centres(self) -> Floats:
        """(N,) in pixels."""
        return np.asarray(self.starts + (self.weights.shape[1] - 1) / 2.0)

    def conjugate(self) -> _Windows:
        """Those of the wave that runs the other way."""
        return _Windows(self.starts, self.weights.conj())


def _windows(course: Course, settings: CarrierSettings) -> _Windows:
    """Windows along a course: some cycles long, or bands where there is no wave."""
    length = len(course.cycles)
    if course.rate == 0:
        reach = max(8, length // settings.bands)
        hop = reach // 2
    else:
        hop = max(1, round(settings.hop_cycles / abs(course.rate)))
        reach = max(4, round(settings.window_cycles / abs(course.rate)))
    reach = min(reach, length)
    steps = max(1, (length - reach) // hop) if length > reach else 0
    first = max(0, (length - reach - hop * steps) // 2)
    starts = np.minimum(first + hop * np.arange(steps + 1), length - reach)
    hann = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(reach) + 0.5) / reach)
    inside = starts[:, None] + np.arange(reach)[None]
    weights = hann[None] * np.exp(-2j * np.pi * course.cycles[inside])
    return _Windows(starts, weights.astype(np.complex64))


def demodulate(
    signal: FloatImage, along_x: Course, along_y: Course, settings: CarrierSettings = CARRIERS
) -> tuple[Floats, NDArray[np.complex64]]:
    """Local amplitude and phase of a wave in a (H, W) signal, relative to its expected course.

    Returns:
        positions along x (N,) and the complex amplitude (M, N), M windows along y.
    """
    xs, _, z = demodulate_both(signal, along_x, along_y, settings)
    return xs, z


def demodulate_both(
    signal: FloatImage, along_x: Course, along_y: Course, settings: CarrierSettings = CARRIERS
) -> tuple[Floats, Floats, NDArray[np.complex64]]:
    """Like `demodulate`, with the positions along y (M,) as well.

    Windows are applied one by one: they overlap four times, so a whole picture costs four
    multiplications per pixel and axis, however many windows there are. A picture that lies in
    memory column by column is taken as it lies.
    """
    if signal.flags.f_contiguous and not signal.flags.c_contiguous:
        ys, xs, turned = demodulate_both(signal.T, along_y, along_x, settings)
        return xs, ys, turned.T
    across, down = _windows(along_x, settings), _windows(along_y, settings)
    return across.centres, down.centres, _across(_down(signal, down), across)


def demodulate_mirrored(
    signal: FloatImage, along_x: Course, along_y: Course, settings: CarrierSettings = CARRIERS
) -> tuple[Floats, Floats, NDArray[np.complex64], NDArray[np.complex64]]:
    """Like `demodulate_both`, and the same with the wave along y reversed, at half the cost."""
    across, down = _windows(along_x, settings), _windows(along_y, settings)
    # A signal is real: a wave that runs the other way is the conjugate.
    if signal.flags.f_contiguous and not signal.flags.c_contiguous:
        banded = _down(signal.T, across)
        one, other = _across(banded, down).T, _across(banded, down.conjugate()).T
    else:
        banded = _down(signal, down)
        one, other = _across(banded, across), _across(banded.conj(), across)
    return across.centres, down.centres, one, other


def _down(signal: FloatImage, windows: _Windows) -> NDArray[np.complex64]:
    """(N, W) a signal (H, W) under windows along its first axis."""
    reach = windows.weights.shape[1]
    parts = np.stack([windows.weights.real, windows.weights.imag], axis=1)
    banded = np.empty((len(windows.starts), signal.shape[1]), np.complex64)
    for k, start in enumerate(windows.starts):
        banded[k].real, banded[k].imag = parts[k] @ signal[start : start + reach]
    return banded


def _across(banded: NDArray[np.complex64], windows: _Windows) -> NDArray[np.complex64]:
    """(M, N) a banded signal (M, W) under windows along its second axis."""
    reach = windows.weights.shape[1]
    z = np.empty((len(banded), len(windows.starts)), np.complex64)
    for k, start in enumerate(windows.starts):
        z[:, k] = banded[:, start : start + reach] @ windows.weights[k]
    return z


def window_means(
    values: Floats, course: Course, settings: CarrierSettings = CARRIERS
) -> NDArray[np.float64]:
    """Means of values (length, K) under the windows of a course of that length, (N, K)."""
    windows = _windows(course, settings)
    weights = np.abs(windows.weights)
    weights /= weights.sum(axis=1, keepdims=True)
    reach = weights.shape[1]
    return np.stack(
        [
            weight @ values[start : start + reach]
            for start, weight in zip(windows.starts, weights, strict=True)
        ]
    )


def window_means_both(image: Floats, along_x: Course, along_y: Course) -> NDArray[np.float64]:
    """Means of an image (H, W) or (H, W, 3) under the windows of both courses, (M, N, ...)."""
    height, width = image.shape[:2]
    # Numbers that are truths or lie apart would be gathered anew for each window.
    lying = np.asarray(image.reshape(height, -1), dtype=np.float32)
    down = window_means(lying, along_y).reshape(-1, *image.shape[1:])
    turned = np.swapaxes(down, 0, 1)
    found = window_means(turned.reshape(width, -1), along_x).reshape(-1, *turned.shape[1:])
    return np.swapaxes(found, 0, 1)


def steps_along_x(z: NDArray[np.complex64]) -> tuple[NDArray[np.complex128], Floats]:
    """Sum over y of Z(x+1) conj Z(x), (N - 1,), and the sum of the moduli, for the coherence."""
    products = z[:, 1:].astype(np.complex128) * np.conj(z[:, :-1])
    return products.sum(axis=0), np.abs(products).sum(axis=0)


def advance(
    at: Floats,
    steps: NDArray[np.complex128],
    moduli: Floats,
    course: Course,
    settings: CarrierSettings = CARRIERS,
) -> Advance:
    """Cycles along an axis from summed step products and the course they were measured against.

    Steps on which the picture does not agree take the smooth course of their neighbours.
    """
    coherence = np.abs(steps) / np.maximum(moduli, 1e-30)
    turn = np.angle(steps) / (2 * np.pi)
    good = coherence >= settings.least_coherence
    if good.sum() >= 2 and not good.all():
        turn = np.where(good, turn, np.interp(at[:-1], at[:-1][good], turn[good]))
    expected = np.interp(at, np.arange(len(course.cycles)), course.cycles)
    cycles = expected + np.concatenate([[0.0], np.cumsum(turn)])
    return Advance(at=at, cycles=cycles - cycles[0], coherence=coherence)
