"""The docs and the program say the same: names, commands, options, fields, and the examples."""

import inspect
import json
import re
import shlex
import tomllib
from pathlib import Path

import click
import pytest

from settscan import cli, errors
from settscan.cloth import project_fields as fields
from settscan.cloth.project import parse_project
from settscan.doubts import known_names
from settscan.sheets.data import plan_json
from settscan.warping.plan import plan_warp
from settscan.winding.plan import plan_winding
from settscan.winding.wound import plan_wound

DOCS = Path(cli.__file__).parent / "docs"


def page(name):
    return (DOCS / f"{name}.md").read_text(encoding="utf-8")


def rows(text):
    """The cells of all rows of all tables."""
    lines = [line for line in text.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines]


def named(text):
    """All that stands in the first cells of the tables, between backticks."""
    return {name for cells in rows(text) for name in re.findall(r"`([^`]+)`", cells[0])}


def test_every_doubt_has_a_row_and_no_row_is_stale():
    section = page("errors").split("## Doubts")[1]
    assert named(section) == set(known_names())
    assert all(len(cells) == 3 and all(cells) for cells in rows(section))


def test_every_error_has_a_row_with_its_exit_code():
    section = page("errors").split("## Doubts")[0].split("Some that people meet")[0]
    classes = dict(inspect.getmembers(errors, inspect.isclass))
    assert named(section) == set(classes)
    codes = {cells[0].strip("`"): cells[2] for cells in rows(section) if "`" in cells[0]}
    assert codes == {name: str(kind.exit_code) for name, kind in classes.items()}


def test_every_field_of_the_plan_as_json_is_described():
    def keys(value):
        if isinstance(value, dict):
            by_yarn = value.keys() <= {"A", "B", "C", "D"}
            return (set() if by_yarn else set(value)).union(*map(keys, value.values()))
        return set().union(*map(keys, value)) if isinstance(value, list) else set()

    blocks = re.findall(r"```toml\n(.*?)```", page("project-file"), re.DOTALL)
    found = set()
    for text in (blocks[1], blocks[1].replace('kind = "mill"', 'kind = "sectional beam"')):
        cloth, wishes, _ = parse_project(text, "full.toml")
        plan = plan_warp(cloth, wishes)
        found |= keys(json.loads(plan_json(plan, plan_wound(plan))))
    told = set(re.findall(r"`([^`]+)`", page("plan")))
    assert found - told == set()


def test_every_command_and_option_is_described():
    text = page("commands")
    for name in cli.COMMANDS:
        command = cli.command(name)
        assert f"## settscan {name}\n" in text
        section = text.split(f"## settscan {name}\n")[1].split("\n## ")[0]
        options = {
            option
            for parameter in command.params
            if isinstance(parameter, click.Option)
            for option in (*parameter.opts, *parameter.secondary_opts)
        }
        told = set(re.findall(r"`(-[-a-z]+)", section + text.split("\n## ")[0]))
        assert options <= told
        assert f"`settscan {name}`" in text


def test_no_option_is_described_that_does_not_exist():
    options = {
        option
        for command in map(cli.command, cli.COMMANDS)
        for parameter in command.params
        for option in parameter.opts
        if option.startswith("-")
    } | {"--help", "-h", "--version"}
    for path in DOCS.glob("*.md"):
        text = path.read_text(encoding="utf-8")
        for line in re.findall(r"settscan (?:scan|plan|new|card|demo)[^\n`]*", text):
            assert set(re.findall(r"(?<=\s)--?[a-z][-a-z]*", line)) <= options, (path.name, line)


@pytest.mark.parametrize("name", ["commands", "project-file"])
def test_every_example_line_parses(name):
    examples = re.findall(r"^    (settscan .+)$|`(settscan [a-z]+ [^`]+)`", page(name), re.M)
    for indented, inline in examples:
        words = shlex.split(indented or inline)
        cli.command(words[1]).make_context(words[1], words[2:])
    assert examples or name != "commands"


def test_every_field_of_the_project_file_is_described_and_no_other():
    told = named(page("project-file"))
    told |= set(re.findall(r"`([a-z_]+)`", page("project-file")))
    everything = {key for keys in fields.KEYS.values() for key in keys} | set(fields.TOP_KEYS)
    assert everything <= told | set(fields.KEYS)
    sections = page("project-file").split("## All fields")[1].split("## Doubts")[0]
    known = everything | {"true"}
    assert {name for name in named(sections) if re.fullmatch(r"[a-z_0-9]+", name)} <= known


def test_the_examples_of_the_project_file_parse_and_can_be_planned():
    examples = re.findall(r"```toml\n(.*?)```", page("project-file"), re.S)
    whole = [text for text in examples if "[piece]" in text]
    assert len(whole) == 2 and len(examples) == 3
    for text in whole:
        cloth, wishes, photo = parse_project(text)
        assert photo is None
        assert plan_winding(plan_warp(cloth, wishes)).passes > 0
    yarns = "".join(f'[yarns.{key}]\ncolour = "#102030"\n' for key in "ABC")
    (doubted,) = set(examples) - set(whole)
    tomllib.loads(doubted)
    cloth, _, _ = parse_project(yarns + doubted + "[weft]\nlike_warp = true\n")
    assert cloth.warp.doubts[0].low == 7


def test_the_sequences_in_the_docs_mean_what_the_docs_say():
    from settscan.cloth.notation import parse_sequence

    assert parse_sequence("A24 B4 C2").threads == 30
    assert parse_sequence("A/24 B4 A8 C/2").threads == 50
    groups = [parse_sequence(text) for text in ("A24 3x(B4 C4)", "A24 (B4 C4)x3")]
    assert groups == [parse_sequence("A24 B4 C4 B4 C4 B4 C4")] * 2


def test_links_between_the_pages_lead_somewhere():
    for path in DOCS.glob("*.md"):
        for target in re.findall(r"\]\((?!https?:)([^)#]*)(?:#[^)]*)?\)", path.read_text("utf-8")):
            assert target == "" or (path.parent / target).exists(), (path.name, target)
