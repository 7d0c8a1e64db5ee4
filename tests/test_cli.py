"""The commands as a person types them: files, sentences, exit codes.

The reader itself is replaced where a test is about files; tests of the whole job are elsewhere.
"""

import dataclasses
import json
import os
import re
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

import settscan.scan
from settscan import cli
from settscan.cloth.model import Cloth, ThreadSet, Yarn
from settscan.cloth.notation import format_sequence, parse_sequence
from settscan.cloth.project import PhotoRecord, read_project
from settscan.commands.given import parse_corners, parse_pinned, parse_scale
from settscan.errors import BadInput, Refusal
from settscan.measured import Measured, Origin
from settscan.photo.draw import jpeg, png
from settscan.scan import ScanResult

COMMANDS = ("page", "scan", "plan", "new", "resize", "batch", "card", "demo")
INCH = Fraction(254, 10)


@pytest.fixture
def run(capsys, tmp_path, monkeypatch):
    """Runs a command line in an empty folder: (exit code, output, errors)."""
    monkeypatch.chdir(tmp_path)

    def go(*arguments):
        code = cli.run([str(one) for one in arguments])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return code, out, err

    return go


def a_cloth(epi=24.0, origin=Origin.READ):
    density = Measured(epi / 25.4, epi / 25.5, epi / 25.3, origin)
    threads = ThreadSet(
        sequence=parse_sequence("A/24 B4 A8 C/2"), density=density, origin=Origin.READ
    )
    yarns = (("A", "navy", "#1b2654"), ("B", "red", "#aa2222"), ("C", "cream", "#eeeecc"))
    return Cloth(
        name="blanket",
        yarns=tuple(Yarn(key=k, name=n, colour=c) for k, n, c in yarns),
        warp=threads,
        weft=threads,
        weave="2/2 twill",
        twill_direction="Z",
    )


@pytest.fixture
def reader(monkeypatch):
    """Replaces the reader; notes what it was asked."""
    asked = []

    def scan_photos(paths, options, progress):
        asked.append((tuple(paths), options))
        progress("Looking for the ruler ...")
        cloth = a_cloth()
        if options.epi is not None:
            pinned = Measured.exact(options.epi, Origin.PINNED)
            cloth = dataclasses.replace(cloth, warp=dataclasses.replace(cloth.warp, density=pinned))
        if options.weave is not None:
            cloth = dataclasses.replace(cloth, weave=options.weave, weave_told=True)
        return dataclasses.replace(reader.result, cloth=reader.result.cloth and cloth)

    def reader():
        return asked

    record = PhotoRecord(file="blanket.jpg", sha256="00" * 32)
    reader.result = ScanResult(
        status="read",
        reading_json={
            "format": "settscan reading",
            "version": 1,
            "status": "read",
            "warp": {"stripes": [{"yarn": "A", "threads": 24}, {"yarn": "B", "threads": 4}]},
            "weft": {"stripes": [{"yarn": "A", "threads": 12}]},
        },
        photo_record=record,
        cloth=a_cloth(),
        evidence_png=b"\x89PNG evidence",
        rectified_jpeg=b"\xff\xd8\xff cloth",
        lines=("warp A/24 B4 A8 C/2",),
    )
    reader.asked = asked
    monkeypatch.setattr(settscan.scan, "scan_photos", scan_photos, raising=False)
    return reader


def test_help_lists_the_commands_in_the_order_of_the_work(run):
    code, out, _ = run("--help")
    assert code == 0
    places = [out.index(f"\n  {name} ") for name in COMMANDS]
    assert places == sorted(places)
    assert not any(line.endswith("...") for line in out[places[0] :].splitlines())


