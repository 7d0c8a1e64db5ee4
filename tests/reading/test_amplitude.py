"""The strength of the weave's wave that colours let expect."""

import numpy as np
import pytest

from settscan.reading.amplitude import _model, _slopes, fit_amplitude


def colours(number, seed):
    return np.random.default_rng(seed).uniform(0.05, 0.6, (number, 3))


def test_slopes_are_those_of_the_model():
    """Of what is left over, by differences of the model on both sides."""
    values = np.array([0.7, -0.4, 0.05, 0.1, -0.05, 0.02])
    columns, rows = colours(40, 1), colours(40, 2)
    steps = 1e-5 * np.eye(6)
    wanted = [
        (_model(values - step, columns, rows) - _model(values + step, columns, rows)) / 2e-5
        for step in steps
    ]
    assert _slopes(values, columns, rows) == pytest.approx(np.transpose(wanted), abs=1e-7)


def test_a_wave_as_strong_as_the_yarns_differ_is_expected_everywhere():
    """Also in a quarter of the places, where something hides it and it was not measured."""
    columns, rows = colours(30, 3), colours(25, 4)
    strength = np.linalg.norm(columns[None] - 0.8 * rows[:, None] - 0.03, axis=2)
    use = np.random.default_rng(5).random(strength.shape) > 0.25
    seen = np.where(use, 2.5 * strength, 0.0)
    expected = fit_amplitude(columns, rows, seen, use)(columns, rows)
    assert expected == pytest.approx(2.5 * strength, rel=0.02)
