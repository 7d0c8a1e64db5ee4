"""Prints how exact and how fast the program is: `python -m tests.benchmark --help`."""

from __future__ import annotations

import argparse
import concurrent.futures
import multiprocessing
import sys
import tempfile
from pathlib import Path

from tests.benchmark import cases, rows
from tests.benchmark.batch import batch_tables
from tests.benchmark.plan_speed import RUNS, plan_speed_table
from tests.benchmark.ruler import ruler_results, ruler_tables
from tests.benchmark.run import draw_and_judge
from tests.benchmark.speed import speed_table
from tests.benchmark.table import Result, tables

EXPLAINED = (
    "Naive: k-means on the pixels of the middle rows and columns of the photo as it is, true"
    " number of yarns and true density given; run length times threads per pixel is the count."
)


def parser() -> argparse.ArgumentParser:
    """The options."""
    out = argparse.ArgumentParser(
        prog="python -m tests.benchmark",
        description="Accuracy on rendered photos beside a naive baseline, and speed.",
    )
    out.add_argument("--seed", type=int, default=1, help="draws other scenes (default 1)")
    out.add_argument("--scenes", type=int, default=4, help="scenes in each row (default 4)")
    out.add_argument(
        "--rows", nargs="*", default=[], metavar="ROW",
        help='rows by name ("6 px") or group (size, kind, weave); all if left out',
    )  # fmt: skip
    out.add_argument("--photos", type=Path, metavar="FOLDER",
                     help="real photos with truth files, instead of rendered ones")  # fmt: skip
    out.add_argument("--quick", action="store_true", help="three rows, small speed table")
    out.add_argument("--accuracy-only", action="store_true")
    out.add_argument("--speed-only", action="store_true")
    out.add_argument("--batch-only", action="store_true", help="many photos: pace and growth")
    out.add_argument("--ruler-only", action="store_true", help="rulers and scales alone")
    out.add_argument("--no-axes", action="store_true",
                     help="with --ruler-only: the rulers alone, without straightening")  # fmt: skip
    out.add_argument("--page-only", action="store_true", help="how long edits on the page take")
    out.add_argument("--jobs", type=int, default=1, help="photos at a time (default 1)")
    out.add_argument("--keep", type=Path, metavar="FOLDER", help="save what was misread")
    out.add_argument(
        "--cache", type=Path, metavar="FOLDER",
        default=Path(tempfile.gettempdir()) / "settscan-benchmark",
        help="rendered photos are kept here for the next run",
    )  # fmt: skip
    return out


QUICK_ROWS = ["6 px, easy", "6 px", "4 px"]


def tasks(given: argparse.Namespace) -> list[tuple]:
    """What is to be read: the arguments of `draw_and_judge`."""
    if given.photos is not None:
        return [(case, 0, 0, given.cache, given.keep) for case in cases.folder(given.photos)]
    names = given.rows or (QUICK_ROWS if given.quick else [])
    scenes = min(given.scenes, 2) if given.quick else given.scenes
    return [
        (row, given.seed, index, given.cache, given.keep)
        for row in rows.chosen(names)
        for index in range(rows.number(row, scenes))
    ]


def accuracy(given: argparse.Namespace) -> list[Result]:
    """Read everything; a line of progress for each photo goes to the error stream."""
    work = tasks(given)
    results = []
    # The libraries' own threads cannot be forked safely, so workers start afresh.
    context = multiprocessing.get_context("spawn")
    with concurrent.futures.ProcessPoolExecutor(given.jobs, mp_context=context) as pool:
        for n, result in enumerate(pool.map(draw_and_judge, *zip(*work, strict=True)), 1):
            whole = [s for s in result.score.stripes if s.threads and s.inside]
            print(
                f"{n}/{len(work)} {result.row} {result.name}: {result.score.status},"
                f" {sum(s.exact for s in whole)} of {len(whole)} exact",
                file=sys.stderr,
                flush=True,
            )
            results.append(result)
    return results


def main() -> None:
    """Print the tables."""
    given = parser().parse_args()
    try:
        if given.page_only:
            from tests.benchmark.page import latency_table

            print(latency_table())
            return
        if given.batch_only:
            print(batch_tables(given.cache, quick=given.quick))
            return
        if given.ruler_only:
            some = (given.seed, given.scenes, given.cache, given.jobs, not given.no_axes)
            print(ruler_tables(ruler_results(*some)))
            return
        if not given.speed_only:
            print(tables(accuracy(given)))
            print(f"\n{EXPLAINED}\n")
        if not given.accuracy_only and given.photos is None:
            print(speed_table(given.cache, quick=given.quick))
            print(f"\n{plan_speed_table(5 if given.quick else RUNS)}")
    except (ValueError, OSError) as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main()