@pytest.mark.parametrize("name", COMMANDS)
def test_each_help_has_an_example_that_parses(run, name):
    code, out, _ = run(name, "--help")
    assert code == 0
    assert "--quiet" in out and "--verbose" in out
    examples = [line.strip() for line in out.splitlines() if line.startswith("  settscan ")]
    examples += [line.strip() for line in out.splitlines() if line.startswith("    settscan ")]
    assert examples
    command = cli.command(name)
    import shlex

    for example in examples:
        words = shlex.split(example)
        assert words[:2] == ["settscan", name]
        command.make_context(name, words[2:], resilient_parsing=False)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["plan", "none.toml"], "no such file"),
        (["plan", "."], "is a folder"),
        (["scna"], "No such command"),
        (["plan"], "FILE.toml is missing. See settscan plan --help."),
        (["plan", "a.toml", "--paper", "A3"], "--paper cannot be 'A3'. Give A4 or Letter."),
        (["plan", "a.toml", "-q", "-v"], "exclude each other"),
        (["scan"], "PHOTO [CLOSE-UP] is missing."),
        (["batch", "photos"], "--out FOLDER is missing."),
        (["plan", "a.toml", "--papre", "A4"], "There is no option --papre. Did you mean --paper?"),
        (["plan", "a.toml", "--paper"], "'--paper' requires an argument."),
        (["page", "--port", "abc"], "--port cannot be 'abc'. Give a whole number, 0 to 65535."),
        (["resize", "a.toml", "--choice", "0"], "Give a whole number, 1 or more."),
        (["scan", "a.jpg", "--warp-runs", "up"], "cannot be 'up'. Give down or across."),
        (["scan", "a.jpg", "b.jpg", "c.jpg"], "close-up"),
        (["scan", "a.jpg", "a.jpg"], "same file"),
        (["scan", "a.jpg", "-o", "a.txt"], "ending in .toml"),
        (["scan", "a.jpg", "--epi", "many"], "--epi"),
        (["scan", "a.jpg", "--ppi", "-3"], "negative"),
        (["scan", "a.jpg", "--weave", "playn"], 'Did you mean "plain"?'),
        (["scan", "a.jpg", "--scale-x", "1,2 3,4"], "120,800"),
        (["scan", "a.jpg", "--corners", "1,2 3,4"], "four points"),
        (["scan", "a.jpg", "--update"], "There is no a.toml"),
        (["card", "-o", "card.png"], "card.pdf"),
        (["new", "x.txt"], "x.toml"),
        (["new", "x.toml", "--warp", "A24 B0"], "place 5"),
        (["new", "none/x.toml"], "no such file or folder"),
        (["card", "-o", "none/x.pdf"], "no such file or folder"),
        (["scan", "a.jpg", "-o", "none/x.toml"], "There is no folder none."),
    ],
)
def test_bad_input_is_a_sentence_and_exit_code_2(run, arguments, words):
    code, out, err = run(*arguments)
    assert code == 2
    assert words in err
    assert err.startswith("settscan: ") and err.count("\n") == 1
    assert out == ""
    assert not Path("none").exists()


def test_a_scan_without_a_scale_says_what_to_count_before_the_plan(
    run, tmp_path, reader, monkeypatch
):
    known = a_cloth()
    unknown = dataclasses.replace(known.warp, density=None)
    weft = dataclasses.replace(unknown, sequence=parse_sequence("A/12 B/4"))
    bare = dataclasses.replace(known, warp=unknown, weft=weft)
    monkeypatch.setattr(sys.modules[__name__], "a_cloth", lambda: bare)
    (tmp_path / "blanket.jpg").write_bytes(b"a photo")
    told = " ".join(run("scan", "blanket.jpg")[2].split())
    assert "count the ends and the picks in one inch" in told
    assert 'as epi = "24 epi" and ppi = "24 ppi"' in told
    # with one of them known already only the other is asked for, and with both none
    path = tmp_path / "blanket.toml"
    for key, wanted in (("epi", "count the picks in one inch"), ("ppi", "Next: settscan plan")):
        text = path.read_text("utf-8").replace(f'{key} = "unknown"', f'{key} = "24 {key}"')
        path.write_text(text, "utf-8")
        told = " ".join(run("scan", "blanket.jpg", "--update")[2].split())
        assert wanted in told


def test_a_weft_that_is_only_taken_to_be_as_dense_as_the_warp_is_still_asked_for(
    run, tmp_path, reader, monkeypatch
):
    known = a_cloth(origin=Origin.PINNED)
    bare = dataclasses.replace(known, weft=dataclasses.replace(known.weft, density=None))
    monkeypatch.setattr(sys.modules[__name__], "a_cloth", lambda: bare)
    (tmp_path / "blanket.jpg").write_bytes(b"a photo")
    told = " ".join(run("scan", "blanket.jpg")[2].split())
    assert read_project(tmp_path / "blanket.toml").cloth.weft.density.origin is Origin.ASSUMED
    assert "Next: count the picks in one inch of the cloth and write them into" in told


