"""The weave's name and its direction, from drawdowns that are drawn."""

import numpy as np
import pytest

from settscan.reading.carriers import Advance
from settscan.reading.model import WeaveRead
from settscan.reading.read import read_cloth
from settscan.reading.threads import Lattice, Signals
from settscan.reading.weave import as_told, fold, recognise, threads_of_cycle
from tests.reading.woven import drawdown, flat, threads_of, woven

PX = 4.0
SIZE = 60  # threads each way


def lattice(size, *, px=PX, offset=0.0, found_by="weave"):
    """The lattice of evenly laid threads: one cycle for each repeat of the weave."""
    length = SIZE * px
    at = np.array([0.0, length / 2, length - 1])
    cycles = (at + 0.5) / px / size + offset
    return Lattice(
        course=Advance(at=at, cycles=cycles, coherence=np.ones(2)),
        multiple=size,
        found_by=found_by,
    )


def signals(weave, *, noise=0.5, seed=0):
    """The weave contrast: high where the column thread is on top, low where the row thread is."""
    drawing = drawdown(weave)
    x = (np.arange(int(SIZE * PX)) / PX).astype(int)
    picture = np.where(drawing[np.ix_(x % len(drawing), x % len(drawing))], 1.0, 0.0)
    picture = picture - picture.mean()
    picture += noise * np.random.default_rng(seed).standard_normal(picture.shape)
    picture = picture.astype(np.float32)
    return Signals(contrast=picture, shading=picture, mask=np.ones(picture.shape, bool))


def named(weave, size=None, share=None, **changes):
    size = size or len(drawdown(weave))
    share = drawdown(weave).mean() if share is None else share
    return recognise(signals(weave, **changes), lattice(size), lattice(size), share)


TWILLS = ("2/2", "2/1", "1/2", "3/1", "1/3", "3/2", "2/3", "3/3", "4/4")


@pytest.mark.parametrize("ratio", TWILLS)
@pytest.mark.parametrize("direction", ["Z", "S"])
def test_twills_are_named_with_their_direction(ratio, direction):
    found = named(f"{ratio} twill {direction}")
    assert (found.name, found.twill_direction) == (f"{ratio} twill", direction)
    assert found.confidence > 0.3


@pytest.mark.parametrize("weave", ["plain", "hopsack"])
def test_weaves_without_a_direction(weave):
    found = named(weave)
    assert (found.name, found.twill_direction) == (weave, None)
    assert found.confidence > 0.5


def test_a_line_that_rises_to_the_right_is_z():
    """By looking at the picture: its bright line goes up as it goes right."""
    picture = signals("2/2 twill Z", noise=0.0).contrast
    start = int(np.argmax(picture[40, 40:56] > 0)) + 40
    # Four threads to the right and four rows up the same line is met again, and so half way.
    for step in (4, 8, 12, 16):
        assert (picture[40 - step, start + step] > 0) == (picture[40, start] > 0)
    below = [picture[40 + s, start + s] > 0 for s in (4, 8)]
    assert below != [True, True]
    assert named("2/2 twill Z").twill_direction == "Z"


def test_mirrored_pictures_change_hands():
    kept = signals("3/1 twill Z", noise=0.0)
    for mirrored, direction in (
        (kept.contrast[:, ::-1], "S"),
        (kept.contrast[::-1], "S"),
        (kept.contrast[::-1, ::-1], "Z"),
    ):
        turned = Signals(contrast=mirrored, shading=mirrored, mask=kept.mask)
        found = recognise(turned, lattice(4), lattice(4), 0.75)
        assert (found.name, found.twill_direction) == ("3/1 twill", direction)


def test_the_fold_is_the_drawdown():
    for weave in ("plain", "2/1 twill S", "2/2 twill Z", "hopsack"):
        drawing = drawdown(weave).astype(float)
        size = len(drawing)
        picture, _ = fold(signals(weave, noise=0.3), lattice(size), lattice(size), size)
        normal = (drawing - drawing.mean()) / drawing.std()
        shifts = [np.roll(normal, (a, b), (0, 1)) for a in range(size) for b in range(size)]
        assert max(float((picture * s).mean()) for s in shifts) > 0.97


@pytest.mark.parametrize("offset", [0.03, 0.11, 0.2])
def test_where_the_threads_begin_need_not_be_known(offset):
    kept = signals("2/2 twill S")
    found = recognise(kept, lattice(4, offset=offset), lattice(4, offset=-offset), 0.5)
    assert (found.name, found.twill_direction) == ("2/2 twill", "S")


