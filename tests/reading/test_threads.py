"""Threads in one cycle of the weave, and threads counted by their own ripple."""

from dataclasses import replace

import numpy as np
import pytest

from settscan.reading.carriers import Advance, find_carriers, spectrum
from settscan.reading.lattices import _by_weave
from settscan.reading.multiples import Multiple, choose_multiple, other_sides
from settscan.reading.stripes import Bands
from settscan.reading.threads import (
    Lattice,
    by_own_ripple,
    by_ripple_alone,
    ripple_course,
    ripple_signal,
)
from tests.reading.woven import edges_of, threads_of, woven

LIGHT = {"A": (0.05, 0.08, 0.25), "B": (0.5, 0.4, 0.25), "C": (0.3, 0.05, 0.06)}
TEXT = "A12 B5 A12 C6 A7 B5 A12 C6 A12"
THREADS = len(threads_of(TEXT))


def drawn(weave, px, noise=0.02):
    keys = threads_of(TEXT)
    return woven(keys, keys, weave, px, light=LIGHT, noise=noise, round_=0.6)


def bands(profile, px):
    """The true bands with their mean levels."""
    edges = edges_of(TEXT, px)
    edges[-1] = len(profile) - 0.5
    cuts = np.round(edges + 0.5).astype(int)
    levels = [profile[a:b].mean(axis=0) for a, b in zip(cuts[:-1], cuts[1:], strict=True)]
    return Bands(
        edges=edges,
        levels=np.array(levels),
        edge_errors=np.zeros(len(edges)),
        blur=0.5,
        cell=px,
        spread=np.ones(3),
    )


def course(length, px, cycle):
    """The true course of a wave with `cycle` threads in a cycle."""
    at = np.linspace(0, length - 1, 30)
    return Advance(at=at, cycles=(at + 0.5) / (px * cycle), coherence=np.ones(29))


def rippling(px, threads, bounds=None):
    """The ripple along x of a cloth of one colour."""
    picture = woven(
        ["A"] * threads, ["A"] * 24, "plain", px, light=LIGHT, bounds=bounds, noise=0.01, round_=0.6
    )
    profile = picture.mean(axis=0, dtype=float)
    one = Bands(
        edges=np.array([-0.5, len(profile) - 0.5]),
        levels=profile.mean(axis=0)[None],
        edge_errors=np.zeros(2),
        blur=0.5,
        cell=px,
        spread=np.ones(3),
    )
    return ripple_signal(profile, one, px)


CYCLES = {"plain": (2, False), "2/2 twill Z": (4, True), "2/1 twill S": (3, True)}


@pytest.mark.parametrize(
    ("weave", "px"),
    [
        *((weave, px) for px in (3.7, 5.3) for weave in ("2/2 twill Z", "2/1 twill S", "hopsack")),
        ("3/1 twill Z", 3.7),
        ("plain", 3.7),
        ("plain", 5.3),
        ("plain", 7.4),
    ],
)
def test_the_threads_of_a_cycle_are_told(weave, px):
    cycle, one_diagonal = CYCLES.get(weave, (4, weave != "hopsack"))
    picture = drawn(weave, px)
    ripples, courses, edges = [], [], []
    for axis in (0, 1):
        profile = picture.mean(axis=axis, dtype=float)
        known = bands(profile, px)
        ripples.append(ripple_signal(profile, known, px))
        courses.append(course(len(profile), px, cycle))
        edges.append(known.edges)
    found = choose_multiple(tuple(courses), tuple(ripples), tuple(edges), one_diagonal)
    assert found.threads == cycle
    assert found.chance > 0.5
    assert found.other != cycle
    assert min(found.ripple) > 3


@pytest.mark.parametrize(
    ("weave", "threads"),
    [("2/1 twill S", 3), ("1/2 twill Z", 3), ("2/2 twill Z", 4), ("3/1 twill Z", 4), ("plain", 2)],
)
def test_the_other_side_of_the_weaves_wave_tells_its_threads(weave, threads):
    """Ends of one yarn, picks of another: no edge and no ripple says anything."""
    px = 5.3
    picture = woven(["A"] * 120, ["B"] * 120, weave, px, light=LIGHT, noise=0.03, round_=0.3)
    shown = np.ones(picture.shape[:2], bool)
    waves = find_carriers(spectrum((picture[..., 1],), shown))
    assert waves[0].fx == pytest.approx(1 / px / threads, rel=0.03)
    told = other_sides(waves)
    # The next but one of two threads is the next of four: the diagonals tell these apart.
    alike = {3} if threads == 3 else {2, 4}
    assert {n for n, strength in told.items() if strength > 0} == alike
    if threads == 2:
        return
    # Where threads ripple too finely to show and edges are misled, it decides.
    length = len(picture)
    one, none = course(length, px, threads), np.zeros(length)
    misled = edges_of("A9 B14 C7 A11 B5 A8 C13 B6 A10", px * threads / (7 - threads))
    args = ((one, one), (none, none), (misled, np.array([-0.5, length - 0.5])), True)
    assert choose_multiple(*args).threads != threads
    assert choose_multiple(*args, beside=told).threads == threads


