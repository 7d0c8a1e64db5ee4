"""The parts of a batch one by one: rows, tables, names, object numbers, memory, progress, page."""

import csv
import datetime
import json
import os
import re
import time
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import settscan
from settscan.batch.index import _in_page
from settscan.batch.memory import bytes_needed, limited, parse_memory, share_out
from settscan.batch.model import BatchOptions, Photograph, Record, record_of
from settscan.batch.objects import Objects, pattern_of, read_objects
from settscan.batch.photos import find_photos, plain_name
from settscan.batch.progress import Progress, in_words
from settscan.batch.rows import (
    STRIPE_COLUMNS,
    SWATCH_COLUMNS,
    doubt_of,
    repeat_shown,
    stripe_rows,
    swatch_row,
)
from settscan.batch.tables import CsvFile, cell, write_parquet
from settscan.errors import BadInput, SettscanError
from settscan.photo.header import read_header
from settscan.scan import ScanOptions
from tests.batch import fakes

READING = fakes.result(Path("a.jpg")).reading_json


def test_the_docs_describe_every_column_and_no_other():
    page = (Path(settscan.__file__).parent / "docs" / "batch.md").read_text("utf-8")
    section = page.split("## What the columns mean")[1].split("## Stopped")[0]
    told = {
        name
        for line in section.splitlines()
        if line.startswith("| `")
        for name in re.findall(r"`([a-z_0-9]+)`", line.split(" | ")[0])
    }
    warp = {c for c in SWATCH_COLUMNS if not c.startswith("weft_")}
    assert warp | set(STRIPE_COLUMNS) == (told - {"weft_density"})


def test_every_row_says_where_it_comes_from():
    for wanted in ("file", "photo_sha256", "taken", "scale_source", "scale_residual", "state",
                   "reviewer", "program", "settings"):  # fmt: skip
        assert wanted in SWATCH_COLUMNS and wanted in STRIPE_COLUMNS
    assert set(swatch_row(READING)) <= set(SWATCH_COLUMNS)
    assert all(set(row) <= set(STRIPE_COLUMNS) for row in stripe_rows(READING))


def axis(kind, threads, counts):
    stripes = [{"threads": n, "cut": False, "chance": 1.0} for n in counts]
    return {"stripes": stripes, "repeat": {"kind": kind, "threads": threads}, "bands": []}


@pytest.mark.parametrize(
    ("kind", "threads", "counts", "shown"),
    [
        ("symmetric", 50, (24, 4, 8, 2, 8, 4), "whole"),
        ("symmetric", 50, (24, 4, 8, 2), "half"),
        ("repeating", 30, (24, 4, 2), "whole"),
        ("partial", None, (24, 4), "partial"),
        ("partial", None, (), "partial"),
    ],
)
def test_whole_half_or_partial_repeat(kind, threads, counts, shown):
    assert repeat_shown(axis(kind, threads, counts)) == shown


def test_an_axis_that_was_not_counted_is_in_doubt_by_its_bands():
    reading = {"status": "partly read", "warp": axis("repeating", 6, (2, 4)),
               "weft": {**axis("partial", None, ()), "bands": [{}, {}, {}]}}  # fmt: skip
    assert doubt_of(reading) == 3.0
    reading["weft"]["bands"] = []
    assert doubt_of(reading) == 1.0
    assert doubt_of({**reading, "status": "refused"}) is None


def test_cells():
    assert [cell("doubt", v) for v in (None, 0.1, 3, 1e-7)] == ["", "0.1", "3", "1e-07"]
    assert cell("edited", True) == "yes"
    # CSV injection: OWASP's list of the characters that begin a formula
    for text in ('=HYPERLINK("x")', "+1", "-1", "@SUM(A1)", "\tx", "\rx"):
        assert cell("file", text) == "'" + text
    assert cell("twill_direction", "-") == "-"


def test_parquet_holds_the_same_as_csv(tmp_path):
    pq = pytest.importorskip("pyarrow.parquet")
    rows = [
        {**swatch_row(READING), "file": "=odd\nname.jpg", "edited": False},
        {"file": "b.jpg", "status": "failed", "reason": "It is empty."},
    ]
    with (tmp_path / "t.csv").open("wb") as file:
        table = CsvFile(file, SWATCH_COLUMNS)
        table.add(rows)
        table.end()
    write_parquet(tmp_path / "t.parquet", SWATCH_COLUMNS, tmp_path / "t.csv")
    first, second = pq.read_table(tmp_path / "t.parquet").to_pylist()
    for name, value in rows[0].items():
        assert first[name] == (value if value is not None else first[name]), name
    assert first["warp_density"] == 24.0 and first["edited"] is False
    assert second["warp_density"] is None and second["status"] == "failed"
    with (tmp_path / "t.csv").open(encoding="utf-8", newline="") as file:
        assert [row["file"] for row in csv.DictReader(file)] == ["'=odd\nname.jpg", "b.jpg"]
    again = tmp_path / "u.parquet"
    write_parquet(again, SWATCH_COLUMNS, tmp_path / "t.csv")
    assert again.read_bytes() == (tmp_path / "t.parquet").read_bytes()


