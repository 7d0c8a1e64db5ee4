"""Files are written whole or not at all; a fault at any step leaves the old file or the new one."""

import errno
import io
import os
import stat
from pathlib import Path

import pytest

from settscan import cli, files
from settscan.errors import BadFile


@pytest.fixture
def old(tmp_path):
    path = tmp_path / "blanket.toml"
    path.write_bytes(b"old")
    return path


def names(folder):
    return sorted(entry.name for entry in folder.iterdir())


def test_a_new_file_has_the_usual_permissions_and_nothing_is_left_beside(tmp_path):
    mask = os.umask(0o027)
    try:
        files.write_new(tmp_path / "x", b"new")
    finally:
        os.umask(mask)
    assert (tmp_path / "x").read_bytes() == b"new"
    assert stat.S_IMODE((tmp_path / "x").stat().st_mode) == 0o640
    assert names(tmp_path) == ["x"]


def test_a_new_file_never_replaces_one(old, tmp_path):
    with pytest.raises(BadFile, match="exists already"):
        files.write_new(old, b"new")
    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    with pytest.raises(BadFile, match="exists already"):
        files.write_new(tmp_path / "dangling", b"new")
    assert old.read_bytes() == b"old"


def test_a_name_taken_in_the_last_moment_is_not_replaced(tmp_path, monkeypatch):
    path = tmp_path / "x"
    real = os.link

    def late(source, target):
        path.write_bytes(b"theirs")
        real(source, target)

    monkeypatch.setattr(os, "link", late)
    with pytest.raises(BadFile, match="exists already"):
        files.write_new(path, b"mine")
    assert path.read_bytes() == b"theirs"
    assert names(tmp_path) == ["x"]


def no_link(source, target):
    """As on a memory card."""
    raise PermissionError(errno.EPERM, "no links here")


def test_a_disk_without_links_will_do(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "link", no_link)
    files.write_new(tmp_path / "x", b"new")
    assert (tmp_path / "x").read_bytes() == b"new"
    with pytest.raises(BadFile, match="exists"):
        files.write_new(tmp_path / "x", b"newer")


def test_replacing_keeps_permissions_and_links(old, tmp_path):
    old.chmod(0o604)
    link = tmp_path / "link.toml"
    link.symlink_to(old)
    files.replace_file(link, b"new")
    assert link.is_symlink()
    assert old.read_bytes() == b"new"
    assert stat.S_IMODE(old.stat().st_mode) == 0o604


def test_the_previous_version_is_kept(old, tmp_path):
    files.change_file(old, b"old", b"new")
    assert old.read_bytes() == b"new"
    assert (tmp_path / "blanket.toml.previous").read_bytes() == b"old"
    files.change_file(old, b"new", b"new")
    assert (tmp_path / "blanket.toml.previous").read_bytes() == b"old"
    with pytest.raises(BadFile, match="changed by somebody else"):
        files.change_file(old, b"old", b"newer")
    assert old.read_bytes() == b"new"
    old.write_bytes(b"theirs")
    with pytest.raises(BadFile, match="changed by somebody else"):
        files.change_file(old, b"new", b"newer")
    assert (tmp_path / "blanket.toml.previous").read_bytes() == b"old"


@pytest.mark.parametrize("links", [True, False])
def test_the_previous_version_is_a_file_of_its_own(old, tmp_path, links, monkeypatch):
    if not links:
        monkeypatch.setattr(os, "link", no_link)
    files.change_file(old, b"old", b"new")
    files.change_file(old, b"new", b"newer")
    previous = tmp_path / "blanket.toml.previous"
    assert previous.read_bytes() == b"new"
    assert not previous.samefile(old)
    assert old.stat().st_nlink == previous.stat().st_nlink == 1
    old.write_bytes(b"written in place")  # as some editors do
    assert previous.read_bytes() == b"new"
    assert sorted(one.name for one in tmp_path.iterdir()) == [old.name, previous.name]


