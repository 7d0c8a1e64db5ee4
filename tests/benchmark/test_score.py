"""The scorer itself, on hand-made readings: right ones score, and every kind of fault is seen."""

from __future__ import annotations

import copy
import json

import numpy as np
import pytest

from tests.benchmark import cases, match, rows, table
from tests.benchmark.naive import read_naively
from tests.benchmark.score import PhotoScore, ring, same_ring, score
from tests.benchmark.table import Result

COLOURS = {"A": (40, 60, 120), "B": (220, 210, 180), "C": (160, 40, 40)}
WARP = (("A", 9), ("B", 12), ("C", 1), ("B", 6), ("A", 30), ("B", 12), ("C", 1), ("B", 3))
PITCH = 1.25


def stripes(pairs, offset=0.0, stretch=1.0):
    """Stripes in place; the first and the last are cut."""
    at, out = offset, []
    for k, (yarn, n) in enumerate(pairs):
        end = at + n * PITCH * stretch
        out.append({
            "yarn": yarn, "threads": n, "full_threads": n, "cut": k in (0, len(pairs) - 1),
            "start_mm": at, "end_mm": end,
        })  # fmt: skip
        at = end
    return out


@pytest.fixture
def truth():
    axis = {
        "kind": "repeating", "sequence": [["A", 30], ["B", 12], ["C", 1], ["B", 6]],
        "epi": 25.4 / PITCH, "stripes": stripes(WARP, -40.0),
    }  # fmt: skip
    return {
        "yarns": [{"key": k, "apparent_srgb": list(c)} for k, c in COLOURS.items()],
        "weave": "2/2 twill Z", "twill_direction": "Z", "warp_across": False,
        "warp": {**axis, "runs": "down"}, "weft": {**copy.deepcopy(axis), "runs": "across"},
        "rulers": [{"unit": "mm"}], "px_per_mm": {"x": 5.0, "y": 5.0},
    }  # fmt: skip


def a_reading(pairs=WARP, stretch=1.0):
    """A reading that is sure of itself and calls the yarns by other letters."""
    other = {"A": "Z", "B": "X", "C": "Y"}
    read = [
        {**s, "yarn": other[s["yarn"]], "low": s["threads"], "high": s["threads"], "chance": 0.99}
        for s in stripes(pairs, 0.0, stretch)
    ]
    density = {"value": 25.4 / (PITCH * stretch), "low": 20.0, "high": 21.0}
    axis = {
        "stripes": read, "bands": [], "epi": density, "ppi": density,
        "repeat": {"kind": "repeating", "sequence": "Z30 X12 Y1 X6"},
    }  # fmt: skip
    return {
        "status": "read", "scale": {"source": "ruler"},
        "yarns": [{"key": other[k], "srgb": "#{:02x}{:02x}{:02x}".format(*c)}
                  for k, c in COLOURS.items()],
        "weave": {"name": "2/2 twill", "twill_direction": "Z"},
        "warp": axis, "weft": copy.deepcopy(axis),
    }  # fmt: skip


def judged(found: PhotoScore, axis="warp"):
    return [s for s in found.stripes if s.axis == axis]


def test_a_right_reading_is_right_in_everything(truth):
    found = score(a_reading(), truth)
    assert all(s.exact and s.held and s.certain for s in found.stripes)
    assert found.sequence and found.yarns and found.weave and found.repeats == (True, True)
    assert np.allclose(found.density, 0, atol=1e-6)
    assert np.allclose(found.scale, 0, atol=1e-6)
    assert max(found.colours) < 0.5


def test_a_wrong_count_is_seen_where_it_is(truth):
    reading = a_reading()
    reading["warp"]["stripes"][3].update(threads=7, low=6, high=8, chance=0.6)
    found = score(reading, truth)
    wrong = [s for s in found.stripes if not s.exact]
    assert [(s.axis, s.index, s.counted, s.held, s.certain) for s in wrong] == [
        ("warp", 3, 7, True, False)
    ]
    assert not found.sequence