def test_edges_alone_tell_a_pitch_that_cannot_be():
    """Two pixels per thread: no ripple can show, yet edges lie between threads of 4, not of 3."""
    px, cycle = 2.0, 4
    length = int(px * THREADS)
    none = np.zeros(length)
    edges = edges_of(TEXT, px)
    one = course(length, px, cycle)
    found = choose_multiple((one, one), (none, none), (edges, edges), True)
    assert found.threads == 4


def test_each_edge_between_the_two_of_a_pair_speaks_for_a_hopsack():
    """Two pixels a thread: its pairs ripple alone, and of many stripes half are of odd counts."""
    px, cycle, text = 2.0, 4, "A11 B14 C19 A23 B8 A8 C65 A9 B12 A7 C10 B13"
    chances = []
    for times in (1, 3):
        edges = edges_of(" ".join([text] * times), px)
        edges = edges + np.random.default_rng(1).normal(0, 0.15, len(edges))
        length = int(edges[-1])
        _, ripple = pairs(0.8, px=px)
        ripple = np.resize(ripple, length)
        one = course(length, px, cycle)
        found = choose_multiple((one, one), (ripple, ripple), (edges, edges), False)
        chances.append(found.chance if found.threads == cycle else 1 - found.chance)
    assert chances[0] < 0.7
    assert chances[1] > 0.9


def pairs(strength, seed=1, px=6.0):
    """The course of a plain weave of 12 px a thread, or a hopsack of 6, and a ripple at 12 px.

    Of single threads in between there is no trace. `strength` is over the noise.
    """
    x = np.arange(1200)
    noise = np.random.default_rng(seed).standard_normal(len(x))
    ripple = strength * np.cos(2 * np.pi * (x + 0.5) / (2 * px)) + noise
    return course(len(x), px, 4), ripple


@pytest.mark.parametrize(("strength", "sure"), [(1.5, True), (0.3, False)])
def test_what_nap_may_hide_does_not_tell_a_plain_weave_from_a_hopsack(strength, sure):
    """Where the ripple of wide threads is faint, that of threads half as wide would be lost."""
    (one, first), (_, second) = pairs(strength), pairs(strength, seed=2)
    none = np.array([-0.5, 1199.5])
    found = choose_multiple((one, one), (first, second), (none, none), False)
    assert (found.threads, found.other) == (2, 4)
    assert found.chance > 0.97 if sure else found.chance < 0.9


def test_a_ripple_that_one_axis_has_lost_makes_no_pairs_of_single_threads():
    """Four pixels a thread, or pairs of two: in stripes of the weft's yarn the ends do not show."""
    (one, plain), (_, lost) = pairs(1.5, px=2.0), pairs(0.0, seed=2, px=2.0)
    none = np.array([-0.5, 1199.5])
    found = choose_multiple((one, one), (lost, plain), (none, none), False)
    assert (found.threads, found.other) == (2, 4)
    assert 0.7 < found.chance < 0.95


def test_the_overtone_of_sharp_threads_does_not_double_them():
    """The weft's course slips; its own ripple is seen at twice the pace of its threads alone."""
    px = 6.0
    sharp = rippling(px / 2, 320)
    even = course(len(sharp), px, 4)
    turns = np.cumsum(0.44 * (np.arange(len(even.at)) % 15 == 5))
    slipped = replace(even, cycles=even.cycles + turns)
    found = Multiple(threads=4, chance=0.88, other=8, ripple=(400.0, 1.0))
    lattices = _by_weave(
        (even, slipped),
        (rippling(px, 160), sharp),
        (200, 200),
        found,
        one_diagonal=True,
        cycle=None,
    )
    for lattice in lattices:
        assert lattice.mean_pitch == pytest.approx(px, rel=0.01)
    # Where no threads show on either axis at half of it, that pace is all there is to go by.
    unseen = replace(found, ripple=(1.0, 1.0))
    _, weft = _by_weave(
        (even, slipped), (rippling(px, 160), sharp), (200, 200), unseen, True, cycle=None
    )
    assert weft.mean_pitch == pytest.approx(px / 2, rel=0.01)


def test_a_given_density_decides_where_the_picture_leaves_it_open():
    px = 2.0
    length = int(px * THREADS)
    none, edges = np.zeros(length), np.array([-0.5, length - 0.5])
    one = course(length, px, 4)
    for pitch, threads in ((2.0, 4), (4.0, 2)):
        found = choose_multiple(
            (one, one), (none, none), (edges, edges), False, expected=(pitch, pitch)
        )
        assert found.threads == threads


