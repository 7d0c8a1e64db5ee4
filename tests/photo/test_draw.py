"""Marks land where they are told to, and pictures keep their brightness."""

import io

import numpy as np
import pytest
from PIL import Image

from settscan.files import MADE_HERE, made_here
from settscan.photo.draw import (
    Box,
    Dots,
    Line,
    Shape,
    Text,
    capital_height,
    draw,
    drawn,
    flat_jpeg,
    flat_picture,
    jpeg,
    plain_letters,
    png,
    text_width,
    thumbnail,
    thumbnail_jpeg,
)
from settscan.photo.flat import FlatCloth, Photo, Scale

BLACK, RED = (0, 0, 0), (255, 0, 0)


def white(height=100, width=100):
    return np.full((height, width, 3), 255, np.uint8)


def ink_of(picture):
    """(left, top, right, bottom) of what is not white."""
    rows, columns = np.nonzero((picture < 128).any(axis=2))
    return columns.min(), rows.min(), columns.max(), rows.max()


def flat_of(pixels):
    pixels = np.asarray(pixels, np.float32)
    none = Scale(px_per_mm_x=None, px_per_mm_y=None, source="none")
    return FlatCloth(
        pixels=pixels, mask=np.ones(pixels.shape[:2], bool), to_photo=np.eye(3), scale=none
    )


def test_png_keeps_the_order_of_colours_and_the_picture_given():
    picture = white()
    image = Image.open(io.BytesIO(draw(picture, [Box(left=0, top=0, right=9, bottom=9, fill=RED)])))
    assert image.format == "PNG"
    assert image.getpixel((5, 5)) == RED
    assert image.getpixel((20, 5)) == (255, 255, 255)
    assert (picture == 255).all()


@pytest.mark.parametrize(("write", "where"), [(png, "Software"), (jpeg, "comment")])
def test_pictures_say_who_made_them(tmp_path, write, where):
    path = tmp_path / "picture"
    path.write_bytes(write(white()))
    image = Image.open(io.BytesIO(path.read_bytes()))
    said = image.info[where]
    assert (said.encode() if isinstance(said, str) else said) == MADE_HERE
    assert (np.asarray(image.convert("RGB")) == 255).all()
    assert made_here(path)
    image.convert("RGB").save(path, "PNG")
    assert not made_here(path)
    assert not made_here(tmp_path / "none")


def test_box_edge_lies_inside():
    seen = drawn(white(), [Box(left=10, top=20, right=30, bottom=40, edge=BLACK, width=2)])
    assert ink_of(seen) == (10, 20, 30, 40)
    assert (seen[30, 20] == 255).all()


def test_hatch_covers_a_quarter():
    seen = drawn(white(), [Box(left=0, top=0, right=99, bottom=99, hatch=BLACK)])
    assert (seen[:, :, 0] == 0).mean() == pytest.approx(2 / 8, abs=0.01)


def test_line_at_half_a_pixel_darkens_both_neighbours_alike():
    seen = drawn(white(), [Line(points=((50.5, 10), (50.5, 90)), colour=BLACK)])
    assert abs(int(seen[50, 50, 0]) - int(seen[50, 51, 0])) <= 8
    assert seen[50, 50, 0] < 200


def test_opacity_mixes():
    whole = drawn(white(), [Line(points=((50, 10), (50, 90)), colour=BLACK, width=5)])
    half = drawn(white(), [Line(points=((50, 10), (50, 90)), colour=BLACK, width=5, opacity=0.5)])
    assert whole[50, 50, 0] == 0
    assert half[50, 50, 0] == pytest.approx(128, abs=1)


def test_dashes_leave_gaps_as_long():
    seen = drawn(white(60, 400), [Line(points=((0, 30), (399, 30)), colour=BLACK, dash=20)])
    assert (seen[30, :, 0] < 128).mean() == pytest.approx(0.5, abs=0.1)


def test_shape_and_dots_lie_where_told():
    square = ((10, 10), (30, 10), (30, 30), (10, 30))
    assert ink_of(drawn(white(), [Shape(points=square, colour=BLACK)])) == (10, 10, 30, 30)
    left, top, right, bottom = ink_of(
        drawn(white(), [Dots(points=((50, 60),), colour=BLACK, radius=4)])
    )
    assert (left + right) / 2 == pytest.approx(50, abs=0.6)
    assert (top + bottom) / 2 == pytest.approx(60, abs=0.6)
    assert right - left == pytest.approx(8, abs=1.1)