def test_a_wrong_count_stated_as_certain_counts_against_it(truth):
    reading = a_reading()
    reading["weft"]["stripes"][2].update(threads=2, low=2, high=2)
    result = score(reading, truth)
    assert table.certain_wrong([result]) == "8.3 of 12"
    assert table.coverage([result]) == "91.7"
    assert table.coverage_of_doubted([result]) == "- of 0"  # it was wrong and sure of itself
    assert table.lines_found([result]) == "100"


def test_a_line_that_was_missed_and_one_that_was_made_up(truth):
    reading = a_reading()
    kept = reading["warp"]["stripes"]
    reading["warp"]["stripes"] = kept[:2] + kept[3:]
    found = score(reading, truth)
    assert [s.index for s in judged(found) if not s.paired] == [2]
    assert table.lines_found([found]) == "75"
    assert not found.sequence
    reading = a_reading()
    extra = {**kept[4], "yarn": "Y", "threads": 1, "low": 1, "high": 1}
    middle = (kept[4]["start_mm"] + kept[4]["end_mm"]) / 2
    reading["warp"]["stripes"][4] = {**kept[4], "end_mm": middle, "threads": 15}
    rest = {**kept[4], "start_mm": middle + PITCH, "threads": 14}
    extra.update(start_mm=middle, end_mm=middle + PITCH)
    reading["warp"]["stripes"][5:5] = [extra, rest]
    found = score(reading, truth)
    made_up = [s for s in judged(found) if not s.threads]
    assert len(made_up) == 2 and not found.sequence and not found.box


def test_a_wrong_yarn_is_not_exact_though_the_count_is(truth):
    reading = a_reading()
    reading["warp"]["stripes"][1]["yarn"] = "Y"
    found = score(reading, truth)
    assert [(s.index, s.yarn, s.counted) for s in judged(found) if not s.exact] == [(1, False, 12)]


def test_stripes_outside_the_read_box_count_in_the_sequence_only(truth):
    reading = a_reading()
    kept = reading["warp"]["stripes"][2:]
    kept[0]["cut"] = True
    reading["warp"]["stripes"] = kept
    found = score(reading, truth)
    outside = [s.index for s in judged(found) if not s.inside]
    assert outside == [1, 2]
    assert all(s.exact for s in found.stripes if s.inside)
    assert found.box and not found.sequence
    assert table.exact([found], 1, 24) == "100.0"
    assert table.in_box([found]) == "83"


def test_what_shows_in_a_corner_only_is_not_asked_of_the_sequence(truth):
    for s in truth["warp"]["stripes"]:
        s["start_shown_px"] = s["end_shown_px"] = 100.0
    truth["warp"]["stripes"][1]["end_shown_px"] = 20.0
    reading = a_reading()
    reading["warp"]["stripes"] = reading["warp"]["stripes"][1:]
    reading["warp"]["stripes"][0]["cut"] = True
    assert score(reading, truth).sequence


def test_of_two_runs_parted_by_a_ruler_the_longer_is_asked(truth):
    truth["warp"]["stripes"][3]["cut"] = True
    reading = a_reading()
    reading["warp"]["stripes"][2]["threads"] = 2
    assert score(reading, truth).sequence
    reading["warp"]["stripes"][5]["threads"] = 13
    assert not score(reading, truth).sequence


def test_a_wrong_scale_is_measured_and_does_not_hide_the_stripes(truth):
    found = score(a_reading(stretch=1.05), truth)
    assert all(s.exact for s in found.stripes)
    assert np.allclose(np.abs(found.scale), 0.05, atol=0.003)
    assert np.allclose(found.density, 1 / 1.05 - 1, atol=0.003)
    assert table.scale([found]).endswith("(0+2 of 2)")