@pytest.mark.parametrize("px", [3.4, 5.0, 8.3])
@pytest.mark.parametrize("wander", [0.0, 0.06])
def test_threads_are_counted_by_their_ripple_alone(px, wander):
    """A cloth of one colour, whose spacing swings by a share of itself."""
    threads = 160
    k = np.arange(threads + 1)
    bounds = -0.5 + px * (k + wander * 30 / (2 * np.pi) * np.sin(2 * np.pi * k / 30))
    found = ripple_course(rippling(px, threads, bounds), 200)
    assert found is not None
    at = bounds[8:-8]
    off = found.between(at) - k[8:-8]
    assert np.ptp(off) < 0.35
    assert Lattice(course=found, multiple=1, found_by="ripple").mean_pitch == pytest.approx(
        px, rel=0.02
    )


@pytest.mark.parametrize("seed", range(10))
def test_noise_has_no_ripple(seed):
    rng = np.random.default_rng(seed)
    assert ripple_course(rng.standard_normal(1000), 500) is None


def test_too_short_a_profile_is_not_counted():
    wave = np.cos(2 * np.pi * np.arange(1000) / 5)
    assert ripple_course(wave, 500) is not None
    assert ripple_course(wave[:60], 500) is None
    assert ripple_course(wave, 10) is None


def test_a_lattice_counts_threads():
    found = Lattice(course=course(400, 5.0, 4), multiple=4, found_by="weave")
    assert found.mean_pitch == pytest.approx(5.0)
    edges = np.array([-0.5, 99.5, 399.5])
    assert np.diff(found.threads(edges)) == pytest.approx([20, 60])
    told = Advance(
        at=np.arange(0.0, 50, 10), cycles=np.arange(5.0), coherence=np.array([0.9, 0.2, 0.8, 0.7])
    )
    weak = Lattice(course=told, multiple=2, found_by="weave")
    assert weak.coherence_between(np.array([0.0, 22.0, 45.0])) == pytest.approx([0.2, 0.7])


def test_the_ripple_is_silent_at_edges():
    px = 5.0
    profile = drawn("plain", px).mean(axis=0, dtype=float)
    known = bands(profile, px)
    ripple = ripple_signal(profile, known, px)
    near = np.abs(np.arange(len(profile))[:, None] - known.edges[None, 1:-1]).min(axis=1) < 3
    assert not ripple[near].any()
    assert ripple[~near].std() > 0.02


@pytest.mark.parametrize("slips", [0.0, 0.4, -0.6])
def test_a_weave_that_slips_gives_way_to_the_ripple_of_its_threads(slips):
    """As at the points of a herringbone: half a cycle is lost or gained between two of them."""
    px, threads = 6.0, 160
    ripple = rippling(px, threads)
    even = course(len(ripple), px, 4)
    turns = np.cumsum(slips * (np.arange(len(even.at)) % 10 == 5))
    found = by_own_ripple(replace(even, cycles=even.cycles + turns), ripple, 200)
    if not slips:
        assert found is None
        return
    own, multiple = found
    assert multiple == 4
    assert own.between(np.array([60.0, 660.0])) @ [-1, 1] == pytest.approx(100, abs=0.2)


def test_ends_are_counted_by_their_ripple_where_bowed_picks_pass_for_an_advance():
    """In a twill of one yarn across no edge tells how its picks bow: here by half a cycle."""
    px, threads = 6.0, 160
    ripple = rippling(px, threads)
    even = course(len(ripple), px, 4)
    bow = 0.25 * np.sin(2 * np.pi * even.at / even.at[-1])
    lost = np.cumsum(0.4 * (np.arange(len(even.at)) % 10 == 5))
    bowed = replace(even, cycles=even.cycles + bow - lost)
    found = by_ripple_alone(bowed, ripple, 200, [4])
    assert found is not None
    own, multiple = found
    assert multiple == 4
    assert own.between(np.array([60.0, 260.0, 460.0])) @ [-1, 2, -1] == pytest.approx(0, abs=0.1)
    assert own.between(np.array([60.0, 660.0])) @ [-1, 1] == pytest.approx(100, abs=0.2)


def test_a_faint_ripple_is_as_clear_as_a_bold_one_where_nothing_else_shows():
    """A dark yarn between two light ones; and a part in which there is none."""
    px, threads = 6.0, 160
    ripple = rippling(px, threads)
    bold = ripple.copy()
    third = len(ripple) // 3
    ripple[third : 2 * third] *= 0.15
    found = by_ripple_alone(course(len(ripple), px, 4), ripple, 200, [4])
    assert found is not None
    assert np.median(found[0].coherence) > 0.9
    assert (found[0].coherence > 0.6).mean() > 0.9
    noise = np.random.default_rng(5).standard_normal(third)
    bold[third : 2 * third] = bold.std() * noise
    found = by_ripple_alone(course(len(bold), px, 4), bold, 200, [4])
    assert found is not None
    inside = (found[0].at > third + 50) & (found[0].at < 2 * third - 50)
    assert np.median(found[0].coherence[inside]) < 0.6
