"""The main job, done once as a person does it on a new machine: `settscan demo`."""

import json
from pathlib import Path

import pytest

from settscan.cloth.project import read_project
from settscan.measured import Origin


@pytest.fixture(scope="module")
def demo(demo_run):
    """The folder that a demo leaves, its exit code, and what it said."""
    return demo_run.folder, demo_run.code, demo_run.out + demo_run.err


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


def test_the_readme_names_every_file_of_the_folder(demo):
    told = (Path(__file__).parent.parent / "README.md").read_text("utf-8")
    for path in demo[0].iterdir():
        assert f"`{path.name}" in told, path.name


def test_the_terminal_tells_what_was_found_and_where_to_look(demo):
    _, _, said = demo
    for words in ("Warp:", "Weft:", "swatch.evidence.png", "Warp length", "Yarn to buy"):
        assert words in said


def test_it_ends_with_where_to_look_in_the_order_of_looking(demo_run):
    last = demo_run.err.splitlines()[-3:]
    for line, name in zip(last, ("swatch.evidence.png", "swatch.toml", "sheets.pdf"), strict=True):
        assert name in line
    assert len(demo_run.out.splitlines()) < 60  # about a screen


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
