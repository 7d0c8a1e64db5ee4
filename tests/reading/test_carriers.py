"""The weave as a wave: its frequency, and how far it advances from place to place."""

import numpy as np
import pytest

from settscan.reading.bent import phase_along
from settscan.reading.carriers import (
    Advance,
    Course,
    advance,
    demodulate,
    demodulate_both,
    demodulate_mirrored,
    find_carriers,
    spectrum,
    steps_along_x,
)

H, W = 300, 420


def wave(phase_x, phase_y, *, amplitude=1.0, noise=0.0, seed=0):
    """A picture of a plane wave whose cycles along x and y are given."""
    picture = amplitude * np.cos(2 * np.pi * (phase_x[None] + phase_y[:, None]))
    picture = picture + noise * np.random.default_rng(seed).standard_normal(picture.shape)
    return picture.astype(np.float32)


def wandering(length, period, share, reach):
    """Cycles at each pixel of a wave whose frequency swings by a share of itself."""
    x = np.arange(length)
    return x / period + share * reach / (2 * np.pi * period) * np.sin(2 * np.pi * x / reach)


def measured(picture, course_x, course_y):
    """The advance along x, with the course it was measured against."""
    at, z = demodulate(picture, course_x, course_y)
    return advance(at, *steps_along_x(z), course_x)


@pytest.mark.parametrize("fx", [0.031, 0.1234, 0.2718, 0.401])
@pytest.mark.parametrize("fy", [0.09, -0.0777, 0.25])
def test_a_plane_wave_is_found_at_its_frequency(fx, fy):
    if max(fx, abs(fy)) / min(fx, abs(fy)) > 3.9:
        fy = np.sign(fy) * min(fx * 2.5, 0.4)
    picture = wave(fx * np.arange(W), fy * np.arange(H), amplitude=0.5, noise=1.0)
    found = find_carriers(spectrum((picture,), np.ones((H, W), bool)))
    assert found
    assert found[0].fx == pytest.approx(fx, abs=0.25 / 256)
    assert found[0].fy == pytest.approx(fy, abs=0.25 / 256)


@pytest.mark.parametrize("seed", range(6))
def test_noise_has_no_carrier(seed):
    noise = np.random.default_rng(seed).standard_normal((700, 900)).astype(np.float32)
    assert find_carriers(spectrum((noise,), np.ones(noise.shape, bool))) == ()


def test_what_the_mask_hides_makes_no_carrier():
    picture = np.random.default_rng(1).standard_normal((400, 800)).astype(np.float32)
    picture[:, 400:] += wave(0.1 * np.arange(400), 0.1 * np.arange(400), amplitude=3)
    mask = np.ones((400, 800), bool)
    assert find_carriers(spectrum((picture,), mask))
    mask[:, 400:] = False
    assert find_carriers(spectrum((picture * mask,), mask)) == ()


def test_waves_along_one_axis_are_left_to_the_other_search():
    picture = wave(0.12 * np.arange(W), np.zeros(H), noise=0.5)
    assert find_carriers(spectrum((picture,), np.ones((H, W), bool))) == ()


@pytest.mark.parametrize("share", [0.0, 0.05, 0.1])
def test_a_wandering_pitch_is_followed(share):
    truth = wandering(W, 9.0, share, 200.0)
    picture = wave(truth, np.arange(H) / 10, noise=0.5)
    even = Course.even(W, 1 / 9.0)
    first = measured(picture, even, Course.even(H, 0.1))
    again = measured(picture, Course.following(first, W), Course.even(H, 0.1))
    at = np.linspace(20, W - 20, 40)
    off = again.between(at) - np.interp(at, np.arange(W), truth)
    assert np.ptp(off) < 0.06
    if share:
        straight = at / 9.0 - np.interp(at, np.arange(W), truth)
        assert np.ptp(straight) > 0.3  # the yardstick: an even pitch would be wrong


def test_a_course_that_drifts_along_the_threads_does_no_harm():
    lean = 0.6 * np.linspace(0, 1, H)  # the cloth moves sideways by 0.6 cycles from top to bottom
    x, y = np.arange(W), np.arange(H)
    picture = np.cos(2 * np.pi * (x[None] / 9 + y[:, None] / 10 + lean[:, None])).astype("f4")
    found = measured(picture, Course.even(W, 1 / 9), Course.even(H, 0.1))
    assert found.between(np.array([400.0]))[0] - found.between(np.array([0.0]))[0] == pytest.approx(
        400 / 9, abs=0.02
    )


def test_steps_agree_the_better_the_clearer_the_wave():
    def least(amplitude):
        picture = wave(np.arange(W) / 9, np.arange(H) / 10, amplitude=amplitude, noise=2.0)
        return measured(picture, Course.even(W, 1 / 9), Course.even(H, 0.1)).coherence.min()

    assert least(8.0) > 0.99 > least(1.0) > least(0.1) + 0.1


