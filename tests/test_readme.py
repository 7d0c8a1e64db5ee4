"""The README keeps its word: links lead somewhere, commands exist, the two lines stay two lines."""

import os
import re
import shlex
import subprocess
import tomllib
from pathlib import Path

import pytest

from settscan import cli

TOP = Path(__file__).parent.parent
README = (TOP / "README.md").read_text("utf-8")
JOB = (
    "A handweaver has a cloth that matters - a worn family blanket, a tartan swatch, a sample seen"
    " once and photographed - and wants to weave it again. settscan takes a photo of that cloth"
    " with a ruler in the frame, straightens it, finds the colours, the stripes along warp and"
    " weft and the number of threads in each, says how sure it is, and writes an editable colour"
    " sequence. From that sequence, or from one typed by hand, it works out the ends, the reed and"
    " sley, the warp length with its losses, the yarn to buy, and a winding plan that can be"
    " followed pass by pass at the warping mill, with sheets to print and files to exchange."
)


def blocks():
    return re.findall(r"^```sh\n(.*?)^```", README, re.S | re.M)


def commands():
    """Every settscan command that the README or DEVELOPERS.md shows."""
    shown = re.findall(r"`(settscan [a-z]+[^`]*)`", README)
    shown += re.findall(r"`(settscan [a-z]+[^`]*)`", (TOP / "DEVELOPERS.md").read_text("utf-8"))
    for block in blocks():
        shown += re.findall(r"\.venv/bin/(settscan [^&|\n]+)", block)
    return shown


def test_the_first_paragraph_is_the_job():
    assert README.split("\n\n")[:2] == ["# settscan", JOB]


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "sample_images/README.md"])
def test_relative_links_lead_somewhere(name):
    text = (TOP / name).read_text("utf-8")
    for target in re.findall(r"\]\((?![a-z]+:)([^)#]*)(?:#[^)]*)?\)", text):
        assert (TOP / name).parent.joinpath(target).exists(), target
    for target in re.findall(r"`((?:settscan|tests|sample_images)/[\w./]+)`", text):
        assert (TOP / target).exists(), target


def test_source_files_that_the_docs_name_exist():
    docs = TOP / "settscan" / "docs"
    named = {
        name
        for page in docs.glob("*.md")
        for name in re.findall(r"`((?:photo|reading|cloth)/[\w*]+\.py)`", page.read_text("utf-8"))
    }
    assert len(named) > 10
    for name in named:
        assert list((TOP / "settscan").glob(name)), name


def test_there_are_the_two_commands_each_one_line():
    first, second = blocks()
    assert first.count("\n") == second.count("\n") == 1
    for line in (first, second):
        assert line.startswith("python3 -m venv .venv && .venv/bin/pip install ")
    assert first.rstrip().endswith(".venv/bin/settscan demo")
    assert second.rstrip().endswith(".venv/bin/python -m pytest")


def test_extras_that_are_named_exist():
    extras = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["project"][
        "optional-dependencies"
    ]
    pages = [TOP / "README.md", *(TOP / "settscan" / "docs").glob("*.md")]
    named = {n for page in pages for n in re.findall(r"'\.\[(\w+)\]'", page.read_text("utf-8"))}
    assert named
    assert named <= set(extras)


@pytest.mark.parametrize("line", commands())
def test_commands_and_options_exist(line):
    """Parsed as click would, without running them; an option that does not exist fails."""
    words = shlex.split(line)
    command = cli.command(words[1])
    command.make_context(words[1], words[2:], resilient_parsing=len(words) == 2)
    assert command.get_help(command.make_context(words[1], [], resilient_parsing=True))


def test_enough_commands_are_shown():
    assert {line.split()[1] for line in commands()} >= {"scan", "plan", "new", "card", "demo"}


def test_the_check_runs_the_very_line_of_the_readme():
    """The script's own extraction, run on the README, gives the second block."""
    script = (TOP / ".ci" / "run").read_text("utf-8")
    awk = re.search(r"\$\((awk '.*?' \"\$top/README\.md\")\)", script, re.S)
    done = subprocess.run(
        ["bash", "-c", awk.group(1)],
        env={**os.environ, "top": str(TOP)},
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    assert done.stdout == blocks()[1]


def test_the_readme_says_that_the_sample_images_are_rendered():
    assert "rendered" in README
    assert "rendered" in (TOP / "sample_images" / "README.md").read_text("utf-8")
