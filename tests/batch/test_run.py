"""A batch as a whole, with a reader that takes no time: tables, files, resuming, failures."""

import csv
import json
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from settscan.batch import one, store
from settscan.batch.index import IndexPage
from settscan.batch.model import BatchOptions
from settscan.batch.objects import Objects, pattern_of
from settscan.batch.rows import STRIPE_COLUMNS, SWATCH_COLUMNS
from settscan.batch.run import Machine, run_batch
from settscan.errors import BadFile, BadInput
from tests.batch import fakes
from tests.page.browser import FLAGS, chromium

TOP = Path(__file__).parents[2]
NAMES = ("a1.png", "b2.png", "c3_two.png", "below/d4.png", "e5_refused.png")


def run(folder, out, *, say=None, make=ThreadPoolExecutor, machine=None, **more):
    """A batch in this process, unless `make` says otherwise."""
    return run_batch(
        folder,
        out,
        options=more.pop("options", BatchOptions()),
        objects=more.pop("objects", Objects()),
        machine=machine or Machine(jobs=2),
        say=say or (lambda line: None),
        reader=more.pop("reader", fakes.reader),
        make=make,
        **more,
    )


def local(folder, out, **more):
    """A batch with real worker processes."""
    from settscan.batch.pool import local_pool

    return run(folder, out, make=local_pool, machine=Machine(jobs=2, memory=4 * 10**9), **more)