def test_steps_without_cloth_take_the_course_of_their_neighbours():
    at = np.arange(0.0, 41.0, 4.0)
    steps = np.full(10, np.exp(2j * np.pi * 0.1))
    steps[4:6] = np.exp(2j * np.pi * 0.45)
    sizes = np.ones(10)
    sizes[4:6] = 50.0  # many products, and they do not agree
    found = advance(at, steps, sizes, Course.even(41, 0.25))
    assert np.diff(found.cycles) == pytest.approx(np.full(10, 4 * 0.25 + 0.1))


def test_an_advance_goes_on_at_its_ends():
    at = np.arange(2.0, 40.0, 4.0)
    found = Advance(at=at, cycles=(at - 2) / 8, coherence=np.ones(len(at)))
    places = np.array([-2.0, 0.0, 3.0, 6.0, 38.0, 46.0])
    assert found.between(places) == pytest.approx((places - 2) / 8)


def test_an_error_of_the_last_window_does_not_grow_beyond_it():
    at = np.arange(2.0, 80.0, 4.0)
    cycles = (at - 2) / 8
    cycles[-1] += 0.05
    found = Advance(at=at, cycles=cycles, coherence=np.ones(len(at)))
    beyond = at[-1] + 8.0  # the frame's edge lies a window's half beyond its middle
    assert abs(found.between(np.array([beyond]))[0] - (beyond - 2) / 8) < 0.075


def test_courses():
    even = Course.even(11, 0.25)
    assert even.cycles == pytest.approx(0.25 * np.arange(11))
    assert even.reversed().rate == -0.25
    assert even.reversed().cycles == pytest.approx(-even.cycles)
    found = Advance(
        at=np.array([0.0, 5.0, 10.0]), cycles=np.array([0.0, 1.0, 4.0]), coherence=np.ones(2)
    )
    following = Course.following(found, 11)
    assert following.cycles[[0, 5, 10]] == pytest.approx([0, 1, 4])
    assert following.rate == pytest.approx(0.4)


@pytest.mark.parametrize("order", ["C", "F"])
def test_a_mirrored_wave_is_measured_along_with_the_wave(order):
    """Whichever way the picture lies in memory."""
    x = np.arange(W) / 8 + 0.3 * np.sin(np.arange(W) / 40)
    picture = wave(x, np.arange(H) / 9, noise=1.0) + wave(x, -np.arange(H) / 9, amplitude=0.4)
    picture = np.asarray(picture, order=order)
    along_x, along_y = Course(cycles=x, rate=1 / 8), Course.even(H, 1 / 9)
    xs, ys, one, other = demodulate_mirrored(picture, along_x, along_y)
    for way, z in ((along_y, one), (along_y.reversed(), other)):
        alone = demodulate_both(picture, along_x, way)
        assert (xs == alone[0]).all()
        assert (ys == alone[1]).all()
        assert z == pytest.approx(alone[2], abs=1e-3 * float(np.abs(alone[2]).max()))


def test_the_count_by_phase_reaches_the_bound():
    """Cycles over n pixels of a wave A in noise s cannot be known better than the bound.

    The advance of a real wave over the picture has a standard deviation of at least
    sqrt(24 s^2 / (A^2 n)) / (2 pi) cycles: 12 s^2 / (A^2 n (n^2 - 1)) for a complex tone's
    frequency (Rife and Boorstyn, IEEE Trans. Inf. Theory 20, 1974, from memory), twice that for a
    real one, whose frequency along x is seen on every line.
    """
    height, width, amplitude, noise = 60, 160, 1.0, 2.0
    x, y = np.arange(width) / 8, np.arange(height) / 9
    bound = np.sqrt(24 * noise**2 / (amplitude**2 * height * width)) / (2 * np.pi)
    slopes, ends = [], []
    for seed in range(300):
        picture = wave(x, y, amplitude=amplitude, noise=noise, seed=seed)
        at, z = demodulate(picture, Course.even(width, 1 / 8), Course.even(height, 1 / 9))
        phase = phase_along([z])[0] / (2 * np.pi)
        slopes.append(np.polyfit(at, phase, 1)[0] * width)
        ends.append(phase[-1] - phase[0])
    # A line through all windows uses all pixels: it is near the bound and not below it (the
    # scatter of 300 trials is itself known to 4 %).
    assert 0.92 < np.std(slopes) / bound < 1.4
    # Two windows at the ends know only their own pixels: a Hann window of two cycles is worth two
    # thirds of its length, and each phase errs by sqrt(2 s^2 / (A^2 n)).
    window = 2 / 3 * 2 * 8 * height
    free = np.sqrt(2 * 2 * noise**2 / (amplitude**2 * window)) / (2 * np.pi)
    assert 0.85 < np.std(ends) / free < 1.5
