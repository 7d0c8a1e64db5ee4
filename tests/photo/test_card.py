"""The printed scale card: true size on paper, and found again in a photo."""

import io
import re

import cv2
import numpy as np
import pytest
from pypdf import PdfReader

from settscan.errors import BadInput
from settscan.photo.card import card_image, card_pdf, find_card
from settscan.photo.card_layout import MARK_SIDE, grey_boxes, mark_corners, outline
from settscan.photo.flat import Photo
from settscan.photo.load import encode, linear


def checks(height, width, step=37):
    """A checked cloth in linear light (H, W, 3), the background of all scenes here."""
    y, x = np.mgrid[:height, :width]
    light = np.empty((height, width, 3), np.float32)
    for channel, (low, high) in enumerate([(0.05, 0.5), (0.08, 0.4), (0.2, 0.3)]):
        stripes = ((x // step) % 2 + (y // (step + 9)) % 3) / 3
        light[:, :, channel] = low + (high - low) * stripes
    return light


def card_scene(truth, size=(1400, 1800), light=1.0, blur=0.7, noise=0.01, seed=0, keep=None):
    """A photo of the card on checked cloth; `truth` maps card mm to photo pixels."""
    oversample = 16
    card = linear(card_image(oversample)[:, :, 0])
    to_mm = np.array([[1 / oversample, 0, 0.5 / oversample], [0, 1 / oversample, 0.5 / oversample]])
    to_photo = truth @ np.vstack([to_mm, [0, 0, 1]])
    height, width = size
    fine = np.diag([2, 2, 1.0])  # drawn at twice the size, then averaged
    fine[:2, 2] = 0.5
    drawn = cv2.warpPerspective(
        card, fine @ to_photo, (2 * width, 2 * height), flags=cv2.INTER_AREA
    )
    whole = np.ones_like(card) if keep is None else keep(card)
    cover = cv2.warpPerspective(whole, fine @ to_photo, (2 * width, 2 * height))
    half = (width, height)
    drawn, cover = (cv2.resize(p, half, interpolation=cv2.INTER_AREA) for p in (drawn, cover))
    drawn = np.minimum(drawn, cover)[:, :, None]
    scene = checks(height, width) * (1 - cover[:, :, None]) + drawn
    scene = cv2.GaussianBlur(scene * light, None, blur)
    rng = np.random.default_rng(seed)
    scene += rng.normal(0, 1, scene.shape) * noise * np.sqrt(np.abs(scene) + 0.01)
    encoded = encode(scene)
    return Photo(encoded=encoded, file="scene.png", sha256="")


def placed(px_per_mm=5.0, angle=10.0, at=(500, 350), tilt=(0.0, 0.0)):
    """A homography from card mm to photo pixels; tilt is perspective per mm."""
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    flat = np.array([[px_per_mm * c, -px_per_mm * s, at[0]], [px_per_mm * s, px_per_mm * c, at[1]]])
    perspective = np.array([[1, 0, 0], [0, 1, 0], [*tilt, 1]])
    return np.vstack([flat, [0, 0, 1]]) @ perspective


def mapped(homography, points):
    there = np.c_[points, np.ones(len(points))] @ homography.T
    return there[:, :2] / there[:, 2:]


@pytest.mark.parametrize(
    ("px_per_mm", "angle", "tilt", "start"),
    [
        (5, 0, (0, 0), (500, 350)),
        (5, 97, (4e-4, -3e-4), (900, 300)),
        (3, 190, (0, 5e-4), (900, 700)),
        (6, 33, (-5e-4, 2e-4), (600, 150)),
    ],
)
def test_the_plane_is_found_to_a_fraction_of_a_pixel(px_per_mm, angle, tilt, start):
    truth = placed(px_per_mm, angle, start, tilt)
    found = find_card(card_scene(truth))
    assert found is not None
    points = np.concatenate([mark_corners(n) for n in range(4)] + [outline()])
    apart = np.linalg.norm(mapped(found.mm_to_photo, points) - mapped(truth, points), axis=1)
    assert apart.max() < 0.35
    width = mapped(found.mm_to_photo, np.array([[10.0, 50], [140, 50]]))
    true_width = mapped(truth, np.array([[10.0, 50], [140, 50]]))
    ratio = np.linalg.norm(np.diff(width, axis=0)) / np.linalg.norm(np.diff(true_width, axis=0))
    assert abs(ratio - 1) < 0.001
    assert 0.0005 < found.relative_error < 0.01
    np.testing.assert_allclose(found.outline_px, mapped(truth, outline()), atol=0.5)


def test_greys_tell_colour_and_strength_of_the_light():
    light = np.array([0.8, 0.6, 0.4], np.float32)
    found = find_card(card_scene(placed(), light=light))
    assert found.grey_linear.shape == (6, 3)
    np.testing.assert_allclose(
        found.grey_linear, np.outer(found.grey_reflectance, light), rtol=0.03
    )
    # IEC 61966-2-1: code 130 is 0.2232 of white
    assert abs(found.grey_reflectance[3] - 0.2232) < 5e-4


def test_two_marks_are_enough_and_hidden_greys_are_left_out():
    def left_half(card):
        whole = np.ones_like(card)
        whole[:, int(0.62 * card.shape[1]) :] = 0
        return whole

    truth = placed(angle=-20, at=(700, 700))
    found = find_card(card_scene(truth, keep=left_half))
    apart = mapped(found.mm_to_photo, outline()) - mapped(truth, outline())
    assert np.abs(apart).max() < 3
    assert np.isnan(found.grey_linear[4:]).all() and np.isfinite(found.grey_linear[:3]).all()


def test_no_card_no_answer():
    for step in (7, 20, 60):
        cloth = Photo(encoded=encode(checks(900, 1200, step)), file="c.png", sha256="")
        assert find_card(cloth) is None


def test_one_mark_is_not_enough():
    def corner(card):
        whole = np.zeros_like(card)
        whole[: card.shape[0] // 2, : card.shape[1] // 2] = 1
        return whole

    assert find_card(card_scene(placed(), keep=corner)) is None


def test_sixteen_bits_and_low_light():
    photo = card_scene(placed(angle=45, at=(700, 300)), light=0.06, noise=0.02)
    deep = Photo(encoded=photo.encoded.astype(np.uint16) * 257, file="d.png", sha256="")
    shallow, found = find_card(photo), find_card(deep)
    np.testing.assert_allclose(found.mm_to_photo, shallow.mm_to_photo, rtol=1e-3, atol=1e-3)


@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("Letter", (215.9, 279.4))])
def test_paper_has_the_card_at_true_size(paper, size):
    page = PdfReader(io.BytesIO(card_pdf(paper))).pages[0]
    np.testing.assert_allclose(
        [float(v) for v in page.mediabox[2:]], np.array(size) / 25.4 * 72, atol=0.1
    )
    drawing = page.get_contents().get_data().decode("latin-1")
    boxes = [[float(v) for v in m.split()[:4]] for m in re.findall(r"[-\d. ]+ re", drawing)]
    side = MARK_SIDE / 25.4 * 72  # a PDF point is 1/72 inch
    marks = [b for b in boxes if abs(b[2] - side) < 0.01 and abs(b[3] - side) < 0.01]
    assert len(marks) == 4
    across = (max(b[0] for b in marks) - min(b[0] for b in marks)) / 72 * 25.4
    assert abs(across - (mark_corners(1)[0, 0] - mark_corners(0)[0, 0])) < 0.01
    text = page.extract_text()
    assert "100 %" in text and "100 mm" in text
    assert len(drawing) > 5000 and not page.images
    line = re.search(r"([\d.]+) ([\d.]+) m ([\d.]+) ([\d.]+) l", drawing)
    assert abs(float(line[3]) - float(line[1]) - 100 / 25.4 * 72) < 0.01


def test_unknown_paper():
    with pytest.raises(BadInput, match="A4 or Letter"):
        card_pdf("A3")


def test_the_picture_has_the_printed_greys():
    picture = card_image(4)
    assert picture.shape == (400, 600, 3)
    for box in grey_boxes():
        x, y = int((box.x + box.width / 2) * 4), int((box.y + box.height / 2) * 4)
        assert (picture[y, x] == box.grey).all()
