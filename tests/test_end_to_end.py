"""The main job as a person does it: the installed program, sample images, files in a folder.

The truth beside each sample image comes from the renderer, which shares no code with the reader.
"""

import configparser
import csv
import io
import json
import tomllib
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image, ImageDraw
from pypdf import PdfReader
from skimage.color import deltaE_ciede2000, rgb2lab

SAMPLES = Path(__file__).parent.parent / "sample_images"


def truth_of(name):
    return json.loads((SAMPLES / f"{name}.truth.json").read_text("utf-8"))


def reading_of(demo):
    return json.loads((demo.folder / "swatch.reading.json").read_text("utf-8"))


def plan_of(folder):
    return json.loads((folder / "plan.json").read_text("utf-8"))


def true_names(reading, truth):
    """Each key of the reading with the name of the true yarn that its colour is nearest to."""
    seen = [[int(y["srgb"][i : i + 2], 16) for i in (1, 3, 5)] for y in reading["yarns"]]
    true = [y["apparent_srgb"] for y in truth["yarns"]]
    lab = [rgb2lab(np.array(rows, float)[None] / 255)[0] for rows in (seen, true)]
    nearest = deltaE_ciede2000(lab[0][:, None], lab[1][None]).argmin(axis=1)
    keys = [y["key"] for y in reading["yarns"]]
    return {key: truth["yarns"][int(k)]["name"] for key, k in zip(keys, nearest, strict=True)}


def written(text, names):
    """(yarn's name, threads) of each stripe of a sequence as the reading writes it."""
    stripes = [word.replace("/", "") for word in text.split()]
    split = [(s.rstrip("0123456789"), s) for s in stripes]
    return [(names[key], int(s[len(key) :])) for key, s in split]


def true_stripes(axis, truth):
    names = {y["key"]: y["name"] for y in truth["yarns"]}
    return [(names[key], threads) for key, threads in axis["sequence"]]


def test_the_demo_ends_well_and_tells_where_to_look(demo_run):
    assert demo_run.code == 0, demo_run.err
    everything = demo_run.out + demo_run.err
    for words in ("Warp:", "Weft:", "ends per inch", "swatch.evidence.png", "swatch.toml"):
        assert words in everything
    assert "sheets.pdf" in everything


def test_pictures_are_pictures(demo_run):
    for name, kind, least in (
        ("swatch.evidence.png", "PNG", 600),
        ("swatch.cloth.jpg", "JPEG", 600),
        ("sheets/preview.png", "PNG", 300),
    ):
        with Image.open(demo_run.folder / name) as picture:
            picture.load()
            assert picture.format == kind
            assert min(picture.size) >= least
            assert np.asarray(picture.convert("L")).std() > 5
    svg = ElementTree.parse(demo_run.folder / "sheets" / "preview.svg").getroot()
    assert svg.tag == "{http://www.w3.org/2000/svg}svg"


def test_the_printed_sheets_name_every_yarn_and_every_bout(demo_run):
    sheets = demo_run.folder / "sheets"
    plan = plan_of(sheets)
    pages = "\n".join(page.extract_text() for page in PdfReader(sheets / "sheets.pdf").pages)
    words = Words()
    words.feed((sheets / "sheets.html").read_text("utf-8"))
    bouts = plan["winding"]["bouts"]
    for text in (" ".join(pages.split()), " ".join(words.text.split())):
        for yarn in plan["yarns"]:
            assert yarn["name"] in text
        for bout in bouts:
            # Bouts that are alike share a sheet, but each chain has a tag of its own.
            assert f"bout {bout['number']} of {len(bouts)}, {bout['ends']} ends" in text
        assert str(plan["warp"]["ends"]) in text


class Words(HTMLParser):
    """The words of a page."""

    def __init__(self):
        super().__init__()
        self.text = ""

    def handle_data(self, data):
        self.text += data


def test_files_for_other_programs_agree_with_the_plan(demo_run):
    sheets = demo_run.folder / "sheets"
    plan = plan_of(sheets)
    draft = configparser.ConfigParser(interpolation=None)
    draft.read_string((sheets / "warp.wif").read_text("utf-8"))
    assert draft["WIF"]["Version"] == "1.1"
    assert draft.getint("WARP", "Threads") == plan["warp"]["ends"]
    ends = list(csv.reader(io.StringIO((sheets / "ends.csv").read_text("utf-8"))))
    assert len(ends) - 1 == plan["warp"]["ends"]