def table(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def contents(out):
    """Bytes of every file of a batch but its state."""
    files = [p for p in sorted(out.rglob("*")) if p.is_file() and "state" not in p.parts]
    return {str(p.relative_to(out)): p.read_bytes() for p in files}


def test_a_batch_writes_rows_files_and_a_page(tmp_path):
    folder, out = fakes.photos(tmp_path / "in", *NAMES), tmp_path / "out"
    summary = run(folder, out)
    assert summary.counts == {"read": 5, "refused": 1} and summary.unread == 1

    rows = table(out / "swatches.csv")
    assert list(rows[0]) == list(SWATCH_COLUMNS)
    assert [r["file"] for r in rows] == [
        "a1.png", "b2.png", "below/d4.png", "c3_two.png", "c3_two.png", "e5_refused.png",
    ]  # fmt: skip
    first = rows[0]
    assert first["warp_sequence"] == "A/24 B4 A8 C/2" and first["warp_repeat"] == "whole"
    assert (first["warp_density"], first["warp_density_low"]) == ("24", "23.9")
    assert first["state"] == "finished" and first["scale_source"] == "ruler"
    assert first["scale_residual"] == "0.004" and first["program"].startswith("settscan ")
    assert "warp=down" in first["settings"]
    # four whole stripes at 0.99 and one at 0.8, on both axes
    assert float(first["doubt"]) == pytest.approx(2 * (4 * 0.01 + 0.2))
    for row in rows:
        if row["status"] == "read":
            for kind in ("project", "evidence", "thumbnail"):
                assert (out / row[kind]).is_file()
    assert [r["piece"] + "/" + r["pieces"] for r in rows[3:5]] == ["1/2", "2/2"]
    assert rows[3]["swatch"] != rows[4]["swatch"]

    stripes = table(out / "stripes.csv")
    assert list(stripes[0]) == list(STRIPE_COLUMNS)
    assert len(stripes) == 5 * 12
    assert {r["swatch"] for r in stripes} == {r["swatch"] for r in rows if r["status"] == "read"}
    assert stripes[1]["threads"] == "4" and stripes[1]["threads_low"] == "3"
    assert stripes[1]["others"] == "3:0.2" and stripes[5]["cut"] == "yes"
    assert all(r["photo_sha256"] and r["program"] and r["state"] == "finished" for r in stripes)

    (failure,) = table(out / "failures.csv")
    assert failure["file"] == "e5_refused.png" and failure["status"] == "refused"
    assert "No stripes can be made out" in failure["reason"]
    assert (out / "index.html").is_file()


def test_the_same_input_gives_the_same_output_however_it_is_read(tmp_path):
    folder = fakes.photos(tmp_path / "in", *NAMES)
    run(folder, tmp_path / "one", machine=Machine(jobs=1))
    time.sleep(1.1)  # another second on the clock
    local(folder, tmp_path / "two")
    first = contents(tmp_path / "one")
    assert first == contents(tmp_path / "two")
    assert len(first) == 5 * 3 + 2 + 5
    # and again in the same folder, from the records alone
    before = len(fakes.calls(folder))
    run(folder, tmp_path / "two")
    assert contents(tmp_path / "two") == first
    assert len(fakes.calls(folder)) == before


def test_only_what_is_new_or_changed_is_read_again(tmp_path):
    folder, out = fakes.photos(tmp_path / "in", "a.png", "b.png", "c.png"), tmp_path / "out"
    run(folder, out)
    fakes.photos(folder, "d.png")
    (folder / "b.png").write_bytes(fakes.picture(colour=(1, 2, 3)))
    (folder / "c.png").unlink()
    summary = run(folder, out)
    assert sorted(fakes.calls(folder)[3:]) == ["b.png", "d.png"]
    assert summary.before == 1 and summary.read_now == 2
    assert [r["file"] for r in table(out / "swatches.csv")] == ["a.png", "b.png", "d.png"]
    # other options are another reading
    run(folder, out, options=BatchOptions(units="metric"))
    assert len(fakes.calls(folder)) == 5 + 3
    # a lost picture is made again
    next(out.glob("swatches/a-*.evidence.jpg")).unlink()
    run(folder, out, options=BatchOptions(units="metric"))
    assert fakes.calls(folder)[8:] == ["a.png"]


def test_failures_are_listed_with_reasons_and_stop_nothing(tmp_path):
    folder = fakes.photos(tmp_path / "in", "a.png", "fault.png", "z.png")
    (folder / "empty.jpg").write_bytes(b"")
    (folder / "letter.jpg").write_bytes(b"Dear weaver")
    (folder / "loop.jpg").symlink_to(folder / "loop.jpg")
    (folder / "gone.jpg").symlink_to(folder / "nowhere")
    said = []
    summary = run(folder, tmp_path / "out", say=said.append)
    assert summary.counts == {"read": 2, "failed": 5}
    reasons = {r["file"]: r["reason"] for r in table(tmp_path / "out" / "failures.csv")}
    assert "links lead in a circle" in reasons["loop.jpg"]
    assert "no such file" in reasons["gone.jpg"]
    assert "ZeroDivisionError" in reasons["fault.png"]
    assert set(reasons) == {"empty.jpg", "fault.png", "gone.jpg", "letter.jpg", "loop.jpg"}
    assert all(any(name in line for line in said) for name in reasons)
    assert [line for line in said if any(line.count(name) > 1 for name in reasons)] == []
    # what may go better is tried again, what cannot is not
    begun = len(fakes.calls(folder))
    (folder / "nowhere").write_bytes(fakes.picture())
    summary = run(folder, tmp_path / "out")
    assert summary.counts == {"read": 3, "failed": 4}
    assert fakes.calls(folder)[begun:] == ["gone.jpg"]


def test_one_word_for_one_thing(tmp_path):
    """What the tables call failed or refused is called so on the page and as it goes, too."""
    from playwright.sync_api import sync_playwright

    program = chromium()
    folder = fakes.photos(tmp_path / "in", "a.png", "e5_refused.png", "fault.png")
    said = []
    run(folder, tmp_path / "out", say=said.append)
    assert said[-1] == "3 of 3 photos (100 %), 1 failed"
    statuses = {r["file"]: r["status"] for r in table(tmp_path / "out" / "swatches.csv")}
    assert statuses == {"a.png": "read", "e5_refused.png": "refused", "fault.png": "failed"}
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=program, args=list(FLAGS))
        page = browser.new_page()
        page.goto((tmp_path / "out" / "index.html").as_uri())
        cards = page.locator("#list li").all()
        told = {one.locator("h2").inner_text(): one.inner_text() for one in cards}
        browser.close()
    for name, status in statuses.items():
        begins = tuple(f"{status}{mark} " for mark in ":,")
        assert any(line.startswith(begins) for line in told[name].splitlines()), told