@pytest.mark.parametrize("seed", range(5))
def test_noise_is_no_weave(seed):
    kept = signals("plain")
    noise = np.random.default_rng(seed).standard_normal(kept.mask.shape).astype(np.float32)
    found = recognise(
        Signals(contrast=noise, shading=noise, mask=kept.mask), lattice(4), lattice(4), 0.5
    )
    # Sixteen numbers of pure chance may look like something, but nobody may be sure of it.
    assert found.name == "unknown" or found.confidence < 0.6


def test_without_the_weaves_own_wave_nothing_is_named():
    kept = signals("plain")
    for columns, rows in ((None, lattice(2)), (lattice(2), None)):
        assert recognise(kept, columns, rows, 0.5).name == "unknown"
    alone = lattice(1, found_by="ripple")
    assert recognise(kept, alone, alone, 0.5).name == "unknown"


def test_half_the_light_tells_a_weave_from_its_back():
    """2/1 and 1/2 twill are each other's negative; the fold is signed, so that they differ."""
    assert named("2/1 twill Z").name == "2/1 twill"
    assert named("1/2 twill Z").name == "1/2 twill"


@pytest.mark.parametrize(
    ("told", "cycle"),
    [
        ("plain", 2),
        ("2/1 twill", 3),
        ("1/3 twill", 4),
        ("2/2 hopsack", 4),
        ("2/2 herringbone 12", 4),
        ("unknown", None),
        ("liftplan 1-2, 3-4 on 1-2-3-4", None),
        (None, None),
    ],
)
def test_threads_in_a_cycle_of_a_weave_that_is_named(told, cycle):
    assert threads_of_cycle(told) == cycle


def test_what_is_named_stays_and_what_is_seen_besides_is_added():
    seen = WeaveRead(name="2/2 twill", confidence=0.4, twill_direction="S")
    assert as_told(seen, "3/1 twill") == WeaveRead(
        name="3/1 twill", confidence=1.0, twill_direction="S"
    )
    assert as_told(seen, "2/2 hopsack") == WeaveRead(name="hopsack", confidence=1.0)
    turning = WeaveRead(name="herringbone 12", confidence=0.6)
    assert as_told(turning, "2/2 herringbone").name == "herringbone 12"
    assert as_told(seen, "unknown") == seen


LIGHT = {"A": (0.45, 0.40, 0.30), "B": (0.06, 0.09, 0.25), "C": (0.30, 0.06, 0.05)}


@pytest.mark.parametrize(("weave", "other"), [("plain", "hopsack"), ("hopsack", "plain")])
def test_the_named_weave_decides_between_threads_and_pairs(weave, other):
    """At two pixels a thread a hopsack looks like a plain weave of half as many threads."""
    text = "A24 B12 A16 C8 B20 A12 C24 B8 A24 B12 A16 C8 B20"
    keys = threads_of(text)
    picture = woven(keys, keys, weave, 2.0 if weave == "hopsack" else 4.0, light=LIGHT, noise=0.01)
    counts = [int(word[1:]) for word in text.split()][1:-1]
    read = read_cloth(flat(picture), weave={"hopsack": "2/2 hopsack"}.get(weave, weave))
    assert [s.threads for s in read.columns.stripes[1:-1]] == counts
    assert all(s.low == s.high for s in read.columns.stripes[1:-1])
    assert (read.weave.name, read.weave.confidence) == (weave, 1.0)
    assert not {d.name for d in read.doubts} & {"pairs", "weave-disputed", "weave-unknown"}
    wrong = read_cloth(flat(picture), weave={"hopsack": "2/2 hopsack"}.get(other, other))
    half_or_twice = 2 if other == "hopsack" else 0.5
    assert [s.threads for s in wrong.columns.stripes[1:-1]] == [n * half_or_twice for n in counts]


def test_a_named_weave_of_other_diagonals_is_followed_and_doubted():
    keys = threads_of("A24 B12 A16 C8 B20 A12 C24 B8 A24 B12 A16 C8 B20")
    picture = woven(keys, keys, "2/2 twill Z", 5.0, light=LIGHT, noise=0.01)
    read = read_cloth(flat(picture), weave="2/2 hopsack")
    assert "weave-disputed" in {d.name for d in read.doubts}
    assert [s.threads for s in read.columns.stripes[1:-1]] == [
        12,
        16,
        8,
        20,
        12,
        24,
        8,
        24,
        12,
        16,
        8,
    ]
