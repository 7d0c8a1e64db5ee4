"""One small rendered cloth, read as it is and changed in ways that must not change the counts."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from settscan.cloth.model import SequenceKind
from settscan.measured import Measured, Origin
from settscan.photo.flat import Scale
from settscan.photo.load import linear
from settscan.reading.read import read_cloth
from tests.reading.woven import flat, threads_of, woven
from tests.render.scene import CameraSpec, ClothSpec, Scene, YarnSpec, render

PX_PER_MM = 5.0
CLOTH = ClothSpec(
    yarns=(
        YarnSpec(key="A", name="navy", srgb=(34, 44, 92)),
        YarnSpec(key="B", name="cream", srgb=(224, 210, 178)),
        YarnSpec(key="C", name="red", srgb=(164, 44, 40)),
    ),
    warp=(("A", 18), ("B", 6), ("A", 4), ("C", 10)),
    weft=(("A", 8), ("C", 5), ("A", 12), ("B", 7)),
    weft_kind="repeating",
    weave="2/2 twill Z",
    epi=22.0,
    ppi=24.0,
    wander=0.04,
)
SCENE = Scene(cloth=CLOTH, camera=CameraSpec(width=720, height=640, px_per_mm=PX_PER_MM))


@pytest.fixture(scope="session")
def photo():
    """Linear light of the rendered photo, which looks straight down, and its truth."""
    made = render(SCENE, seed=3)
    return linear(made.image), made.truth


@pytest.fixture(scope="session")
def reading(photo):
    return read_cloth(flat(photo[0]))


def counts(axis):
    """Yarn and count of the stripes that the frame does not cut."""
    return [(s.yarn, s.threads) for s in axis.stripes if not s.cut]


def colours(read):
    """CIELAB lightness of each yarn: its name changes with the order, its colour does not."""
    return {y.key: y.lab[0] for y in read.yarns}


def known(read, axis):
    """Stripes as (lightness rounded to a class, count): free of the letters."""
    order = {k: i for i, k in enumerate(sorted(colours(read), key=colours(read).get))}
    return [(order[y], n) for y, n in counts(axis)]


def test_the_counts_are_the_truth(photo, reading):
    for axis, truth in ((reading.columns, photo[1]["warp"]), (reading.rows, photo[1]["weft"])):
        whole = [(s["yarn"], s["threads"]) for s in truth["stripes"] if not s["cut"]]
        dark = {"A": 0, "C": 1, "B": 2}  # by lightness
        assert known(reading, axis) == [(dark[y], n) for y, n in whole]
        assert axis.counted_by == "weave"
        assert axis.pitch_px.value == pytest.approx(truth["px_per_thread"], rel=0.01)
        assert axis.pitch_px.low < axis.pitch_px.value < axis.pitch_px.high
    assert len(reading.yarns) == 3


def test_the_repeats_are_the_truth(reading):
    columns, rows = reading.columns.repeat, reading.rows.repeat
    assert columns.kind is SequenceKind.SYMMETRIC
    half = [s.threads for s in columns.sequence.stripes]
    assert half in ([18, 6, 4, 10], [10, 4, 6, 18])
    assert columns.threads == 48
    assert rows.kind is SequenceKind.REPEATING
    assert rows.threads == 32
    assert sorted(s.threads for s in rows.sequence.stripes) == [5, 7, 8, 12]


def test_the_weave_and_the_share(photo, reading):
    assert (reading.weave.name, reading.weave.twill_direction) == ("2/2 twill", "Z")
    assert reading.column_share == pytest.approx(photo[1]["column_share"], abs=0.06)


def test_colours_are_those_of_the_yarns(photo, reading):
    from settscan.reading.colours import difference, to_lab

    truth = np.array([y["apparent_linear"] for y in photo[1]["yarns"]]) * photo[1]["exposure"]
    found = np.array([y.lab for y in reading.yarns])
    apart = difference(to_lab(truth)[:, None], found[None])
    assert apart.min(axis=1).max() < 6
    assert len(set(apart.argmin(axis=1))) == 3


def test_turned_by_half_the_sequences_are_reversed(photo, reading):
    turned = read_cloth(flat(photo[0][::-1, ::-1]))
    assert known(turned, turned.columns) == known(reading, reading.columns)[::-1]
    assert known(turned, turned.rows) == known(reading, reading.rows)[::-1]
    assert turned.weave.twill_direction == "Z"


def test_mirrored_the_columns_are_reversed_and_the_twill_changes_hands(photo, reading):
    mirrored = read_cloth(flat(photo[0][:, ::-1]))
    assert known(mirrored, mirrored.columns) == known(reading, reading.columns)[::-1]
    assert known(mirrored, mirrored.rows) == known(reading, reading.rows)
    assert mirrored.weave.twill_direction == "S"


def test_transposed_the_axes_change_places(photo, reading):
    transposed = read_cloth(flat(photo[0].transpose(1, 0, 2)))
    assert known(transposed, transposed.rows) == known(reading, reading.columns)
    assert known(transposed, transposed.columns) == known(reading, reading.rows)
    # Columns and rows change roles as well as places: what was on top now lies below.
    assert transposed.column_share == pytest.approx(1 - reading.column_share, abs=0.02)


def test_at_half_as_large_again_the_counts_stay(photo, reading):
    larger = read_cloth(flat(cv2.resize(photo[0], None, fx=1.5, fy=1.5)))
    assert known(larger, larger.columns) == known(reading, reading.columns)
    assert known(larger, larger.rows) == known(reading, reading.rows)
    ratio = larger.columns.pitch_px.value / reading.columns.pitch_px.value
    assert ratio == pytest.approx(1.5, rel=0.005)


def test_a_fifth_darker_the_counts_stay(photo, reading):
    darker = read_cloth(flat(0.8 * photo[0]))
    assert known(darker, darker.columns) == known(reading, reading.columns)
    assert known(darker, darker.rows) == known(reading, reading.rows)


def test_a_part_of_it_has_the_same_stripes(photo, reading):
    part = read_cloth(flat(photo[0][60:600, 100:640]))
    for axis in ("columns", "rows"):
        inner = known(part, getattr(part, axis))
        whole = known(reading, getattr(reading, axis))
        assert len(inner) >= 3
        starts = range(len(whole) - len(inner) + 1)
        assert any(whole[k : k + len(inner)] == inner for k in starts)


def test_density_needs_a_scale_and_nothing_else(photo):
    exact = Measured(PX_PER_MM, 0.99 * PX_PER_MM, 1.01 * PX_PER_MM, Origin.READ)
    cloth = flat(photo[0], scale=Scale(px_per_mm_x=exact, px_per_mm_y=None, source="ruler"))
    read = read_cloth(cloth)
    assert read.rows.density is None
    density = read.columns.density
    assert 25.4 * density.value == pytest.approx(photo[1]["warp"]["epi"], rel=0.01)
    assert 0.009 < (density.high - density.value) / density.value < 0.03


def coarse(picture):
    """A quarter of the size and so blurred that nothing is left of the weave."""
    size = (picture.shape[1] // 4, picture.shape[0] // 4)
    return cv2.resize(cv2.GaussianBlur(picture, (0, 0), 9), size, interpolation=cv2.INTER_AREA)


def test_at_less_than_two_pixels_a_thread_the_counts_stay(photo, reading):
    """The twill's wave is four threads long, so that it shows where single threads do not."""
    size = (photo[0].shape[1] // 4, photo[0].shape[0] // 4)
    small = read_cloth(flat(cv2.resize(photo[0], size, interpolation=cv2.INTER_AREA)))
    assert small.columns.pitch_px.value == pytest.approx(25.4 / 22 * PX_PER_MM / 4, rel=0.02)
    assert known(small, small.columns) == known(reading, reading.columns)
    assert known(small, small.rows) == known(reading, reading.rows)


def test_too_blurred_to_count_it_says_so(photo):
    read = read_cloth(flat(coarse(photo[0])))
    for axis in (read.columns, read.rows):
        assert axis.counted_by == "nothing"
        assert axis.stripes == ()
        assert axis.repeat.sequence.stripes == ()
    assert read.weave.name == "unknown"


TEXT = "A12 B6 A4 C10 A12 B20 A4 C10 A12"
LEVELS = {"A": (0.04, 0.06, 0.2), "B": (0.6, 0.5, 0.36), "C": (0.36, 0.05, 0.05)}


def threadless(px):
    """Stripes both ways, as a check seen from afar, with noise and no thread in them."""
    keys = [word[0] for word in TEXT.split()]
    widths = px * np.array([int(word[1:]) for word in TEXT.split()])
    line = np.repeat(np.array([LEVELS[k] for k in keys]), widths, axis=0)
    noise = 0.02 * np.random.default_rng(0).standard_normal((len(line), len(line), 3))
    return ((line[None] + line[:, None]) / 2 + noise).astype(np.float32)


def test_without_threads_nothing_is_counted():
    read = read_cloth(flat(threadless(6)))
    for axis in (read.columns, read.rows):
        assert axis.counted_by == "nothing"
        assert axis.stripes == ()
        assert axis.repeat.sequence.stripes == ()
        assert axis.pitch_px is None
        assert len(axis.bands) == 9
    assert read.weave.name == "unknown"


def test_a_given_density_counts_what_cannot_be_seen():
    scale = Measured.exact(10.0)
    cloth = flat(threadless(6), scale=Scale(px_per_mm_x=scale, px_per_mm_y=scale, source="given"))
    density = Measured.exact(10 / 6, Origin.PINNED)
    read = read_cloth(cloth, pinned_columns=density)
    assert read.rows.counted_by == "nothing"
    assert read.columns.counted_by == "density"
    assert read.columns.density == density
    inner = [s for s in read.columns.stripes if not s.cut]
    assert [s.threads for s in inner] == [6, 4, 10, 12, 20, 4, 10]
    wide, narrow = inner[4], inner[1]
    assert wide.low < 20 < wide.high  # handwoven spacing wanders, so a width alone is not sure
    assert narrow.low == narrow.high == 4
    assert wide.chance < narrow.chance


def test_a_given_density_that_the_threads_gainsay_is_doubted():
    keys = threads_of("A12 B8 A10 B12 A8 B10 A12 B8 A10")
    light = {"A": np.array([0.05, 0.08, 0.25]), "B": np.array([0.5, 0.4, 0.25])}
    scale = Measured.exact(10.0)
    cloth = flat(
        woven(keys, keys, "plain", 6.0, light=light, noise=0.01),
        scale=Scale(px_per_mm_x=scale, px_per_mm_y=scale, source="given"),
    )
    right, wrong = (Measured.exact(10 / px, Origin.PINNED) for px in (6.1, 4.4))
    read = read_cloth(cloth, pinned_columns=wrong, pinned_rows=right)
    (disputed,) = (d for d in read.columns.doubts if d.name == "density-disputed")
    assert "columns" in disputed.sentence
    assert "22.7" in disputed.sentence
    assert "16.7" in disputed.sentence
    assert "density-disputed" not in {d.name for d in read.rows.doubts}
    shown = replace(wrong, origin=Origin.READ)  # as from a close-up, which nobody vouches for
    read = read_cloth(cloth, pinned_columns=shown, pinned_rows=replace(right, origin=Origin.READ))
    assert "pitch-disputed" in {d.name for d in read.columns.doubts}
    assert "pitch-disputed" not in {d.name for d in read.rows.doubts}


@pytest.mark.parametrize(("weave", "px"), [("hopsack", 2.0), ("plain", 4.0)])
def test_pairs_too_fine_to_be_seen_may_be_single_threads(weave, px):
    """A hopsack of 2 pixels per thread looks as a plain weave of 4 does, so neither is certain."""
    keys = threads_of("A24 B8 A12 C16 A12 B8 A24" if px == 2 else "A12 B4 A6 C8 A6 B4 A12") * 2
    light = {"A": (0.05, 0.08, 0.25), "B": (0.5, 0.4, 0.25), "C": (0.3, 0.05, 0.06)}
    read = read_cloth(flat(woven(keys, keys, weave, px, light=light, noise=0.02, round_=0.6)))
    assert "pairs" in [d.name for d in read.doubts]
    assert read.weave.confidence < 0.95
    for axis in (read.columns, read.rows):
        for stripe in axis.stripes:
            numbers = {stripe.threads, *(number for number, _ in stripe.others)}
            assert {round(stripe.threads * 2), round(stripe.threads / 2)} & numbers
            assert stripe.chance < 0.95


def test_threads_that_show_are_not_doubted_to_be_pairs(reading):
    assert "pairs" not in [d.name for d in reading.doubts]


@pytest.fixture(scope="session")
def one_way():
    """Linear light of stripes one way, whose weft of one yarn bows, and the ends of each stripe."""
    cloth = replace(CLOTH, weft=(("A", 16),), bow_mm=3.0, bow_span_mm=160.0)
    made = render(replace(SCENE, cloth=cloth), seed=3)
    true = [s["threads"] for s in made.truth["warp"]["stripes"] if not s["cut"]]
    return linear(made.image), true


def test_ends_are_counted_where_one_yarn_of_theirs_makes_a_weft_that_bows(one_way):
    """Nothing tells the picks' bow from an advance of the ends but the ends' own ripple.

    Nor is what shows of the weft in each end a change of light.
    """
    light, true = one_way
    read = read_cloth(flat(light))
    found = [n for _, n in counts(read.columns)]
    assert read.columns.counted_by == "ripple"
    assert found == true[: len(found)]
    assert len(found) >= len(true) - 1


def test_counts_are_doubted_where_picks_may_bow_and_no_ripple_tells(one_way, monkeypatch):
    monkeypatch.setattr("settscan.reading.lattices.by_ripple_alone", lambda *_, **__: None)
    light, true = one_way
    read = read_cloth(flat(light))
    whole = [s for s in read.columns.stripes if not s.cut]
    assert any(s.threads != n for s, n in zip(whole, true, strict=False))
    assert all(s.low <= n <= s.high for s, n in zip(whole, true, strict=False))
