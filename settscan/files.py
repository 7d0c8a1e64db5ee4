"""Files written whole or not at all, and the system's complaints as sentences.

A file is written beside its target, flushed to the disk and then put in its place in one step,
so that a full disk, a crash or a pulled plug leaves the old file or the new one, never a part.
"""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from settscan.errors import BadFile

PREVIOUS = ".previous"
"""Added to the name of a file for the version before the last change."""

MADE_HERE = b"made by settscan"
"""Stands near the start of our pictures, so that they can be told from what others put there."""

_REASONS = {
    errno.ENOENT: ("there is no such file or folder", "Check the name and the folder."),
    errno.EACCES: ("permission is denied", "Choose another place, or ask who owns it."),
    errno.EPERM: ("the system does not allow it", "Choose another place, or ask who owns it."),
    errno.EROFS: ("the disk is read-only", "Choose a folder on another disk."),
    errno.ENOSPC: ("the disk is full", "Make room and try again; nothing was half-written."),
    errno.EDQUOT: ("your share of the disk is full", "Make room and try again."),
    errno.EISDIR: ("it is a folder", "Give the name of a file."),
    errno.ENOTDIR: ("a part of its path is a file, not a folder", "Check the path."),
    errno.EEXIST: ("it exists already", "Choose another name."),
    errno.ENAMETOOLONG: ("its name is too long", "Choose a shorter one."),
    errno.ELOOP: ("its links lead in a circle", "Give the file itself."),
    errno.EFBIG: ("the file would be too large for this disk", "Choose another disk."),
}


def os_problem(error: OSError, doing: str, path: Path | str) -> BadFile:
    """An error of the system as a sentence, such as "Cannot write x.toml: the disk is full."."""
    fallback = ((error.strerror or type(error).__name__).lower(), "Check it and try again.")
    reason, advice = _REASONS.get(error.errno or 0, fallback)
    return BadFile(f"Cannot {doing} {path}: {reason}.", advice)


def read_bytes(path: Path, most: int) -> bytes:
    """The bytes of a regular file.

    Args:
        path: the file.
        most: bytes that it may have at most.

    Raises:
        BadFile: if it is missing, no regular file, unreadable or larger.
    """
    try:
        # Not to wait for ever at a pipe that nobody writes to.
        flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        handle = os.open(path, flags)
        try:
            mode = os.fstat(handle).st_mode
            if not stat.S_ISREG(mode):
                kind = "a folder" if stat.S_ISDIR(mode) else "not a regular file"
                raise BadFile(f"{path} is {kind}.", "Give the name of a file.")
        except BaseException:
            os.close(handle)
            raise
        with os.fdopen(handle, "rb") as file:
            found = file.read(most + 1)
    except OSError as error:
        raise os_problem(error, "read", path) from error
    except ValueError as error:  # a NUL in the name
        raise BadFile(f"{str(path)!r} is not a name for a file.", "Check the name.") from error
    if len(found) > most:
        raise BadFile(
            f"{path} is larger than {most // 1_000_000} MB.", "Check that it is the right file."
        )
    return found


def made_here(path: Path) -> bool:
    """Whether a file is a picture that this program made, and can make again."""
    try:
        with path.open("rb") as file:
            return MADE_HERE in file.read(200)
    except OSError:
        return False


def write_new(path: Path, content: bytes) -> None:
    """Write a file that must not exist yet.

    Raises:
        BadFile: if something of that name exists, or it cannot be written.
    """
    if path.is_symlink() or path.exists():
        raise _exists(path)
    try:
        with _beside(path, content) as temporary:
            try:
                os.link(temporary, path)  # fails if the name was taken meanwhile
            except FileExistsError:
                raise _exists(path) from None
            except OSError:  # disks without links, such as memory cards
                if path.exists():
                    raise _exists(path) from None
                temporary.replace(path)
            _flush_folder(path.parent)
    except OSError as error:
        raise os_problem(error, "write", path) from error


def replace_file(path: Path, content: bytes, *, flush: bool = True) -> None:
    """Write a file, in place of what had the name before; links and permissions stay.

    Args:
        path: where.
        content: what.
        flush: whether it is on the disk when this returns; False for what can be made again.

    Raises:
        BadFile: if it cannot be written.
    """
    try:
        target = path.resolve() if path.is_symlink() else path
        if target.exists() and not target.is_file():
            raise BadFile(f"{path} is not a regular file.", "Choose another name.")
        with _beside(target, content, flush) as temporary:
            _like(temporary, target)
            temporary.replace(target)
            if flush:
                _flush_folder(target.parent)
    except OSError as error:
        raise os_problem(error, "write", path) from error
    except RuntimeError as error:  # a loop of links, as Path.resolve tells it up to Python 3.12
        raise BadFile(f"Cannot write {path}: its links lead in a circle.") from error


