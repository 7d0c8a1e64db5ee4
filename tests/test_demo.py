"""The main job, done once as a person does it on a new machine: `settscan demo`."""

import json

import pytest

from settscan import cli
from settscan.cloth.project import read_project
from settscan.measured import Origin


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The folder that a demo leaves, its exit code, and what it said."""
    import contextlib
    import io

    folder = tmp_path_factory.mktemp("demo") / "out"
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        code = cli.run(["demo", "-o", str(folder)])
    return folder, code, said.getvalue()


def test_everything_lands_in_the_folder(demo):
    folder, code, said = demo
    assert code == 0, said
    assert {path.name for path in folder.iterdir()} == {
        "sheets",
        "swatch.toml",
        "swatch.reading.json",
        "swatch.evidence.png",
        "swatch.cloth.jpg",
    }
    sheets = {path.name for path in (folder / "sheets").iterdir()}
    assert {"sheets.pdf", "sheets.html", "warp.wif", "ends.csv", "plan.json"} <= sheets
    assert (folder / "swatch.evidence.png").read_bytes().startswith(b"\x89PNG")
    assert (folder / "sheets" / "sheets.pdf").read_bytes().startswith(b"%PDF")


def test_the_terminal_tells_what_was_found_and_where_to_look(demo):
    folder, _, said = demo
    for words in ("Warp:", "Weft:", "swatch.evidence.png", "sheets.pdf", "Bouts, left to right"):
        assert words in said
    assert "settscan plan" not in said


def test_project_reading_and_plan_tell_the_same(demo):
    folder, _, _ = demo
    project = read_project(folder / "swatch.toml")
    reading = json.loads((folder / "swatch.reading.json").read_text("utf-8"))
    plan = json.loads((folder / "sheets" / "plan.json").read_text("utf-8"))
    assert reading["status"] in ("read", "partly read")
    assert project.cloth.warp.origin is Origin.READ
    assert project.photo.sha256 == reading["photo"]["sha256"]
    epi = float(project.cloth.warp.density.value) * 25.4
    assert reading["warp"]["epi"]["low"] <= epi <= reading["warp"]["epi"]["high"]
    used = {stripe.yarn for stripe in project.cloth.warp.sequence.stripes}
    assert used <= {yarn.key for yarn in project.cloth.yarns}
    rows = (folder / "sheets" / "ends.csv").read_text("utf-8").splitlines()
    assert plan["warp"]["ends"] == len(rows) - 1