def test_a_scale_that_was_missed_and_a_refusal(truth):
    reading = a_reading()
    reading["scale"] = {"source": "none"}
    for axis in ("warp", "weft"):
        reading[axis]["epi"] = reading[axis]["ppi"] = None
        for s in reading[axis]["stripes"]:
            s["start_mm"] = s["end_mm"] = None
    found = score(reading, truth)
    assert found.scale == (None, None) and found.density == ()
    assert found.sequence
    for axis in ("warp", "weft"):
        reading[axis]["stripes"] = []
    reading.update(status="refused", yarns=[])
    found = score(reading, truth)
    assert not any(s.exact for s in found.stripes) and all(s.inside for s in found.stripes)
    assert not found.sequence and found.yarns is None


def test_without_a_scale_counts_are_laid_at_the_truths_own_pitch(truth):
    """Half a repeat is nearly like the other, and the pitch wanders: laid too wide, more fits."""
    half = [("A", 18), ("B", 1), ("A", 4), ("B", 1), ("A", 14), ("B", 1), ("A", 4), ("B", 1)]
    shown = [("A", 1), ("B", 1), *half * 4, *half[:4], ("A", 5)]
    reading = a_reading([*shown[2:-1], ("A", 1)])
    reading["scale"] = {"source": "none"}
    for axis in ("warp", "weft"):
        truth[axis].update(stripes=stripes(shown, -40.0), sequence=[list(s) for s in half])
        for s in truth[axis]["stripes"]:
            for end in ("start_mm", "end_mm"):
                s[end] += 3 * np.sin(2 * np.pi * s[end] / 120)
        reading[axis]["epi"] = reading[axis]["ppi"] = None
        for s in reading[axis]["stripes"]:
            s["start_mm"] = s["end_mm"] = None
    found = score(reading, truth)
    assert all(s.exact for s in found.stripes if s.inside)


@pytest.mark.parametrize(("x", "scale"), [(30.0, (None, None)), (98.0, ())])
def test_a_ruler_that_lies_beyond_the_frame_is_not_missed(truth, x, scale):
    feet = [[x, float(y)] for y in range(10, 40)]
    outline = [[x, 0.0], [x, 50.0], [x + 30, 50.0], [x + 30, 0.0]]
    ruler = {"ticks_seen": [True] * 30, "ticks_px": feet, "outline_px": outline}
    truth.update(rulers=[ruler], size_px=[100, 60])
    reading = a_reading()
    reading["scale"] = {"source": "none"}
    assert score(reading, truth).scale == scale


def test_wrong_weave_yarn_number_and_repeat(truth):
    reading = a_reading()
    reading["weave"]["twill_direction"] = "S"
    reading["yarns"].append({"key": "W", "srgb": "#123456"})
    reading["warp"]["repeat"]["sequence"] = "Z30 X12 Y1 X5"
    reading["weft"]["repeat"] = {"kind": "partial", "sequence": ""}
    found = score(reading, truth)
    assert found.weave is False and found.yarns is False
    assert found.repeats == (False, False)


def test_rings_are_the_same_from_any_stripe_on():
    symmetric = ring("symmetric", [("A", 4), ("B", 2), ("C", 6)])
    assert symmetric == (("A", 4), ("B", 2), ("C", 6), ("B", 2))
    assert same_ring(symmetric, (("C", 6), ("B", 2), ("A", 4), ("B", 2)))
    assert ring("repeating", [("A", 4), ("B", 2)] * 2) == (("A", 4), ("B", 2))
    one, other = (
        ring("repeating", [("A", 1), ("B", 2), ("C", 3)]),
        ring("repeating", [("C", 3), ("B", 2), ("A", 1)]),
    )  # noqa: E501
    assert not same_ring(one, other)
    assert same_ring(one, other, turned=True)


def test_stripes_pair_in_order_though_a_drape_moved_them():
    edges = np.cumsum([0, 5, 5, 5, 5, 5, 5, 5, 5, 5.0])
    yarns = np.array([0, 1, 0, 1, 0, 1, 0, 1, 0])
    bent = edges + 1.2 * np.sin(edges / 15)
    at = match.Placed(0.0, 1.0, 1.0)
    pairs = match.pair_stripes((bent, yarns), (edges, yarns), at, {0: 0, 1: 1})
    assert pairs == [(k, k) for k in range(9)]


