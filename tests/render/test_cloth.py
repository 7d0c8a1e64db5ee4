"""The cloth: setts, weaves, threads counted in the picture, stripe edges, colours."""

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.render import weaves
from tests.render.cloth import full_counts, lay_stripes, unfold
from tests.render.colours import oklab
from tests.render.scene import render, truth_of
from tests.render.specs import (
    CameraSpec,
    ClothSpec,
    LightSpec,
    RulerSpec,
    Scene,
    YarnSpec,
    linear_from_srgb,
)

WHITE = YarnSpec(key="W", name="white", srgb=(240, 240, 240), melange=0.0)
BLACK = YarnSpec(key="K", name="black", srgb=(12, 12, 12), melange=0.0)
RED = YarnSpec(key="R", name="red", srgb=(180, 30, 30), melange=0.0)
QUIET = CameraSpec(width=600, height=360, px_per_mm=10, noise=0, sharpen=0, samples=2)
LIGHT = LightSpec(exposure=1.0)


def plain(**changes) -> ClothSpec:
    base = ClothSpec(
        yarns=(WHITE, BLACK, RED), warp=(("W", 10),), weft=(("K", 10),), warp_kind="repeating",
        weft_kind="repeating", weave="plain", epi=25.4, ppi=25.4, warp_cover=0.8, weft_cover=0.8,
        waviness=0.0, fulling=0.0, hair=0.0, ply_mark=0.0, fibre=0.0,
    )  # fmt: skip
    return replace(base, **changes)


def peaks(profile: np.ndarray) -> np.ndarray:
    """Places of the local maxima that stand above the middle."""
    soft = np.convolve(profile, np.ones(3) / 3, mode="same")
    top = (soft[1:-1] > soft[:-2]) & (soft[1:-1] >= soft[2:]) & (soft[1:-1] > np.median(soft))
    return np.flatnonzero(top) + 1


def test_pivots_are_shared():
    sett = (("A", 24), ("B", 4), ("A", 8), ("C", 2))
    whole = unfold(sett, "symmetric")
    assert [n for _, n in whole] == [24, 4, 8, 2, 8, 4]
    assert sum(n for _, n in lay_stripes(sett, "symmetric", (), 137, 5)) == 137
    first, *_ = lay_stripes(sett, "symmetric", (), 137, 5)
    assert first == ("A", 19)


def test_border_stands_on_both_edges():
    laid = lay_stripes((("A", 4), ("B", 4)), "repeating", (("C", 6), ("D", 2)), 40, 0)
    assert laid[:2] == [("C", 6), ("D", 2)]
    assert laid[-2:] == [("D", 2), ("C", 6)]
    assert sum(n for _, n in laid) == 40


def test_stripes_at_the_frame_are_counted_as_if_the_cloth_went_on():
    sett = (("A", 90), ("B", 4), ("C", 30))
    laid = lay_stripes(sett, "symmetric", (), 100, 40)
    assert laid == [("A", 50), ("B", 4), ("C", 30), ("B", 4), ("A", 12)]
    assert full_counts(laid, sett, "symmetric", 40) == (90, 4, 30, 4, 90)


@pytest.mark.parametrize("name", sorted(weaves.WEAVES))
def test_weaves_interlace_every_thread(name):
    """Common practice, no source: every thread passes over some and under some."""
    up = weaves.WEAVES[name]
    for axis in (0, 1):
        share = up.mean(axis=axis)
        assert np.all((share > 0) & (share < 1))
    if name.startswith(("2/2", "hopsack", "herringbone", "plain")):
        assert up.mean() == 0.5
    if name.startswith("3/1"):
        assert up.mean() == 0.75


def test_herringbone_has_no_float_over_two():
    up = np.tile(weaves.WEAVES["herringbone"], (2, 2))
    for lines in (up, up.T):
        for line in lines:
            assert "111" not in "".join(map(str, line.astype(int)))


@pytest.mark.parametrize("direction, sign", [("Z", -1), ("S", 1)])
@pytest.mark.parametrize("across", [False, True])
def test_twill_lines_lean_as_named(direction, sign, across):
    """A Z twill rises to the right, like the middle stroke of the letter; a turned one falls."""
    weave = f"2/2 twill {direction}"
    scene = Scene(cloth=plain(weave=weave, jitter=0, wander=0, warp_across=across), camera=QUIET)
    picture = render(scene, 1)
    light = picture.linear[..., 1] - picture.linear[..., 1].mean()
    step = 10  # one thread
    falls = np.mean(light[step:, step:] * light[:-step, :-step])
    rises = np.mean(light[step:, :-step] * light[:-step, step:])
    assert np.sign(falls - rises) == (sign if not across else -sign)
    shown = picture.truth["twill_direction"]
    assert shown == (direction if not across else {"Z": "S", "S": "Z"}[direction])


