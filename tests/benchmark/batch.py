"""How many photos a core reads in an hour, and how what goes on around the reading grows.

The first table reads rendered photos with `settscan batch` as people run it. The second has a
reader that takes no time, so that all of the time is that of the batch itself: finding the photos,
handing them out, writing files and records, and putting the tables together.
"""

from __future__ import annotations

import json
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.benchmark.cases import rendered
from tests.benchmark.rows import Row
from tests.benchmark.table import markdown

PHOTO = Row(name="batch", px=6, level="ordinary", size=(2000, 1500))

CHILD = """
import json, resource, sys, time
from pathlib import Path
from settscan.batch.model import BatchOptions
from settscan.batch.objects import Objects
from settscan.batch.run import Machine, run_batch
from tests.batch.fakes import reader
folder, out, jobs = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
start = time.perf_counter()
run_batch(folder, out, options=BatchOptions(), objects=Objects(),
          machine=Machine(jobs=jobs, memory=jobs * 1_200_000_000), say=lambda line: None,
          reader=reader)
wall = time.perf_counter() - start
own, theirs = (resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
cpu = sum(u.ru_utime + u.ru_stime for u in (own, theirs))
status = Path("/proc/self/status").read_text().splitlines()
peak = next(int(l.split()[1]) for l in status if l.startswith("VmHWM")) / 1024
print(json.dumps({"wall": wall, "cpu": cpu, "peak": peak}))
"""


def batch_tables(cache: Path, quick: bool = False) -> str:
    """Both tables as Markdown."""
    return f"{_reading(cache, 2 if quick else 6)}\n\n{_around((50, 200) if quick else SIZES)}"


SIZES = (100, 1000, 10_000)


def _reading(cache: Path, photos: int) -> str:
    """Photos an hour and a core."""
    with tempfile.TemporaryDirectory() as work:
        folder = Path(work) / "photos"
        folder.mkdir()
        for index in range(photos):
            shutil.copy(rendered(PHOTO, 1, index, cache).photo, folder / f"p{index}.jpg")
        lines = []
        for jobs in (1, 2):
            out = Path(work) / f"out{jobs}"
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            start = time.perf_counter()
            _settscan("batch", folder, "-o", out, "--jobs", jobs, "--memory", f"{2 * jobs} GB")
            wall = time.perf_counter() - start
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            size = sum(p.stat().st_size for p in out.rglob("*") if p.is_file())
            lines.append([
                f"{jobs} at a time", str(photos), f"{wall:.0f}", f"{cpu:.0f}",
                f"{cpu / photos:.1f}",
                f"{3600 * photos / cpu:.0f}", f"{size / photos / 1e6:.2f}",
            ])  # fmt: skip
    head = ["photos of 3 megapixels", "photos", "wall s", "CPU s", "CPU s each",
            "photos an hour and core", "MB written each"]  # fmt: skip
    return markdown(head, lines)


def _settscan(*words: object) -> None:
    program = Path(sys.executable).with_name("settscan")
    done = subprocess.run([program, *map(str, words)], capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1):  # 1: a photo was refused
        raise OSError(done.stderr)


def _around(sizes: tuple[int, ...]) -> str:
    """Time and memory beside the reading, and how they grow."""
    from tests.batch import fakes

    lines, cpu, again = [], [], []
    for size in sizes:
        with tempfile.TemporaryDirectory() as work:
            folder = Path(work) / "photos"
            fakes.photos(folder, *(f"{n // 500:03d}/p{n:06d}.png" for n in range(size)))
            first = _child(folder, Path(work) / "out")
            second = _child(folder, Path(work) / "out")
        cpu.append(first["cpu"])
        again.append(second["cpu"])
        lines.append([
            f"{size:,}", f"{first['cpu']:.1f}", f"{1000 * first['cpu'] / size:.1f}",
            f"{second['cpu']:.1f}", f"{1000 * second['cpu'] / size:.2f}", f"{first['peak']:.0f}",
        ])  # fmt: skip
    head = ["photos, reader that takes no time", "CPU s", "ms each", "run again, CPU s", "ms each",
            "peak MB of the run itself"]  # fmt: skip
    powers = [np.polyfit(np.log(sizes), np.log(t), 1)[0] for t in (cpu, again)]
    return markdown(head, lines) + (
        f"\n\nCPU seconds grow as photos to the power {powers[0]:.2f}, run again {powers[1]:.2f}."
    )


def _child(folder: Path, out: Path) -> dict[str, float]:
    top = Path(__file__).parents[2]
    words = [sys.executable, "-c", CHILD, str(folder), str(out), "2"]
    done = subprocess.run(words, capture_output=True, text=True, check=False, cwd=top)
    if done.returncode:
        raise OSError(done.stderr)
    return json.loads(done.stdout)
