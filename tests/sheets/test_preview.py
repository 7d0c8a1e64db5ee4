"""The drawn cloth, read back by Pillow and by an XML parser."""

from __future__ import annotations

import re
from io import BytesIO
from xml.etree import ElementTree

import pytest
from PIL import Image

from settscan.cloth.model import Stripe
from settscan.errors import BadInput
from settscan.sheets.picture import detail_of, lift_of, picture_of
from settscan.sheets.preview import (
    ClothPicture,
    beside_photo_png,
    blended,
    preview_png,
    preview_svg,
)

PLAIN = ((True, False), (False, True))
SVG = "{http://www.w3.org/2000/svg}"


def small(**changes: object) -> ClothPicture:
    given = {
        "warp": (Stripe("A", 2), Stripe("B", 2)),
        "weft": (Stripe("B", 1), Stripe("A", 1)),
        "colours": {"A": "#ff0000", "B": "#0000ff"},
        "lift": PLAIN,
        "end_mm": 1.0,
        "pick_mm": 1.0,
    }
    return ClothPicture(**{**given, **changes})


def opened(data: bytes) -> Image.Image:
    image = Image.open(BytesIO(data))
    image.load()
    return image


def test_each_crossing_shows_the_thread_on_top() -> None:
    image = opened(preview_png(small(), fit=(80, 80)))
    assert image.size == (80, 40)
    centres = [[image.getpixel((20 * x + 10, 20 * y + 10)) for x in range(4)] for y in range(2)]
    red, blue = (255, 0, 0), (0, 0, 255)
    # warp A A B B; top pick B under ends 1 and 3; next pick A under ends 2 and 4
    assert centres == [[red, blue, blue, blue], [red, red, red, blue]]


def test_true_size_follows_the_dots_per_inch() -> None:
    image = opened(preview_png(small(end_mm=25.4, pick_mm=12.7), dpi=72))
    assert image.size == (4 * 72, 72)
    assert image.info["dpi"] == pytest.approx((72, 72), abs=0.1)


def test_threads_too_small_to_see_mix_in_linear_light() -> None:
    # half red, half blue light: each channel encodes 0.5 linear, 188 by IEC 61966-2-1
    picture = small(warp=(Stripe("A", 1000),), weft=(Stripe("B", 1000),))
    image = opened(preview_png(picture, fit=(50, 50)))
    assert set(
        image.getdata() if not hasattr(image, "get_flattened_data") else image.get_flattened_data()
    ) == {(188, 0, 188)}


def test_a_vast_picture_is_refused() -> None:
    picture = small(warp=(Stripe("A", 3000),), weft=(Stripe("B", 3000),))
    with pytest.raises(BadInput, match="fewer dots"):
        preview_png(picture, dpi=300)


def test_the_svg_has_one_rectangle_for_each_stripe(plans) -> None:
    picture = picture_of(plans[0])
    text = preview_svg(picture, true_size=True)
    root = ElementTree.fromstring(text)
    rects = root.findall(f".//{SVG}g/{SVG}rect")
    assert len(rects) == len(picture.warp) + len(picture.weft) + 1  # and the shading
    assert sum(float(r.get("width")) for r in rects[: len(picture.warp)]) == plans[0].ends
    wide, high = picture.size_mm
    assert root.get("width") == f"{wide:.2f}mm" and root.get("height") == f"{high:.2f}mm"
    assert len(text) < 200 * (len(rects) + 10)


def test_the_svg_refers_to_nothing_outside(plans, photo) -> None:
    text = preview_svg(picture_of(plans[0]), photo=photo)
    root = ElementTree.fromstring(text)
    assert root.find(f"{SVG}image").get("href").startswith("data:image/png;base64,")
    assert set(re.findall(r"url\((#[\w-]+)\)", text)) <= {
        "#" + pattern.get("id") for pattern in root.iter(f"{SVG}pattern")
    }


def test_the_first_pick_lies_at_the_bottom(plans) -> None:
    draft = plans[0].draft
    lift = lift_of(draft, picks=6)
    for row in range(len(draft.treadling)):
        for end in range(len(draft.threading)):
            assert lift[row][end] == draft.warp_is_up(5 - row + 4, end)


def test_a_z_twill_rises_to_the_right(plans) -> None:
    detail = detail_of(plans[0])
    top, below = detail.lift[0], detail.lift[1]
    assert plans[0].draft.direction == "Z"
    assert all(top[(end + 1) % 4] == below[end] for end in range(4))


def test_the_piece_drawn_has_the_plan_s_threads(plans) -> None:
    plan = plans[0]
    picture = picture_of(plan)
    assert picture.ends == plan.ends
    assert picture.picks == sum(stripe.threads for stripe in plan.weft.piece_order)
    wide, _ = picture.size_mm
    assert wide == pytest.approx(float(plan.finished_width_mm.value))


def test_a_cloth_without_a_weave_says_so(awkward) -> None:
    assert "weave is not known" in picture_of(awkward[0]).caption


def test_beside_the_photo(plans, photo) -> None:
    image = opened(beside_photo_png(picture_of(plans[0]), photo, fit_height=300))
    assert image.height == 300
    assert image.getpixel((image.width - 5, 150)) == (0x7A, 0x5C, 0x3C)


def test_another_kind_of_picture_is_refused(plans) -> None:
    with pytest.raises(BadInput, match="neither PNG nor JPEG"):
        preview_svg(picture_of(plans[0]), photo=b"GIF89a")


def test_same_cloth_same_bytes(plans) -> None:
    picture = picture_of(plans[0])
    assert preview_png(picture) == preview_png(picture)


def test_threads_finer_than_a_point_are_shown_as_the_eye_mixes_them():
    # Half black and half white in linear light is sRGB 188 (IEC 61966-2-1), worked out by hand:
    # 255 x (1.055 x 0.5^(1/2.4) - 0.055) = 187.5.
    assert set(blended(["#000000", "#ffffff"] * 500, 100)) == {"#bcbcbc"}
    assert blended(["#000000"] * 4 + ["#ffffff"] * 4, 2) == ["#000000", "#ffffff"]
