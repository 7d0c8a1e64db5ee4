"""What the reader saw is drawn where it was seen, and a wrong stripe can be found on it."""

import io
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe, Yarn
from settscan.doubts import doubt
from settscan.measured import Measured, Origin
from settscan.photo.draw import Line, Shape, Text, capital_height
from settscan.photo.flat import CardFound, FlatCloth, Photo, RulerFound, Scale
from settscan.photo.load import encode
from settscan.reading.evidence import evidence_png
from settscan.reading.labels import Wanted, place
from settscan.reading.margins import DOUBT, Side, label_of, lay_out, margin_marks, rgb
from settscan.reading.misfit import misfit_of
from settscan.reading.model import (
    AxisRead,
    BandSeen,
    ClothRead,
    RepeatRead,
    StripeRead,
    WeaveRead,
)
from settscan.reading.panels import words_of
from settscan.reading.unlike import with_unlike_doubted

LIGHT = {"A": (0.05, 0.03, 0.02), "B": (0.04, 0.1, 0.4), "C": (0.7, 0.6, 0.4)}
PX = 6  # per thread


def hex_of(light):
    return "#" + "".join(f"{int(v):02x}" for v in encode(np.array(light)))


YARNS = tuple(Yarn(key=key, name="yarn", colour=hex_of(light)) for key, light in LIGHT.items())


def stripe(yarn, threads, start, **changes):
    seen = StripeRead(
        yarn=yarn,
        threads=threads,
        low=threads,
        high=threads,
        chance=0.99,
        others=(),
        cut=False,
        start_px=start,
        end_px=start + PX * threads,
    )
    return replace(seen, **changes)


def axis_of(text, kind=SequenceKind.PARTIAL, members=(), written=()):
    """An axis from "A8 B4 ...": PX flat pixels per thread, the first at -0.5."""
    stripes, at = [], -0.5
    for word in text.split():
        stripes.append(stripe(word[0], int(word[1:]), at))
        at = stripes[-1].end_px
    sequence = ColourSequence(kind, written or tuple(Stripe(s.yarn, s.threads) for s in stripes))
    threads = None if kind is SequenceKind.PARTIAL else sequence.threads
    return AxisRead(
        bands=tuple(BandSeen(s.yarn, s.start_px, s.end_px) for s in stripes),
        stripes=tuple(stripes),
        pitch_px=Measured(PX, PX, PX, Origin.READ),
        density=None,
        repeat=RepeatRead(
            kind=kind, sequence=sequence, threads=threads, members=members, chance=0.9
        ),
        counted_by="weave",
    )


def read_of(columns, rows, **changes):
    seen = ClothRead(
        yarns=YARNS,
        columns=columns,
        rows=rows,
        weave=WeaveRead(name="plain", confidence=0.9),
        column_share=0.5,
    )
    return replace(seen, **changes)


def cloth_of(columns, rows, mask=None):
    """The photo and flat cloth that these axes would show."""
    sides = []
    for axis in (columns, rows):
        light = [np.tile(LIGHT[b.yarn], (round(b.end_px - b.start_px), 1)) for b in axis.bands]
        sides.append(np.concatenate(light))
    pixels = 0.5 * sides[0][None] + 0.5 * sides[1][:, None]
    pixels += np.random.default_rng(3).normal(0, 0.003, pixels.shape)
    pixels = pixels.astype(np.float32)
    flat = FlatCloth(
        pixels=pixels,
        mask=np.ones(pixels.shape[:2], bool) if mask is None else mask,
        to_photo=np.eye(3),
        scale=Scale(px_per_mm_x=None, px_per_mm_y=None, source="none"),
    )
    return Photo(encoded=encode(pixels), file="a.jpg", sha256="0"), flat


COLUMNS = axis_of("A20 B30 C6 B30 A40 B14")
ROWS = axis_of("B24 A16 C4 A20 B36")