def test_new_says_what_is_only_an_example(run):
    def told(*args):
        return " ".join(run("new", *args)[2].split())

    first = told("a.toml")
    assert "examples are the colour sequence, the density of 24 ends per inch, the weave" in first
    second = told("b.toml", "--warp", "A24 B4")
    assert "examples are the density" in second and "sequence" not in second
    # The letters are the weaver's, but nobody said that A is navy.
    third = told("c.toml", "--warp", "A24 B4", "--epi", "30", "--weave", "plain")
    assert "Only examples are the names and colours of the yarns in it" in third
    run("plan", "c.toml", "-o", "sheets")
    assert told("d.toml", "--wif", "sheets/warp.wif") == ""


@pytest.mark.parametrize("density", ["--epi", "--ppi"])
def test_a_density_that_hardly_anybody_means_is_doubted_at_once(run, density):
    code, _, err = run("new", "a.toml", "--warp", "A24 B4", "--epi", "24", density, "500")
    assert code == 0 and " ".join(err.split()).startswith(f"! 500 {density[2:]} is closer than")
    code, _, err = run("resize", "a.toml", density, "400")
    assert code == 0 and f"! 400 {density[2:]} is closer than" in err
    code, _, err = run("batch", ".", "-o", "out", density, "500")
    assert f"! 500 {density[2:]} is closer than" in err


def test_a_doubted_density_is_doubted_before_the_choices_that_come_of_it(run, monkeypatch):
    run("new", "a.toml", "--warp", "A24 B4", "--epi", "24")
    monkeypatch.setattr(sys, "stderr", sys.stdout)  # both, in the order of the terminal
    code, told, _ = run("resize", "a.toml", "--epi", "400")
    assert code == 0
    assert told.index("! 400 epi is closer than") < told.index("Choice 1")


@pytest.mark.parametrize("density", ["--epi", "--ppi"])
@pytest.mark.parametrize("command", ["new a.toml", "scan a.jpg", "batch . -o out"])
def test_a_density_that_no_yarn_can_have_is_refused(run, command, density):
    code, _, err = run(*command.split(), density, "2000")
    assert code == 2
    assert err.startswith(
        f"settscan: {density}: The density '2000 {density[2:]}' is absurdly large"
    )
    assert len(err.splitlines()) == 1 and "48/10cm" in err


def test_new_then_plan_then_sheets(run, tmp_path):
    code, out, _ = run("new", "b.toml", "--warp", "A/24 B4 A8 C/2", "--epi", "24")
    assert code == 0 and "b.toml" in out
    code, out, err = run("plan", "b.toml")
    assert code == 0
    # 54 in at 24 epi holds 25 whole repeats of 50 and the pivot that closes them.
    assert "1274" in out
    assert "-o FOLDER" in err
    code, out, err = run("plan", "b.toml", "-o", "out", "-q")
    assert code == 0 and err == ""
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"sheets.pdf", "sheets.html", "warp.wif", "plan.json", "ends.csv"} <= names
    assert json.loads((tmp_path / "out" / "plan.json").read_text())["warp"]["ends"] == 1274
    # Once more over the earlier sheets, the same again.
    before = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    assert run("plan", "b.toml", "-o", "out")[0] == 0
    assert {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()} == before


def test_a_draft_becomes_a_project(run, tmp_path):
    run("new", "b.toml", "--warp", "A/24 B4 A8 C/2", "--weft", "A6 B6", "--epi", "24")
    run("plan", "b.toml", "-o", "out")
    code, _, err = run("new", "c.toml", "--wif", "out/warp.wif")
    assert code == 0, err
    first, second = read_project(tmp_path / "b.toml").cloth, read_project(tmp_path / "c.toml").cloth
    assert second.weave == first.weave
    assert {yarn.colour for yarn in second.yarns} == {yarn.colour for yarn in first.yarns}
    assert second.warp.sequence.threads_per_yarn() == {"A": 40, "B": 8, "C": 2}
    assert sorted(second.weft.sequence.threads_per_yarn().values()) == [6, 6]
    code, _, err = run("new", "d.toml", "--wif", "out/warp.wif", "--epi", "20")
    assert code == 2 and "--wif" in err
    code, _, err = run("new", "d.toml", "--wif", "out/ends.csv")
    assert code == 2 and "WIF" in err