@pytest.mark.parametrize(
    ("anchor", "edge", "expected"),
    [("lb", 0, 200), ("rb", 2, 200), ("lb", 3, 200), ("lt", 1, 200)],
)
def test_text_stands_at_its_anchor(anchor, edge, expected):
    mark = Text(at=(200, 200), text="HEH", colour=BLACK, size=30, anchor=anchor)
    assert ink_of(drawn(white(400, 400), [mark]))[edge] == pytest.approx(expected, abs=3.1)


def test_text_measures_as_it_is_drawn():
    mark = Text(at=(50, 200), text="HHHHHHHH", colour=BLACK, size=30, anchor="lm")
    left, top, right, bottom = ink_of(drawn(white(400, 400), [mark]))
    assert right - left == pytest.approx(text_width("HHHHHHHH", 30), abs=6)
    assert bottom - top + 1 == pytest.approx(capital_height(30), abs=2)
    assert (top + bottom) / 2 == pytest.approx(200, abs=1.6)


def test_turned_text_runs_upwards_from_its_anchor():
    mark = Text(at=(200, 200), text="HEH", colour=BLACK, size=30, anchor="lm", angle=90)
    left, top, right, bottom = ink_of(drawn(white(400, 400), [mark]))
    assert bottom == pytest.approx(200, abs=4)
    assert top < 160
    assert (left + right) / 2 == pytest.approx(200, abs=1.6)


def test_marks_beyond_the_picture_are_cut_off():
    marks = [
        Text(at=(-5, 2), text="beyond", colour=BLACK, size=20),
        Text(at=(500, 500), text="far", colour=BLACK),
        Line(points=((-50, -50), (-10, -10)), colour=BLACK),
        Line(points=((-50, 50), (150, 50)), colour=BLACK),
        Box(left=-20, top=-20, right=-5, bottom=-5, fill=BLACK),
        Dots(points=((-40, 300),), colour=BLACK, rim=RED),
    ]
    seen = drawn(white(), marks)
    assert (seen[50, :, 0] < 128).all()
    assert (seen[60:] == 255).all()


def test_letters_that_the_face_lacks_are_replaced():
    assert plain_letters("Wolldecke gr\u00fcn \u2013 \u7d04.jpg") == "Wolldecke grun - ?.jpg"


def test_flat_picture_is_made_small_in_linear_light():
    """A fine black and white check of equal parts has half the light: 188 of 255 in sRGB.

    sRGB of linear 0.5 by IEC 61966-2-1: 1.055 * 0.5 ** (1 / 2.4) - 0.055 = 0.7354.
    """
    check = np.indices((400, 400)).sum(axis=0) % 2
    small = flat_picture(flat_of(np.repeat(check[:, :, None], 3, axis=2)), 100)
    assert small.shape == (100, 100, 3)
    assert small[50, 50, 0] == round(255 * (1.055 * 0.5 ** (1 / 2.4) - 0.055))


def test_flat_jpeg_keeps_colour_and_shape():
    flat = flat_of(np.full((300, 900, 3), (0.5, 0.2, 0.05)))
    image = Image.open(io.BytesIO(flat_jpeg(flat, longest=450)))
    assert image.format == "JPEG"
    assert image.size == (450, 150)
    assert np.allclose(image.getpixel((200, 70)), (188, 124, 63), atol=3)


def test_a_small_picture_is_enlarged_only_as_far_as_told():
    flat = flat_of(np.full((30, 60, 3), 0.5))
    assert flat_picture(flat, 600).shape == (30, 60, 3)
    assert flat_picture(flat, 600, 4.0).shape == (120, 240, 3)


@pytest.mark.parametrize(("kind", "scale"), [(np.uint8, 1), (np.uint16, 257)])
def test_thumbnails_of_8_and_16_bits_are_alike(kind, scale):
    encoded = np.full((200, 400, 3), 100 * scale, kind)
    photo = Photo(encoded=encoded, file="a.jpg", sha256="0")
    small = thumbnail(photo, 100)
    assert small.dtype == np.uint8
    assert small.shape == (50, 100, 3)
    assert (small == 100).all()
    assert Image.open(io.BytesIO(thumbnail_jpeg(photo, 100))).size == (100, 50)
