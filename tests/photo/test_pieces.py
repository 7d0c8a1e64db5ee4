"""Several cloths in one photo are found on what they lie on; a single cloth is never cut up."""

import cv2
import numpy as np
import pytest

from settscan.photo.flat import Photo
from settscan.photo.pieces import find_pieces, part_of
from tests.reading import not_cloth

COLOURS = ((30, 90, 60), (150, 40, 40), (30, 40, 90), (190, 170, 120))


def photo_of(pixels):
    pixels = np.ascontiguousarray(pixels, dtype=np.uint8)
    pixels.flags.writeable = False
    return Photo(encoded=pixels, file="page.png", sha256="00" * 32)


def a_check(height, width, colour, other, pitch=24):
    """Stripes of two colours both ways, mixed where they cross, with a weave's texture."""
    columns = (np.arange(width) // pitch) % 2
    rows = (np.arange(height) // pitch) % 2
    share = (columns[None, :] + rows[:, None]) / 2
    cloth = np.asarray(colour) * (1 - share[..., None]) + np.asarray(other) * share[..., None]
    y, x = np.mgrid[:height, :width]
    return cloth * (0.8 + 0.4 * ((x // 3 + y // 3) % 2))[..., None]


def a_page(rng, boxes, ground=(200, 196, 188), size=(900, 700), fall=0.2, grain=0.02, turn=0.0):
    """Checks in boxes (left, top, right, bottom) on a ground whose light falls off."""
    width, height = size
    page = np.ones((height, width, 3)) * ground
    page *= 1 + grain * rng.standard_normal((height, width, 1))
    for n, (left, top, right, bottom) in enumerate(boxes):
        colour, other = COLOURS[n % 4], COLOURS[(n + 1) % 4]
        cloth = a_check(bottom - top, right - left, colour, other)
        middle = ((right - left) / 2, (bottom - top) / 2)
        turned = cv2.getRotationMatrix2D(middle, turn, 1.0)
        turned[:, 2] += left, top
        mask = cv2.warpAffine(np.ones(cloth.shape[:2]), turned, size) > 0.5
        page[mask] = cv2.warpAffine(cloth, turned, size)[mask]
    page *= 1 + fall * np.linspace(-0.5, 0.5, width)[None, :, None]
    page += rng.normal(0, 2, page.shape)
    return photo_of(np.clip(page, 0, 255))


def grid(columns, rows, width=180, height=150, gap=60, left=70, top=60):
    return [
        (left + c * (width + gap), top + r * (height + gap),
         left + c * (width + gap) + width, top + r * (height + gap) + height)
        for r in range(rows) for c in range(columns)
    ]  # fmt: skip


@pytest.mark.parametrize("ground", [(200, 196, 188), (60, 62, 66), (150, 110, 74), (90, 100, 140)])
@pytest.mark.parametrize("turn", [0.0, 5.0])
def test_cloths_that_lie_apart_are_found_in_rows(ground, turn):
    truth = grid(3, 3)
    found = find_pieces(a_page(np.random.default_rng(1), truth, ground, turn=turn))
    assert len(found) == 9
    for box, (left, top, right, bottom) in zip(found, truth, strict=True):
        # all of the cloth, and none of its neighbours
        assert box[0] <= left + 4 and box[1] <= top + 4
        assert box[2] >= right - 4 and box[3] >= bottom - 4
        assert box[0] > left - 60 and box[2] < right + 60
        assert box[1] > top - 60 and box[3] < bottom + 60


def test_a_ruler_among_them_is_no_cloth():
    truth = grid(2, 2, width=260, height=180)
    page = a_page(np.random.default_rng(2), truth)
    pixels = page.encoded.copy()
    pixels[560:640, 100:260] = (240, 220, 60)  # as large as a swatch
    outline = np.array([[100, 560], [260, 560], [260, 640], [100, 640]], float)
    assert len(find_pieces(photo_of(pixels), [outline])) == 4
    narrow = page.encoded.copy()
    narrow[590:620, 60:800] = (240, 220, 60)  # a ruler that nobody told of
    assert len(find_pieces(photo_of(narrow))) == 4


def test_one_cloth_is_read_as_a_whole():
    rng = np.random.default_rng(3)
    assert find_pieces(a_page(rng, [(150, 120, 700, 560)])) == ()
    assert find_pieces(a_page(rng, [])) == ()


@pytest.mark.parametrize("pitch", [8, 40, 90, 160, 300])
def test_the_squares_of_a_check_are_no_cloths(pitch):
    """A check that fills the frame has squares of one colour that stand alone in it."""
    for colour, other in ((0, 1), (3, 2), (3, 0)):
        pixels = a_check(700, 900, COLOURS[colour], COLOURS[other], pitch)
        assert find_pieces(photo_of(pixels)) == ()
        assert find_pieces(photo_of(np.roll(pixels, pitch // 2, axis=(0, 1)))) == ()


@pytest.mark.parametrize("name", sorted(not_cloth.ALL))
def test_other_pictures_are_not_cut_up(name):
    assert find_pieces(photo_of(not_cloth.ALL[name]())) == ()


def test_a_part_knows_where_the_camera_looked():
    photo = a_page(np.random.default_rng(4), [])
    assert photo.lens_axis == (449.5, 349.5)
    part = part_of(photo, (100, 50, 400, 250))
    assert (part.width, part.height) == (300, 200)
    assert part.lens_axis == (349.5, 299.5)
    assert part.half_diagonal == photo.half_diagonal == pytest.approx(570.09, abs=0.01)
    np.testing.assert_array_equal(part.encoded, photo.encoded[50:250, 100:400])
    assert not part.encoded.flags.writeable
