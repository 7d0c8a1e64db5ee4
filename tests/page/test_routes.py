"""What the page asks and sends: state, form, plan, files, winding, events."""

import json
import re
import tomllib
from io import BytesIO

import pytest

from settscan.sheets.wif_reading import read_wif
from settscan.warping.plan import plan_warp
from tests.page.conftest import SAMPLES


def state(client):
    return client.get("/p/blanket/state").json()


def field(client, section, key, value):
    body = {
        "revision": state(client)["revision"],
        "section": section,
        "key": key,
        "value": value,
    }
    return client.post("/p/blanket/field", json=body)


def test_the_state_tells_counts_totals_repeat_and_doubts(client):
    warp = state(client)["warp"]
    assert warp["sequence"] == "A/22 B6 C14 B4 C/4"
    # Out and back: twice the sum less both pivots.
    assert warp["repeat"] == 2 * (22 + 6 + 14 + 4 + 4) - 22 - 4
    assert warp["totals"] == {"A": 22, "B": 20, "C": 32}
    assert warp["pivots"] == [0, 4]
    assert warp["look"][0] == 3
    assert warp["lines"][3]["doubt"] == {"low": 3, "high": 4, "chance": 61, "note": ""}


def test_doubts_come_before_narrow_lines(client):
    revision = state(client)["revision"]
    edit = {"name": "count", "side": "warp", "line": 4, "threads": 1}
    client.post("/p/blanket/edit", json={"revision": revision, "edit": edit})
    revision += 1
    edit = {"name": "certain", "side": "warp", "line": 4, "certain": False}
    client.post("/p/blanket/edit", json={"revision": revision, "edit": edit})
    assert state(client)["warp"]["look"] == [3, 4]


def test_an_edit_on_an_old_state_is_a_conflict(client):
    body = {"revision": state(client)["revision"], "edit": {"name": "swap"}}
    assert client.post("/p/blanket/edit", json=body).status_code == 200
    answer = client.post("/p/blanket/edit", json=body)
    assert answer.status_code == 409
    assert "changed elsewhere" in answer.json()["message"]
    assert client.post("/p/blanket/edit", json={"edit": {"name": "swap"}}).status_code == 400


@pytest.mark.parametrize(
    ("section", "key", "typed", "written"),
    [
        ("piece", "width", "1.4 m", "1.4 m"),
        ("piece", "pieces", "2", 2),
        ("piece", "exact_width", True, True),
        ("piece", "border", "A12 B4", "A12 B4"),
        ("piece", "border", "2x(A12 B4)", "2x(A12 B4)"),
        ("piece", "border", "", ""),
        ("losses", "draw_in", "6 %, 4 to 9", "6 %, 4 to 9"),
        ("loom", "reeds", "10 dpi, 48/10cm", ["10 dpi", "48/10cm"]),
        ("frame", "kind", "board", "board"),
        ("frame", "seconds_per_pass", "7.5", 7.5),
        ("yarns.A", "size", "2/8 worsted", "2/8 worsted"),
        ("yarns.B", "price", "6.50", 6.5),
    ],
)
def test_what_is_typed_stands_in_the_file(client, folder, section, key, typed, written):
    assert field(client, section, key, typed).status_code == 200
    data = tomllib.loads((folder / "blanket.toml").read_text())
    for part in section.split("."):
        data = data[part]
    assert data[key] == written


def test_remarks_speak_of_the_form_and_not_of_the_file(client):
    asked = client.get("/p/blanket/form").json()
    about = {one["key"]: one["about"] for part in asked["sections"] for one in part["fields"]}
    assert about["selvedge_yarn"] == "its key; empty for that of the edge"
    assert about["exact_width"] == "cut the pattern at both edges; else whole repeats"
    assert "false" not in " ".join(about.values()) and '"' not in " ".join(about.values())


def test_an_empty_field_takes_the_usual_again(client, folder):
    field(client, "frame", "bout_ends", "60")
    assert field(client, "frame", "bout_ends", "").status_code == 200
    assert "bout_ends" not in tomllib.loads((folder / "blanket.toml").read_text())["frame"]


@pytest.mark.parametrize(
    ("section", "key", "typed", "told"),
    [
        ("piece", "pieces", "2", "Number of pieces: 2"),
        ("piece", "width", "1.4 m", "Width: 1.4 m"),
        ("yarns.A", "size", "2/8 worsted", "Yarn A, size: 2/8 worsted"),
        ("frame", "bout_ends", "", "Most ends in a bout: empty"),
    ],
)
def test_a_change_is_told_in_the_names_on_the_page(client, section, key, typed, told):
    assert field(client, section, key, typed).json()["told"] == told


def test_width_and_repeats_exclude_each_other(client, folder):
    field(client, "piece", "warp_repeats", "3")
    piece = tomllib.loads((folder / "blanket.toml").read_text())["piece"]
    assert piece["warp_repeats"] == 3 and "width" not in piece