def test_without_pyarrow_it_says_how_to_get_it(monkeypatch):
    import sys

    from settscan.batch.tables import check_parquet

    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    with pytest.raises(BadInput, match=r"settscan\[parquet\]|not installed"):
        check_parquet()


NAMES = ["with space.jpg", "two\nlines.jpg", "тартан.jpg", "格子縞.png", "=1+1.jpg", "<b>.jpg",
         "a'b\"c.jpg", "CON.jpg", "UPPER.JPG", "naïve.jpeg", "x" * 200 + ".jpg", "格" * 80 + ".jpg",
         "$(reboot).jpg", "%s.jpg", "-o.jpg"]  # fmt: skip


def test_names_of_all_kinds(tmp_path):
    folder = tmp_path / "in"
    folder.mkdir()
    for name in NAMES:
        (folder / name).write_bytes(fakes.picture())
    raw = os.fsencode(folder) + b"/latin-\xe9.jpg"  # no UTF-8
    with open(raw, "wb") as file:  # noqa: PTH123
        file.write(fakes.picture())
    found = find_photos(folder, tmp_path / "out")
    assert {p.name for p in found.photos} == {*NAMES, "latin-\\xe9.jpg"}
    ids = [p.id for p in found.photos]
    assert len(set(ids)) == len(ids)
    for name in ids:
        assert len(name.encode()) <= 200 and "/" not in name and "\n" not in name
        assert not re.search(r'[<>:"|?*\s]', name) and not name.startswith((".", "-", "="))


def test_a_batch_of_such_names(tmp_path):
    from tests.batch.test_run import run, table

    folder = tmp_path / "in"
    folder.mkdir()
    for name in NAMES:
        (folder / name).write_bytes(fakes.picture())
    run(folder, tmp_path / "out")
    rows = table(tmp_path / "out" / "swatches.csv")
    assert {r["file"].removeprefix("'") for r in rows} == set(NAMES)
    page = (tmp_path / "out" / "index.html").read_text("utf-8")
    assert "<b>" not in page and "\\u003cb\\u003e" in page


def test_lists(tmp_path):
    fakes.photos(tmp_path, "a.jpg", "sub/b.jpg", "two\nlines.jpg")
    listed = tmp_path / "list.txt"
    listed.write_text("\ufeffsub/b.jpg\r\na.jpg\n\na.jpg\nnone.jpg\n", encoding="utf-8")
    found = find_photos(listed, tmp_path / "out")
    assert [p.name for p in found.photos] == ["a.jpg", "none.jpg", "sub/b.jpg"]
    assert found.twice == 1
    assert [p.folder for p in found.photos] == ["", "", "sub"]
    listed.write_bytes(b"a.jpg\0two\nlines.jpg\0")
    assert [p.name for p in find_photos(listed, tmp_path / "out").photos] == [
        "a.jpg", "two\nlines.jpg",
    ]  # fmt: skip
    listed.write_text(f"{tmp_path / 'a.jpg'}\n../elsewhere/c.jpg\n")
    assert [p.folder for p in find_photos(listed, tmp_path / "out").photos] == ["", ""]
    (tmp_path / "photo.jpg").write_bytes(fakes.picture())
    with pytest.raises(BadInput, match="is a photo, not a list"):
        find_photos(tmp_path / "photo.jpg", tmp_path / "out")
    project = tmp_path / "blanket.toml"
    project.write_text('settscan = 1\nfile = "a.jpg"  # the photo\n')
    with pytest.raises(BadInput, match="is not a list of photos"):
        find_photos(project, tmp_path / "out")
    project.write_text("x" * 5000)  # longer than any name
    with pytest.raises(BadInput, match="is not a list of photos"):
        find_photos(project, tmp_path / "out")
    (tmp_path / "IMG_7").write_bytes(fakes.picture())  # a photo by any name may be listed
    listed.write_text("IMG_7\n")
    assert len(find_photos(listed, tmp_path / "out").photos) == 1
    listed.write_text("\n\n")
    with pytest.raises(BadInput, match="no photo"):
        find_photos(listed, tmp_path / "out")


def test_links_to_folders_are_not_followed(tmp_path):
    folder = fakes.photos(tmp_path / "in", "a.jpg", "sub/b.jpg")
    (folder / "sub" / "up").symlink_to(folder, target_is_directory=True)
    (folder / ".hidden.jpg").write_bytes(b"")
    (folder / "notes.txt").write_text("x")
    found = find_photos(folder, tmp_path / "out")
    assert [p.name for p in found.photos] == ["a.jpg", "sub/b.jpg"]
    assert found.passed_over == 2


