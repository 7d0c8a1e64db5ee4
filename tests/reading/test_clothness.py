"""What is no cloth is named; what is one is never refused for looking like something else."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from settscan.errors import Refusal
from settscan.photo.flat import FlatCloth, Photo, Scale
from settscan.photo.load import linear
from settscan.reading.clothness import Looks, NotCloth, judged, look_at, named, verdict
from settscan.reading.read import read_cloth
from settscan.scan import ScanOptions, scan_photos
from tests.benchmark.rows import ROWS, draw
from tests.reading import not_cloth
from tests.render.random_scene import random_scene
from tests.render.scene import render

UNKNOWN = Scale(px_per_mm_x=None, px_per_mm_y=None, source="none")
WOVEN = Looks(
    contrast=0.5, share=0.98, two_tones=0.8, one_pattern=0.2, mixed=0.995, half_pace=2.0,
    counted=True, woven=True, one_way=False,
)  # fmt: skip


def test_what_cannot_be_read_is_named_all_the_same():
    picture = not_cloth.uneven_chequerboard()[:480, :640]
    found = named(*straight(picture), outlines=())
    assert "pure colours" in found.message
    assert named(*straight(rendered(3, px_per_thread=4, weave="plain")), outlines=()) is None


def straight(picture):
    """A picture as if it had been straightened."""
    picture = np.ascontiguousarray(picture[:480, :640])
    photo = Photo(encoded=picture, file="x.png", sha256="0" * 64)
    flat = FlatCloth(
        pixels=linear(picture),
        mask=np.ones(picture.shape[:2], bool),
        to_photo=np.eye(3),
        scale=UNKNOWN,
    )
    return photo, flat


def seen(picture):
    """The same with its reading; of what cannot be read, with the name that it is given."""
    photo, flat = straight(picture)
    try:
        return photo, flat, read_cloth(flat)
    except Refusal as refusal:
        raise named(photo, flat, ()) or refusal from None


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("chequerboard", "pure colours"),
        ("uneven_chequerboard", "pure colours"),
        ("knit", "knitted"),
        ("blobs", "straight stripes"),
        ("leaves", "straight stripes|pure colours"),
        ("noise", "no threads|straight stripes"),
        ("plain", "one even colour"),
    ],
)
def test_pictures_of_something_else_are_named(name, reason):
    with pytest.raises(NotCloth, match=reason) as caught:
        judged(*seen(not_cloth.ALL[name]()), outlines=())
    assert caught.value.doubt.name == "not-cloth"
    assert caught.value.advice


@pytest.mark.parametrize("name", ["bricks", "printed_lines", "text", "wallpaper"])
def test_what_comes_near_a_cloth_is_doubted_at_least(name):
    try:
        read = judged(*seen(not_cloth.ALL[name]()), outlines=())
    except Refusal:
        return
    assert read.doubts[0].name == "not-cloth"


def rendered(seed, one_way=False, **scene):
    """A cloth that lies straight, as the renderer sees it."""
    rng = np.random.default_rng([44, seed])
    drawn = random_scene(rng, level="easy", size=(480, 360), ruler="none", fills=True, **scene)
    camera = replace(drawn.camera, tilt_deg=0.0, roll_deg=0.0)
    cloth = drawn.cloth
    if one_way:
        cloth = replace(cloth, weft=((cloth.warp[0][0], 12),), weft_kind="repeating")
    return render(replace(drawn, cloth=cloth, camera=camera), seed).image


@pytest.mark.parametrize(
    "scene",
    [
        {"px_per_thread": 2, "weave": "2/2 twill Z"},
        {"px_per_thread": 3, "weave": "plain"},
        {"px_per_thread": 4, "weave": "hopsack"},
        {"px_per_thread": 6, "weave": "2/1 twill S"},
        {"px_per_thread": 4, "weave": "plain", "one_way": True},
        {"px_per_thread": 6, "weave": "2/2 twill S", "one_way": True},
    ],
)
def test_cloth_is_neither_refused_nor_doubted(scene):
    photo, flat, read = seen(rendered(3, **scene))
    assert judged(photo, flat, read, outlines=()) is read


def test_a_finger_and_a_ruler_do_not_make_it_something_else():
    picture = rendered(5, px_per_thread=4, weave="plain")
    spoilt = picture.copy()
    cv2.ellipse(spoilt, (100, 300), (70, 45), 20, 0, 360, (214, 160, 134), -1)
    cv2.rectangle(spoilt, (0, 0), (480, 50), (236, 236, 236), -1)
    photo, flat, read = seen(spoilt)
    ruler = np.array([[0, 0], [480, 0], [480, 50], [0, 50]], float)
    mask = np.ones(flat.mask.shape, bool)
    mask[:52] = False
    mask[250:350, 25:175] = False
    flat = replace(flat, mask=mask)
    looks = look_at(photo, flat, read, [ruler])
    assert looks.share > 0.9


@pytest.mark.parametrize(
    ("change", "refuse"),
    [
        ({}, None),
        ({"contrast": 0.02, "share": 0.1}, None),  # one colour, but threads: plain cloth
        ({"contrast": 0.02, "woven": False}, False),
        ({"contrast": 0.02, "counted": False, "woven": False}, True),
        ({"one_way": True}, None),
        ({"one_way": True, "woven": False}, False),
        ({"one_way": True, "counted": False, "woven": False}, True),
        ({"share": 0.7}, False),
        ({"share": 0.4}, True),
        ({"share": 0.7, "two_tones": 0.95, "mixed": None}, True),
        ({"share": 0.7, "one_pattern": 0.9, "mixed": None}, True),
        ({"share": 0.7, "two_tones": 0.95, "mixed": 0.5}, True),
        # four and four in a twill of four: what is left over is the teeth, and squares mix
        ({"share": 0.71, "one_pattern": 0.68, "mixed": 0.87}, False),
        # stripes that all waver alike, in a weft of one colour
        ({"share": 0.78, "one_pattern": 0.9, "mixed": None, "one_coloured": True}, False),
        ({"share": 0.3, "one_pattern": 0.9, "mixed": None, "one_coloured": True}, True),
        ({"mixed": 2 / 3}, True),  # lines that do not mix: 0, 1, 1, 1
        ({"mixed": 0.9}, False),
        ({"one_pattern": 0.99, "share": 0.95}, False),
        ({"one_pattern": 0.99, "share": 0.99}, None),
        ({"half_pace": 1e4}, True),
    ],
)
def test_verdicts(change, refuse):
    found = verdict(replace(WOVEN, **change))
    assert (None if found is None else found.refuse) is refuse


@pytest.mark.parametrize(("seed", "index"), [(1030, 3), (995, 2)])
def test_the_pairs_of_a_hopsack_are_no_stitches(tmp_path, seed, index):
    """Rightly counted its pairs have half the pace of its threads, as the legs of stitches have."""
    row = next(one for one in ROWS if one.name == "2 px")
    (tmp_path / "photo.jpg").write_bytes(render(*draw(row, seed, index)).jpeg)
    result = scan_photos((tmp_path / "photo.jpg",), ScanOptions(), lambda _: None)
    assert result.status != "refused"
    assert result.reading_json["weave"]["name"] == "hopsack"
    assert not [d for d in result.reading_json["doubts"] if d["name"] == "not-cloth"]