@pytest.mark.parametrize(
    ("section", "key", "typed", "told"),
    [
        ("piece", "width", "54", "unit"),
        ("piece", "width", "-3 in", ""),
        ("piece", "pieces", "two", "whole number"),
        ("piece", "border", "A12 Q4", "There is no yarn Q. Write one of A, B, C"),
        ("piece", "selvedge_yarn", "Q", "There is no yarn Q."),
        ("piece", "nonsense", "1", "no field"),
        ("toml", "width", "1", "no field"),
        ("losses", "draw_in", "140 %", ""),
        ("yarns.Q", "size", "2/8 worsted", "no such yarn"),
        ("cloth", "epi", "many", ""),
        ("cloth", "weave", "lace of spiders", "No draft"),
        ("loom", "reeds", "ten", ""),
    ],
)
def test_what_cannot_be_understood_is_told_and_not_saved(client, folder, section, key, typed, told):
    before = (folder / "blanket.toml").read_text()
    answer = field(client, section, key, typed)
    assert answer.status_code == 400
    message = f"{answer.json()['message']} {answer.json()['advice']}"
    assert told in message and len(message) > 11
    assert "blanket.toml" not in message and " line " not in message
    assert (folder / "blanket.toml").read_text() == before


def test_the_plan_answers_at_once_with_its_derivation(client):
    plan = client.get("/p/blanket/plan").json()
    figures = {one["label"]: one for one in plan["figures"]}
    assert {"Ends", "Warp length", "Width in the reed", "Reed", "Bouts"} <= set(figures)
    assert all(one["steps"] for one in plan["figures"] if one["label"] != "Time to wind")
    ends = figures["Ends"]
    assert any(ends["value"] in text for _, text in ends["steps"])
    field(client, "piece", "width", "27 in")
    half = {one["label"]: one for one in client.get("/p/blanket/plan").json()["figures"]}
    assert int(half["Ends"]["value"]) < int(ends["value"])


def test_a_plan_that_cannot_be_made_is_a_sentence(client):
    field(client, "loom", "weaving_width", "1 in")
    plan = client.get("/p/blanket/plan").json()
    assert plan["problem"] or any("wide" in warning for warning in plan["warnings"])


def test_every_file_can_be_downloaded(client, folder):
    from settscan.cloth.project_read import parse_project

    for name, begins in (
        ("sheets.pdf", b"%PDF"), ("sheets.html", b"<!doctype html"), ("preview.png", b"\x89PNG"),
        ("preview.svg", b"<svg"), ("stripes.csv", b""), ("ends.csv", b""), ("picks.csv", b""),
    ):  # fmt: skip
        answer = client.get(f"/p/blanket/files?file={name}&paper=Letter")
        assert answer.status_code == 200
        assert answer.content.lower().startswith(begins.lower())
        assert "attachment" in answer.headers["content-disposition"]
    assert json.loads(client.get("/p/blanket/files?file=plan.json").content)
    project = client.get("/p/blanket/files?file=project").content
    assert project == (folder / "blanket.toml").read_bytes()
    cloth, wishes, _ = parse_project(project.decode())
    wif = client.get("/p/blanket/files?file=warp.wif").text
    ends = re.search(r"\[WARP\][^\[]*?Threads=(\d+)", wif)[1]
    assert int(ends) == plan_warp(cloth, wishes).ends
    assert read_wif(wif, name="x").warp.sequence == cloth.warp.sequence
    assert client.get("/p/blanket/files?file=../blanket.toml").status_code == 400


def test_words_are_american_where_they_are_wanted_and_names_stay(client):
    client.get("/look", params={"words": "us", "size": "150", "tone": "strong"})
    text = client.get("/p/blanket").text
    assert "Colors" in text and "Colour" not in text
    assert 'lang="en-US"' in text and "size-150" in text and "tone-strong" in text
    heads = client.get("/p/blanket/plan").json()["yarnHead"]
    assert heads[0] == "Color"
    revision = state(client)["revision"]
    edit = {"name": "rename-yarn", "yarn": "A", "text": "grey colour"}
    found = client.post("/p/blanket/edit", json={"revision": revision, "edit": edit}).json()
    assert found["yarns"][0]["name"] == "grey colour"
    sheets = client.get("/p/blanket/files?file=sheets.html").text
    assert "Color" in sheets and "grey colour" in sheets
    client.get("/look", params={"words": "gb"})
    sheets = client.get("/p/blanket/files?file=sheets.html").text
    assert "Colour" in sheets and "grey colour" in sheets