def test_a_folder_with_other_things_stays_as_it_is(run, tmp_path):
    run("new", "b.toml")
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "sheets.pdf").write_text("mine")
    code, _, err = run("plan", "b.toml", "-o", "photos")
    assert code == 2 and "holds other files" in err
    assert (tmp_path / "photos" / "sheets.pdf").read_text() == "mine"
    assert run("plan", "b.toml", "-o", "b.toml")[0] == 2
    (tmp_path / "photos" / "plan.json").write_text('{"format": "another"}')
    assert run("plan", "b.toml", "-o", "photos")[0] == 2


def test_a_project_is_never_replaced_by_a_new_one(run, tmp_path):
    run("new", "b.toml")
    before = (tmp_path / "b.toml").read_bytes()
    code, _, err = run("new", "b.toml", "--epi", "30")
    assert code == 2 and "exists already" in err and "-o" not in err
    assert (tmp_path / "b.toml").read_bytes() == before


@pytest.mark.parametrize(
    ("units", "given", "size"),
    [
        ("inch", (), (612, 792)),
        ("metric", (), (595, 842)),
        ("inch", ("--paper", "A4"), (595, 842)),
        ("metric", ("--paper", "letter"), (612, 792)),
    ],
)
def test_sheets_come_on_the_paper_of_the_units_unless_one_is_given(
    run, tmp_path, units, given, size
):
    from pypdf import PdfReader

    assert run("new", "cloth.toml", "--units", units)[0] == 0
    assert run("plan", "cloth.toml", "-o", "out", *given)[0] == 0
    page = PdfReader(tmp_path / "out" / "sheets.pdf").pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == size


def test_a_plan_that_cannot_be_names_the_file(run, tmp_path):
    code, _, err = run("new", "b.toml", "--weave", "baskett")
    assert code == 2 and 'Did you mean "basket"?' in err
    run("new", "b.toml", "--weave", "liftplan 1-2, 9 on 1-2-3-4")
    code, _, err = run("plan", "b.toml")
    assert code == 2
    assert err.startswith("settscan: b.toml: ")


def test_scan_writes_project_evidence_and_json(run, reader, tmp_path):
    code, out, err = run("scan", "blanket.jpg", "-o", "b.toml", "--json", "b.json")
    assert code == 0
    assert "warp A/24 B4 A8 C/2" in out
    assert "Looking for the ruler" in err
    assert "settscan plan b.toml" in err
    assert "never ravel it" in err.replace("\n", " ")
    assert max(len(line) for line in err.splitlines()) <= 80
    assert (tmp_path / "b.evidence.png").read_bytes() == b"\x89PNG evidence"
    assert (tmp_path / "b.cloth.jpg").read_bytes() == b"\xff\xd8\xff cloth"
    assert json.loads((tmp_path / "b.json").read_text())["status"] == "read"
    project = read_project(tmp_path / "b.toml")
    assert project.cloth.warp.origin is Origin.READ
    assert project.photo.file == "blanket.jpg"


def test_quiet_says_only_the_result(run, reader):
    code, out, err = run("scan", "blanket.jpg", "-q")
    assert (code, out, err) == (0, "warp A/24 B4 A8 C/2\n", "")
    assert Path("blanket.toml").exists()


def test_an_existing_project_is_refused_before_the_work(run, reader, tmp_path):
    (tmp_path / "b.toml").write_text("mine")
    code, _, err = run("scan", "blanket.jpg", "-o", "b.toml")
    assert code == 2 and "--update" in err
    assert reader.asked == []
    assert (tmp_path / "b.toml").read_text() == "mine"
    code, _, err = run("scan", "blanket.jpg", "-o", "b.toml", "--update")
    assert code == 2 and "line 1" in err
    (tmp_path / "notes.json").write_text('{"mine": 1}')
    code, _, err = run("scan", "blanket.jpg", "-o", "c.toml", "--json", "notes.json")
    assert code == 2 and "not a reading" in err
    assert reader.asked == []


