"""Photographs that were path traced from yarns, apart from `tests/render`, are read as they are.

The three stand for what the reader had not met in its own renderer when they were drawn: a ruler
with nothing but centimetres, their halves and numbers (it was taken for one in inches), a warp of
bold stripes in a weft that nothing but uneven picks shows in (it was refused as a print), and a
melange herringbone, which was read as it is from the first.
"""

from pathlib import Path

import pytest

from settscan.scan import ScanOptions, scan_photos
from tests.benchmark.cases import read_truth
from tests.benchmark.score import score

PHOTOS = Path(__file__).with_name("photos")


@pytest.mark.parametrize(
    ("name", "weave", "scale_within"),
    [
        ("t06", "herringbone", 0.015),
        # the ruler is four millimetres thick, and the cloth leans away from it
        ("t07", "hopsack", 0.03),
        ("t44", None, 0.015),  # the weave does not show in it, and is asked for
    ],
)
def test_all_stripes_that_show_plainly_are_read_with_their_threads(name, weave, scale_within):
    photo = PHOTOS / f"{name}.jpg"
    truth = read_truth(photo.with_suffix(".truth.json"))
    read = scan_photos((photo,), ScanOptions(warp_runs=truth["warp"]["runs"]), lambda _: None)
    found = score(read.reading_json, truth)
    plain = [stripe for stripe in found.stripes if stripe.inside and stripe.plain]
    assert len(plain) >= 15 and all(stripe.exact for stripe in plain), found.note
    assert found.scale and all(s is None or abs(s) < scale_within for s in found.scale)
    assert weave is None or read.reading_json["weave"]["name"].startswith(weave)
