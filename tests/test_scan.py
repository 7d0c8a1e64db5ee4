"""The pipeline from photos to a result: refusals, and two photos of one cloth."""

import io
import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from PIL import Image, ImageFilter

import settscan
import settscan.reading.read
from settscan.cloth.model import SequenceKind
from settscan.doubts import doubt
from settscan.errors import BadInput
from settscan.measured import Origin
from settscan.photo.flat import FlatCloth, Scale
from settscan.photo.given import GivenScale
from settscan.scan import ScanOptions, scan_photos
from settscan.scan_model import Seen
from settscan.scan_result import edge_doubts, with_names
from settscan.scanned import first_wishes, scanned_cloth
from settscan.sheets.seen import seen_in
from settscan.warping.layout import lay_out_warp
from tests.reading import hand_made, not_cloth
from tests.render.pair import FAR_PX, SETT, close_photo, whole_photo

SCHEMA = json.loads(
    (Path(settscan.__file__).parent / "docs" / "reading.schema.json").read_text("utf-8")
)
COUNTS = {n for _, n in SETT}
PER_MM = Fraction(240, 254)


def quiet(_):
    """Nobody listens."""


def saved(folder, name, picture):
    path = folder / f"{name}.png"
    Image.fromarray(picture).save(path)
    return path


def doubts(result):
    data = result.reading_json
    every = data["doubts"] + data["warp"]["doubts"] + data["weft"]["doubts"]
    return [d["name"] for d in every]


def is_whole_refusal(result):
    assert result.status == result.reading_json["status"] == "refused"
    assert result.cloth is None
    assert any(" cm " in sentence for sentence in result.advice)
    Draft202012Validator(SCHEMA).validate(result.reading_json)
    with Image.open(io.BytesIO(result.evidence_png)) as picture:
        assert picture.format == "PNG" and min(picture.size) > 100


@pytest.mark.parametrize("name", ["gradient", "noise", "plain"])
def test_what_shows_nothing_woven_is_refused_with_advice_and_picture(name, tmp_path):
    picture = not_cloth.ALL[name]()[:480, :640]
    is_whole_refusal(scan_photos([saved(tmp_path, name, picture)], ScanOptions(), quiet))


@pytest.mark.parametrize("corner", [(-1.0, 470.0), (10.0, 481.0), (641.0, 470.0), (1e9, 470.0)])
def test_corners_outside_the_photo_are_told_with_its_size(tmp_path, corner):
    path = saved(tmp_path, "plain", not_cloth.ALL["plain"]()[:480, :640])
    corners = ((10.0, 10.0), (600.0, 10.0), (600.0, 470.0), corner)
    with pytest.raises(BadInput, match=r"outside the photo, which is 640 pixels wide and 480 high"):
        scan_photos([path], ScanOptions(corners=corners), quiet)


def test_a_picture_of_something_else_is_refused_by_name(tmp_path):
    picture = not_cloth.uneven_chequerboard()[:480, :640]
    result = scan_photos([saved(tmp_path, "check", picture)], ScanOptions(), quiet)
    is_whole_refusal(result)
    assert doubts(result) == ["not-cloth"]
    assert "pure colours" in result.advice[0]


def test_stripes_without_threads_are_not_called_read(tmp_path):
    """Flat stripes one way: if anything is taken for threads in them, it is doubted."""
    path = saved(tmp_path, "wallpaper", not_cloth.wallpaper()[:480, :640])
    result = scan_photos([path], ScanOptions(), quiet)
    assert result.status == "refused" or doubts(result)[0] == "not-cloth"
    assert result.status != "read"


@pytest.mark.parametrize("error", [np.linalg.LinAlgError("singular"), ZeroDivisionError()])
@pytest.mark.parametrize("stage", ["photo.rectify.flatten", "reading.read.read_cloth"])
def test_equations_without_a_solution_are_a_refusal(stage, error, tmp_path, monkeypatch, swatch):
    def fail(*_, **__):
        raise error

    if stage.startswith("reading"):
        monkeypatch.setattr("settscan.photo.rectify.flatten", lambda *_, **__: FLAT)
    monkeypatch.setattr(f"settscan.{stage}", fail)
    is_whole_refusal(scan_photos([swatch], ScanOptions(), quiet))


FLAT = FlatCloth(
    pixels=np.zeros((64, 64, 3), np.float32),
    mask=np.ones((64, 64), bool),
    to_photo=np.eye(3),
    scale=Scale(px_per_mm_x=None, px_per_mm_y=None, source="none"),
)


def test_three_photos_are_too_many(swatch):
    with pytest.raises(BadInput):
        scan_photos([swatch] * 3, ScanOptions(), quiet)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("photos")


@pytest.fixture(scope="module")
def swatch(folder):
    return close_photo(folder)