@pytest.mark.parametrize("name", ["b.cloth.jpg", "b.evidence.png"])
def test_a_picture_of_somebody_else_stays(run, reader, tmp_path, name):
    (tmp_path / name).write_bytes(b"the only copy")
    code, _, err = run("scan", "blanket.jpg", "-o", "b.toml")
    assert code == 2 and name in err and "-o" in err
    assert (tmp_path / name).read_bytes() == b"the only copy"
    assert reader.asked == []
    assert not (tmp_path / "b.toml").exists()


def test_a_picture_that_a_scan_left_is_replaced_by_the_next(run, reader, tmp_path):
    """A scan that refuses leaves a picture and no project."""
    left = png(np.zeros((40, 30, 3), np.uint8)), jpeg(np.zeros((40, 30, 3), np.uint8))
    for name, data in zip(("b.evidence.png", "b.cloth.jpg"), left, strict=True):
        (tmp_path / name).write_bytes(data)
    code, _, err = run("scan", "blanket.jpg", "-o", "b.toml")
    assert code == 0, err
    assert (tmp_path / "b.evidence.png").read_bytes() == b"\x89PNG evidence"
    assert (tmp_path / "b.cloth.jpg").read_bytes() == b"\xff\xd8\xff cloth"


@pytest.mark.parametrize("name", ["b.cloth.jpg", "b.evidence.png"])
@pytest.mark.parametrize("place", [0, 1])
def test_a_photo_is_never_replaced_by_a_picture_of_its_reading(run, reader, tmp_path, name, place):
    photos = ["other.jpg"]
    photos.insert(place, name)
    for one in photos:
        (tmp_path / one).write_bytes(b"the only copy")
    code, _, err = run("scan", *photos, "-o", "b.toml")
    assert code == 2 and f"{name} is the photo itself" in err and "-o" in err
    assert reader.asked == []
    assert (tmp_path / name).read_bytes() == b"the only copy"
    assert not (tmp_path / "b.toml").exists()
    assert run("scan", *photos, "-o", "c.toml")[0] == 0


def test_an_update_keeps_edits_and_uses_what_was_decided(run, reader, tmp_path):
    run("scan", "blanket.jpg", "-o", "b.toml", "--json", "b.json")
    path = tmp_path / "b.toml"
    text = path.read_text()
    text = text.replace('name = "navy"', 'name = "midnight"').replace(
        'e = "A/24 B4', 'e = "A/24 B6', 1
    )
    epi = next(line for line in text.splitlines() if line.startswith("epi = "))
    path.write_text(text.replace(epi, "epi = 25  # counted", 1))
    before = path.read_bytes()
    code, _, err = run("scan", "other.jpg", "-o", "b.toml", "--update", "--json", "b.json")
    assert code == 0
    assert "Kept: the warp sequence is yours and stays." in err
    assert reader.asked[-1][1].epi == 25 / INCH
    cloth = read_project(path).cloth
    assert cloth.yarn("A").name == "midnight"
    assert cloth.warp.sequence == parse_sequence("A/24 B6 A8 C/2")
    assert cloth.warp.density == Measured.exact(25 / INCH, Origin.TYPED)
    assert "epi = 25  # counted" in path.read_text()
    assert (tmp_path / "b.toml.previous").read_bytes() == before


def test_a_given_density_is_pinned(run, reader, tmp_path):
    run("scan", "blanket.jpg", "-o", "b.toml", "--epi", "96/10cm")
    project = read_project(tmp_path / "b.toml")
    assert project.cloth.warp.density == Measured.exact(Fraction(96, 100), Origin.PINNED)
    assert project.wishes.units == "metric"
    assert 'epi = "96/10cm"' in project.text


def test_a_density_taken_over_from_the_warp_does_not_pin_the_weft(run, reader, tmp_path):
    run("scan", "blanket.jpg", "-o", "b.toml", "--epi", "24")
    path = tmp_path / "b.toml"
    path.write_text(re.sub(r"(?m)^ppi = .*$", 'ppi = "unknown"', path.read_text()))
    told = " ".join("".join(run("plan", "b.toml")[1:]).split())
    assert "24 ppi are assumed, as many as ends" in told
    run("scan", "blanket.jpg", "-o", "b.toml", "--update")
    options = reader.asked[-1][1]
    assert options.epi == 24 / INCH and options.ppi is None


