"""A bar across a check is told from its stripes, whatever its ticks say."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from settscan.photo.bars import find_bars
from settscan.photo.flat import Photo
from settscan.photo.load import load_photo

SAMPLES = Path(__file__).parents[2] / "sample_images"

YARNS = np.array([(40, 60, 120), (200, 180, 140), (120, 40, 50)], dtype=float)


def check(stripe: int = 24) -> np.ndarray:
    """A check of three yarns, 900 x 1200, which mix in linear light, blurred like a photo."""
    rng = np.random.default_rng(2)

    def order(n: int) -> np.ndarray:
        steps = rng.integers(1, 3, n)
        return np.cumsum(steps) % 3

    warp = YARNS[order(1200 // stripe)].repeat(stripe, axis=0)
    weft = YARNS[order(900 // stripe + 1)].repeat(stripe, axis=0)[:900]
    light = ((warp[None] / 255) ** 2.2 + (weft[:, None] / 255) ** 2.2) / 2
    picture = 255 * light ** (1 / 2.2) + rng.normal(0, 6, (900, 1200, 1))
    return cv2.GaussianBlur(np.clip(picture, 0, 255).astype(np.uint8), (0, 0), 0.8)


def corners(middle, length: float, width: float, degrees: float) -> np.ndarray:
    box = cv2.boxPoints(((float(middle[0]), float(middle[1])), (length, width), degrees))
    return np.asarray(box, dtype=float)


def with_bar(outline: np.ndarray, colour=(190, 195, 200)) -> Photo:
    picture = check()
    cv2.fillPoly(picture, [np.rint(outline).astype(np.int32)], colour)
    return photo(picture)


def photo(picture: np.ndarray) -> Photo:
    return Photo(encoded=picture, file="cloth.png", sha256="0" * 64)


def overlap(one: np.ndarray, two: np.ndarray) -> float:
    masks = []
    for outline in (one, two):
        mask = np.zeros((900, 1200), np.uint8)
        cv2.fillPoly(mask, [np.rint(outline).astype(np.int32)], 1)
        masks.append(mask > 0)
    return float((masks[0] & masks[1]).sum() / (masks[0] | masks[1]).sum())


@pytest.mark.parametrize(
    ("middle", "length", "width", "degrees"),
    [((600, 180), 900, 90, 4), ((220, 450), 700, 60, 75), ((600, 800), 1600, 110, -6)],
)
def test_a_bar_is_found_where_it_lies(middle, length, width, degrees):
    outline = corners(middle, length, width, degrees)
    found = find_bars(with_bar(outline))
    assert len(found) == 1
    assert overlap(found[0], outline) > 0.75


@pytest.mark.parametrize(
    ("middle", "length", "width", "degrees"),
    [((500, 500), 700, 21, -8), ((60, 450), 760, 20, 97), ((850, 840), 900, 24, -9)],
)
def test_a_bar_so_narrow_that_its_two_edges_are_looked_along_once_is_found_too(
    middle, length, width, degrees
):
    """A ruler of 3 cm where the whole of a blanket is in the picture."""
    outline = corners(middle, length, width, degrees)
    found = find_bars(with_bar(outline, colour=(240, 225, 110)))
    assert len(found) == 1
    assert overlap(found[0], outline) > 0.7


def test_a_dark_bar_is_found_too():
    outline = corners((600, 200), 800, 80, 3)
    found = find_bars(with_bar(outline, colour=(15, 15, 18)))
    assert len(found) == 1
    assert overlap(found[0], outline) > 0.75


@pytest.mark.parametrize("middle", [(600, 180), (220, 450), (600, 500)])
@pytest.mark.parametrize(("length", "width"), [(700, 60), (800, 24)])
@pytest.mark.parametrize("degrees", [4, 30, 75])
def test_the_stripes_that_a_bar_crosses_are_no_bars_beside_it(middle, length, width, degrees):
    """What lies beside a stripe is elsewhere as the stripe is, but for the bar."""
    outline = corners(middle, length, width, degrees)
    found = find_bars(with_bar(outline))
    assert len(found) == 1
    assert overlap(found[0], outline) > 0.7


def test_the_outermost_stripe_of_a_cloth_on_a_table_is_no_bar():
    """Beyond its ends lies what lies beside it, on one side alone."""
    rng = np.random.default_rng(3)
    picture = np.full((900, 1200, 3), (205, 160, 110), float)
    picture[60:840, 100:1100] = (60, 30, 24)
    picture[60:840, 100:220] = (125, 18, 30)
    for row in range(100, 800, 160):
        picture[row : row + 24, 100:1100] += 3
    picture += rng.normal(0, 3, (900, 1200, 1))
    assert find_bars(photo(np.clip(picture, 0, 255).astype(np.uint8))) == ()


def test_stripes_alone_are_no_bars():
    assert find_bars(photo(check())) == ()
    assert find_bars(photo(check(stripe=60))) == ()


@pytest.mark.parametrize(("half", "apart", "length"), [(190, 200, 400), (210, 250, 460)])
def test_lines_in_a_plain_ground_between_stripes_are_no_bar(half, apart, length):
    """Two faint lines across a plain ground, such as a twill makes: nothing ends at them."""
    picture = check(stripe=60)
    picture[450 - half : 450 + half, 600 - half : 600 + half] = (40, 45, 30)
    along, across = np.array([1, 1]) / np.sqrt(2), np.array([-1, 1]) / np.sqrt(2)
    for side in (-1, 1):
        middle = np.array([600, 450]) + side * apart / 2 * across
        ends = np.rint([middle - length / 2 * along, middle + length / 2 * along]).astype(int)
        cv2.line(picture, ends[0].tolist(), ends[1].tolist(), (100, 105, 90), 3, cv2.LINE_AA)
    assert find_bars(photo(picture)) == ()


def test_what_is_plain_only_in_the_mean_across_it_is_no_bar():
    """Slanting lines of a twill over a whole blanket: between them lie stripes of all colours."""
    for outline in find_bars(load_photo(SAMPLES / "whole_blanket_large.jpg")):
        length = max(np.diff(outline[:3], axis=0), key=np.linalg.norm)
        assert min(abs(length)) < 0.3 * max(abs(length))


def test_a_photo_of_sixteen_bits_is_looked_at_alike():
    outline = corners((600, 180), 900, 90, 4)
    eight = with_bar(outline).encoded
    sixteen = Photo(encoded=eight.astype(np.uint16) * 257, file="cloth.tif", sha256="0" * 64)
    assert len(find_bars(sixteen)) == 1


def faint() -> np.ndarray:
    """Cloth whose crossing stripes hardly show, and one wide stripe that runs right down it."""
    rng = np.random.default_rng(5)
    picture = np.full((900, 1200, 3), (120, 70, 30), float) + rng.normal(0, 3, (900, 1200, 1))
    picture[::2, 800:960] += 60
    picture[:, 800:960] += 60
    return np.clip(picture, 0, 255).astype(np.uint8)


def test_a_bar_that_ends_in_the_cloth_needs_no_stripes_to_tell_it():
    outline = corners((300, 450), 500, 150, 88)
    picture = faint()
    cv2.fillPoly(picture, [np.rint(outline).astype(np.int32)], (200, 205, 210))
    found = find_bars(photo(picture))
    assert len(found) == 1
    assert overlap(found[0], outline) > 0.75


def test_a_stripe_that_runs_on_is_no_bar_however_faint_what_crosses_it():
    assert find_bars(photo(faint())) == ()