@pytest.mark.skipif(os.geteuid() == 0, reason="root may look everywhere")
def test_a_closed_folder_is_a_failure_of_its_own(tmp_path):
    folder = fakes.photos(tmp_path / "in", "a.jpg", "shut/b.jpg")
    (folder / "shut").chmod(0)
    try:
        found = find_photos(folder, tmp_path / "out")
    finally:
        (folder / "shut").chmod(0o755)
    assert found.closed[0][0] == "shut" and "permission" in found.closed[0][1]


def test_a_folder_that_cannot_be_looked_through(tmp_path, monkeypatch):
    folder = fakes.photos(tmp_path / "in", "a.jpg", "shut/b.jpg")
    scandir = os.scandir

    def closed(path):
        if str(path).endswith("shut"):
            raise PermissionError(13, "Permission denied", str(path))
        return scandir(path)

    monkeypatch.setattr(os, "scandir", closed)
    found = find_photos(folder, tmp_path / "out")
    assert [p.name for p in found.photos] == ["a.jpg"]
    assert found.closed == (("shut", "Cannot look through the folder shut: permission is denied."),)


@given(st.text(max_size=300))
def test_any_name_becomes_a_plain_one(text):
    name = plain_name(text)
    assert name and len(name.encode()) <= 160 and "/" not in name and name.isprintable()


def photo_named(name):
    return Photograph(path=Path(name), name=name, id="x")


def test_object_numbers_from_names():
    objects = Objects(pattern=pattern_of("{object}_*.jpg"))
    assert objects.number_of(photo_named("sub/1923.45_front.JPG")) == "1923.45"
    assert objects.number_of(photo_named("other.jpg")) == ""
    assert pattern_of("IMG-{object}.*").fullmatch("IMG-a[1].tif")["object"] == "a[1]"
    for wrong in ("*.jpg", "{object}{object}", "{object}***"):
        with pytest.raises(BadInput):
            pattern_of(wrong)
    # the worst that a pattern can be asked: a long name that almost matches
    start = time.process_time()
    assert not pattern_of("*a*a{object}b").fullmatch("a" * 255)
    assert objects.number_of(photo_named("_" * 10**6 + ".jpg")) == ""
    assert time.process_time() - start < 5


def test_object_numbers_from_a_table(tmp_path):
    path = tmp_path / "n.csv"
    path.write_text("\ufeffFile;Object;Reviewer\r\nsub\\a.jpg;X 1;anna\r\nb.jpg;X 2\r\n", "utf-8")
    numbers, reviewers = read_objects(path)
    objects = Objects(numbers=numbers, reviewers=reviewers)
    assert objects.number_of(photo_named("sub/a.jpg")) == "X 1"
    assert objects.number_of(photo_named("sub/b.jpg")) == "X 2"
    assert objects.reviewer_of(photo_named("sub/a.jpg")) == "anna"
    for text, words in [
        ("name,number\n", "no columns named file and object"),
        ("", "no columns named file and object"),
        ("file,object\na.jpg,1\na.jpg,2\n", "line 3: a.jpg has two object numbers"),
        ('file,object\n"a.jpg,1\n', "this is not CSV"),
    ]:
        path.write_text(text)
        with pytest.raises(BadInput, match=words):
            read_objects(path)
    path.write_bytes(b"file,object\n\xff,1\n")
    with pytest.raises(BadInput, match="UTF-8"):
        read_objects(path)


