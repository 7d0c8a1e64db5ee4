"""A project on the table: saved at once, around remarks; nothing of anybody's is lost."""

import json

import pytest

from settscan.cloth.project import read_project
from settscan.cloth.project_edit import Edit
from settscan.errors import BadFile, BadInput, BadProject
from settscan.files import PREVIOUS
from settscan.page.desk import Conflict, Desk
from settscan.page.edits import edited
from tests.page.cloths import project_text

REMARK = "# my own remark, which nobody may lose"


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "blanket.toml"
    text = project_text().replace("[warp]\n", f"[warp]\n{REMARK}\n")
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def desk(file):
    return Desk(file, file.with_suffix(".page"))


def do(desk, **edit):
    return desk.edit(desk.view().revision, lambda work: edited(work, edit))


def test_an_edit_is_in_the_file_at_once_and_the_rest_stays(desk, file):
    before = file.read_text()
    do(desk, name="count", side="warp", line=2, threads=15)
    after = file.read_text()
    changed = [
        (a, b) for a, b in zip(before.splitlines(), after.splitlines(), strict=False) if a != b
    ]
    assert REMARK in after
    assert 'sequence = "A/22 B6 C15 B4 C/4"' in after
    assert changed[0][0].startswith("shows_warp")
    assert read_project(file).cloth.warp.sequence.threads == 2 * (22 + 6 + 15 + 4 + 4) - 26
    assert file.with_name(file.name + PREVIOUS).read_text() == before


def test_a_confirmed_stripe_is_no_doubt_any_more(desk, file):
    assert read_project(file).cloth.warp.doubts[0].position == 3
    do(desk, name="certain", side="warp", line=3, certain=True)
    assert read_project(file).cloth.warp.doubts == ()
    assert "confirmed = true" in file.read_text()
    again = Desk(file, file.parent / "other.page").view().work
    assert again.warp.lines[3].certain


def test_a_corrected_count_stays_certain_after_reopening(desk, file):
    do(desk, name="count", side="warp", line=3, threads=5)
    again = Desk(file, file.with_suffix(".page")).view().work
    assert again.warp.lines[3].certain and again.warp.lines[3].threads == 5


def test_undo_and_redo_have_no_end_and_survive_a_restart(desk, file):
    first = file.read_text()
    for threads in range(30, 60):
        do(desk, name="count", side="warp", line=0, threads=threads)
    desk = Desk(file, file.with_suffix(".page"))
    for _ in range(30):
        desk.undo(desk.view().revision)
    assert file.read_text() == first
    with pytest.raises(BadFile, match="Nothing is left to undo"):
        desk.undo(desk.view().revision)
    desk = Desk(file, file.with_suffix(".page"))
    for _ in range(30):
        desk.redo(desk.view().revision)
    assert "A/59" in file.read_text()
    with pytest.raises(BadFile, match="Nothing is left to redo"):
        desk.redo(desk.view().revision)


def test_an_edit_after_undo_begins_a_new_way(desk, file):
    do(desk, name="count", side="warp", line=0, threads=30)
    desk.undo(desk.view().revision)
    do(desk, name="count", side="warp", line=0, threads=40)
    assert not desk.history.can_redo
    desk.undo(desk.view().revision)
    assert "A/22" in file.read_text()


def test_an_edit_on_an_old_state_is_refused(desk, file):
    seen = desk.view().revision
    do(desk, name="count", side="warp", line=0, threads=30)
    with pytest.raises(Conflict, match="changed elsewhere"):
        desk.edit(seen, lambda work: edited(work, {"name": "swap"}))
    assert "A/30" in file.read_text()


def test_an_edit_of_the_file_outside_is_noticed_and_not_overwritten(desk, file):
    seen = desk.view().revision
    file.write_text(file.read_text().replace("A/22", "A/26"))
    with pytest.raises(Conflict):
        desk.edit(
            seen,
            lambda w: edited(w, {"name": "count", "side": "warp", "line": 1, "threads": 9}),
        )
    assert "A/26" in file.read_text()
    assert desk.view().work.warp.lines[0].threads == 26
    desk.undo(desk.view().revision)  # even that can be undone
    assert "A/22" in file.read_text()


