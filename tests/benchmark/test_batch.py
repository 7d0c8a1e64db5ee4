"""The benchmark of the batch runs and says what it should."""

from tests.benchmark.batch import _around


def test_growth_is_measured():
    text = _around((4, 12))
    sizes = [line.split("|")[1].strip() for line in text.splitlines() if line.startswith("|")]
    assert sizes[2:] == ["4", "12"]
    assert "CPU seconds grow as photos to the power" in text