def test_a_sequence_that_is_cut_off_on_the_page_says_so(tmp_path):
    """Nobody is to copy half a sett in the belief that it is all."""
    from playwright.sync_api import sync_playwright

    program, file = chromium(), tmp_path / "index.html"
    long = " ".join(f"{key}{4 + at}" for at, key in enumerate("ABCDE" * 12))
    with file.open("wb") as opened:
        page_of = IndexPage(opened)
        page_of.add({"file": "a.jpg", "status": "read", "doubt": 0, "warp_sequence": long,
                     "weft_sequence": "A4 B4"}, {})  # fmt: skip
        page_of.end({"read": 1})
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=program, args=list(FLAGS))
        page = browser.new_page()
        page.goto(file.as_uri())
        cut = page.evaluate(
            """() => [...document.querySelectorAll(".sequence")].map((one) =>
              [one.scrollHeight > one.clientHeight + 1, getComputedStyle(one).webkitLineClamp])"""
        )
        browser.close()
    assert cut[0][0] and not cut[1][0]
    assert cut[0][1] == "3"  # lines, the last of them with an ellipsis


def test_a_photo_that_ends_its_worker_is_named_and_the_rest_is_read(tmp_path):
    folder = fakes.photos(tmp_path / "in", "a.png", "b_deadly.png", "c_once.png", "d.png", "e.png")
    summary = local(folder, tmp_path / "out")
    assert summary.counts == {"read": 4, "failed": 1}
    (failure,) = table(tmp_path / "out" / "failures.csv")
    assert failure["file"] == "b_deadly.png" and "was ended every time" in failure["reason"]


def test_what_an_ended_worker_was_writing_does_not_stay(tmp_path):
    folder, out = fakes.photos(tmp_path / "in", "a.png", "b.png"), tmp_path / "out"

    def reader(path, *how):
        (out / "swatches").mkdir(exist_ok=True)
        (out / "swatches" / f".{path.stem}.thumb.jpg.0a1b2c3d4e5f.part").write_bytes(b"half")
        return fakes.reader(path, *how)

    run(folder, out, reader=reader)
    assert not list(out.rglob("*.part"))


def test_what_a_person_changed_is_kept_and_told(tmp_path):
    folder, out = fakes.photos(tmp_path / "in", "a.png", "b.png"), tmp_path / "out"
    run(folder, out)
    project = out / table(out / "swatches.csv")[0]["project"]
    text = project.read_text()
    mine = text.replace('"A/24 B4 A8 C/2"', '"A/26 B4 A8 C/2"', 1)
    assert mine != text
    project.write_text(mine)
    run(folder, out)
    row = table(out / "swatches.csv")[0]
    assert row["edited"] == "yes" and row["warp_decided"] == "A/26 B4 A8 C/2"
    assert row["warp_sequence"] == "A/24 B4 A8 C/2"
    # even when the photo is read anew
    (folder / "a.png").write_bytes(fakes.picture(colour=(200, 1, 1)))
    run(folder, out)
    assert "A/26 B4 A8 C/2" in project.read_text()
    assert table(out / "swatches.csv")[0]["edited"] == "yes"
    # a file with mistakes is left to the person
    project.write_text("[warp\n")
    (folder / "a.png").write_bytes(fakes.picture(colour=(100, 1, 1)))
    run(folder, out)
    assert project.read_text() == "[warp\n"


def test_object_numbers_and_reviewers(tmp_path):
    folder = fakes.photos(tmp_path / "in", "1923.45_front.png", "1923.46_front.png", "other.png")
    objects = Objects(
        pattern=pattern_of("{object}_*.png"),
        numbers={"other.png": "L.7"},
        reviewers={"1923.46_front.png": "the keeper"},
    )
    run(folder, tmp_path / "out", objects=objects)
    rows = table(tmp_path / "out" / "swatches.csv")
    assert [r["object"] for r in rows] == ["1923.45", "1923.46", "L.7"]
    assert [r["reviewer"] for r in rows] == ["", "the keeper", ""]


def test_a_folder_with_other_things_stays_as_it_is(tmp_path):
    folder, out = fakes.photos(tmp_path / "in", "a.png"), tmp_path / "out"
    out.mkdir()
    (out / "letter.txt").write_text("mine")
    with pytest.raises(BadFile, match="other files"):
        run(folder, out)
    assert [p.name for p in out.iterdir()] == ["letter.txt"]


