"""Reads photos in a process of its own, so that the page answers meanwhile, and tells how far."""

from __future__ import annotations

import multiprocessing
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from settscan.errors import BadInput, SettscanError
from settscan.scan_model import ScanOptions, ScanResult

PICTURE_PX = 6000
"""Longest side of the straightened picture on the page: all that a camera of 24 megapixels sees."""
_SENTENCES = 7  # that a reading tells, about
_GONE = "The reading stopped before it was done; perhaps there was not enough memory."


@dataclass(frozen=True, slots=True)
class Job:
    """A reading.

    Attributes:
        number: goes up with each reading.
        project: the project that it is for.
        running: whether it is still going on.
        told: what it says it is doing, or what became of it.
        share: how much is done, 0 to 1, about.
        failed: why nothing came of it, "" if nothing went wrong.
        advice: sentences for the weaver.
        pictured: whether a picture of what was seen is left of a reading that failed.
    """

    number: int
    project: str
    running: bool = True
    told: str = "Starting to read ..."
    share: float = 0.02
    failed: str = ""
    advice: tuple[str, ...] = ()
    pictured: bool = False


class Reader:
    """At most one reading at a time."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.job: Job | None = None
        self._process: multiprocessing.process.BaseProcess | None = None

    def start(
        self,
        project: str,
        photos: Sequence[Path],
        options: ScanOptions,
        done: Callable[[ScanResult], None],
    ) -> Job:
        """Begin to read.

        Args:
            project: the project that it is for.
            photos: one, or one and a close-up.
            options: what is known already.
            done: told the result, in another thread.

        Raises:
            BadInput: if another reading is going on.
        """
        with self.lock:
            if self.job is not None and self.job.running:
                raise BadInput("Another photo is being read.", "Wait until it is done, or stop it.")
            number = 1 if self.job is None else self.job.number + 1
            context = multiprocessing.get_context("spawn")
            here, there = context.Pipe(duplex=False)
            process = context.Process(
                target=read_and_tell, args=(there, [str(p) for p in photos], options), daemon=True
            )
            process.start()
            there.close()
            self._process = process
            self.job = Job(number, project)
            threading.Thread(
                target=self._listen, args=(self.job, process, here, done), daemon=True
            ).start()
            return self.job

    def stop(self) -> None:
        """Give up the reading that is going on."""
        with self.lock:
            if self.job is not None and self.job.running and self._process is not None:
                self.job = replace(self.job, running=False, failed="The reading was stopped.")
                self._process.terminate()

    def _listen(
        self,
        job: Job,
        process: multiprocessing.process.BaseProcess,
        here: Connection,
        done: Callable[[ScanResult], None],
    ) -> None:
        told = 0
        try:
            while True:
                kind, content = here.recv()
                if kind != "told":
                    break
                told += 1
                self._tell(job, told=content, share=min(0.95, told / _SENTENCES))
        except (EOFError, OSError):
            kind, content = "failed", (_GONE, "")
        here.close()
        process.join()
        if kind == "failed":
            self._tell(job, running=False, failed=" ".join(content).strip())
            return
        self._finish(job, content, done)

    def _finish(self, job: Job, result: ScanResult, done: Callable[[ScanResult], None]) -> None:
        try:
            done(result)
        except SettscanError as error:
            self._tell(job, running=False, failed=str(error), advice=result.advice)
            return
        failed = "" if result.cloth is not None else "No stripes could be read from this photo."
        left = bool(failed and result.evidence_png)
        changes = {"told": "Done.", "share": 1.0, "failed": failed, "pictured": left}
        self._tell(job, running=False, advice=result.advice, **changes)

    def _tell(self, job: Job, **changes: Any) -> None:
        with self.lock:
            if self.job is not None and self.job.number == job.number and self.job.running:
                self.job = replace(self.job, **changes)


def read_and_tell(there: Connection, photos: Sequence[str], options: ScanOptions) -> None:
    """What the process of its own does: read, telling each step, then hand over the result."""
    from settscan.scan import scan_photos

    try:
        result = scan_photos(
            [Path(p) for p in photos],
            options,
            lambda sentence: there.send(("told", sentence)),
            picture_px=PICTURE_PX,
        )
        there.send(("done", result))
    except SettscanError as error:
        there.send(("failed", (error.message, error.advice)))
    except MemoryError:
        there.send(("failed", ("There is not enough memory for this.", "Use a smaller photo.")))
    except Exception as error:
        told = f"Something went wrong inside settscan ({type(error).__name__}: {error})."
        there.send(("failed", (told, "Read the photo with settscan scan --verbose.")))
    finally:
        there.close()
