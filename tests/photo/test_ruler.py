"""Rulers are found with their scale, or not at all."""

import dataclasses

import cv2
import numpy as np
import pytest

from settscan.photo.flat import Photo
from settscan.photo.load import encode
from settscan.photo.ruler import _candidates, _scales, find_rulers
from settscan.photo.ruler_fold import Fold
from settscan.photo.ruler_ladder import plain_orders
from settscan.photo.ruler_lines import long_lines, pyramid
from settscan.photo.ruler_numbering import Lens, Numbering, fitted
from settscan.photo.ruler_print import narrow_lines
from settscan.photo.ruler_scheme import SCHEMES, Ladder
from settscan.photo.ruler_settle import settled_order
from settscan.photo.source import grey_of
from tests.photo.drawn_rulers import INCH, Drawn, cloth, random_scene, scale_error, scene
from tests.render import camera
from tests.render.scene import render
from tests.render.specs import CameraSpec, ClothSpec, RulerSpec, Scene, YarnSpec

MM = Drawn(scale="mm", length=200.0)


def found_in(drawn):
    """The first ruler found, checked against the truth of the drawing."""
    found = find_rulers(drawn.photo)
    assert found, "missed"
    first = found[0]
    assert abs(scale_error(first, drawn)) < 0.004
    assert 0.0005 < first.relative_error < 0.01
    return first


@pytest.mark.parametrize("angle", [0, 90, 181, 37.5])
def test_any_direction(angle):
    drawn = scene(MM, px=5.0, angle=angle, seed=1)
    found = found_in(drawn)
    assert (found.unit, found.tick_mm) == ("mm", 1.0)
    # the map tells where each tick lies, on the feet line
    t = np.arange(0, found.length_mm, 10)
    s = found.a * t / (1 + found.c * t)
    at = found.origin_px + np.outer(s, found.direction)
    back = np.c_[at, np.ones(len(at))] @ np.linalg.inv(drawn.to_photo).T
    back = back[:, :2] / back[:, 2:]
    phase = (back[:, 0] - drawn.what.margin) % 1.0
    assert np.abs(np.minimum(phase, 1 - phase)).max() < 0.1  # mm from the nearest tick
    assert np.abs(back[:, 1]).max() < 1.0  # mm from the feet
    # ticks stand on the side that was told
    left = np.array([-found.direction[1], found.direction[0]]) * found.side
    body = found.origin_px + 3 * found.a * left
    y = (np.linalg.inv(drawn.to_photo) @ [*body, 1])[1]
    assert y / (np.linalg.inv(drawn.to_photo) @ [*body, 1])[2] > 1


@pytest.mark.parametrize(
    ("scale", "unit", "tick"),
    [
        ("mm", "mm", 1.0),
        ("half-mm", "mm", 0.5),
        ("inch8", "inch", INCH / 8),
        ("inch16", "inch", INCH / 16),
        ("inch32", "inch", INCH / 32),
    ],
)
def test_units_are_told_by_the_order_of_lengths(scale, unit, tick):
    found = found_in(scene(Drawn(scale=scale, length=180.0), px=6.0, angle=8, seed=2))
    assert found.unit == unit
    # the finest ticks may fade; their double is as good a scale
    assert found.tick_mm == pytest.approx(tick) or found.tick_mm == pytest.approx(2 * tick)


@pytest.mark.parametrize(
    "what",
    [
        dataclasses.replace(MM, material="wood", body=180),
        dataclasses.replace(MM, material="steel", body=200, tick_width=0.18),
        dataclasses.replace(MM, body=45, ink=230),
        dataclasses.replace(MM, inset=1.0, numeral_gap=-0.3),
        dataclasses.replace(MM, numerals=False),
        dataclasses.replace(MM, width=36.0, other="inch16"),
    ],
    ids=["wood", "steel", "white on black", "inset, numerals touch", "no numerals", "two scales"],
)
def test_kinds_of_rulers(what):
    found_in(scene(what, px=5.0, angle=-4, seed=3))