@pytest.fixture(scope="module")
def whole(folder):
    return whole_photo(folder)


@pytest.mark.parametrize(
    ("given", "name", "way_out"),
    [
        (ScanOptions(), "too-coarse", "the density and two points"),
        (ScanOptions(epi=24 / 25.4, ppi=20 / 25.4), "density-without-scale", "Give two points"),
    ],
)
def test_where_neither_threads_nor_scale_show_the_way_out_is_one_that_leads_out(
    given, name, way_out, whole, tmp_path
):
    """A density that was given is not asked for again."""
    with Image.open(whole) as sharp:
        blurred = sharp.filter(ImageFilter.GaussianBlur(2))
    result = scan_photos([saved(tmp_path, "blurred", np.asarray(blurred))], given, quiet)
    assert result.status == "refused"
    told = {d["name"]: d["check"] for d in result.reading_json["doubts"]}
    assert way_out in told[name]


PX = FAR_PX * 24 / 25.4
GIVEN = ScanOptions(
    scale_x=GivenScale(x0=50, y0=210, x1=50 + 300 * PX, y1=210, length_mm=300),
    scale_y=GivenScale(x0=280, y0=30, x1=280, y1=30 + 250 * PX, length_mm=250),
)


def test_a_close_up_gives_density_and_counts(whole, swatch):
    """Both photos are of one cloth: the renderer lays the same threads for the same seed."""
    result = scan_photos([whole, swatch], GIVEN, quiet)
    assert not {"close-up-unmatched", "close-up-unread", "not-cloth"} & set(doubts(result))
    warp = result.cloth.warp
    assert warp.density.origin is Origin.READ
    assert float(warp.density.value) * 25.4 == pytest.approx(24, rel=0.02)
    assert warp.density.low < warp.density.value < warp.density.high
    stripes = [s for s in result.reading_json["warp"]["stripes"] if not s["cut"]]
    sure = [s["threads"] for s in stripes if s["chance"] >= 0.9]
    assert len(sure) >= len(stripes) / 2
    assert all(threads in COUNTS for threads in sure)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (ScanOptions(), "so sizes and densities are unknown"),
        (ScanOptions(epi=PER_MM), "the ends in one inch are those that you gave, and the picks in"),
        (ScanOptions(ppi=PER_MM), "the picks in one inch are those that you gave, and the ends in"),
        (ScanOptions(epi=PER_MM, ppi=PER_MM), "and sizes follow from them"),
    ],
)
def test_without_a_ruler_a_density_that_was_given_is_known(given, words):
    read = hand_made.cloth(doubts=(doubt("ruler-missing"),))
    seen = Seen(photo=None, rulers=(), card=None, flat=None, read=read)
    assert words in with_names(seen, given).doubts[0].sentence


def test_a_given_density_that_the_photo_gainsays_is_doubted_first(swatch):
    """Every count follows from such a number, and most of the other doubts come of it."""
    result = scan_photos([swatch], ScanOptions(epi=Fraction(5000, 254)), quiet)
    assert result.status == "partly read"
    assert result.lines[0].startswith("Status: partly read (a density that you gave does not fit")
    assert result.advice[0].startswith("500 epi is closer than any spun yarn can lie")
    assert result.advice[1].startswith("The warp density that was given (196.9 per cm, 500.0 per")
    lines = [line.strip() for line in result.lines]
    at = next(k for k, line in enumerate(lines) if line.startswith("500.0 ends per inch"))
    assert lines[at + 1] == "! the threads that were seen do not fit it"
    assert sum("as given" in line for line in lines) == 1


def test_what_is_checked_in_the_same_way_is_told_at_once(swatch, monkeypatch):
    broken = [doubt("breaks-repeat", axis="columns", stripe=k, found=5, expected=4) for k in (2, 9)]

    def read_cloth(*given, **more):
        read = truly(*given, **more)
        columns = replace(read.columns, doubts=(*read.columns.doubts, *broken))
        return replace(read, columns=columns)

    truly = settscan.reading.read.read_cloth
    monkeypatch.setattr("settscan.reading.read.read_cloth", read_cloth)
    result = scan_photos([swatch], ScanOptions(), quiet)
    (told,) = (each for each in result.advice if "breaks the repeat" in each)
    assert told.startswith("The warp stripe 2 breaks the repeat: its count is 5 where its partners")
    assert "have 4. The warp stripe 9 breaks the repeat" in told
    assert told.count("Count it on the cloth: if it is so") == 1
    assert result.advice[-1].endswith("the warp from the left, those of the weft from the top.")
    assert doubts(result).count("breaks-repeat") == 2
    # The stripes as found, mistakes and all, are what the project file keeps of the photo.
    assert scanned_cloth(result)[1].shows_warp == result.reading_json["warp"]["as_found"]
    assert "keeps all stripes as found, under [photo]" in told