def change_file(path: Path, before: bytes, after: bytes) -> None:
    """Put `after` in the place of `before` and keep `before` under the name ending `.previous`.

    Raises:
        BadFile: if the file no longer holds `before`, or it cannot be written. The check and the
            change are two steps, a moment apart.
    """
    if before == after:
        return
    _refuse_changed(path, before)
    if not _kept_by_link(path):
        replace_file(_previous(path), before)
        _refuse_changed(path, before)
    replace_file(path, after)


def _previous(path: Path) -> Path:
    return path.with_name(path.name + PREVIOUS)


def _kept_by_link(path: Path) -> bool:
    """Keep a plain file as the previous one by a second name for it; False where that is not safe.

    Its content is on the disk already, so nothing is written anew; the caller gives the first name
    to a new file at once, and flushes the folder.
    """
    previous = _previous(path)
    if path.is_symlink() or previous.is_symlink() or (previous.exists() and not previous.is_file()):
        return False
    temporary = previous.with_name(f".{previous.name[:80]}.{os.urandom(6).hex()}.part")
    try:
        os.link(path, temporary)
    except OSError:  # disks without links, such as memory cards
        return False
    try:
        temporary.replace(previous)
    except OSError as error:
        raise os_problem(error, "write", previous) from error
    finally:
        temporary.unlink(missing_ok=True)
    return True


def make_folder(path: Path) -> None:
    """Make a folder and those above it, if they are not there.

    Raises:
        BadFile: if that cannot be done.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise os_problem(error, "make the folder", path) from error


def check_writable(folder: Path) -> None:
    """See before long work whether files can be put into a folder.

    Raises:
        BadFile: if it is missing or closed to us.
    """
    if not folder.is_dir():
        raise BadFile(f"There is no folder {folder}.", "Make it first, or choose another place.")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise BadFile(
            f"Nothing can be written into the folder {folder}: permission is denied.",
            "Choose another place, or ask who owns it.",
        )


def _exists(path: Path) -> BadFile:
    return BadFile(f"{path} exists already and stays as it is.", "Choose another name.")


def _refuse_changed(path: Path, before: bytes) -> None:
    """Raise if the file holds something else than what was read from it."""
    if read_bytes(path, len(before) + 1_000_000) != before:
        raise BadFile(
            f"{path} was changed by somebody else meanwhile, so nothing was written.",
            "Run the command again; it then starts from the changed file.",
        )


@contextlib.contextmanager
def _beside(target: Path, content: bytes, flush: bool = True) -> Iterator[Path]:
    """A file, flushed if wanted, with this content in the folder of `target`, gone afterwards."""
    temporary = target.with_name(f".{target.name[:80]}.{os.urandom(6).hex()}.part")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    handle = os.open(temporary, flags, 0o666)  # the usual permissions of a new file
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            if flush:
                os.fsync(file.fileno())
        yield temporary
    finally:
        temporary.unlink(missing_ok=True)


def _like(temporary: Path, target: Path) -> None:
    """Give the new file the permission bits, and where allowed the owner, of the old one."""
    try:
        old = target.stat()
    except FileNotFoundError:
        return
    temporary.chmod(stat.S_IMODE(old.st_mode))
    if hasattr(os, "chown"):
        with contextlib.suppress(PermissionError):
            os.chown(temporary, old.st_uid, old.st_gid)
            temporary.chmod(stat.S_IMODE(old.st_mode))


def _flush_folder(folder: Path) -> None:
    """Make the new name itself safe on the disk, where the system can do that."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextlib.contextmanager
def writing(path: Path) -> Iterator[IO[bytes]]:
    """A file to be filled bit by bit that takes the place of `path` when all went well.

    Raises:
        BadFile: if it cannot be written; `path` is then what it was.
    """
    temporary = path.with_name(f".{path.name[:80]}.{os.urandom(6).hex()}.part")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    try:
        handle = os.open(temporary, flags, 0o666)
        try:
            with os.fdopen(handle, "wb") as file:
                yield file
                file.flush()
                os.fsync(file.fileno())
            temporary.replace(path)
        finally:
            temporary.unlink(missing_ok=True)
        _flush_folder(path.parent)
    except OSError as error:
        raise os_problem(error, "write", path) from error
