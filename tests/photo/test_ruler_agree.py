"""Several readings of one photo: which of them stand, made up without any picture."""

import numpy as np
import pytest

from settscan.photo.flat import RulerFound
from settscan.photo.ruler_agree import agreed, contradict
from settscan.photo.ruler_scale import Scale


def read(px_per_mm, evidence, *, doubted=False, at=(100.0, 200.0)):
    """A ruler of 150 mm that lies along x."""
    origin, way = np.array(at), np.array([1.0, 0.0])
    along = origin + way * px_per_mm * np.arange(151)[:, None]
    found = RulerFound(
        origin_px=origin,
        direction=way,
        a=px_per_mm,
        c=0.0,
        length_mm=150.0,
        tick_mm=1.0,
        ticks_px=along,
        outline_px=np.array([along[0], along[-1], along[-1] + [0, 90], along[0] + [0, 90]]),
        relative_error=0.001,
        unit="mm",
    )
    return Scale(found, evidence, doubted)


@pytest.mark.parametrize(
    ("px_per_mm", "at", "wrong"),
    [
        (4.1, (100.0, 240.0), False),
        (5.0, (100.0, 240.0), True),
        (5.0, (100.0, 900.0), False),
        (8.0, (100.0, 900.0), True),
    ],
)
def test_scales_of_one_ruler_are_alike_and_those_of_two_may_lie_nearer_and_farther(
    px_per_mm, at, wrong
):
    assert contradict(read(4.0, 1.0).found, read(px_per_mm, 1.0, at=at).found) == wrong


def test_a_doubted_reading_alone_is_none():
    assert agreed([read(4.0, 100.0, doubted=True)]) == []


@pytest.mark.parametrize("evidence", [101.0, 130.0])
def test_of_two_readings_of_one_size_that_of_more_evidence_says_whether_it_is_in_doubt(evidence):
    sure, unsure = read(4.0, evidence), read(4.001, 100.0, doubted=True, at=(100.0, 203.0))
    assert [s.evidence for s in agreed([unsure, sure])] == [evidence]
    assert agreed([read(4.0, 90.0), unsure]) == []


def test_a_doubted_reading_of_another_size_speaks_against_the_best():
    sure = read(4.0, 120.0)
    assert agreed([sure, read(4.8, 100.0, doubted=True)]) == []
    assert len(agreed([sure, read(4.8, 5.0, doubted=True)])) == 1


def test_two_rulers_side_by_side_of_one_size_are_one():
    assert len(agreed([read(4.0, 120.0), read(4.0, 80.0, at=(100.0, 240.0))])) == 1
