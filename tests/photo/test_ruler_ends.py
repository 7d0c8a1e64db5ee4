"""The mask of a ruler holds the ruler, and little of the cloth beside it."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from settscan.photo.flat import Photo, RulerFound
from settscan.photo.load import load_photo
from settscan.photo.ruler_ends import at_its_ends
from settscan.things import Things
from tests.benchmark.rows import ROWS, draw
from tests.render import scene as renderer

SIZE = (900, 600)  # width, height
BODY = (200, 330, 420, 90)  # left, top, width, height
PX_PER_MM = 3.0


def held(outline, body, size):
    """Shares of the body that an outline leaves out, and that it holds besides the body."""
    masks = []
    for corners in (outline, body):
        mask = np.zeros(size[::-1], np.uint8)
        cv2.fillPoly(mask, [np.rint(np.asarray(corners)).astype(np.int32)], 1)
        masks.append(mask > 0)
    mask, true = masks
    return (true & ~mask).sum() / true.sum(), (mask & ~true).sum() / true.sum()


def cloth(rng):
    """A check of three warm colours in plain weave, threads of four pixels."""
    yarns = np.array([[196, 160, 80], [150, 110, 60], [215, 190, 140]], np.float64)
    width, height = SIZE[0] // 4, SIZE[1] // 4
    columns, rows = (np.repeat(rng.integers(0, 3, n // 9 + 1), 9)[:n] for n in (width, height))
    up = (np.arange(width)[None] + np.arange(height)[:, None]) % 2 == 0
    seen = np.where(up[..., None], yarns[columns][None], yarns[rows][:, None])
    picture = seen.repeat(4, axis=0).repeat(4, axis=1)
    return cv2.GaussianBlur(picture, (0, 0), 1.0)


def laid_on(picture, clear):
    """The cloth with a ruler of its own mean colour; `clear` is the share of cloth seen through."""
    left, top, width, height = BODY
    part = picture[top : top + height, left : left + width]
    body = (1 - clear) * picture.mean(axis=(0, 1)) + clear * part
    for k in range(2, int(width / PX_PER_MM) - 2):
        x = round(k * PX_PER_MM)
        body[: 24 if k % 10 == 0 else 14 if k % 5 == 0 else 9, x : x + 1] *= 0.3
    out = picture.copy()
    out[top : top + height, left : left + width] = body
    return out


def found(outline):
    left, top, width, _ = BODY
    ticks = np.arange(2, int(width / PX_PER_MM) - 2)
    places = np.stack([left + ticks * PX_PER_MM, np.full(len(ticks), float(top))], axis=1)
    return RulerFound(
        origin_px=places[0],
        direction=np.array([1.0, 0.0]),
        a=PX_PER_MM,
        c=0.0,
        length_mm=float(np.ptp(ticks)),
        tick_mm=1.0,
        ticks_px=places,
        outline_px=outline,
        relative_error=0.001,
        unit="mm",
    )


@pytest.mark.parametrize("clear", [0.0, 0.4])
@pytest.mark.parametrize("seed", range(6))
def test_an_outline_that_is_too_wide_is_drawn_in(seed, clear):
    rng = np.random.default_rng(seed)
    picture = laid_on(cloth(rng), clear) + rng.normal(0, 3, (SIZE[1], SIZE[0], 3))
    photo = Photo(
        encoded=np.clip(picture, 0, 255).astype(np.uint8), file="drawn.png", sha256="0" * 64
    )
    left, top, width, height = BODY
    body = np.array(
        [[left, top], [left + width, top], [left + width, top + height], [left, top + height]]
    )
    outline = np.array([[0, top], [899, top], [899, top + 200], [0, top + 200]], float)
    assert held(outline, body, SIZE)[1] > 3
    lacking, besides = held(at_its_ends(photo, found(outline)).outline_px, body, SIZE)
    assert lacking < 0.02
    assert besides < 0.35
    exact = at_its_ends(photo, found(body.astype(float)))
    assert held(exact.outline_px, body, SIZE)[0] < 0.02


@pytest.mark.parametrize(
    ("row", "seed", "index"), [("3 px", 1020, 1), ("6 px", 970, 0), ("8 px", 970, 2)]
)
def test_rulers_much_like_their_cloth(tmp_path, row, seed, index):
    """Clear plastic, a yellow tape on yellow cloth: once masked twice as wide as they are."""
    made = renderer.render(*draw(next(r for r in ROWS if r.name == row), seed, index))
    (tmp_path / "photo.jpg").write_bytes(made.jpeg)
    photo = load_photo(tmp_path / "photo.jpg")
    (true,) = made.truth["rulers"]
    (outline,) = Things.seen_in(photo).outlines
    lacking, besides = held(outline, true["outline_px"], (photo.width, photo.height))
    assert lacking < 0.03
    assert besides < 0.3


@pytest.mark.parametrize("seed", range(3))
def test_where_the_frame_cuts_a_ruler_off_aslant_its_outline_goes_on(seed):
    """It leaves the picture through the lower edge; its outline stopped where that began."""
    rng = np.random.default_rng(seed)
    turn = cv2.getRotationMatrix2D((450.0, 490.0), 14.0, 1.0)

    def turned(*points):
        return cv2.transform(np.array([points], float), turn)[0]

    body = turned([-60, 490], [880, 490], [880, 590], [-60, 590])
    picture = cloth(rng)
    cv2.fillPoly(picture, [np.rint(body).astype(np.int32)], (205.0, 205.0, 210.0))
    picture += rng.normal(0, 3, picture.shape)
    photo = Photo(
        encoded=np.clip(picture, 0, 255).astype(np.uint8), file="drawn.png", sha256="0" * 64
    )
    ticks = turned(*([x, 490] for x in np.arange(220, 840, PX_PER_MM)))
    short = turned([190, 490], [880, 490], [880, 590], [190, 590])
    assert held(short, body, SIZE)[0] > 0.06
    outline = at_its_ends(photo, replace(found(short), ticks_px=ticks)).outline_px
    lacking, besides = held(outline, body, SIZE)
    assert lacking < 0.02
    assert besides < 0.05