def test_the_body_goes_on_where_the_frame_hides_the_ticks():
    drawn = scene(Drawn(scale="mm", length=230.0, width=30.0), px=5.0, angle=6, seed=3)
    on_photo = np.array([[0, 0, 1], [115, 0, 1], [0, 27, 1]]) @ drawn.to_photo.T
    on_photo = on_photo[:, :2] / on_photo[:, 2:]
    top = int(on_photo[1, 1])
    encoded = np.ascontiguousarray(drawn.photo.encoded[top:])
    (found,) = find_rulers(Photo(encoded=encoded, file="ruler.png", sha256=""))
    assert found.length_mm < 125
    end = on_photo[2] - [0, top]
    assert np.linalg.norm(found.outline_px - end, axis=1).min() < 25


def test_perspective_is_measured_by_the_ticks():
    drawn = scene(MM, px=6.0, tilt=(6.0, 20.0), seed=4)
    found = found_in(drawn)
    ends = drawn.true_points([0, 1, 100, 101, 180, 181])
    true = np.linalg.norm(np.diff(ends, axis=0), axis=1)[::2]
    assert true.max() / true.min() > 1.1
    at = (ends[::2] - found.origin_px) @ found.direction
    t = at / (found.a - found.c * at)
    assert np.allclose(found.a / (1 + found.c * t) ** 2, true, rtol=0.004)


def test_partly_hidden():
    found = found_in(scene(MM, px=5.0, seed=5, hidden=[(40, 62), (120, 128)]))
    assert found.length_mm > 150


def test_low_light_and_strong_compression():
    found_in(scene(MM, px=5.0, seed=6, light=0.2, noise=0.02, jpeg=75))


@pytest.mark.parametrize(("px", "size"), [(3.0, (900, 1200)), (16.0, (1000, 1600))])
def test_small_and_large_in_the_picture(px, size):
    length = 200.0 if px < 10 else 110.0
    found_in(scene(dataclasses.replace(MM, length=length), px=px, size=size, seed=7, angle=3))


def test_two_rulers_across_each_other():
    along = scene(MM, px=5.0, size=(1100, 1200), shift=(0, -440), seed=8)
    down = scene(MM, px=5.0, size=(1100, 1200), shift=(-440, 120), angle=90, seed=8)
    upper = np.arange(1100)[:, None, None] < 240
    both = np.where(upper, along.photo.encoded, down.photo.encoded)
    found = find_rulers(Photo(encoded=both, file="two.png", sha256=""))
    assert len(found) == 2
    directions = np.abs([found[0].direction[0], found[1].direction[0]])
    assert max(directions) > 0.99 and min(directions) < 0.05


def test_the_outline_covers_the_body():
    drawn = scene(MM, px=5.0, angle=20, seed=9)
    found = find_rulers(drawn.photo)[0]
    seen, true = (np.zeros(drawn.photo.encoded.shape[:2], np.uint8) for _ in range(2))
    box = np.array([[0, 0], [200, 0], [200, MM.width], [0, MM.width]])
    corners = np.c_[box, np.ones(4)] @ drawn.to_photo.T
    cv2.fillConvexPoly(seen, np.rint(found.outline_px).astype(np.int32), 1)
    cv2.fillConvexPoly(true, np.rint(corners[:, :2] / corners[:, 2:]).astype(np.int32), 1)
    assert (seen & true).sum() > 0.93 * true.sum()
    assert seen.sum() < 1.25 * true.sum()


def test_sixteen_bits_and_ticks_for_evidence():
    drawn = scene(MM, px=5.0, seed=10)
    deep = drawn.photo.encoded.astype(np.uint16) * 257
    found = find_rulers(Photo(encoded=deep, file="deep.png", sha256=""))[0]
    assert len(found.ticks_px) == len(found.ticks_mm) > 150
    s = found.a * found.ticks_mm / (1 + found.c * found.ticks_mm)
    predicted = found.origin_px + np.outer(s, found.direction)
    assert np.linalg.norm(predicted - found.ticks_px, axis=1).max() < 1.0


