"""Doubts as sentences."""

from settscan.doubts import doubt


def test_a_disputed_density_is_told_in_both_units():
    """Somebody typed 60 ends per inch, and is not to meet "23.6 in one cm"."""
    told = str(doubt("density-disputed", axis="warp", given=60 / 2.54, seen=22 / 2.54))
    assert "given (23.6 per cm, 60.0 per inch)" in told
    assert "seen (8.7 per cm, 22.0 per inch)" in told


def test_a_stripe_of_one_thread_is_not_told_as_1_threads():
    told = str(doubt("breaks-repeat", axis="weft", stripe=40, found=1, expected=8))
    assert "its count is 1 where its partners have 8" in told


def test_the_index_of_a_batch_says_what_its_doubts_mean():
    import io
    import json
    import re

    from settscan.batch.index import IndexPage

    file = io.BytesIO()
    page = IndexPage(file)
    row = {"file": "a.jpg", "status": "read", "doubts": "warp-assumed breaks-repeat"}
    page.add(row, {})
    page.add({**row, "file": "b.jpg", "doubts": "warp-assumed"}, {})
    page.end({"read": 2})
    told = json.loads(re.search(r"const doubts = (.*);", file.getvalue().decode())[1])
    assert set(told) == {"warp-assumed", "breaks-repeat"}  # and none that no swatch has
    assert told["breaks-repeat"].startswith("The … stripe … breaks the repeat")