def test_the_project_is_a_file_that_people_edit(demo_run):
    text = (demo_run.folder / "swatch.toml").read_text("utf-8")
    project = tomllib.loads(text)
    reading = reading_of(demo_run)
    assert project["warp"]["sequence"] == reading["warp"]["repeat"]["sequence"]
    assert set(project["yarns"]) == {yarn["key"] for yarn in reading["yarns"]}
    assert text.count("#") > 40


@pytest.mark.parametrize("axis", ["warp", "weft"])
def test_the_swatch_is_read_as_it_was_woven(demo_run, axis):
    reading, truth = reading_of(demo_run), truth_of("close_swatch")
    assert reading["status"] == "read"
    assert len(reading["yarns"]) == len(truth["yarns"])
    names = true_names(reading, truth)
    assert len(set(names.values())) == len(names)
    repeat = reading[axis]["repeat"]
    assert repeat["kind"] == truth[axis]["kind"]
    assert repeat["threads"] == truth[axis]["repeat_threads"]
    expected = true_stripes(truth[axis], truth)
    assert written(repeat["sequence"], names) in (expected, expected[::-1])


@pytest.mark.parametrize(("axis", "density"), [("warp", "epi"), ("weft", "ppi")])
def test_every_whole_stripe_of_the_swatch_is_counted(demo_run, axis, density):
    reading, truth = reading_of(demo_run), truth_of("close_swatch")
    names = true_names(reading, truth)
    letters = {y["key"]: y["name"] for y in truth["yarns"]}
    true = [(letters[s["yarn"]], s["threads"]) for s in truth[axis]["stripes"] if not s["cut"]]
    seen = [(names[s["yarn"]], s["threads"]) for s in reading[axis]["stripes"] if not s["cut"]]
    assert len(seen) >= 10
    # A rim that the straightening leaves out may take a stripe at either end with it.
    runs = [true[i : i + len(seen)] for i in range(len(true) - len(seen) + 1)]
    assert seen in runs
    found = reading[axis][density]
    true_density = truth[axis]["threads_per_mm"] * 25.4
    assert found["low"] <= true_density <= found["high"]
    assert found["high"] - found["low"] < 0.05 * found["value"]


def test_weave_and_scale_of_the_swatch(demo_run):
    reading, truth = reading_of(demo_run), truth_of("close_swatch")
    weave = f"{reading['weave']['name']} {reading['weave']['twill_direction']}"
    assert weave == truth["weave"]
    assert reading["scale"]["source"] == "ruler"


def test_the_plan_adds_up_from_the_true_sequence(demo_run):
    """Worked out here with fractions of nothing but the true sequence and the project's wishes."""
    truth = truth_of("close_swatch")
    plan = plan_of(demo_run.folder / "sheets")
    stripes = true_stripes(truth["warp"], truth)
    one_repeat = stripes + stripes[-2:0:-1]
    size = sum(threads for _, threads in one_repeat)
    ends = plan["warp"]["ends"]
    pivots = {stripes[0], stripes[-1]}
    (pivot,) = (p for p in pivots if (ends - p[1]) % size == 0)
    repeats = (ends - pivot[1]) // size
    expected = {}
    for name, threads in one_repeat:
        expected[name] = expected.get(name, 0) + repeats * threads
    expected[pivot[0]] += pivot[1]
    names = true_names(reading_of(demo_run), truth)
    assert {names[y["key"]]: y["warp_ends"] for y in plan["yarns"]} == expected
    # 54 in is asked for: whole repeats come as near to it as half a repeat.
    wanted = 54 * 25.4 * truth["warp"]["threads_per_mm"]
    assert abs(ends - wanted) <= size / 2 + 0.02 * wanted
    # Losses divide: 72 in at 8 % take-up and 10 % shrinkage, and a yard of waste.
    length = 72 * 25.4 / (0.92 * 0.90) + 36 * 25.4
    picks_error = truth["weft"]["repeat_threads"] / truth["weft"]["threads_per_mm"]
    assert abs(plan["warp"]["warp_length_mm"]["value"] - length) <= picks_error / (0.92 * 0.90)