def test_tiles_make_up_the_picture(client):
    from PIL import Image

    sizes = client.get("/p/blanket/photo").json()["photo"]
    with Image.open(SAMPLES / "plain_check.jpg") as image:
        assert (sizes["width"], sizes["height"]) == image.size
    wide = 0
    for column in range(-(-sizes["width"] // sizes["tile"])):
        answer = client.get(f"/p/blanket/tile?which=photo&level=0&column={column}&row=0")
        with Image.open(BytesIO(answer.content)) as tile:
            wide += tile.width
    assert wide == sizes["width"]
    for query in ("level=99&column=0&row=0", "level=0&column=999&row=0", "level=x&column=0&row=0"):
        assert client.get(f"/p/blanket/tile?which=photo&{query}").status_code == 400


def test_a_colour_is_the_mean_of_the_cloth_in_linear_light(client, folder):
    """Half black, half white mix to sRGB 188, not 128 (IEC 61966-2-1)."""
    import numpy as np
    from PIL import Image

    threads = np.zeros((200, 2000, 3), np.uint8)
    threads[:, ::2] = 255
    Image.fromarray(threads).save(folder / "blanket.png")
    (folder / "blanket.png").replace(folder / "blanket.cloth.jpg")
    found = client.post("/p/blanket/colour", json={"x": 0.5, "y": 0.5}).json()["colour"]
    red = int(found[1:3], 16)
    assert 170 < red < 200
    assert client.post("/p/blanket/colour", json={"x": 7, "y": 0.5}).status_code == 400


def test_the_winding_goes_on_and_is_told_to_others(client):
    cards = client.get("/p/blanket/cards").json()
    assert cards["place"]["done"] == 0
    place = client.post("/p/blanket/go", json={"seen": 0, "to": 1}).json()
    assert place["done"] == 1
    assert client.post("/p/blanket/go", json={"seen": 0, "to": 1}).status_code == 400
    assert client.get("/p/blanket/cards").json()["place"]["done"] == 1
    assert client.post("/p/blanket/go", json={"again": True}).json()["done"] == 0
    for body in ({}, {"seen": "0", "to": 1}, {"seen": 0, "to": True}):
        assert client.post("/p/blanket/go", json=body).status_code == 400


def test_the_stream_tells_the_revision_and_then_what_changes():
    import asyncio

    from settscan.page.events import watched

    news = [{"revision": 1}, {"revision": 1}, {"revision": 2}]

    async def listen():
        stream = watched(lambda: news.pop(0) if len(news) > 1 else news[0], "gb")
        return [await anext(stream), await anext(stream)]

    first, second = asyncio.run(listen())
    assert json.loads(first.removeprefix("data: ")) == {"revision": 1}
    assert json.loads(second.removeprefix("data: ")) == {"revision": 2}


def test_a_name_that_is_taken_is_not_proposed(client, folder):
    assert 'name="name" value="blanket-2"' in client.get("/").text
    (folder / "blanket.toml").unlink()
    assert 'name="name" value="blanket"' in client.get("/").text


def test_a_cloth_is_begun_from_counts_on_paper(client, folder):
    body = {"name": "Aunt's shawl", "warp": "A/24 B4 C/2", "epi": "48/10cm", "units": "metric"}
    name = client.post("/new", json=body).json()["file"]
    text = (folder / f"{name}.toml").read_text()
    assert 'sequence = "A/24 B4 C/2"' in text and 'units = "metric"' in text
    assert client.get(f"/p/{name}").status_code == 200
    again = client.post("/new", json=body)  # under another name it would be lost among others
    assert again.status_code == 400 and "exists already" in again.json()["message"]
    body["name"] = "Uncle's shawl"
    answer = client.post("/new", json={"warp": "A24 ?"})
    assert answer.status_code == 400 and "colour sequence" in answer.json()["message"]
    for emptied in ("warp", "epi"):  # nobody's counts are made up
        answer = client.post("/new", json={**body, emptied: " "})
        assert answer.status_code == 400 and "not given" in answer.json()["message"]


def test_what_is_not_there_is_told_on_a_page(client):
    answer = client.get("/p/none", headers={"accept": "text/html"})
    assert answer.status_code == 400
    assert "no project" in answer.text and "<h1>" in answer.text


@pytest.mark.parametrize(
    "body",
    [
        {"photos": []}, {"photos": ["none.jpg"]}, {"photos": "blanket.jpg"}, {"photos": [1]},
        {"photos": ["blanket.jpg", "blanket.jpg"]},
        {"photos": ["blanket.jpg"], "corners": [[0, 0], [1, 0], [0, 1], [1, 1]]},
        {"photos": ["blanket.jpg"], "corners": [[0, 0]]},
        {"photos": ["blanket.jpg"], "corners": [[0, 0], [1, 0], [1, 1], [0, None]]},
        {"photos": ["blanket.jpg"], "measures": [{"x0": 1, "y0": 1, "x1": 1, "y1": 1,
                                                 "length": "1 in"}]},
        {"photos": ["blanket.jpg"], "measures": [{"x0": 1, "y0": 1, "x1": 9, "y1": 1}]},
        {"photos": ["blanket.jpg"], "measures": [1, 2, 3]},
        {"photos": ["blanket.jpg"], "epi": "lots"},
        {"photos": ["blanket.jpg"], "weave": "playn"},
        {"photos": ["blanket.jpg"], "warpRuns": "sideways"},
    ],
)  # fmt: skip
def test_a_reading_that_cannot_begin_is_a_sentence(client, body):
    answer = client.post("/read", json=body)
    assert answer.status_code == 400
    assert answer.json()["message"].endswith(".")