def picture_of(columns=COLUMNS, rows=ROWS, mask=None, **given_things):
    photo, flat = cloth_of(columns, rows, mask)
    things = {"rulers": (), "card": None, "warp_is_columns": True} | given_things
    data = evidence_png(photo, flat, read_of(columns, rows), **things)
    return np.asarray(Image.open(io.BytesIO(data)))


def pixels_like(picture, colour, within=12):
    return int((np.abs(picture.astype(int) - colour).max(axis=2) <= within).sum())


def side_of(axis, factor=2.0, is_columns=True):
    return Side(
        is_columns=is_columns,
        left=300,
        top=300,
        factor=factor,
        length=factor * (axis.bands[-1].end_px + 0.5),
    )


# Labels


@given(
    st.lists(st.floats(0, 500), min_size=1, max_size=60),
    st.floats(4, 30),
    st.integers(1, 2),
)
@settings(deadline=None, max_examples=200)
def test_labels_keep_their_order_and_never_touch(positions, room, levels):
    wanted = [Wanted(at=at, room=room) for at in sorted(positions)]
    places = place(wanted, 0, 500, levels)
    if places is None:
        assert room * len(wanted) > 500 or (levels == 2 and room * len(wanted) > 250)
        return
    for level in range(levels):
        same = [p.at for p in places if p.level == level]
        assert all(b - a >= room - 1e-6 for a, b in zip(same[:-1], same[1:], strict=True))
    assert all(b.at >= a.at for a, b in zip(places[:-1], places[1:], strict=True))
    assert places[0].at >= room / 2 - 1e-6
    assert places[-1].at <= 500 - room / 2 + 1e-6


def test_labels_with_room_stay_where_they_want_to_be():
    wanted = [Wanted(at=at, room=10) for at in (20, 50, 90)]
    assert [p.at for p in place(wanted, 0, 100, 1)] == [20, 50, 90]


def test_crowded_labels_part_by_the_least_squares():
    """Two labels of 10 that both want 50 move by 5 each; a third alone stays."""
    wanted = [Wanted(at=at, room=10) for at in (50, 50, 90)]
    assert [p.at for p in place(wanted, 0, 100, 1)] == [45, 55, 90]


def test_too_many_labels_are_refused():
    assert place([Wanted(at=50, room=10)] * 11, 0, 100, 1) is None


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({}, "B12"),
        ({"low": 11, "high": 13}, "B12? 11-13"),
        ({"chance": 0.71}, "B12? 71 %"),
        ({"cut": True}, "B12+"),
        ({"cut": True, "low": 11, "high": 13}, "B12+"),
    ],
)
def test_label_says_how_sure_the_count_is(changes, text):
    assert label_of(stripe("B", 12, 0.0, **changes)) == text


def test_all_labels_of_an_easy_cloth_are_shown_at_full_size():
    layout = lay_out(COLUMNS, side_of(COLUMNS))
    assert [label.text for label in layout.labels] == ["A20", "B30", "C6", "B30", "A40", "B14"]
    assert layout.left_out == 0
    assert layout.size == 16


@pytest.mark.parametrize("is_columns", [True, False])
@pytest.mark.parametrize(("number", "all_fit"), [(150, True), (280, True), (900, False)])
def test_hundreds_of_stripes_never_overlap_and_what_is_left_out_is_told(
    is_columns, number, all_fit
):
    axis = axis_of(" ".join(f"{'AB'[k % 2]}2" for k in range(number)))
    side = side_of(axis, 1800 / (2 * PX * number), is_columns)
    layout = lay_out(axis, side)
    assert len(layout.labels) + layout.left_out == number
    assert (layout.left_out == 0) == all_fit
    assert len(layout.labels) >= min(number, 170)
    for level in {p.level for p in layout.places}:
        at = [p.at for p in layout.places if p.level == level]
        assert min(np.diff(at)) >= capital_height(layout.size)