def test_the_winding_can_be_followed_end_by_end(demo_run):
    plan = plan_of(demo_run.folder / "sheets")
    total = 0
    for bout in plan["winding"]["bouts"]:
        in_bout = 0
        for step in bout["steps"]:
            total, in_bout = total + step["ends"], in_bout + step["ends"]
            assert (step["warp_total"], step["bout_total"]) == (total, in_bout)
            assert step["finishes_at"] == ("far end" if in_bout % 2 else "start end")
        assert in_bout == bout["ends"]
    assert total == plan["warp"]["ends"]


def test_an_edit_of_the_project_reaches_the_plan(settscan, demo_run, tmp_path):
    project = tmp_path / "mine.toml"
    text = (demo_run.folder / "swatch.toml").read_text("utf-8")
    project.write_text(text.replace('width = "54 in"', 'width = "27 in"'), "utf-8")
    before = plan_of(demo_run.folder / "sheets")["warp"]["ends"]
    done = settscan("plan", project, "-o", "mine", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    after = plan_of(tmp_path / "mine")["warp"]["ends"]
    size = truth_of("close_swatch")["warp"]["repeat_threads"]
    assert abs(after - before / 2) <= size
    assert after < before


def test_a_slanted_swatch_with_a_wooden_rule_is_read(settscan, tmp_path):
    """Seen askew, in the light of a window; a repeating sett may begin at any of its stripes."""
    photo, truth = SAMPLES / "tilted_swatch.jpg", truth_of("tilted_swatch")
    done = settscan("scan", photo, "-o", "x.toml", "--json", "x.json", "--quiet", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    reading = json.loads((tmp_path / "x.json").read_text("utf-8"))
    names = true_names(reading, truth)
    assert len(names) == len(set(names.values())) == len(truth["yarns"])
    weave = f"{reading['weave']['name']} {reading['weave']['twill_direction']}"
    assert weave == truth["weave"]
    for axis in ("warp", "weft"):
        stripes = true_stripes(truth[axis], truth)
        turned = [stripes[i:] + stripes[:i] for i in range(len(stripes))]
        assert reading[axis]["repeat"]["kind"] == "repeating"
        assert written(reading[axis]["repeat"]["sequence"], names) in turned


def page_of_text():
    """Lines of print: sharp, regular one way, and no cloth."""
    page = Image.new("RGB", (1200, 900), "white")
    pen = ImageDraw.Draw(page)
    for y in range(20, 880, 18):
        pen.text((30, y), "wind the warp and count it twice " * 5, fill="black")
    return page


def plain_wall():
    """A grey wall with the noise of a camera."""
    grain = np.random.default_rng(5).normal(140, 6, (750, 1000, 3))
    return Image.fromarray(np.clip(grain, 0, 255).astype(np.uint8))


@pytest.mark.parametrize("draw", [page_of_text, plain_wall])
def test_a_picture_of_something_else_is_refused(settscan, tmp_path, draw):
    draw().save(tmp_path / "other.jpg")
    done = settscan("scan", "other.jpg", "-o", "x.toml", "--json", "x.json", cwd=tmp_path)
    assert done.returncode == 1
    reading = json.loads((tmp_path / "x.json").read_text("utf-8"))
    assert reading["status"] == "refused"
    assert reading["advice"]
    assert reading["advice"][0].split(".")[0][:30] in done.stdout + done.stderr
    assert reading["warp"]["stripes"] == reading["weft"]["stripes"] == []
    assert not (tmp_path / "x.toml").exists()


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("broken.jpg", (SAMPLES / "close_swatch.jpg").read_bytes()[:5000]),
        ("words.jpg", b"This is not a picture.\n" * 50),
        ("empty.png", b""),
    ],
)
def test_a_file_that_is_no_picture_gets_one_sentence(settscan, tmp_path, name, content):
    (tmp_path / name).write_bytes(content)
    done = settscan("scan", name, "-o", "x.toml", "--quiet", cwd=tmp_path)
    assert done.returncode == 2
    assert name in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_file_that_is_not_there(settscan, tmp_path):
    done = settscan("scan", "nowhere.jpg", "-o", "x.toml", cwd=tmp_path)
    assert done.returncode == 2
    assert "nowhere.jpg" in done.stderr
    assert list(tmp_path.iterdir()) == []
