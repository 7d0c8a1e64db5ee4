"""A wave's phase along one axis of a cloth that may not lie quite straight.

Under windows the wave of the weave has a phase at each place. What changes along the axis is the
advance of the threads; what differs across it is where each row happens to lie in the weave. In a
cloth that bends the two do not add up: where all rows no longer agree but neighbouring ones do, the
phase is unwrapped over the whole plane, so that leaving the mean by half a cycle loses no cycle.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.reading.runs import runs
from settscan.settings import BENT, BentSettings

Floats = NDArray[Any]
Waves = NDArray[np.complex64]


def phase_along(parts: list[Waves], settings: BentSettings = BENT) -> tuple[Floats, Floats, Floats]:
    """The phase left along x when each row may have a phase of its own.

    Unlike a sum of steps it does not drift.

    Args:
        parts: (M, N) complex amplitudes under M windows along y and N along x, of waves that
            share what is sought; a much weaker one, of a twill's other diagonal, has no say.
        settings: see `BentSettings`.

    Returns:
        phase: (N,) radians, unwrapped; agreement: (N,) 0..1, how alike all places are, or, in a
        cloth that bends, neighbouring ones; error: (N,) radians, one standard deviation.
    """
    powers = [float(np.linalg.norm(z)) ** 2 for z in parts]
    least = settings.least_part * max(powers)
    z = _together([part for part, p in zip(parts, powers, strict=True) if p >= least], settings)
    together = z.sum(axis=0)
    phase = np.unwrap(np.angle(together))
    agreement = np.abs(together) / (np.abs(z).sum(axis=0) + 1e-30)
    lost = agreement < settings.agreed
    if _longest(lost) >= settings.lost_windows:
        about = _agreement(z, settings)
        if np.median((about - agreement)[lost]) > settings.bent:
            phase, agreement = _phase_of_bent(z, settings), np.maximum(about, agreement)
    return phase, agreement, _error(z, agreement, settings)


def _longest(mask: NDArray[np.bool_]) -> int:
    """Length of the longest run of truths."""
    return int(np.diff(runs(mask)).max(initial=0))


def _phase_of_bent(z: Waves, settings: BentSettings) -> Floats:
    """(N,) the phase along x of places (M, N) of a cloth that bends, rows turned alike."""
    # Where the course was put out sharply all rows tell it alike; a bend is smooth.
    smooth = _smoothed(z, settings)
    bend = _unwrapped(smooth)
    phase = _separated(bend, np.abs(smooth).astype(np.float64))
    # What is left at single places is added as it is seen, not as angles, which noise turns over.
    return np.asarray(phase + np.angle((z * np.exp(-1j * bend)).sum(axis=0)))


def _together(parts: list[Waves], settings: BentSettings) -> Waves:
    """Waves (M, N) as one, each row turned to have no phase of its own.

    Solves Z(y, x) = A exp(i (a(x) + b(y))) with A >= 0 by alternating means, for several waves
    that share a(x); these are added up.
    """
    strongest = max(parts, key=lambda z: float(np.linalg.norm(z)))
    along = np.angle(_main_row(strongest))
    turned = strongest
    for _ in range(settings.rounds):
        rows = [z @ np.exp(-1j * along) for z in parts]
        turned = sum(
            z * np.conj(row / (np.abs(row) + 1e-30))[:, None]
            for z, row in zip(parts, rows, strict=True)
        )
        along = np.angle(turned.sum(axis=0))
    return np.asarray(turned, dtype=np.complex64)


def _main_row(z: Waves) -> Waves:
    """(N,) the row that, times a number for each, is most like all rows of a matrix (M, N).

    It is the first right singular vector, of which the smaller Gram matrix is enough.
    """
    from scipy.linalg import eigh

    if len(z) < z.shape[1]:
        last = len(z) - 1
        way = eigh(z @ z.conj().T, subset_by_index=(last, last))[1][:, 0]
        return np.asarray(way.conj() @ z)
    last = z.shape[1] - 1
    return np.asarray(eigh(z.conj().T @ z, subset_by_index=(last, last))[1][:, 0].conj())


def _smoothed(z: Waves, settings: BentSettings) -> Waves:
    """Complex amplitudes (M, N) blurred, by more across than along."""
    blurred = cv2.GaussianBlur(
        _as_pairs(z), (0, 0), sigmaX=settings.along_windows, sigmaY=settings.across_windows
    )
    return np.asarray(blurred[..., 0] + 1j * blurred[..., 1])


def _as_pairs(z: Waves) -> NDArray[np.float32]:
    """(M, N, 2) the two parts of complex numbers (M, N), as OpenCV takes them."""
    return np.stack([z.real, z.imag], axis=2)


def _unwrapped(z: Waves) -> Floats:
    """(M, N) phases without jumps."""
    from skimage.restoration import unwrap_phase

    # Ties are broken at random: always alike.
    found: Floats = unwrap_phase(np.angle(z).astype(np.float64), rng=0)  # type: ignore[no-untyped-call]
    return found


def _agreement(z: Waves, settings: BentSettings) -> Floats:
    """(N,) 0..1, how well places (M, N) agree with those about them that share no pixel."""
    apart = np.arange(-settings.about_windows, settings.about_windows + 1)
    ring = np.maximum(np.abs(apart)[:, None], np.abs(apart)[None]) >= settings.shared_windows
    about = cv2.filter2D(_as_pairs(z), -1, ring.astype(np.float32), borderType=cv2.BORDER_CONSTANT)
    expected = about[..., 0] + 1j * about[..., 1]
    alike = z * np.conj(expected) / (np.abs(expected) + 1e-30)
    return np.asarray(np.abs(alike.sum(axis=0)) / (np.abs(z).sum(axis=0) + 1e-30))


def _error(z: Waves, agreement: Floats, settings: BentSettings) -> Floats:
    """(N,) standard deviation in radians of the mean phase of places (M, N).

    Of K independent phases, scattered normally round the circle, whose mean has the length R, it
    is sqrt((1 - R^4) / (2 K R^2)) (Mardia and Jupp, Directional Statistics, 2000, from memory).
    """
    size = np.abs(z).astype(np.float64)
    alike = np.clip(agreement, 0.05, 0.999)
    places = size.sum(axis=0) ** 2 / (np.square(size).sum(axis=0) + 1e-30)
    independent = np.maximum(places / settings.shared_windows, 1.0)
    return np.asarray(np.sqrt((1 - alike**4) / (2 * independent * alike**2)))


def steadied(cycles: Floats, error: Floats, settings: BentSettings = BENT) -> Floats:
    """(N,) cycles at evenly spaced places, freed of what the spacing of threads cannot do.

    Where they are known well they stay as they are; between, the pace changes but slowly. A
    cubic smoothing spline's discrete form (Whittaker, Proc. Edinb. Math. Soc. 41, 1923).

    Args:
        cycles: (N,) as measured.
        error: (N,) cycles, one standard deviation.
        settings: see `BentSettings`.
    """
    if len(cycles) < 3:
        return cycles
    bends = np.diff(np.eye(len(cycles)), 2, axis=0) / settings.pace_change
    weight = np.diag(1 / np.maximum(error, settings.least_error) ** 2)
    return np.asarray(np.linalg.solve(weight + bends.T @ bends, weight @ cycles))


def _separated(phase: Floats, weight: Floats) -> Floats:
    """(N,) by weighted least squares of phases (M, N) as a number for each column and each row."""
    of_rows, of_columns = weight.sum(axis=1) + 1e-30, weight.sum(axis=0)
    share = weight / of_rows[:, None]
    normal = np.diag(of_columns) - weight.T @ share
    wanted = (weight * phase).sum(axis=0) - share.T @ (weight * phase).sum(axis=1)
    # A number may go from all rows to all columns; columns that tell nothing have none.
    ridge = 1e-6 * max(float(of_columns.mean()), 1e-30)
    return np.asarray(np.linalg.solve(normal + ridge * np.eye(len(normal)), wanted))
