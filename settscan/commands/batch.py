"""`settscan batch`: many photos become tables, project files and an index page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from settscan.commands.console import Console, with_console
from settscan.commands.given import doubt_closest, parse_pinned
from settscan.commands.paths import PATH
from settscan.commands.usage import OneOf, Whole

if TYPE_CHECKING:
    from settscan.batch.objects import Objects
    from settscan.batch.run import Machine, Summary
    from settscan.scan_model import ScanOptions


@click.command(
    epilog="""\b
Examples:
  settscan batch photos -o swatches
  settscan batch photos -o swatches --object "{object}_*.jpg" --jobs 4 --memory "6 GB"
  settscan batch list.txt -o swatches --objects numbers.csv --parquet
  settscan batch photos -o swatches --scheduler tcp://10.0.0.5:8786
"""
)
@click.argument("where", type=PATH, metavar="FOLDER_OR_LIST")
@click.option("-o", "--out", type=PATH, required=True, metavar="FOLDER",
              help="New, empty, or of an earlier run, which is then continued.")  # fmt: skip
@click.option("--object", "pattern", metavar="PATTERN",
              help='Where the object number stands in a file name: "{object}_*.jpg".')  # fmt: skip
@click.option("--objects", type=PATH, metavar="FILE.csv",
              help="Table with the columns file, object and, if you like, reviewer.")  # fmt: skip
@click.option("--parquet", is_flag=True, help="Write the tables as Parquet too.")
@click.option("--json", "json_files", is_flag=True, help="Write each reading as JSON too.")
@click.option("--evidence", type=OneOf(["jpg", "png"]), default="jpg",
              help="Form of the evidence pictures. Default: jpg.")  # fmt: skip
@click.option("--single", is_flag=True, help="Each photo shows one cloth; look for no more.")
@click.option("--epi", metavar="DENSITY", help="Ends per inch of all cloths, if you know them.")
@click.option("--ppi", metavar="DENSITY", help="Picks per inch of all cloths, if you know them.")
@click.option("--warp-runs", type=OneOf(["down", "across"]),
              help="Which way the warp runs in the photos as shown. Default: down.")  # fmt: skip
@click.option("--weave", metavar="WEAVE", help="The weave of all cloths, if you know it.")
@click.option("--units", type=OneOf(["inch", "metric"]), default="inch",
              help="For the project files. Default: inch.")  # fmt: skip
@click.option("--jobs", type=Whole(1, 1024), metavar="N",
              help="Photos at a time. Default: one for each core.")  # fmt: skip
@click.option("--memory", metavar="SIZE",
              help='For all workers: "4 GB". Default: three quarters of what is free.')  # fmt: skip
@click.option("--scheduler", metavar="ADDRESS", help="Read on the cluster of a Dask scheduler.")
@with_console
def batch(
    where: Path,
    out: Path,
    pattern: str | None,
    objects: Path | None,
    parquet: bool,
    json_files: bool,
    evidence: str,
    single: bool,
    epi: str | None,
    ppi: str | None,
    warp_runs: str | None,
    weave: str | None,
    units: str,
    jobs: int | None,
    memory: str | None,
    scheduler: str | None,
    console: Console,
) -> int:
    """Read many photos into tables, project files and a page.

    The page shows the swatches with what was read, most doubtful first. Takes a folder, with all
    below it, or a text file with one path in each line. Run again, it reads only what is new or
    has changed; stopped or killed, it goes on where it was. A photo that fails or is refused is
    listed with the reason and stops nothing.
    """
    if scheduler is not None and (jobs is not None or memory is not None):
        raise click.UsageError("--jobs and --memory are for this machine, not for a cluster.")
    from settscan.batch.model import BatchOptions
    from settscan.batch.run import run_batch

    scan = _given(epi, ppi, warp_runs, weave)
    doubt_closest(scan.epi, scan.ppi, console)
    summary = run_batch(
        where,
        out,
        options=BatchOptions(
            scan=scan, units=units, pieces=not single, evidence=evidence, json=json_files
        ),
        objects=_numbered(pattern, objects),
        machine=_machine(jobs, memory, scheduler),
        parquet=parquet,
        say=console.note,
    )
    _say_what_came(summary, out, console)
    return 1 if summary.unread else 0


def _given(
    epi: str | None, ppi: str | None, warp_runs: str | None, weave: str | None
) -> ScanOptions:
    """What is known of all cloths alike."""
    from settscan.cloth.weaves import weave_name
    from settscan.scan_model import ScanOptions

    return ScanOptions(
        epi=parse_pinned(epi, "epi") if epi is not None else None,
        ppi=parse_pinned(ppi, "ppi") if ppi is not None else None,
        warp_runs=warp_runs,
        weave=weave_name(weave) if weave is not None else None,
    )


def _numbered(pattern: str | None, table: Path | None) -> Objects:
    """How object numbers are found: in the names of the files, in a table, or both."""
    from settscan.batch.objects import Objects, pattern_of, read_objects

    numbers, reviewers = read_objects(table) if table is not None else ({}, {})
    return Objects(
        pattern=pattern_of(pattern) if pattern is not None else None,
        numbers=numbers,
        reviewers=reviewers,
    )


def _machine(jobs: int | None, memory: str | None, scheduler: str | None) -> Machine:
    """What the work is done on."""
    from settscan.batch.memory import parse_memory
    from settscan.batch.run import Machine

    return Machine(
        jobs=jobs or 0,
        memory=parse_memory(memory) if memory is not None else 0,
        scheduler=scheduler,
    )


def _say_what_came(summary: Summary, out: Path, console: Console) -> None:
    """How many swatches of each status there are, and where to look next."""
    told = ", ".join(f"{n:,} {status}" for status, n in sorted(summary.counts.items()))
    swatches = sum(summary.counts.values())
    console.say(f"{swatches:,} swatch{'es' * (swatches != 1)}: {told}.")
    console.note(f"Look them through, most doubtful first: {out / 'index.html'}")
    if summary.unread:
        console.note(f"What failed or was refused, and why: {out / 'failures.csv'}")
