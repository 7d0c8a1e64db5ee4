"""A rendered page of swatches is read cloth by cloth, against the truth of each."""

import pytest
from jsonschema import Draft202012Validator

from settscan.pages import scan_page
from settscan.scan import ScanOptions, scan_photos
from tests.render.page import render_page
from tests.render.specs import CameraSpec, ClothSpec, RulerSpec, Scene, YarnSpec
from tests.test_scan import SCHEMA

YARNS = (
    YarnSpec(key="A", name="green", srgb=(38, 84, 58)),
    YarnSpec(key="B", name="cream", srgb=(226, 214, 184)),
    YarnSpec(key="C", name="red", srgb=(160, 40, 40)),
)
SETTS = (
    (("A", 12), ("B", 4), ("A", 8), ("C", 2)),
    (("C", 10), ("B", 4), ("C", 6), ("A", 8)),
)


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    """Two swatches on a table, 6.5 pixels per thread, a ruler below them, the camera tilted."""
    cloths = [
        ClothSpec(yarns=YARNS, warp=sett, weft=sett, size_mm=(46, 40), centre_mm=(x, -10))
        for sett, x in zip(SETTS, (-28, 28), strict=True)
    ]
    scene = Scene(
        camera=CameraSpec(width=800, height=520, px_per_mm=6.5 * 24 / 25.4, tilt_deg=4,
                          tilt_toward_deg=60, roll_deg=3),
        rulers=(RulerSpec(x=0, y=29, length_mm=110, width_mm=12),),
    )  # fmt: skip
    rendered = render_page(scene, cloths, 5)
    path = tmp_path_factory.mktemp("page") / "page.jpg"
    path.write_bytes(rendered.jpeg)
    return path, rendered.truth["cloths"]


@pytest.fixture(scope="module")
def found(page):
    return scan_page(page[0], ScanOptions(), True)


def test_each_cloth_is_found_where_it_lies(page, found):
    assert len(found) == 2
    for piece, truth in zip(found, page[1], strict=True):
        left, top, right, bottom = piece.box
        corners = truth["corners_px"]
        assert all(left - 3 <= x <= right + 3 and top - 3 <= y <= bottom + 3 for x, y in corners)
        assert piece.photo_size == (800, 520)
    assert found[0].box[2] <= found[1].box[0]


def test_each_is_read_with_its_own_counts(page, found):
    for piece, truth in zip(found, page[1], strict=True):
        reading = piece.result.reading_json
        Draft202012Validator(SCHEMA).validate(reading)
        for axis in ("warp", "weft"):
            # Inner stripes, whose both edges lie on the cloth; a sliver at its edge may be lost.
            inner = [s["threads"] for s in reading[axis]["stripes"][1:-1]]
            true = [s["threads"] for s in truth[axis]["stripes"]]
            assert len(inner) >= 3
            assert inner in [true[k : k + len(inner)] for k in range(len(true))]
    names = [piece.result.cloth.name for piece in found]
    assert names == ["page 1", "page 2"]


def test_one_ruler_serves_all(found):
    for piece in found:
        reading = piece.result.reading_json
        assert reading["scale"]["source"] == "ruler"
        # The ruler lies beside the cloths, so its scale is carried over by the plane of each.
        assert reading["warp"]["epi"]["value"] == pytest.approx(24, rel=0.03)
        assert reading["weft"]["ppi"]["value"] == pytest.approx(24, rel=0.03)


def test_a_single_cloth_is_read_as_scan_reads_it(tmp_path):
    from pathlib import Path

    from PIL import Image

    photo = Path(__file__).parents[1] / "sample_images" / "close_swatch.jpg"
    small = tmp_path / "small.png"
    Image.open(photo).crop((500, 350, 900, 650)).save(small)
    (one,) = scan_page(small, ScanOptions(), True)
    assert one.box == (0, 0, 400, 300)
    assert one.result.reading_json == scan_photos([small], ScanOptions(), print).reading_json