def test_doubtful_labels_are_the_last_to_be_left_out():
    axis = axis_of(" ".join(f"{'AB'[k % 2]}2" for k in range(900)))
    unsure = {100, 400, 401, 700}
    stripes = tuple(
        replace(s, low=1, high=3) if k in unsure else s for k, s in enumerate(axis.stripes)
    )
    axis = replace(axis, stripes=stripes)
    layout = lay_out(axis, side_of(axis, 1800 / (2 * PX * 900)))
    assert unsure <= {label.stripe for label in layout.labels}


# The margin


def test_each_bar_lies_beside_its_stripe_in_its_colour():
    for is_columns, axis in ((True, COLUMNS), (False, ROWS)):
        side = side_of(axis, is_columns=is_columns)
        marks = margin_marks(axis, side, lay_out(axis, side), YARNS)
        bars = [m for m in marks if isinstance(m, Shape) and len(m.points) == 4]
        assert len(bars) == len(axis.stripes)
        colours = {yarn.key: rgb(yarn.colour) for yarn in YARNS}
        for bar, seen in zip(bars, axis.stripes, strict=True):
            along = [p[0] - 300 if is_columns else p[1] - 300 for p in bar.points]
            away = [300 - p[1] if is_columns else 300 - p[0] for p in bar.points]
            assert min(along) == pytest.approx(2 * (seen.start_px + 0.5) - 0.5)
            assert max(along) == pytest.approx(2 * (seen.end_px + 0.5) - 0.5)
            assert min(away) > 0
            assert bar.colour == colours[seen.yarn]


def test_leaders_run_from_the_middle_of_the_stripe_to_its_label():
    side = side_of(COLUMNS, 0.2)
    layout = lay_out(COLUMNS, side)
    marks = margin_marks(COLUMNS, side, layout, YARNS)
    leaders = [m for m in marks if isinstance(m, Line) and len(m.points) == 3]
    texts = [m for m in marks if isinstance(m, Text)]
    for seen, leader, text in zip(COLUMNS.stripes, leaders, texts, strict=True):
        middle = side.along((seen.start_px + seen.end_px) / 2)
        assert leader.points[0][0] == pytest.approx(300 + middle)
        assert leader.points[-1][0] == pytest.approx(text.at[0])


def pivots_of(axis):
    side = side_of(axis)
    marks = margin_marks(axis, side, lay_out(axis, side), YARNS)
    return [(m.text, m.at[0] - 300) for m in marks if isinstance(m, Text) and "/" in m.text]


def test_pivots_are_marked_at_their_stripes_with_the_written_count():
    axis = axis_of(
        "B12 A6 C4 A6 B12",
        SequenceKind.SYMMETRIC,
        members=((0, 4), (1, 3), (2,)),
        written=(Stripe("B", 12), Stripe("A", 6), Stripe("C", 4)),
    )
    middles = [axis.stripes[k].start_px + axis.stripes[k].end_px + 0.5 for k in (0, 2, 4)]
    assert pivots_of(axis) == [
        (text, pytest.approx(at)) for text, at in zip(("/12", "/4", "/12"), middles, strict=True)
    ]


def test_a_pivot_that_the_cloths_edge_halves_turns_there():
    axis = axis_of(
        "B6 A6 C4 A6 B12",
        SequenceKind.SYMMETRIC,
        members=((0, 4), (1, 3), (2,)),
        written=(Stripe("B", 12), Stripe("A", 6), Stripe("C", 4)),
    )
    uncut = replace(axis, stripes=tuple(replace(s, cut=False) for s in axis.stripes))
    (_, edge), *others = pivots_of(uncut)
    assert edge == pytest.approx(2 * axis.stripes[0].start_px + 0.5)
    by_frame = replace(axis, stripes=tuple(replace(s, cut=True) for s in axis.stripes))
    (_, middle), *same = pivots_of(by_frame)
    assert middle == pytest.approx(axis.stripes[0].start_px + axis.stripes[0].end_px + 0.5)
    assert others == same


def test_a_partial_sequence_shows_no_repeat():
    side = side_of(COLUMNS)
    marks = margin_marks(COLUMNS, side, lay_out(COLUMNS, side), YARNS)
    assert not any(isinstance(m, Text) and ("/" in m.text or "repeat" in m.text) for m in marks)