@pytest.mark.parametrize("seed", range(6))
def test_cloth_alone_is_no_ruler(seed):
    rng = np.random.default_rng(100 + seed)
    pitch, sett = rng.uniform(2.5, 9), rng.uniform(8, 120)
    light = cloth(900, 1200, rng, pitch=pitch, sett=sett, angle=rng.choice([0, 0.2]))
    light = cv2.GaussianBlur(light, None, 0.7) + rng.normal(0, 0.01, light.shape)
    assert find_rulers(Photo(encoded=encode(light), file="cloth.png", sha256="")) == ()


@pytest.mark.parametrize("seed", [5051, 5074])
def test_weaves_over_five_threads_are_no_ruler(seed):
    """Every fifth thread is seen longer, as fives of a ruler are, but no tens among them."""
    rng = np.random.default_rng(seed)
    pitch, sett = rng.uniform(2.5, 40 if seed % 2 else 9), rng.uniform(8, 160)
    angle = rng.choice([0, 0.2, rng.uniform(0, 1.5)])
    light = cloth(900, 1200, rng, pitch=pitch, sett=sett, angle=angle)
    light = cv2.GaussianBlur(light, None, 0.7) + rng.normal(0, 0.01, light.shape)
    assert find_rulers(Photo(encoded=encode(light), file="cloth.png", sha256="")) == ()