def test_two_runs_do_not_work_in_one_folder(tmp_path):
    folder, out = fakes.photos(tmp_path / "in", "a.png"), tmp_path / "out"
    run(folder, out)
    with store.alone_in(out), pytest.raises(BadFile, match="Another batch"):
        run(folder, out)
    run(folder, out)


def test_nothing_to_read_is_said(tmp_path):
    (tmp_path / "in").mkdir()
    with pytest.raises(BadInput, match="no photo in"):
        run(tmp_path / "in", tmp_path / "out")
    with pytest.raises(BadFile, match="no such file"):
        run(tmp_path / "none", tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_the_batch_does_not_read_its_own_pictures(tmp_path):
    folder = fakes.photos(tmp_path, "a.png")
    run(folder, folder / "out")
    run(folder, folder / "out")
    assert fakes.calls(folder) == ["a.png"]


@pytest.mark.parametrize("fault", ["ENOSPC", "EROFS"])
@pytest.mark.parametrize("write", range(4))
def test_a_full_disk_fails_the_photo_and_leaves_nothing_half(tmp_path, monkeypatch, fault, write):
    """The `write`-th file of a photo meets the fault: evidence, thumbnail, project, record."""
    import errno

    folder, out = fakes.photos(tmp_path / "in", "a.png"), tmp_path / "out"
    seen, fsync = [], os.fsync

    def failing(handle):
        if "work" in seen:
            seen.append(handle)
            if len(seen) == 2 * write + 2:  # each file is flushed, then its folder
                raise OSError(getattr(errno, fault), "no")
        fsync(handle)

    def reader(*given):
        seen.append("work")
        return fakes.reader(*given)

    monkeypatch.setattr(os, "fsync", failing)
    summary = run(folder, out, reader=reader)
    monkeypatch.undo()
    assert summary.counts == {"failed": 1}
    (failure,) = table(out / "failures.csv")
    assert ("disk is full" if fault == "ENOSPC" else "read-only") in failure["reason"]
    assert not list(out.rglob("*.part"))
    assert run(folder, out).counts == {"read": 1}  # and it is tried again
    run(folder, tmp_path / "plain")
    assert contents(out) == contents(tmp_path / "plain")


KILLED = """
import sys
from pathlib import Path
from tests.batch.test_run import local
local(Path(sys.argv[1]), Path(sys.argv[2]))
"""


@pytest.mark.parametrize("after", [2, 5, 9])
def test_killed_at_any_moment_it_goes_on_where_it_was(tmp_path, after):
    """SIGKILL to the run when so many photos are done; its workers end by themselves."""
    names = [f"p{n:02d}_slow.png" for n in range(12)]
    folder, out = fakes.photos(tmp_path / "in", *names), tmp_path / "out"
    process = subprocess.Popen(
        [sys.executable, "-c", KILLED, folder, out], cwd=TOP, stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    records = out / "state" / "records"
    deadline = time.monotonic() + 120
    while sum(1 for _ in records.glob("*/*.json")) < after:
        assert process.poll() is None and time.monotonic() < deadline
        time.sleep(0.01)
    process.send_signal(signal.SIGKILL)
    process.communicate(timeout=60)  # the pipe is open for as long as any worker is there
    (out / "swatches" / ".a.toml.00.part").write_bytes(b"half")  # as if killed in mid-write
    done = {json.loads(p.read_text())["name"] for p in records.glob("*/*.json")}
    assert after <= len(done) < 12
    begun = fakes.calls(folder)

    summary = local(folder, out)
    assert summary.counts == {"read": 12} and summary.before == len(done)
    assert set(fakes.calls(folder)[len(begun) :]) == set(names) - done
    assert len(fakes.calls(folder)) - len(begun) == 12 - len(done)
    assert not list(out.rglob("*.part"))
    run(folder, tmp_path / "plain")
    assert contents(out) == contents(tmp_path / "plain")


def test_a_worker_without_its_run_writes_no_record(tmp_path):
    from settscan.batch.model import Task
    from settscan.batch.photos import find_photos

    folder, out = fakes.photos(tmp_path / "in", "a.png"), tmp_path / "out"
    (photo,) = find_photos(folder, out).photos
    task = Task(photo=photo, out=out, options=BatchOptions(), settings="x", head=1)
    (out / "swatches").mkdir(parents=True)
    one.work(task, fakes.reader)
    assert store.read_record(out, photo.id) is None