@given(st.binary(max_size=300))
def test_any_table_is_read_or_refused(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_bytes(data)
    try:
        read_objects(path)
    except SettscanError as error:
        assert error.message


def test_memory():
    assert parse_memory("4 GB") == 4_000_000_000
    assert parse_memory("1500mb") == parse_memory("1500") == 1_500_000_000
    for wrong in ("", "many", "-4 GB", "nan", "1e99 GB", "10 MB", "0", "4 TB"):
        with pytest.raises(BadInput):
            parse_memory(wrong)
    assert share_out(4_000_000_000, 8) == (3, 1_333_333_333)
    assert share_out(10_000_000_000, 2) == (2, 5_000_000_000)
    assert share_out(500_000_000, 8) == (1, 500_000_000)


def test_a_photo_needs_memory_by_its_size(tmp_path):
    (tmp_path / "s.png").write_bytes(fakes.picture((1000, 1000)))
    (tmp_path / "l.png").write_bytes(fakes.picture((6000, 4000)))
    (tmp_path / "x.png").write_bytes(b"none")
    small, large, broken = (bytes_needed(tmp_path / f"{n}.png") for n in "slx")
    assert 400e6 <= broken < small < large < 1.5e9


def test_memory_is_held_to_its_limit(tmp_path):
    """In a process of its own: an array beyond the limit is refused, one below it is made."""
    import subprocess
    import sys

    program = """
import numpy as np
from settscan.batch.memory import limited
with limited(700_000_000):
    np.ones(20_000_000)
    try:
        np.ones(150_000_000)
    except MemoryError:
        print("refused")
np.ones(150_000_000)
print("free again")
"""
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    assert done.stdout.split("\n")[:2] == ["refused", "free again"]
    with limited(0):
        pass


def test_what_is_too_large_is_read_alone_or_listed(tmp_path):
    from settscan.batch.pool import local_pool
    from settscan.batch.run import Machine
    from tests.batch.test_run import run, table

    folder = fakes.photos(tmp_path / "in", "a.png", "b.png")
    (folder / "large.png").write_bytes(fakes.picture((7000, 4500)))  # needs 1.5 GB
    out = tmp_path / "out"
    machine = Machine(jobs=2, memory=2_400_000_000)  # two shares of 1.2 GB
    assert run(folder, out, make=local_pool, machine=machine).counts == {"read": 3}
    machine = Machine(jobs=2, memory=1_200_000_000)
    (folder / "large.png").touch()
    options = BatchOptions(units="metric")
    summary = run(folder, out, make=local_pool, machine=machine, options=options)
    assert summary.counts == {"read": 2, "failed": 1}
    (failure,) = table(out / "failures.csv")
    assert failure["file"] == "large.png" and "MB are allowed" in failure["reason"]
    assert "--memory" in failure["advice"]


def test_progress_tells_how_long_it_takes():
    clock, lines = [0.0], []
    progress = Progress(100, 20, lines.append, lambda: clock[0])
    for n in range(40):
        clock[0] += 3
        progress.one_more(failed=n == 5)
    assert lines[0] == "21 of 100 photos (21 %), about 4 min left"
    assert lines[-1] == "59 of 100 photos (59 %), 1 failed, about 2 min left"
    assert len(lines) == 20  # no more than one in five seconds
    for _ in range(40):
        progress.one_more(failed=False)
    assert lines[-1] == "100 of 100 photos (100 %), 1 failed"
    assert [in_words(s) for s in (0.2, 89, 600, 8000, 400_000)] == [
        "about 1 s", "about 89 s", "about 10 min", "about 2 h 13 min", "about 5 days",
    ]  # fmt: skip


def test_options_in_words():
    told = BatchOptions(scan=ScanOptions(epi=Fraction(240, 254), warp_runs="across")).told()
    assert told == "units=inch pieces=yes evidence=jpg json=no epi=24/in warp=across"
    assert BatchOptions(scan=ScanOptions(weave="plain")).told().endswith("weave=plain warp=down")


@pytest.mark.parametrize(
    "data", [None, [], {}, {"format": "x"}, {"format": "settscan batch record", "version": 9},
             {"format": "settscan batch record", "version": 1, "odd": 1}],
)  # fmt: skip
def test_a_record_of_another_kind_is_none(data):
    assert record_of(data) is None
    whole = Record(name="a", id="a-1", status="done", swatches=({"name": "a"},))
    assert record_of(json.loads(json.dumps(whole.data()))) == whole


def test_text_cannot_leave_the_script_of_the_page():
    text = _in_page({"file": "</script><script>alert(1)</script>\u2028&"})
    assert not set("<>&\u2028") & set(text)
    assert json.loads(text)["file"].startswith("</script>")


def test_when_a_photo_was_taken(tmp_path):
    from PIL import Image

    def taken(**tags):
        exif = Image.Exif()
        notes = exif.get_ifd(0x8769)
        for tag, value in tags.items():
            notes[int(tag[1:], 16)] = value
        Image.new("RGB", (70, 70)).save(tmp_path / "t.jpg", exif=exif)
        return read_header(tmp_path / "t.jpg").taken

    assert taken(x9003="2024:05:01 10:20:30") == "2024-05-01T10:20:30"
    assert taken(x9003="2024:05:01 10:20:30", x9011="+02:00") == "2024-05-01T10:20:30+02:00"
    assert datetime.datetime.fromisoformat(taken(x9003="1999:12:31 23:59:59")).year == 1999
    for odd in ("0000:00:00 00:00:00", "2024:13:01 10:20:30", "=cmd", "    :  :     :  :  "):
        assert taken(x9003=odd) == ""
    assert taken(x9003="2024:05:01 10:20:30", x9011="=cmd()") == "2024-05-01T10:20:30"
    assert taken() == ""
    header = read_header(tmp_path / "t.jpg")
    assert (header.width, header.height) == (70, 70)
