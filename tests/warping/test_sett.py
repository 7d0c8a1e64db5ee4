"""Setts and cover: the parts that no published example covers."""

from fractions import Fraction

import pytest

from settscan.numbering import parse_yarn
from settscan.warping.sett import (
    FIRM,
    SOFT,
    cloth_cover,
    constant_for,
    cover,
    sett_by_yarn,
    sett_step,
    sett_warning,
)
from settscan.warping.structure import draft_for

TWILL = draft_for("2/2 twill", 100, direction="Z")


def test_cover_of_both_directions_overlaps():
    """Half hidden by the warp, half of the rest by the weft: 3/4 (Peirce's cover, from memory)."""
    assert cloth_cover(0.5, 0.5) == 0.75
    assert cloth_cover(1.0, 0.3) == 1.0
    assert cover(20, 40) == 0.5
    assert cover(50, 40) == 1.0


@pytest.mark.parametrize(
    ("size", "constant"),
    [("2/8 worsted", FIRM), ("8/2 cotton", FIRM), ("5 run", SOFT), ("20 Galashiels", SOFT)],
)
def test_woollen_systems_mean_soft_yarn(size, constant):
    assert constant_for(size) == constant


def test_warnings_begin_at_the_closest_and_at_half_of_it():
    sett = sett_by_yarn(parse_yarn("2/8 worsted"), TWILL)
    assert sett.usual == pytest.approx(0.75 * sett.closest)
    closest = Fraction(sett.closest)
    assert "closer than" in sett_warning(sett, closest * Fraction(101, 100), "inch")
    assert sett_warning(sett, closest * Fraction(99, 100), "inch") == ""
    assert sett_warning(sett, closest * Fraction(51, 100), "inch") == ""
    assert "very open" in sett_warning(sett, closest * Fraction(49, 100), "metric")
    assert "planned: 80 %" in sett_step(sett, closest * Fraction(80, 100), "inch").text