def test_a_repeating_sequence_is_bracketed_from_start_to_start():
    axis = axis_of(
        "A20 B30 A20 B30 A20",
        SequenceKind.REPEATING,
        members=((0, 2, 4), (1, 3)),
        written=(Stripe("A", 20), Stripe("B", 30)),
    )
    side = side_of(axis)
    marks = margin_marks(axis, side, lay_out(axis, side), YARNS)
    told = [m.at[0] - 300 for m in marks if isinstance(m, Text) and m.text == "repeat 50"]
    # 50 threads of 6 px, twice as large; its first pixel reaches from -0.5 to 0.5.
    assert told == [pytest.approx(299.5), pytest.approx(899.5)]


# The misfit


def test_a_right_reading_leaves_little():
    _, flat = cloth_of(COLUMNS, ROWS)
    misfit = misfit_of(flat, read_of(COLUMNS, ROWS))
    assert np.nanmax(misfit.blocks) < 0.03
    assert np.nanmax(misfit.columns) < 0.02


def test_a_stripe_that_was_missed_stands_out_where_it_is():
    _, flat = cloth_of(axis_of("A20 B30 C2 B34 A40 B14"), ROWS)
    misfit = misfit_of(flat, read_of(axis_of("A20 B66 A40 B14"), ROWS))
    worst = int(np.nanargmax(misfit.columns)) / len(misfit.columns) * 140
    assert 49 <= worst <= 52
    assert np.nanmax(misfit.columns) > 10 * np.nanmedian(misfit.columns)
    assert np.nanmax(misfit.rows) < 0.1


def test_an_edge_three_threads_off_stands_out_on_its_own_axis():
    _, flat = cloth_of(COLUMNS, axis_of("B24 A16 C4 A23 B33"))
    misfit = misfit_of(flat, read_of(COLUMNS, ROWS))
    assert 64 <= int(np.nanargmax(misfit.rows)) / len(misfit.rows) * 100 <= 67
    assert np.nanmax(misfit.rows) > 10 * np.nanmedian(misfit.rows)


def test_what_is_masked_is_neither_used_nor_shown():
    photo, flat = cloth_of(COLUMNS, ROWS)
    pixels = flat.pixels.copy()
    pixels[300:420] = 5.0
    mask = flat.mask.copy()
    mask[300:420] = False
    misfit = misfit_of(replace(flat, pixels=pixels, mask=mask), read_of(COLUMNS, ROWS))
    assert np.isnan(misfit.blocks[50:70]).all()
    assert np.nanmax(misfit.blocks) < 0.03


def test_without_contrast_there_is_no_misfit():
    one = axis_of("A40")
    _, flat = cloth_of(one, one)
    even = replace(flat, pixels=np.full_like(flat.pixels, 0.2))
    assert misfit_of(even, read_of(one, one)) is None
    assert misfit_of(flat, read_of(replace(one, bands=(), stripes=()), one)) is None


def test_a_stripe_that_is_none_is_doubted_with_its_neighbours():
    """Something dark lies over rows of white, and was taken for a stripe of it."""
    _, flat = cloth_of(COLUMNS, axis_of("C24 A16 B8 A19 C33"))
    as_read = read_of(COLUMNS, axis_of("C24 A16 C8 A19 C33"))
    read = with_unlike_doubted(as_read, flat)
    assert [d.name for d in read.rows.doubts] == ["unlike-stripe"]
    assert "stripe 3" in read.rows.doubts[0].sentence
    assert [(s.low, s.high) for s in read.rows.stripes[1:4]] == [(16, 24), (1, 8), (19, 27)]
    assert all(s.chance <= 0.5 for s in read.rows.stripes[1:4])
    assert read.rows.stripes[::4] == as_read.rows.stripes[::4]
    assert read.columns == as_read.columns


def test_a_right_reading_is_not_doubted():
    _, flat = cloth_of(COLUMNS, ROWS)
    read = read_of(COLUMNS, ROWS)
    assert with_unlike_doubted(read, flat) == read