def test_two_programs_on_one_file_do_not_overwrite_each_other(file):
    one, two = Desk(file, file.with_suffix(".page")), Desk(file, file.parent / "second.page")
    seen = two.view().revision
    do(one, name="count", side="warp", line=0, threads=30)
    with pytest.raises(Conflict):
        two.edit(seen, lambda w: edited(w, {"name": "swap"}))
    do(two, name="count", side="warp", line=1, threads=8)
    assert 'sequence = "A/30 B8' in file.read_text()


def test_a_file_with_a_mistake_is_told_and_left_alone(desk, file):
    wrong = file.read_text().replace('sequence = "A/22', 'sequence = "A/zwei')
    file.write_text(wrong)
    view = desk.view()
    assert view.work is None and "line" in view.problem
    with pytest.raises(BadFile, match="has mistakes"):
        desk.edit(view.revision, lambda w: edited(w, {"name": "swap"}))
    assert file.read_text() == wrong


def test_a_wrong_field_is_refused_before_anything_is_written(desk, file):
    before = file.read_text()
    with pytest.raises((BadInput, BadProject)):
        desk.write(desk.view().revision, [Edit(("piece", "width"), "54 elephants")], "x")
    assert file.read_text() == before


def test_line_ends_and_mark_of_the_file_stay(tmp_path):
    path = tmp_path / "blanket.toml"
    path.write_bytes(("\ufeff" + project_text().replace("\n", "\r\n")).encode())
    desk = Desk(path, tmp_path / "blanket.page")
    do(desk, name="count", side="warp", line=0, threads=30)
    content = path.read_bytes()
    assert content.startswith(b"\xef\xbb\xbf") and b"\n" not in content.replace(b"\r\n", b"")