def test_threads_counted_in_the_picture():
    picture = render(Scene(cloth=plain(), camera=QUIET), 5)
    found = len(peaks(picture.linear[..., 1].mean(axis=0)))
    assert found == picture.truth["warp"]["threads"] == sum_threads(picture, "warp")
    dark = render(Scene(cloth=plain(warp=(("K", 9),), weft=(("W", 9),)), camera=QUIET), 5)
    assert len(peaks(dark.linear[..., 1].mean(axis=1))) == dark.truth["weft"]["threads"]


def sum_threads(picture, axis):
    return sum(s["threads"] for s in picture.truth[axis]["stripes"])


def test_density_is_that_of_the_picture():
    picture = render(Scene(cloth=plain(wander=0.05), camera=QUIET), 8)
    at = peaks(picture.linear[..., 1].mean(axis=0))
    seen = (len(at) - 1) / (at[-1] - at[0]) * 10 * 25.4
    assert picture.truth["warp"]["epi"] == pytest.approx(seen, rel=0.01)
    assert picture.truth["px_per_thread"]["warp"] == pytest.approx(254 / seen, rel=0.01)


def test_stripe_edges_lie_where_the_truth_says():
    cloth = plain(warp=(("W", 9), ("R", 6)), jitter=0.02)
    picture = render(Scene(cloth=cloth, camera=QUIET), 3)
    blue, red = (picture.linear[..., k].mean(axis=0) for k in (2, 0))
    share = np.convolve(blue / red, np.ones(10) / 10, mode="same")
    middle = (share.min() + share.max()) / 2
    for stripe in picture.truth["warp"]["stripes"][1:]:
        x = np.mean([p[0] for p in stripe["start_line_px"]])
        near = np.arange(int(x) - 7, int(x) + 8)
        cross = near[np.argmin(np.abs(share[near] - middle))]
        assert abs(cross - x) < 2.5, "a quarter of a thread"


def test_stripe_edges_under_tilt_lens_and_drape():
    """Just left and right of a true edge the warp's colour differs, all along it."""
    camera = replace(
        QUIET, width=900, height=700, tilt_deg=15, tilt_toward_deg=40, roll_deg=10, k1=0.05
    )
    cloth = plain(warp=(("W", 8), ("K", 8)), weft=(("R", 10),), drape_mm=0.8)
    picture = render(Scene(cloth=cloth, camera=camera), 3)
    blue = picture.linear[..., 2]
    right = []
    for stripe in picture.truth["warp"]["stripes"]:
        sign = 1 if stripe["yarn"] == "W" else -1
        for x, y in stripe["start_line_px"]:
            x, y = round(x), round(y)
            if 45 < x < 855 and 45 < y < 655:
                inside = blue[y - 6 : y + 7, x + 6 : x + 40].mean()
                outside = blue[y - 6 : y + 7, x - 40 : x - 6].mean()
                right.append(sign * (inside - outside) > 0)
    assert len(right) > 20
    assert all(right)


def test_cut_stripes():
    truth = truth_of(Scene(cloth=plain(warp=(("W", 20), ("R", 12))), camera=QUIET), 6)
    stripes = truth["warp"]["stripes"]
    assert stripes[0]["cut"] and stripes[-1]["cut"]
    assert not any(s["cut"] for s in stripes[1:-1])
    assert all(s["threads"] == s["full_threads"] for s in stripes[1:-1])


def test_what_a_ruler_hides_of_an_edge_is_not_shown():
    """A ruler across the middle of an edge takes its width from what shows, not from its ends."""
    scene = Scene(cloth=plain(warp=(("W", 20), ("R", 12))), camera=QUIET)
    across = RulerSpec(x=0, y=-4, angle_deg=0, length_mm=200, width_mm=8)
    px = truth_of(scene, 6)["px_per_mm"]["y"]
    free, hidden = (
        truth_of(s, 6)["warp"]["stripes"][2] for s in (scene, replace(scene, rulers=(across,)))
    )
    assert hidden["start_line_px"][0] == free["start_line_px"][0]
    assert free["start_shown_px"] == pytest.approx(QUIET.height, rel=0.02)
    gone = free["start_shown_px"] - hidden["start_shown_px"]
    assert gone == pytest.approx(8 * px, abs=px)