def test_a_given_weave_is_pinned_and_stays(run, reader, tmp_path):
    run("scan", "blanket.jpg", "-o", "b.toml", "--weave", "Tabby")
    assert reader.asked[-1][1].weave == "plain"
    assert 'weave_from = "pinned"' in (tmp_path / "b.toml").read_text()
    run("scan", "blanket.jpg", "-o", "b.toml", "--update")
    assert 'weave_from = "pinned"' in (tmp_path / "b.toml").read_text()
    run("scan", "blanket.jpg", "-o", "c.toml")
    assert 'weave_from = "read"' in (tmp_path / "c.toml").read_text()
    run("scan", "blanket.jpg", "-o", "c.toml", "--update", "--weave", "2/2 twill")
    assert 'weave_from = "pinned"' in (tmp_path / "c.toml").read_text()


def test_a_refusal_writes_what_is_known_and_exits_1(run, reader, tmp_path):
    reader.result = dataclasses.replace(
        reader.result,
        status="refused",
        cloth=None,
        advice=("Too coarse: 0.4 pixels per thread; take a close-up.",),
    )
    code, _, err = run("scan", "blanket.jpg", "-o", "b.toml", "--json", "b.json")
    assert code == 1
    assert "Too coarse" in err
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "b.cloth.jpg",
        "b.evidence.png",
        "b.json",
    ]


def test_other_failures_are_sentences_too(run, reader, monkeypatch):
    def fails(error):
        def scan_photos(paths, options, progress):
            raise error

        monkeypatch.setattr(settscan.scan, "scan_photos", scan_photos)
        return run("scan", "blanket.jpg", "-o", "x.toml")

    assert fails(Refusal("It is too dark.", "Use a lamp."))[::2] == (
        1,
        "settscan: It is too dark. Use a lamp.\n",
    )
    code, _, err = fails(FileNotFoundError(2, "No such file", "blanket.jpg"))
    assert code == 2 and "Cannot use blanket.jpg: there is no such file" in err
    code, _, err = fails(OSError(28, "No space left on device"))
    assert code == 2 and "the disk is full" in err
    assert fails(MemoryError())[0] == 2
    assert fails(KeyboardInterrupt())[0] == 130
    code, _, err = fails(ZeroDivisionError("division by zero"))
    assert code == 3 and "ZeroDivisionError" in err
    assert not Path("x.toml").exists()


def test_an_unwritable_folder_is_told_before_the_work(run, reader, tmp_path):
    (tmp_path / "file").write_text("")
    code, _, err = run("scan", "blanket.jpg", "-o", "file/b.toml")
    assert code == 2 and "There is no folder file" in err
    code, _, err = run("scan", "blanket.jpg", "-o", "b.toml", "--json", "none/b.json")
    assert code == 2 and "There is no folder none" in err
    assert reader.asked == []


def test_a_closed_folder_is_told_before_the_work(run, reader, tmp_path, monkeypatch):
    # Said by the system's own check, which does not bind the superuser.
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    code, _, err = run("scan", "blanket.jpg", "-o", "b.toml")
    assert code == 2 and "permission is denied" in err
    assert reader.asked == []


def test_points_and_densities_as_typed():
    scale = parse_scale("120,800 2120.5,800 = 10 cm")
    assert (scale.x0, scale.x1, scale.length_mm) == (120, 2120.5, 100)
    assert parse_scale("(1, 2) (3, 4) = 4 in").length_mm == pytest.approx(101.6)
    assert parse_corners("10,20 900,25 905,700 8,690")[2] == (905, 700)
    for text in ("1,1 9,1 9,9 1,1", "1,1 1,9 9,9 9,1", "1,1 9,9 9,1 1,9", "1,1 9,1 9,9"):
        with pytest.raises(BadInput, match="corners"):
            parse_corners(text)
    for text in (
        "1,1 = 3 cm",
        "1,1 1,1 = 3 cm",
        "1,1 5,5 = 3",
        "1,1 5,5 = 0 cm",
        "1e9,1 2,2 = 1 m",
    ):
        with pytest.raises(BadInput):
            parse_scale(text)
    assert parse_pinned("24", "epi") == parse_pinned("24 epi", "epi") == 24 / INCH
    assert parse_pinned("12 1/2", "ppi") == Fraction(25, 2) / INCH
    assert parse_pinned("48/10cm", "ppi") == Fraction(48, 100)