def test_a_full_disk_leaves_the_file_whole(desk, file, monkeypatch):
    import errno

    from settscan import files

    before = file.read_text()

    def full(handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(files.os, "fsync", full)
    with pytest.raises(BadFile, match="disk is full"):
        do(desk, name="count", side="warp", line=0, threads=30)
    monkeypatch.undo()
    assert file.read_text() == before
    do(desk, name="count", side="warp", line=0, threads=31)
    assert "A/31" in file.read_text()


def test_a_history_cut_off_in_mid_line_is_read_as_far_as_it_goes(desk, file):
    do(desk, name="count", side="warp", line=0, threads=30)
    do(desk, name="count", side="warp", line=0, threads=31)
    log = file.with_suffix(".page") / "history.jsonl"
    log.write_bytes(log.read_bytes()[:-40])
    desk = Desk(file, file.with_suffix(".page"))
    do(desk, name="count", side="warp", line=0, threads=32)
    for _ in range(3):
        desk.undo(desk.view().revision)
    assert "A/22" in file.read_text()


@pytest.mark.parametrize("content", ["", "not json", "[1]", '{"warp": {"edges": [3, 1]}}'])
def test_damaged_places_only_cost_the_places(desk, file, content):
    do(desk, name="count", side="warp", line=0, threads=30)
    (file.with_suffix(".page") / "places.json").write_text(content)
    work = Desk(file, file.with_suffix(".page")).view().work
    assert len(work.warp.shown) == 10 and not work.warp.exact


def test_a_moved_edge_is_kept_and_undone(desk, file):
    work = desk.view().work
    edge = work.warp.shown[7].end
    do(desk, name="move", side="warp", place=7, to=edge + 0.02)
    assert desk.view().work.warp.shown[7].end == pytest.approx(edge + 0.02, abs=1e-4)
    again = Desk(file, file.with_suffix(".page")).view().work
    assert again.warp.shown[7].end == pytest.approx(edge + 0.02, abs=1e-4)
    desk.undo(desk.view().revision)
    assert desk.view().work.warp.shown[7].end == pytest.approx(edge, abs=1e-4)
    places = json.loads((file.with_suffix(".page") / "places.json").read_text() or "{}")
    assert places.get("warp", {}).get("edges", [None] * 9)[8] in (
        None,
        pytest.approx(edge, abs=1e-4),
    )


def test_places_that_never_reached_the_disk_are_in_the_history(desk, file):
    do(desk, name="move", side="warp", place=1, to=0.21)
    placed = desk.view().work.warp.shown
    (file.with_suffix(".page") / "places.json").write_text("")  # as after a power cut
    assert Desk(file, file.with_suffix(".page")).view().work.warp.shown == placed


def test_an_edit_after_a_step_back_keeps_what_the_layout_had(desk, file):
    for threads in (15, 16):
        do(desk, name="count", side="warp", line=2, threads=threads)
    once = file.read_text()
    desk.undo(desk.view().revision)
    do(desk, name="count", side="warp", line=2, threads=16)
    assert file.read_text() == once
    assert REMARK in once


def test_warp_and_weft_swap_and_swap_back(desk, file):
    before = read_project(file).cloth
    do(desk, name="swap")
    now = read_project(file).cloth
    assert [s.threads for s in now.weft.sequence.stripes] == [22, 6, 14, 4, 4]
    assert [s.threads for s in now.warp.sequence.stripes] == [10, 6, 4]
    assert now.twill_direction == "S"
    assert read_project(file).photo.warp_runs == "across"
    do(desk, name="swap")
    back = read_project(file).cloth
    assert back.warp.sequence == before.warp.sequence
    assert back.weft.sequence == before.weft.sequence
    assert back.twill_direction == "Z"


def test_the_weft_follows_the_warp_and_stops_following(desk, file):
    do(desk, name="weft-like-warp", on=True)
    do(desk, name="count", side="warp", line=0, threads=30)
    assert read_project(file).cloth.weft.sequence.stripes[0].threads == 30
    with pytest.raises(BadInput, match="like the warp"):
        do(desk, name="count", side="weft", line=0, threads=9)
    do(desk, name="weft-like-warp", on=False)
    do(desk, name="count", side="weft", line=0, threads=9)
    cloth = read_project(file).cloth
    assert cloth.warp.sequence.stripes[0].threads == 30
    assert cloth.weft.sequence.stripes[0].threads == 9


def test_yarns_are_renamed_recoloured_merged_added_and_set_apart(desk, file):
    do(desk, name="rename-yarn", yarn="A", text="  night   blue ")
    do(desk, name="recolour-yarn", yarn="A", colour="#0A0B0C")
    assert (read_project(file).cloth.yarn("A").name, read_project(file).cloth.yarn("A").colour) == (
        "night blue",
        "#0a0b0c",
    )
    do(desk, name="set-apart", side="warp", line=1, text="")
    cloth = read_project(file).cloth
    assert [s.yarn for s in cloth.warp.sequence.stripes] == ["A", "D", "C", "B", "C"]
    do(desk, name="merge-yarns", yarn="B", into="C")
    cloth = read_project(file).cloth
    assert [y.key for y in cloth.yarns] == ["A", "C", "D"]
    assert [s.threads for s in cloth.warp.sequence.stripes] == [22, 6, 40]
    do(desk, name="add-yarn", text="rose", colour="#cc8899")
    with pytest.raises(BadInput, match="still use"):
        do(desk, name="remove-yarn", yarn="A")
    do(desk, name="remove-yarn", yarn="B")
    assert "rose" not in file.read_text()


@pytest.mark.parametrize(
    "edit",
    [
        {"name": "explode"},
        {"name": "count", "side": "selvedge", "line": 0, "threads": 3},
        {"name": "count", "side": "warp", "line": 99, "threads": 3},
        {"name": "count", "side": "warp", "line": -1, "threads": 3},
        {"name": "count", "side": "warp", "line": 0, "threads": 2.5},
        {"name": "count", "side": "warp", "line": 0, "threads": True},
        {"name": "colour", "side": "warp", "line": 0, "yarn": "Z"},
        {"name": "move", "side": "warp", "place": 0, "to": float("nan")},
        {"name": "move", "side": "warp", "place": 99, "to": 0.5},
        {"name": "recolour-yarn", "yarn": "A", "colour": "red; }"},
        {"name": "rename-yarn", "yarn": "A", "text": "two\nlines" * 20},
        {"name": "merge-yarns", "yarn": "A", "into": "A"},
        {"name": "kind", "side": "warp", "kind": "magic"},
        {"name": "mend", "side": "warp", "place": 77},
        {"name": "weave", "weave": "nonsense", "direction": ""},
        {},
    ],
)  # fmt: skip
def test_an_edit_that_makes_no_sense_is_a_sentence(desk, file, edit):
    before = file.read_text()
    with pytest.raises(BadInput) as caught:
        do(desk, **edit)
    assert caught.value.message.endswith(".")
    assert file.read_text() == before