def test_ruler_hides_a_stripe_only_if_it_covers_all_of_it():
    cloth = plain(warp=(("W", 20), ("R", 4)))
    scene = Scene(cloth=cloth, camera=QUIET)
    before = truth_of(scene, 6)["warp"]["stripes"]
    middle = next(s for s in before[1:] if s["yarn"] == "R")
    x = (middle["start_mm"] + middle["end_mm"]) / 2
    upright = RulerSpec(x=x, y=0, angle_deg=90, length_mm=200, width_mm=8)
    hidden = truth_of(replace(scene, rulers=(upright,)), 6)["warp"]["stripes"]
    assert len(hidden) == len(before) - 1
    short = truth_of(replace(scene, rulers=(replace(upright, length_mm=20),)), 6)
    kept = [(s["threads"], s["cut"]) for s in short["warp"]["stripes"]]
    assert kept == [(s["threads"], s["cut"]) for s in before]


def test_whole_cloth_within_the_frame_is_not_cut():
    cloth = plain(size_mm=(48.0, 30.0), warp=(("W", 8), ("R", 4)), fringe_mm=2.0)
    truth = truth_of(Scene(cloth=cloth, camera=QUIET), 2)
    assert truth["warp"]["threads"] == 48
    assert not any(s["cut"] for axis in ("warp", "weft") for s in truth[axis]["stripes"])
    corners = np.array(truth["corners_px"])
    np.testing.assert_allclose(np.ptp(corners, axis=0), (480, 300), rtol=0.03)


def test_colour_of_a_solid_block():
    cloth = plain(warp=(("R", 10),), weft=(("R", 10),))
    picture = render(Scene(cloth=cloth, camera=QUIET, light=LIGHT), 4)
    yarn = next(y for y in picture.truth["yarns"] if y["key"] == "R")
    mean = picture.linear.mean(axis=(0, 1))
    np.testing.assert_allclose(mean, yarn["apparent_linear"], rtol=0.02)
    np.testing.assert_allclose(linear_from_srgb(yarn["apparent_srgb"]), mean, rtol=0.02)
    decoded = linear_from_srgb(picture.image).mean(axis=(0, 1))
    np.testing.assert_allclose(decoded, yarn["apparent_linear"], rtol=0.02)


def test_crossing_mixes_in_linear_light():
    """A block of warp W and weft K gives off what `column_share` says, in linear light."""
    cloth = plain(weave="2/2 twill Z", warp_cover=0.9, weft_cover=0.9)
    picture = render(Scene(cloth=cloth, camera=QUIET, light=LIGHT), 4)
    yarn = {y["key"]: np.array(y["apparent_linear"]) for y in picture.truth["yarns"]}
    k = picture.truth["column_share"]
    expected = k * yarn["W"] + (1 - k) * yarn["K"]
    np.testing.assert_allclose(picture.linear.mean(axis=(0, 1)), expected, rtol=0.02)


@pytest.mark.parametrize("faced, low, high", [("weft", 0.0, 0.15), ("warp", 0.85, 1.0)])
def test_faced_cloth_shows_one_direction(faced, low, high):
    changes = {
        "weft": {"epi": 8, "ppi": 40, "warp_cover": 0.45, "weft_cover": 1.7, "crimp": 0.0},
        "warp": {"epi": 40, "ppi": 8, "warp_cover": 1.7, "weft_cover": 0.45, "crimp": 1.0},
    }[faced]
    truth = truth_of(Scene(cloth=plain(**changes), camera=QUIET), 1)
    assert low <= truth["column_share"] <= high


def test_quarter_turn_swaps_warp_and_weft():
    cloth = plain(warp=(("W", 5), ("R", 3)), epi=30.0, ppi=20.0, warp_across=True)
    truth = truth_of(Scene(cloth=cloth, camera=QUIET), 1)
    assert truth["warp"]["runs"] == "across" and truth["weft"]["runs"] == "down"
    assert truth["warp"]["epi"] == pytest.approx(30, rel=0.03)
    assert {s["yarn"] for s in truth["warp"]["stripes"]} == {"W", "R"}


def test_srgb_against_reference_library():
    """Reference library: scikit-image's Y of a grey equals its linear light."""
    from skimage.color import rgb2xyz

    grey = np.repeat(np.arange(0, 256, 5, dtype=np.uint8)[:, None], 3, axis=1)
    y = rgb2xyz(grey[None])[0, :, 1]
    np.testing.assert_allclose(linear_from_srgb(grey)[:, 1], y, atol=2e-4)


def test_oklab_of_white():
    """Ottosson 2020: white is L 1, a 0, b 0."""
    np.testing.assert_allclose(oklab((255, 255, 255)), (1, 0, 0), atol=1e-4)


def test_yardstick_and_reader_share_no_code():
    here = Path(__file__).parent
    for path in here.glob("*.py"):
        assert "settscan" not in imported(path), path.name
    for path in (here.parent.parent / "settscan").rglob("*.py"):
        assert "tests" not in imported(path), path.name


def imported(path: Path) -> set[str]:
    """First names of all modules that a file imports."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {a.name.split(".")[0] for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module.split(".")[0])
    return names