@pytest.mark.parametrize("loud", [[], ["-v"]])
def test_a_fault_is_told_apart_from_a_refusal(run, monkeypatch, capsys, loud):
    run("new", "b.toml")

    def broken(plan):
        raise RuntimeError("a loose warp")

    monkeypatch.setattr("settscan.winding.wound.plan_wound", broken)
    assert cli.run(["plan", "b.toml", *loud]) == cli.FAULT == 3
    told = capsys.readouterr().err
    assert ("Traceback" in told) == bool(loud)
    assert "a loose warp" in told


def test_a_plan_fills_a_screen_and_tells_more_when_asked(run):
    run("new", "b.toml")
    _, short, err = run("plan", "b.toml")
    assert len(short.splitlines()) <= 40
    assert "--verbose" in err and not short.endswith("\n\n")
    _, long, _ = run("plan", "b.toml", "--verbose")
    assert long.startswith(short.rstrip())
    assert "Ties, in order" in long and "Losses divide" in long
    _, listed, _ = run("plan", "b.toml", "--steps")
    assert "Bout 1 of" in listed and "Ties, in order" not in listed


def test_a_sectional_beam_is_planned_from_the_project(run, tmp_path):
    run("new", "b.toml")
    file = tmp_path / "b.toml"
    file.write_text(file.read_text().replace('kind = "mill"', 'kind = "sectional beam"'))
    code, out, _ = run("plan", "b.toml", "-o", "out", "--verbose", "--steps")
    assert code == 0
    assert "Winding the sectional beam" in out and "Sections" in out and "Bout" not in out
    assert (tmp_path / "out" / "sheets.pdf").read_bytes().startswith(b"%PDF")


def test_another_sett_lists_choices_and_writes_one(run, tmp_path):
    run("new", "b.toml", "--warp", "A/24 B4 A8 C/2", "--epi", "24")
    before = (tmp_path / "b.toml").read_bytes()
    code, out, err = run("resize", "b.toml", "--epi", "36")
    assert code == 0
    assert "warp  A/36 B6 A12 C/2" in out and "warp  A/36 B6 A12 C/4" in out
    assert "warp C 2 -> 4 (ideal 3.0, +1.0)" in out
    assert "--choice N" in err
    code, out, _ = run("resize", "b.toml", "--epi", "36", "--choice", "2", "-o", "fine.toml")
    made = read_project(tmp_path / "fine.toml")
    assert format_sequence(made.cloth.warp.sequence) == "A/36 B6 A12 C/4"
    assert made.cloth.weft.sequence == made.cloth.warp.sequence
    assert float(made.cloth.weft.density.value) * 25.4 == pytest.approx(36)
    assert made.wishes.piece == read_project(tmp_path / "b.toml").wishes.piece
    assert run("plan", "fine.toml")[0] == 0
    assert (tmp_path / "b.toml").read_bytes() == before


def test_the_same_counts_or_another_size(run, tmp_path):
    run("new", "b.toml", "--warp", "A/24 B4 A8 C/2", "--epi", "24")
    _, out, err = run("resize", "b.toml", "--epi", "48", "--keep", "counts")
    assert "A/24 B4 A8 C/2  (a repeat: 50 ends, 1 in)" in out and "--choice" not in err
    _, half, _ = run("resize", "b.toml", "--scale", "1/2")
    assert half == run("resize", "b.toml", "--scale", "50 %")[1]
    assert "A/12 B2 A4 C/2" in half


def test_another_yarn_brings_its_own_sett_and_leaves_the_old_stock_out(run, tmp_path):
    run("new", "b.toml", "--warp", "A/24 B4 A8 C/2", "--epi", "24")
    text = (tmp_path / "b.toml").read_text()
    text = text.replace('# size = "2/8 worsted"', 'size = "2/8 worsted"')
    (tmp_path / "b.toml").write_text(text.replace('# stash = "250 g"', 'stash = "250 g"'))
    code, _, err = run("resize", "b.toml", "--yarn", "2/12 worsted", "-o", "fine.toml")
    assert code == 0 and "29.4 epi finished, in place of 24 epi" in err
    made = read_project(tmp_path / "fine.toml")
    assert {yarn.size for yarn in made.cloth.yarns} == {"2/12 worsted"}
    assert all(stock.in_stash_g == 0 for stock in made.wishes.stock)
    assert float(made.cloth.warp.density.value) * 25.4 == pytest.approx(29.4)


