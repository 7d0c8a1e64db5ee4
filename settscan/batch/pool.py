"""Workers: processes of this machine (loky) or of a cluster (Dask), fed a few photos at a time.

Both are `concurrent.futures` executors. A worker that is ended from outside takes with it what it
had in hand. On this machine those photos are tried again, each alone, so that one photo which ends
every worker is found and named; Dask does that by itself.
"""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass
from typing import Any

from settscan.batch.model import Record, Task
from settscan.batch.one import Done, asked_of
from settscan.errors import BadInput, SettscanError

Work = Callable[[Task], Done]
MakePool = Callable[[int], Executor]
"""Makes an executor of so many workers; 0 stands for all there are."""

_LOOK_S = 5.0  # between looks at a cluster that gives no answer
_WATCH_S = 0.5  # between looks of a worker whether its run is still there

THREADS = {
    name: "1"
    for name in (
        "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS",
        "VECLIB_MAXIMUM_THREADS", "NUMEXPR_NUM_THREADS",
    )
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class OneThread:
    """Work done with one thread of the number libraries.

    So workers do not crowd each other, and sums come out the same whatever the number of cores.
    """

    work: Work

    def __call__(self, task: Task) -> Done:
        """Do it."""
        import cv2
        from threadpoolctl import threadpool_limits

        before = cv2.getNumThreads()
        cv2.setNumThreads(1)
        try:
            with threadpool_limits(limits=1):
                return self.work(task)
        finally:
            if not task.head:
                cv2.setNumThreads(before)


def local_pool(workers: int) -> Executor:
    """Fresh processes of this machine, never forked: OpenCV does not survive a fork."""
    from joblib.externals.loky import ProcessPoolExecutor

    pool: Executor = ProcessPoolExecutor(
        max_workers=workers or os.cpu_count() or 1,
        timeout=None,
        env=THREADS,
        initializer=_end_with,
        initargs=(os.getpid(),),
    )
    return pool


def _end_with(run: int) -> None:
    """Let this worker end when the process of its run does, even with a photo in hand.

    It would wait for ever, with all its memory: the other workers hold open the pipe at which it
    waits for the next photo. Where the system never gives a child another parent (Windows), it
    still does.
    """

    def watch() -> None:
        while os.getppid() == run:
            time.sleep(_WATCH_S)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


class Cluster:
    """The workers of a Dask scheduler.

    Raises:
        BadInput: if Dask is not installed, or the scheduler does not answer.
    """

    def __init__(self, address: str) -> None:
        try:
            from distributed import Client
        except ImportError as error:
            raise BadInput(
                "The part that speaks to a cluster is not installed.",
                'Install it with: pip install "settscan[dask]", or leave out --scheduler.',
            ) from error

        client: Any = Client

        class Tidy(client):  # type: ignore[misc]
            """Closed at once if nobody answers: at the end of the program it would complain."""

            def start(self, **how: Any) -> None:
                try:
                    super().start(**how)
                except BaseException:
                    with contextlib.suppress(Exception):
                        self.close(timeout=5)
                    raise

        self._missed = 0
        try:
            self._client: Any = Tidy(address, timeout="5s", set_as_default=False)
        except TypeError as error:
            raise BadInput(
                f"Dask's own settings lack what {address} needs, such as certificates.",
                "Set them as Dask's documents say, or give an address that begins with tcp://.",
            ) from error
        # An answer in another language, as of a scheduler's own web page, is taken for a length.
        except (OSError, ValueError, TimeoutError, MemoryError) as error:
            raise BadInput(
                f"No Dask scheduler answers at {address}.",
                "Check the address, such as tcp://10.0.0.5:8786, and that it is running.",
            ) from error

    def ask_workers(self, question: Callable[..., Any], *args: Any) -> dict[str, Any]:
        """The answer of each worker, by its address."""
        answers: dict[str, Any] = self._client.run(question, *args, on_error="return")
        return answers

    def size(self) -> int:
        """Photos that can be read at the same time."""
        return sum(self._client.nthreads().values())

    def pool(self, _: int) -> Executor:
        """An executor; the cluster decides how many workers it has."""
        executor: Executor = self._client.get_executor(pure=False)
        return executor

    def check(self) -> None:
        """See whether the scheduler is still there.

        Raises:
            BadInput: if it was missed twice in turn.
        """
        self._missed = 0 if self._client.status == "running" else self._missed + 1
        if self._missed > 1:  # a connection may come back between two looks
            raise BadInput(
                "The connection to the Dask scheduler was lost.",
                "Run the same command again: it goes on where it was.",
            )

    def close(self) -> None:
        """Say goodbye; the cluster goes on without us."""
        with contextlib.suppress(Exception):
            self._client.close(timeout=5)


def run_all(
    tasks: Iterable[Task],
    work: Work,
    make: MakePool,
    workers: int,
    window: int,
    *,
    tries: int = 2,
    check: Callable[[], None] = lambda: None,
) -> Iterator[tuple[Task, Done]]:
    """Do all tasks; each comes back once, in the order in which they end.

    Args:
        tasks: taken one by one as workers get free, never all at once.
        work: what is done with each.
        make: makes the executor, and makes it again after a worker was ended.
        workers: how many are wanted.
        window: how many tasks are handed out at a time.
        tries: how often a task whose worker was ended is tried alone.
        check: called when a worker was ended or none answers; raises if nothing can go on.
    """
    waiting = iter(tasks)
    lost: list[Task] = []
    exhausted = False
    while not exhausted or lost:
        suspects, lost = lost, []
        if suspects:
            check()
            check()
        for task in suspects:
            yield task, _alone(task, work, make, tries)
        if exhausted:
            break
        pool = make(workers)
        try:
            exhausted = yield from _until_broken(waiting, work, pool, window, lost, check)
        finally:
            _end(pool)


def _until_broken(
    waiting: Iterator[Task],
    work: Work,
    pool: Executor,
    window: int,
    lost: list[Task],
    check: Callable[[], None],
) -> Generator[tuple[Task, Done], None, bool]:
    """Hand out tasks until there are none or a worker was ended; True in the first case.

    Args:
        waiting: the tasks.
        work: what is done with each.
        pool: does it.
        window: how many are handed out at a time.
        lost: gets the tasks that were in hand when a worker was ended.
        check: called while nothing ends; raises if nothing can go on.
    """
    running: dict[Future[Done], Task] = {}
    more = True
    while True:
        while more and len(running) < window and not lost:
            task = next(waiting, None)
            if task is None:
                more = False
                break
            try:
                running[pool.submit(work, task)] = task
            except Exception as error:
                if isinstance(error, SettscanError):
                    raise
                lost.append(task)
        if not running:
            return not more and not lost
        ended, _ = wait(running, timeout=_LOOK_S, return_when=FIRST_COMPLETED)
        if not ended:
            check()
        for future in ended:
            task = running.pop(future)
            done = _answer(future)
            if done is None:
                lost.append(task)
            else:
                yield task, done


def _answer(future: Future[Done]) -> Done | None:
    """What a worker answered; None if it was ended before it could."""
    try:
        return future.result()
    except SettscanError:
        raise
    except Exception:  # the kinds differ between loky, Dask and the standard library
        return None


def _alone(task: Task, work: Work, make: MakePool, tries: int) -> Done:
    """Do a task with a worker of its own; a photo that ends so many of them is a failure."""
    for _ in range(tries):
        pool = make(1)
        try:
            done = _answer(pool.submit(work, task))
        except Exception as error:
            if isinstance(error, SettscanError):
                raise
            done = None
        finally:
            _end(pool)
        if done is not None:
            return done
    record = Record(
        name=task.photo.name,
        id=task.photo.id,
        status="failed",
        asked=asked_of(task.options, task.settings),
        reason="The process that read this photo was ended every time, perhaps for want of memory.",
        advice="Run again with fewer --jobs, or read it alone with settscan scan.",
        again=True,
    )
    return Done(record=record, seconds=0.0, process=0)


def _end(pool: Executor) -> None:
    """Let a pool go, broken or not, without waiting for what nobody needs."""
    with contextlib.suppress(Exception):
        try:
            pool.shutdown(wait=True, kill_workers=True)  # type: ignore[call-arg]
        except TypeError:  # only loky can end its workers
            pool.shutdown(wait=False)