def test_a_previous_version_that_is_a_link_stays_one(old, tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_bytes(b"")
    (tmp_path / "blanket.toml.previous").symlink_to(elsewhere)
    files.change_file(old, b"old", b"new")
    assert elsewhere.read_bytes() == b"old"


@pytest.mark.parametrize("step", ["open", "fsync", "write", "chmod", "replace"])
@pytest.mark.parametrize(
    ("code", "words"),
    [(errno.ENOSPC, "the disk is full"), (errno.EROFS, "read-only"), (errno.EIO, "input/output")],
)
def test_a_fault_at_any_step_leaves_the_old_file_whole(
    old, tmp_path, monkeypatch, step, code, words
):
    def fault(*args, **kwargs):
        raise OSError(code, os.strerror(code))

    if step in ("chmod", "replace"):
        monkeypatch.setattr(Path, step, fault)
    elif step == "write":
        real = os.fdopen

        class Failing:
            def __init__(self, handle, mode):
                self.file = real(handle, mode)

            def __enter__(self):
                return self

            def __exit__(self, *about):
                self.file.close()

            def write(self, content):
                self.file.write(content[:1])
                fault()

        monkeypatch.setattr(os, "fdopen", Failing)
    else:
        monkeypatch.setattr(os, step, fault)
    with pytest.raises(BadFile, match=words):
        files.replace_file(old, b"new")
    monkeypatch.undo()
    assert old.read_bytes() == b"old"
    assert names(tmp_path) == ["blanket.toml"]


def test_an_interruption_leaves_nothing_behind(old, tmp_path, monkeypatch):
    def interrupted(handle):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        files.replace_file(old, b"new")
    assert old.read_bytes() == b"old"
    assert names(tmp_path) == ["blanket.toml"]


def test_what_cannot_be_read_is_told(tmp_path, old):
    with pytest.raises(BadFile, match="no such file"):
        files.read_bytes(tmp_path / "none", 10)
    with pytest.raises(BadFile, match="folder"):
        files.read_bytes(tmp_path, 10)
    with pytest.raises(BadFile, match="a part of its path is a file"):
        files.read_bytes(old / "below", 10)
    with pytest.raises(BadFile, match="larger"):
        files.read_bytes(old, 2)
    with pytest.raises(BadFile, match="name"):
        files.read_bytes(Path("a\0b"), 10)
    loop = tmp_path / "loop"
    loop.symlink_to(loop)
    for attempt in (lambda: files.read_bytes(loop, 10), lambda: files.replace_file(loop, b"")):
        with pytest.raises(BadFile, match="circle"):
            attempt()


def test_a_pipe_is_not_waited_for(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(BadFile, match="not a regular file"):
        files.read_bytes(pipe, 10)
    with pytest.raises(BadFile, match="not a regular file"):
        files.replace_file(pipe, b"")


def test_folders(tmp_path, old):
    files.make_folder(tmp_path / "a" / "b")
    files.make_folder(tmp_path / "a" / "b")
    with pytest.raises(BadFile, match="Cannot make the folder"):
        files.make_folder(old / "below")


WRITER = """
import sys
from pathlib import Path
from settscan.files import change_file, read_bytes, replace_file
path, whole = Path(sys.argv[1]), [bytes([65 + n]) * 3_000_000 for n in (0, 1)]
print("ready", flush=True)
while True:
    for before, after in (whole, whole[::-1]):
        change_file(path, before, after)
"""


def test_killed_in_mid_write_the_file_is_whole(tmp_path):
    """SIGKILL at eight moments of a writer that never rests: the file is one text or the other."""
    import subprocess
    import sys
    import time

    path = tmp_path / "blanket.toml"
    whole = [b"A" * 3_000_000, b"B" * 3_000_000]
    for wait in (0.0, 0.001, 0.003, 0.007, 0.011, 0.017, 0.023, 0.031):
        path.write_bytes(whole[0])
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, path], stdout=subprocess.PIPE, cwd=tmp_path
        )
        assert writer.stdout.readline() == b"ready\n"
        time.sleep(wait)
        writer.kill()
        writer.communicate()
        assert path.read_bytes() in whole
        previous = path.with_name("blanket.toml.previous")
        assert not previous.exists() or previous.read_bytes() in whole


def test_a_file_filled_bit_by_bit_takes_its_place_at_the_end(tmp_path, old, monkeypatch):
    with files.writing(old) as file:
        file.write(b"n")
        assert old.read_bytes() == b"old"
        file.write(b"ew")
    assert old.read_bytes() == b"new" and names(tmp_path) == ["blanket.toml"]
    with pytest.raises(ZeroDivisionError), files.writing(old) as file:
        file.write(b"half")
        raise ZeroDivisionError
    assert old.read_bytes() == b"new" and names(tmp_path) == ["blanket.toml"]

    def full(handle):
        raise OSError(errno.ENOSPC, "no")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(BadFile, match="disk is full"), files.writing(old) as file:
        file.write(b"half")
    assert old.read_bytes() == b"new" and names(tmp_path) == ["blanket.toml"]


@pytest.mark.parametrize("full_after", [0, 1, 4])
def test_sheets_that_met_a_full_disk_are_made_by_the_same_command(
    tmp_path, monkeypatch, capsys, full_after
):
    """The folder holds so many whole files; it is known as ours, and not refused as another's."""
    project = tmp_path / "b.toml"
    assert cli.run(["new", str(project), "--warp", "A/24 B4 A8 C/2", "--epi", "24"]) == 0
    assert cli.run(["plan", str(project), "-o", str(tmp_path / "whole")]) == 0
    left, fsync = [full_after], os.fsync

    def failing(handle):
        if stat.S_ISREG(os.fstat(handle).st_mode):  # folders are flushed too
            left[0] -= 1
            if left[0] < 0:
                raise OSError(errno.ENOSPC, "no")
        fsync(handle)

    out = tmp_path / "out"
    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", failing)
        assert cli.run(["plan", str(project), "-o", str(out)]) == 2
    assert "the disk is full" in capsys.readouterr().err
    assert len(names(out)) == full_after
    assert cli.run(["plan", str(project), "-o", str(out)]) == 0
    assert names(out) == names(tmp_path / "whole")
    assert all((out / n).read_bytes() == (tmp_path / "whole" / n).read_bytes() for n in names(out))


@pytest.mark.parametrize(
    "arguments",
    [
        ["plan"],
        ["scan", "-o", "x.toml"],
        ["batch", "-o", "out"],
        ["new", "x.toml", "--wif"],
        ["resize", "--epi", "20"],
    ],
    ids=lambda words: words[0],
)
def test_what_may_not_be_read_is_a_sentence(old, tmp_path, monkeypatch, capsys, arguments):
    """As the system answers one who is not root: to the question first, then to the opening."""

    def closed(real):
        def denied(path, *how, **more):
            if not isinstance(path, int) and Path(os.fsdecode(path)) == old:
                raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
            return real(path, *how, **more)

        return denied

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(os, "access", lambda path, mode, **more: Path(path) != old)
    monkeypatch.setattr(os, "open", closed(os.open))
    monkeypatch.setattr(io, "open", closed(io.open))
    assert cli.run([*arguments, str(old), "-q"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("settscan: ") and "permission" in said.lower()
    assert said.count("\n") == 1