def test_the_close_up_gives_the_whole_its_scale(whole, swatch):
    """No ruler can be read at 1.2 px per mm; the close-up has one."""
    result = scan_photos([whole, swatch], ScanOptions(), quiet)
    scale = result.reading_json["scale"]
    assert scale["source"] == "close-up"
    assert scale["px_per_mm_x"] == pytest.approx(PX, rel=0.02)
    assert scale["px_per_mm_y"] == pytest.approx(PX, rel=0.02)
    assert "ruler-missing" not in doubts(result)
    Draft202012Validator(SCHEMA).validate(result.reading_json)


def test_a_close_up_of_another_cloth_is_left_out(swatch):
    """Its density was taken all the same, and all counts with it."""
    check = Path(__file__).parent.parent / "sample_images" / "plain_check.jpg"
    result = scan_photos([check, swatch], ScanOptions(), quiet)
    assert "close-up-strange" in doubts(result)
    assert not {"close-up-unmatched", "pitch-disputed"} & set(doubts(result))
    alone = scan_photos([check], ScanOptions(), quiet)
    assert result.cloth.warp == alone.cloth.warp
    assert result.cloth.weft == alone.cloth.weft


def test_a_close_up_that_cannot_be_read_is_said(whole, tmp_path):
    grey = saved(tmp_path, "grey", np.full((300, 400, 3), 120, np.uint8))
    result = scan_photos([whole, grey], GIVEN, quiet)
    assert "close-up-unread" in doubts(result)
    assert result.reading_json["photo"]["file"] == "whole.jpg"


@pytest.fixture(scope="module")
def blanket():
    photo = Path(__file__).parents[1] / "sample_images" / "whole_blanket.jpg"
    return scan_photos([photo], ScanOptions(), quiet)


def test_a_tape_that_lies_along_the_weft_is_no_stripe_of_it(blanket):
    """Straightened with the cloth it ran along a row; but none of the warp shows across it."""
    photo = Path(__file__).parents[1] / "sample_images" / "whole_blanket.jpg"
    truth = json.loads(photo.with_suffix(".truth.json").read_text(encoding="utf-8"))
    found = blanket.reading_json
    assert len(found["yarns"]) == 5
    for axis in ("warp", "weft"):
        assert found[axis]["repeat"]["sequence"] == "A/40 B8 A8 B8 C36 D4 C6 E/4"
        counts = [stripe["threads"] for stripe in found[axis]["stripes"]]
        assert counts == [stripe["threads"] for stripe in truth[axis]["stripes"]], "edge to edge"


def test_the_evidence_carries_what_the_sheets_tell_of_it(blanket):
    assert not any("are counted here" in each for each in blanket.advice)  # none has a number
    seen = seen_in(blanket.evidence_png)
    for stripes, axis in ((seen.columns, "warp"), (seen.rows, "weft")):
        read = blanket.reading_json[axis]["stripes"]
        assert [one.label.split("?")[0].rstrip("+") for one in stripes] == [
            f"{one['yarn']}{one['threads']}" for one in read
        ]
    assert seen.checks == blanket.advice
    with Image.open(io.BytesIO(blanket.evidence_png)) as picture:
        picture.load()


def test_a_cloth_that_begins_with_half_a_pivot_is_planned_so(blanket):
    warp = scanned_cloth(blanket)[0].warp
    piece = first_wishes("inch", blanket.edges).piece
    assert lay_out_warp(warp.sequence, piece._replace(warp_repeats=2), None).order[0] == ("A", 20)
    (told,) = (one for one in blanket.reading_json["doubts"] if one["name"] == "edge-half-pivot")
    assert told["sentence"] == (
        "At the cloth's own left edge the warp begins with A20, half of its pivot A40; at the"
        " other edge it ends with C13."
    )


def test_only_an_own_edge_with_half_the_first_pivot_is_one():
    text, members = "B2 A12 C6 A12 B4 A12 C2", ((0, 4), (1, 3, 5), (2, 6))
    made = hand_made.axis(text, "B4 A12 C6", SequenceKind.SYMMETRIC, members)
    assert [one.name for one in edge_doubts(made, "left")] == ["edge-half-pivot"]
    assert edge_doubts(hand_made.with_stripe(made, 0, cut=True), "left") == []
    assert edge_doubts(hand_made.with_stripe(made, 0, threads=3, low=3, high=3), "left") == []
    assert edge_doubts(hand_made.with_stripe(made, 0, high=4), "left") == []  # perhaps a whole one
    assert edge_doubts(hand_made.symmetric(), "left") == []
    assert edge_doubts(hand_made.uncounted(), "left") == []
