"""Absurd numbers in every field: refused with a reason, or planned, but never a fault or a wait.

Every field of the project file, and every option that takes a number, gets NaN, infinities, zero,
negative numbers, numbers beyond all looms, and things that are no numbers.
"""

import re
import time

import pytest

from settscan import cli
from settscan.cloth import project_fields as fields
from settscan.cloth.project import new_text, parse_project
from settscan.errors import BadInput, SettscanError
from settscan.photo.given import GivenScale
from settscan.sheets.data import plan_json
from settscan.sheets.text import plan_text, winding_text
from settscan.warping.plan import plan_warp
from settscan.winding.wound import plan_wound
from tests.warping.samples import cloth, wishes

MOST_S = 20.0  # of this process' own time for one plan with a million ends asked for
NUMBERS = ("nan", "inf", "0", "-1", "1e400", "1000000", "99999999999999999999", '"nan"', '"0 in"',
           '"-4 in"', '"1e9 m"', '"99999999 in"', '"99.9999 %"', '"1/0 in"', '"0 g"',
           '"1000000 epi"', "[nan]")  # fmt: skip
TEXT = {"name", "file", "close_up"}
# Not read, since the weft follows the warp there.
UNREAD = {("weft", "partial"), ("weft", "doubts")}
PLACES = [
    (section, key)
    for section, keys in fields.KEYS.items()
    if section != "reading"
    for key in keys
    if (section, key) not in UNREAD
]


@pytest.fixture(scope="module")
def good():
    return new_text(cloth(), wishes())


def with_value(text, section, key, value):
    """The project with one value in place of its own, or added at the head of its section."""
    head = "[yarns.A]" if section == "yarns" else f"[{section}]"
    lines, inside, done = [], False, False
    for line in text.splitlines():
        if line.startswith("["):
            inside = line.strip() == head
            lines.append(line)
            if inside:
                lines.append(f"{key} = {value}")
                done = True
            continue
        if not (inside and line.split("=")[0].strip() == key):
            lines.append(line)
    if not done:
        lines += [head, f"{key} = {value}"]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(("section", "key"), PLACES)
def test_every_field_takes_no_absurd_number_quietly(good, section, key):
    accepted = []
    for value in NUMBERS:
        start = time.process_time()
        try:
            read, wanted, _ = parse_project(with_value(good, section, key, value), "p.toml")
            plan = plan_warp(read, wanted)
            wound = plan_wound(plan)
            told = plan_text(plan) + winding_text(wound) + plan_json(plan, wound)
        except SettscanError as error:
            assert str(error) and "Traceback" not in str(error)
        else:
            accepted.append(value)
            if key not in TEXT:
                assert not re.search(r"\b(nan|inf|infinity)\b", told, re.I)
        assert time.process_time() - start < MOST_S, (section, key, value)
    assert not {"nan", "inf", "[nan]"} & set(accepted), (section, key, accepted)


@pytest.mark.parametrize(
    "sequence", ["A1000000", "500000x(A1 B1)", "A/500000 B/500000", "A999999 B1"]
)
def test_a_million_ends(sequence):
    """They can be written; a plan of them is refused, or done, in bounded time."""
    start = time.process_time()
    with pytest.raises(BadInput, match="more than any loom"):
        plan_warp(cloth(sequence), wishes())
    assert time.process_time() - start < MOST_S
    with pytest.raises(BadInput):
        cloth("A1000001")


OPTIONS = [
    ("new", "x.toml", "--epi", "{}"),
    ("new", "x.toml", "--warp", "A4 B/{}"),
    ("scan", "none.jpg", "-o", "x.toml", "--epi", "{}"),
    ("scan", "none.jpg", "-o", "x.toml", "--scale-x", "0,0 100,0 = {} mm"),
    ("scan", "none.jpg", "-o", "x.toml", "--scale-x", "0,0 {},0 = 10 mm"),
    ("scan", "none.jpg", "-o", "x.toml", "--corners", "0,0 {},0 9,9 0,9"),
    ("resize", "good.toml", "--epi", "{}"),
    ("resize", "good.toml", "--scale", "{}"),
    ("batch", ".", "-o", "out", "--jobs", "{}"),
    ("batch", ".", "-o", "out", "--memory", "{} GB"),
    ("batch", ".", "-o", "out", "--epi", "{}"),
]


@pytest.mark.parametrize("words", OPTIONS, ids=lambda w: f"{w[0]} {w[-2]} {w[-1]}")
def test_options(words, tmp_path, monkeypatch, capsys, good):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "good.toml").write_text(good)
    for value in ("nan", "inf", "-inf", "0", "-1", "1e999", "99999999999999999999", "", "x", "1/0"):
        start = time.process_time()
        code = cli.run([word.format(value) for word in words])
        out, err = capsys.readouterr()
        assert code == 2, (value, out, err)
        assert "Traceback" not in out + err and err.strip()
        assert time.process_time() - start < MOST_S
    assert not (tmp_path / "x.toml").exists() and not (tmp_path / "out").exists()


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -1.0, 0.0])
def test_a_scale_that_is_given(bad):
    with pytest.raises(BadInput):
        GivenScale(x0=0, y0=0, x1=100, y1=0, length_mm=bad)
    if bad != 0 and bad != -1.0:
        with pytest.raises(BadInput):
            GivenScale(x0=0, y0=bad, x1=100, y1=0, length_mm=10)