@pytest.mark.parametrize("fine", [4, 5, 10])
def test_fine_stripes_with_a_ruler_like_beat_are_no_ruler(fine):
    # narrow stripes, every fifth or tenth of another colour: a comb, but of one length
    x = np.arange(1200)
    light = np.full((900, 1200, 3), 0.5, np.float32)
    light[:, (x // 3) % 2 == 0] = 0.2
    light[:, (x // 6) % fine == 0] = 0.05
    light[420:480] = 0.6
    assert find_rulers(Photo(encoded=encode(light), file="stripes.png", sha256="")) == ()


def test_an_even_picture_has_no_ruler():
    grey = np.full((300, 400, 3), 128, np.uint8)
    assert find_rulers(Photo(encoded=grey, file="grey.png", sha256="")) == ()


@pytest.mark.parametrize(("scale", "tick"), [("inch8", INCH / 8), ("inch16", INCH / 16)])
def test_numerals_settle_inches_whose_halves_are_as_long(scale, tick):
    drawn = scene(Drawn(scale=scale, length=220.0, flat_top=True), px=4.0, angle=4, seed=5)
    assert found_in(drawn).tick_mm == pytest.approx(tick)


@pytest.mark.parametrize("seed", [1, 2])
def test_two_inches_in_eighths_are_enough(seed):
    """Both whole inches are needed, and the one at the end lies beyond the windows of the comb."""
    drawn = scene(Drawn(scale="inch8", length=58.0), px=10.0, angle=30 * seed, seed=seed)
    assert found_in(drawn).tick_mm == pytest.approx(INCH / 8)


def test_without_numerals_such_inches_are_right_or_missed():
    what = Drawn(scale="inch16", length=220.0, flat_top=True, numerals=False)
    drawn = scene(what, px=5.0, seed=11)
    for found in find_rulers(drawn.photo):
        assert abs(scale_error(found, drawn)) < 0.01


@pytest.mark.parametrize("seed", [2, 5, 13])
def test_random_scenes_are_right_or_missed(seed):
    drawn = random_scene(seed, size=(1000, 1400))
    for found in find_rulers(drawn.photo):
        assert abs(scale_error(found, drawn)) < 0.01


@pytest.mark.parametrize(
    ("unit", "material", "tilt"),
    [("mm", "wood", 12.0), ("inch", "tape", 5.0), ("mm", "plastic", 0.0)],
)
def test_rendered_photographs(unit, material, tilt):
    """Scenes of the separate renderer: threads, lens, sensor and JPEG."""
    ruler = RulerSpec(unit=unit, material=material, y=50.0, angle_deg=3.0, length_mm=150.0)
    cloth_spec = ClothSpec()
    spec = CameraSpec(width=1000, height=750, px_per_mm=5.5, tilt_deg=tilt, tilt_toward_deg=40.0)
    rendered = render(Scene(cloth=cloth_spec, camera=spec, rulers=(ruler,)), seed=3)
    found = find_rulers(Photo(encoded=rendered.image, file="render.png", sha256=""))[0]
    assert found.unit == unit
    assert abs(error_on_the_cloth(found, spec)) < 0.003


def error_on_the_cloth(found, spec):
    """Relative error of the found length against that on the rendered cloth."""
    reach = found.a * found.length_mm / (1 + found.c * found.length_mm)
    ends = found.origin_px + np.outer([0.0, reach], found.direction)
    x, y = camera.to_plane(spec, ends[:, 0], ends[:, 1])
    return found.length_mm / np.hypot(x[1] - x[0], y[1] - y[0]) - 1


BOLD = (
    YarnSpec(key="A", name="wine", srgb=(88, 14, 30)),
    YarnSpec(key="B", name="white", srgb=(238, 234, 222)),
    YarnSpec(key="C", name="blue", srgb=(30, 50, 120)),
)


@pytest.mark.parametrize(
    ("epi", "px", "angle"),
    [(24, 3.2, -5.0), (24, 3.2, 4.0), (14, 4.4, -4.0)],
)
def test_eighths_on_clear_plastic_over_a_bold_cloth(epi, px, angle):
    """Floats shine through and are bolder than ticks; at 14 epi inches once read as halves."""
    bold = ClothSpec(
        yarns=BOLD, epi=epi, ppi=epi,
        warp=(("A", 18), ("B", 16), ("A", 24), ("C", 6)),
        weft=(("B", 14), ("A", 22), ("B", 4), ("C", 16)),
    )  # fmt: skip
    spec = CameraSpec(width=1000, height=750, px_per_mm=px, tilt_deg=4.0, tilt_toward_deg=70.0)
    ruler = RulerSpec(
        unit="inch", per_inch=8, material="plastic", y=-30.0, angle_deg=angle,
        length_mm=130.0, width_mm=30.0,
    )  # fmt: skip
    rendered = render(Scene(cloth=bold, camera=spec, rulers=(ruler,)), seed=3)
    found = find_rulers(Photo(encoded=rendered.image, file="render.png", sha256=""))[0]
    assert found.tick_mm == pytest.approx(INCH / 8)
    assert abs(error_on_the_cloth(found, spec)) < 0.003


def test_what_is_printed_is_narrow_and_dark():
    """Of a tick, a float's gap and a light line the first alone is left, and the rest is white."""
    picture = np.full((60, 90), 150, np.uint8)
    picture[20:40, 20:22] = 60
    picture[20:40, 40:46] = 60
    picture[20:40, 70:72] = 240
    (ink,) = narrow_lines((picture,))
    assert ink[30, 18:24].min() < 200
    assert ink[30, 38:48].min() > 250
    assert ink[30, 66:76].min() > 250


def test_numbering_goes_there_and_back():
    numbering = Numbering((3.0, 50.0, 0.1), 400.0, 300.0, Lens(500.0, 900.0), bend=-0.02)
    u = np.linspace(50, 900, 30)
    np.testing.assert_allclose(numbering.place(numbering.number(u)), u, atol=1e-3)
    fit = fitted(u, numbering.number(u), np.ones(30), numbering.lens)
    np.testing.assert_allclose(fit.numbering.number(u), numbering.number(u), atol=0.02)


@pytest.mark.parametrize(("width", "seed"), [(20.0, 1), (22.0, 2), (22.0, 3)])
def test_ticks_of_the_other_edge_are_no_numerals(width, seed):
    """A short ruler with eighths on both edges, whose halves meet: quarters would be divided."""
    what = Drawn(
        scale="inch8", other="inch8", length=70.0, width=width, flat_top=True, tick_factor=1.4,
        material="wood",
    )  # fmt: skip
    drawn = scene(what, px=9.0, angle=8, seed=seed)
    for found in find_rulers(drawn.photo):
        assert abs(scale_error(found, drawn)) < 0.01


@pytest.mark.parametrize(
    ("scale", "px", "seed", "material"),
    [("inch8", 14.0, 3, "wood"), ("inch8", 18.0, 2, "plastic"), ("inch16", 8.0, 2, "wood")],
)
def test_single_ticks_with_a_finger_on_them(scale, px, seed, material):
    """So near that few ticks fit into the picture, and those are parted."""
    what = Drawn(scale=scale, length=66.0, width=20.0, material=material)
    drawn = scene(what, px=px, angle=12.0 * seed, seed=seed, hidden=[(11, 22)])
    assert found_in(drawn).unit == "inch"


@pytest.mark.parametrize("px", [8.0, 18.0])
def test_single_ticks_on_clear_plastic(px):
    what = Drawn(scale="inch8", length=66.0, width=20.0, material="clear")
    assert found_in(scene(what, px=px, angle=12.0, seed=1)).tick_mm == pytest.approx(INCH / 8)


def test_three_longer_lines_among_fourteen_are_no_ruler():
    """Threads, every fifth of which happens to begin earlier."""
    light = np.full((900, 1200, 3), 0.6, np.float32)
    for i in range(14):
        column = 300 + 35 * i
        light[400 - (60 if i % 5 == 0 else 0) : 460, column - 4 : column + 4] = 0.1
    light[460:] = 0.3
    photo = Photo(encoded=encode(cv2.GaussianBlur(light, None, 1)), file="bars.png", sha256="")
    assert find_rulers(photo) == ()


def test_halves_are_no_inches_where_ticks_of_the_other_edge_look_like_numerals():
    """The whole inch is plainly longer than the halves beside it, so these are none."""
    place = np.arange(-12, 11)
    lengths = np.array([0.0, 0.4, 1.0, 1.9])[
        (place[:, None] % np.array([2, 4, 8]) == 0).sum(axis=1)
    ]
    lengths[place == 0] = 3.3
    scheme = next(s for s in SCHEMES if s.unit == "inch" and s.period == 8)
    steps = Ladder(
        numbers=place.astype(float), lengths=lengths, scheme=scheme, phase=0, step=12.0, share=0.9,
        agree=1.0, side=1, light=False, classes=(0.0, 0.4, 1.0, 1.9),
    )  # fmt: skip
    grey = np.zeros((9, 8 * len(place)), np.float32)
    folded = Fold(
        numbers=place.astype(float), rows=np.linspace(-1, 1, 9), grey=grey,
        pitch=np.full(len(place), 20.0), slant=(0.0, 0.0), core=(-1.0, 0.0), pixel=0.05,
    )  # fmt: skip
    ink = np.where(place % 8 == 0, 0.07, 0.0)
    assert settled_order(steps, folded, ink) is None
    lengths[place == 0] = 1.9
    assert settled_order(steps, folded, ink) is not None


@pytest.mark.filterwarnings("error")
def test_ticks_of_which_none_is_of_the_shortest_have_no_order_and_no_warning():
    """Where every second tick alone is seen the halves are there and the quarters are not."""
    numbers = np.arange(0.0, 64.0, 2.0)
    rows = np.arange(120) / 24
    lengths = np.where(numbers % 8 == 0, 3.0, np.where(numbers % 4 == 0, 2.0, 1.0))
    level = (rows[None] < lengths[:, None]).astype(float)
    folded = Fold(
        numbers=numbers,
        rows=rows,
        grey=np.zeros((len(rows), 8 * len(numbers)), np.float32),
        pitch=np.full(len(numbers), 20.0),
        slant=(0.0, 0.0),
        core=(0.0, 0.5),
        pixel=0.05,
    )
    for steps in plain_orders(folded, numbers, level):
        assert np.isfinite(steps.step)


@pytest.mark.parametrize(("seed", "most"), [(6, 4), (14, 3), (15, 2)])
def test_ticks_that_many_edges_of_stripes_cross_aslant_are_not_read_again_and_again(seed, most):
    """Fourteen, five and six times, before; each time all of it is followed and measured."""
    drawn = random_scene(seed)
    levels = pyramid(grey_of(drawn.photo))
    scales = _scales(levels, _candidates(levels, long_lines(levels)))
    assert 1 <= len(scales) <= most