# The whole picture


def test_doubt_is_drawn_only_where_there_is_doubt():
    sure = picture_of()
    stripes = list(COLUMNS.stripes)
    stripes[2] = replace(stripes[2], low=5, high=7, chance=0.6)
    unsure = picture_of(replace(COLUMNS, stripes=tuple(stripes)))
    assert pixels_like(sure, DOUBT) == 0
    assert pixels_like(unsure, DOUBT) > 500


def test_cloth_of_the_picture_is_the_flat_cloth():
    """The bare cloth between the lines keeps its colours."""
    picture = picture_of()
    photo, _ = cloth_of(COLUMNS, ROWS)
    for colour in (photo.encoded[10, 200], photo.encoded[500, 40]):
        assert pixels_like(picture, colour.astype(int), 4) > 5000


def test_bands_without_counts_get_bars_and_no_labels():
    bare = replace(COLUMNS, stripes=(), counted_by="nothing")
    side = side_of(bare)
    marks = margin_marks(bare, side, lay_out(bare, side), YARNS)
    assert sum(isinstance(m, Shape) for m in marks) == len(bare.bands)
    assert not any(isinstance(m, Text) for m in marks)
    picture = picture_of(bare)
    assert picture.shape[0] < picture_of().shape[0]


def test_rulers_cards_masks_and_odd_shapes_are_drawn():
    corners = np.array([[50.0, 50], [400, 50], [400, 120], [50, 120]])
    ruler = RulerFound(
        origin_px=corners[0],
        direction=np.array([1.0, 0.0]),
        a=5.0,
        c=0.0,
        length_mm=60,
        tick_mm=1,
        ticks_px=np.array([[60.0 + 5 * k, 55] for k in range(60)]),
        outline_px=corners,
        relative_error=0.01,
        unit="mm",
    )
    card = CardFound(
        mm_to_photo=np.eye(3),
        outline_px=corners + 200,
        relative_error=0.01,
        grey_linear=np.zeros((0, 3)),
        grey_reflectance=np.zeros(0),
    )
    mask = np.ones((600, 840), bool)
    mask[200:300] = False
    plain = picture_of()
    full = picture_of(mask=mask, rulers=(ruler,), card=card, warp_is_columns=False)
    yellow = (255, 214, 10)
    assert pixels_like(full, yellow) > pixels_like(plain, yellow) + 300
    assert pixels_like(full, (96, 96, 100), 1) > 5000
    thin = axis_of("A3")
    assert picture_of(thin, ROWS).ndim == 3
    assert picture_of(COLUMNS, thin).ndim == 3


def test_cloth_beyond_the_last_stripe_is_hatched_as_not_read():
    grey = (96, 96, 100)
    less = replace(ROWS, bands=ROWS.bands[:-1], stripes=ROWS.stripes[:-1])
    photo, flat = cloth_of(COLUMNS, ROWS)
    things = {"rulers": (), "card": None, "warp_is_columns": True}
    data = evidence_png(photo, flat, read_of(COLUMNS, less), **things)
    assert pixels_like(np.asarray(Image.open(io.BytesIO(data))), grey, 1) > 5000
    assert pixels_like(picture_of(), grey, 1) < 500


def test_words_tell_counts_doubts_and_what_had_no_room():
    _, flat = cloth_of(COLUMNS, ROWS)
    read = read_of(COLUMNS, replace(ROWS, stripes=()), doubts=(doubt("ruler-missing"),) * 2)
    words = words_of(flat, read, 7, warp_is_columns=False)
    told = [text for text, is_doubt in words if not is_doubt]
    assert told[0].startswith("Columns (weft): 6 stripes, 140 threads seen")
    assert told[1] == "Rows (warp): 5 stripes seen; their threads could not be counted."
    asked = [text for text, is_doubt in words if is_doubt]
    assert asked[0].startswith("7 counts had no room")
    assert len(asked) == 2