def test_the_baseline_counts_blocks_of_plain_colour(tmp_path):
    from PIL import Image

    warp = np.repeat([0, 1, 0, 1], [60, 90, 30, 60])
    picture = np.array([(200, 30, 30), (30, 30, 200)], np.uint8)[warp][None].repeat(240, axis=0)
    Image.fromarray(picture).save(tmp_path / "a.png")
    sides = {"epi": 25.4, "px_per_thread": 6.0}
    listed = [{"yarn": "AB"[k % 2], "threads": n, "full_threads": n, "cut": k in (0, 3),
               "start_mm": float(a), "end_mm": float(a + n)}
              for k, (a, n) in enumerate([(0, 10), (10, 15), (25, 5), (30, 10)])]  # fmt: skip
    truth = {"yarns": [], "warp": {**sides, "runs": "down", "stripes": listed},
             "weft": {**sides, "runs": "across", "stripes": listed}}  # fmt: skip
    case = cases.Case(row="r", name="n", photo=tmp_path / "a.png", truth=truth)
    read = read_naively(case)
    assert [s["threads"] for s in read["warp"]["stripes"]] == [10, 15, 5, 10]
    assert len(read["weft"]["stripes"]) == 1


def test_hand_made_truth_files(tmp_path):
    form = {
        "px_per_mm": 10,
        "warp": {"stripes": "A6 B4 A8", "epi": 25.4},
        "weft": {"ppi": 20, "stripes": [
            {"yarn": "A", "threads": 3, "cut": True, "start_px": 0, "end_px": 40},
            {"yarn": "B", "threads": 5, "start_px": 40, "end_px": 110},
        ]},
    }  # fmt: skip
    (tmp_path / "mine.jpg").write_bytes(b"")
    with pytest.raises(ValueError, match="holds no photo"):
        cases.folder(tmp_path)
    (tmp_path / "mine.truth.json").write_text(json.dumps(form), encoding="utf-8")
    (case,) = cases.folder(tmp_path)
    warp, weft = case.truth["warp"], case.truth["weft"]
    assert [(s["threads"], s["cut"], s["end_mm"]) for s in warp["stripes"]] == [
        (6, True, 6.0), (4, False, 10.0), (8, True, 18.0),
    ]  # fmt: skip
    assert [(s["start_mm"], s["end_mm"]) for s in weft["stripes"]] == [(0.0, 4.0), (4.0, 11.0)]
    assert weft["placed_by"] == "px" and weft["epi"] == 20
    (tmp_path / "mine.truth.json").write_text('{"warp": {}}', encoding="utf-8")
    with pytest.raises(ValueError, match="no truth file"):
        cases.folder(tmp_path)


def test_scenes_depend_on_seed_row_and_number_only():
    row = rows.ROWS[0]
    assert rows.draw(row, 1, 2) == rows.draw(row, 1, 2)
    assert rows.draw(row, 1, 2) != rows.draw(row, 2, 2)
    assert rows.draw(row, 1, 2) != rows.draw(row, 1, 3)
    assert rows.draw(row, 1, 2) != rows.draw(rows.ROWS[1], 1, 2)
    with pytest.raises(ValueError, match="No row"):
        rows.chosen(["7 px"])
    assert {r.group for r in rows.chosen(["weave"])} == {"weave"}


def test_the_table_adds_up(truth):
    good = score(a_reading(), truth)
    bad = PhotoScore(status="failed", stripes=tuple(good.stripes))
    text = table.tables([Result(row="a", name="1", score=good, naive=bad)] * 2)
    first, second = text.split("\n\n")
    assert first.splitlines()[2].startswith("| a   |      2 |        100.0 |")
    assert "0.00 / 0.0" in second
