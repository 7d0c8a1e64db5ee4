"""A batch from its photos to its tables, readable top to bottom."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from settscan import __version__
from settscan.batch import cluster
from settscan.batch.gather import gather
from settscan.batch.memory import machine_bytes, share_out
from settscan.batch.model import BatchOptions, Photograph, Record, Task
from settscan.batch.objects import Objects
from settscan.batch.one import Done, Reader, asked_of, read_pieces, settings_digest, work
from settscan.batch.photos import Found, find_photos
from settscan.batch.pool import MakePool, OneThread, local_pool, run_all
from settscan.batch.progress import Progress
from settscan.batch.store import alone_in, is_done, log, open_folder, read_record, sweep
from settscan.batch.tables import check_parquet

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """Where a batch is read.

    Attributes:
        jobs: photos at a time; 0 for as many as there are cores.
        memory: bytes for all of them together; 0 for three quarters of what is free.
        scheduler: address of a Dask scheduler; None for this machine.
    """

    jobs: int = 0
    memory: int = 0
    scheduler: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """What a batch came to: photos of each status, and how many were read in this run."""

    counts: dict[str, int] = field(default_factory=dict)
    read_now: int = 0
    before: int = 0

    @property
    def unread(self) -> int:
        """Swatches without a reading."""
        return self.counts.get("failed", 0) + self.counts.get("refused", 0)


def run_batch(
    where: Path,
    out: Path,
    *,
    options: BatchOptions,
    objects: Objects,
    machine: Machine,
    parquet: bool = False,
    say: Say,
    reader: Reader = read_pieces,
    make: MakePool = local_pool,
) -> Summary:
    """Read all photos of a folder or list that are not read yet, and write the tables.

    Args:
        where: the folder, or the list.
        out: the folder of the batch, new or of an earlier run of the same.
        options: for all photos.
        objects: tells object numbers and reviewers.
        machine: workers and memory, or a cluster.
        parquet: whether the tables are wanted as Parquet too.
        say: told how it goes, a sentence each.
        reader: reads one photo.
        make: makes the workers of this machine.

    Raises:
        BadInput, BadFile: for what makes the whole batch impossible; a photo that cannot be read
            never does.
    """
    if parquet:
        check_parquet()
    found = find_photos(where, out)
    settings = settings_digest()
    open_folder(out, {"options": options.told(), "program": __version__, "settings": settings})
    with alone_in(out):
        sweep(out)
        _say_found(found, say)
        todo = _to_do(out, found, asked_of(options, settings))
        before = len(found.photos) - len(todo)
        if before:
            say(f"{before:,} of {len(found.photos):,} photos are done already.")
        log(out, event="begin", photos=len(found.photos), done=before, process=os.getpid())
        missing = {}
        if todo:
            tasks = (
                Task(photo=p, out=out.resolve(), options=options, settings=settings) for p in todo
            )
            progress = Progress(len(found.photos), before, say)
            doing = OneThread(_Work(reader))
            missing = _read_all(tasks, machine, doing, make, out, progress, say)
            sweep(out)  # what a worker was writing when it was ended
        counts = gather(
            out, found.photos, objects, options, settings,
            closed=found.closed, missing=missing, parquet=parquet,
        )  # fmt: skip
        log(out, event="end", counts=counts)
    return Summary(counts=counts, read_now=len(todo), before=before)


@dataclass(frozen=True, slots=True)
class _Work:
    """The work with a reader of its own; it can be sent to another process."""

    reader: Reader

    def __call__(self, task: Task) -> Done:
        """Do it."""
        return work(task, self.reader)


def _say_found(found: Found, say: Say) -> None:
    photos, others = len(found.photos), found.passed_over
    line = f"{photos:,} photo{'s' * (photos != 1)} found"
    if others:
        line += f"; {others:,} other file{'s' * (others != 1)} passed over"
    if found.twice:
        line += f"; {found.twice:,} named twice"
    say(line + ".")
    for name, reason in found.closed:
        say(f"{name}: {reason}")


def _to_do(out: Path, found: Found, asked: str) -> list[Photograph]:
    """The photos that are not done yet."""
    return [p for p in found.photos if not is_done(out, read_record(out, p.id), p, asked)]


def _read_all(
    tasks: Iterator[Task],
    machine: Machine,
    doing: OneThread,
    make: MakePool,
    out: Path,
    progress: Progress,
    say: Say,
) -> dict[str, Record]:
    """Read them on this machine or a cluster.

    Returns:
        Records of failures that are not on the disk, by id.
    """
    if machine.scheduler is not None:
        with cluster.connected(machine.scheduler, out) as there:
            say(f"{there.size()} workers on the cluster.")
            window = 3 * there.size()
            done = run_all(tasks, doing, there.pool, 0, window, tries=0, check=there.check)
            return _taken_in(done, out, progress, say)[0]
    memory = machine.memory or machine_bytes()
    workers, share = share_out(memory, machine.jobs or os.cpu_count() or 1)
    say(f"{workers} at a time, at most {share // 1_000_000:,} MB of memory each.")
    if make is local_pool:  # its workers are our children, and each has a process of its own
        tasks = (replace(task, most_bytes=share, head=os.getpid()) for task in tasks)
    done = run_all(tasks, doing, make, workers, workers + 1)
    missing, large = _taken_in(done, out, progress, say)
    if large:
        alone = (replace(task, most_bytes=memory, alone=True) for task in large)
        missing |= _taken_in(run_all(alone, doing, make, 1, 1), out, progress, say)[0]
    return missing


def _taken_in(
    all_done: Iterator[tuple[Task, Done]], out: Path, progress: Progress, say: Say
) -> tuple[dict[str, Record], list[Task]]:
    """Records of failures, which may not be on the disk, and tasks too large to be done beside."""
    missing: dict[str, Record] = {}
    large: list[Task] = []
    for task, done in all_done:
        record = done.record
        if record.status == "too large":
            large.append(task)
            continue
        log(
            out, photo=record.name, status=record.status, reason=record.reason,
            seconds=round(done.seconds, 2), process=done.process,
        )  # fmt: skip
        if record.status == "failed":
            say(_named(record))
            missing[record.id] = record
        progress.one_more(record.status == "failed")
    return missing, large


def _named(record: Record) -> str:
    """Why a photo was not read: a reason that names the photo tells its path in that place."""
    short = Path(record.name).name
    if short in record.reason:
        told = record.reason.replace(short, record.name, 1)
    else:
        told = f"{record.name}: {record.reason}"
    return f"{told} {record.advice}".rstrip()
