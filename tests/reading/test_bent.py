"""The phase of a wave along a cloth, straight or bent."""

import numpy as np
import pytest

from settscan.reading.bent import phase_along, steadied
from settscan.reading.carriers import Course, demodulate, steps_along_x
from settscan.settings import BENT
from tests.reading.test_carriers import H, W, wave


def test_a_phase_has_no_drift():
    """The phase errs alike everywhere; summed steps stray like a drunkard's walk."""
    rng = np.random.default_rng(4)
    places, lines, noise = 300, 30, 0.7
    truth = 0.3 * np.sin(np.arange(places) / 30)
    one = noise / np.sqrt(lines)  # of one place: the mean of its lines
    scatter, settled, stepped = [], [], []
    for _ in range(12):
        other = rng.uniform(-np.pi, np.pi, lines)
        z = np.exp(1j * (truth[None] + other[:, None]))
        z = z + noise * (rng.standard_normal(z.shape) + 1j * rng.standard_normal(z.shape))
        off = phase_along([z.astype(np.complex64)])[0] - truth
        scatter.append((off - np.median(off)).std())
        settled.append(off[-50:].mean() - off[:50].mean())
        walk = np.cumsum(np.angle(steps_along_x(z)[0])) - (truth[1:] - truth[0])
        stepped.append(walk[-50:].mean() - walk[:50].mean())
    assert np.median(scatter) == pytest.approx(one, rel=0.1)
    assert np.std(settled) < 2 * one * np.sqrt(2 / 50)
    assert np.std(stepped) > 10 * np.std(settled)


def test_two_waves_that_share_a_course_are_taken_together():
    rng = np.random.default_rng(5)
    truth = np.cumsum(rng.normal(0, 0.05, 200))
    parts = [
        np.exp(1j * (truth[None] + rng.uniform(-3, 3, 30)[:, None])).astype(np.complex64)
        for _ in range(2)
    ]
    phase, agreement, _ = phase_along(parts)
    off = phase - truth
    assert np.ptp(off) < 1e-3
    assert agreement.min() > 0.999


def test_agreement_tells_cloth_from_noise():
    picture = np.random.default_rng(6).standard_normal((H, W)).astype(np.float32)
    picture[:, :200] += wave(np.arange(200) / 9, np.arange(H) / 10, amplitude=2)
    at, z = demodulate(picture, Course.even(W, 1 / 9), Course.even(H, 0.1))
    _, agreement, _ = phase_along([z])
    assert agreement[at < 185].min() > 0.9
    assert agreement[at > 215].max() < 0.5
    _, alone, _ = phase_along(
        [demodulate(picture[:, 210:], Course.even(210, 1 / 9), Course.even(H, 0.1))[1]]
    )
    assert alone.mean() < 0.6


def bent(cycles, noise=0.3, seed=1):
    """Waves at 60 x 80 places of a cloth that leaves its course by so many cycles in its middle.

    And the cycles along x that all rows have in common: none.
    """
    y, x = np.mgrid[0:60, 0:80]
    bow = np.exp(-(((x - 40) / 18) ** 2)) * np.sin(np.pi * y / 59)
    bow = bow - bow.mean(axis=0, keepdims=True)
    rng = np.random.default_rng(seed)
    z = np.exp(2j * np.pi * cycles * bow)
    z = z + noise * (rng.standard_normal(z.shape) + 1j * rng.standard_normal(z.shape))
    return z.astype(np.complex64)


@pytest.mark.parametrize("cycles", [0.3, 0.6, 0.9])
def test_a_bend_moves_nothing_along(cycles):
    """Means over all rows would lose the wave where it turns by half a cycle and more."""
    z = bent(cycles)
    phase, agreement, _ = phase_along([z])
    assert np.ptp(phase) < 0.05 * 2 * np.pi
    assert agreement.min() > BENT.agreed
    assert np.abs(z.mean(axis=0)).min() < 1 - 0.6 * cycles


def test_a_faint_wave_has_no_say():
    rng = np.random.default_rng(3)
    one = bent(0.3)
    other = (0.3 * np.exp(2j * np.pi * rng.random((60, 80)))).astype(np.complex64)
    with_other, alone = phase_along([one, other]), phase_along([one])
    assert np.array_equal(with_other[0], alone[0])


def test_the_same_waves_give_the_same_phase():
    z = bent(1.0, noise=1.5)
    assert np.array_equal(phase_along([z])[0], phase_along([z])[0])


def test_where_the_wave_is_lost_the_pace_goes_on():
    """Twelve places of sixty tell nothing: the course goes straight on across them."""
    truth = 0.5 * np.arange(60) + 0.1 * np.sin(np.arange(60) / 15)
    rng = np.random.default_rng(2)
    error = np.full(60, 0.005)
    error[30:42] = 1.0
    seen = truth + error * rng.standard_normal(60)
    found = steadied(seen, error)
    assert np.abs(found - truth)[30:42].max() < 0.1
    assert np.abs(seen - truth)[30:42].max() > 1
    outside = np.r_[0:28, 44:60]
    assert np.abs(found - truth)[outside].max() < 0.02


def test_the_error_of_a_mean_phase_is_what_it_scatters_by():
    rng = np.random.default_rng(8)
    noise = rng.standard_normal((200, 40, 60)) + 1j * rng.standard_normal((200, 40, 60))
    found = [phase_along([(1 + 0.6 * n).astype(np.complex64)]) for n in noise[:, :, :30]]
    scatter = np.std([phase - phase.mean() for phase, *_ in found])
    # Windows overlap four times; here they do not, and the error is stated twice as large.
    assert np.median([error for *_, error in found]) == pytest.approx(2 * scatter, rel=0.15)