def test_a_repeat_of_so_many_ends_and_odd_counts(run, tmp_path):
    run("new", "b.toml", "--warp", "A/24 B3 A8 C/1", "--epi", "24")
    _, out, err = run("resize", "b.toml", "--repeat", "40")
    assert "warp repeat 40 (ideal 40.0, +0.0)" in out and "--odd" in err
    _, out, err = run("resize", "b.toml", "--scale", "1", "--odd")
    assert "A/24 B3 A8 C/1" in out and "--odd" not in err


@pytest.mark.parametrize(
    ("arguments", "hint"),
    [
        ([], "--epi"),
        (["--yarn", "2/12 worsted"], "size of yarn A is not known"),
        (["--repeat", "41"], "even total"),
        (["--repeat", "40", "--scale", "2"], "--repeat"),
        (["--epi", "36", "--scale", "2"], "--scale"),
        (["--scale", "big"], "60 %"),
        (["--scale", "1/0"], "60 %"),
        (["--scale", "0"], "1/100"),
        (["--epi", "36", "--choice", "9", "-o", "c.toml"], "from 1 to"),
        (["--epi", "36", "-o", "c.txt"], "c.toml"),
        (["--epi", "36", "-o", "b.toml"], "exists already"),
    ],
)
def test_what_cannot_be_resized(run, arguments, hint):
    run("new", "b.toml")
    code, _, err = run("resize", "b.toml", *arguments)
    assert code == 2 and hint in err


def test_a_closed_pipe_is_no_fault(tmp_path):
    subprocess.run(
        [sys.executable, "-m", "settscan.cli", "new", "b.toml"],
        cwd=tmp_path,
        check=True,
        capture_output=True,
    )
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        [sys.executable, "-m", "settscan.cli", "plan", "b.toml", "--steps"],
        cwd=tmp_path, stdout=writing, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    os.close(writing)
    assert done.returncode == 0
    assert "Error" not in done.stderr and "Broken" not in done.stderr


def test_a_terminal_without_the_letters_does_no_harm(tmp_path):
    subprocess.run(
        [sys.executable, "-m", "settscan.cli", "new", "b.toml"],
        cwd=tmp_path,
        check=True,
        capture_output=True,
    )
    path = tmp_path / "b.toml"
    path.write_text(path.read_text("utf-8").replace('"navy"', '"navy – 藍"'), "utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "settscan.cli", "plan", "b.toml"],
        cwd=tmp_path, capture_output=True, env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


def test_the_card(run, tmp_path):
    code, out, err = run("card", "-o", "card.pdf", "--paper", "letter")
    assert code == 0 and "for Letter. Print it at 100 %" in out and err == ""
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF-")
    code, _, err = run("card", "-o", "card.pdf")
    assert code == 2 and "exists already" in err


def test_who_has_us_paper_is_told_how_to_get_the_card_for_it(run, tmp_path):
    code, out, err = run("card", "-o", "card.pdf")
    assert code == 0 and "for A4." in out
    told = err.strip().removeprefix("For US paper: settscan ")
    assert run(*told.split())[0] == 0
    assert (tmp_path / "letter-card.pdf").read_bytes() != (tmp_path / "card.pdf").read_bytes()
    assert "for US paper give Letter" in " ".join(run("card", "--help")[1].split())


def test_the_sample_is_found_here_and_shipped_in_the_wheel():
    import tomllib

    from settscan.commands.demo import sample_photo

    assert sample_photo().read_bytes().startswith(b"\xff\xd8\xff")
    root = Path(cli.__file__).parents[1]
    built = tomllib.loads((root / "pyproject.toml").read_text())["tool"]["hatch"]["build"]
    included = built["targets"]["wheel"]["force-include"]
    assert included == {
        f"sample_images/{sample_photo().name}": f"settscan/sample/{sample_photo().name}"
    }
    assert all((root / source).is_file() for source in included)
