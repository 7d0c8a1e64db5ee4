"""How long a plan takes, start-up included: `python -m tests.benchmark.plan_speed`.

Each run is a fresh process on a project of 3,000 ends. The first run, which compiles the modules
as an installation does, is not counted.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

RUNS = 15
PATTERNS = {
    "tartan of 50 ends": "A/24 B4 A8 C/2",
    "all different, a repeat of 2,974": " ".join(
        f"{'ABC'[n % 3]}{2 + 2 * (n * 37 % 29)}" for n in range(99)
    ),
    "one and one": "A1 B1",
}
PROJECT = """
[yarns.A]
name = "navy"
colour = "#1b2654"
size = "2/8 worsted"
[yarns.B]
name = "cream"
colour = "#efe6d0"
size = "2/8 worsted"
[yarns.C]
name = "brick"
colour = "#a03a2c"
size = "2/8 worsted"
[warp]
sequence = "{sequence}"
epi = 48
[weft]
like_warp = true
[weave]
name = "2/2 twill"
direction = "Z"
[piece]
width = "62.5 in"
length = "2 yd"
[frame]
ends_in_hand = {in_hand}
"""


PLANNING = "from settscan.cli import main; main()"
YARDSTICKS = {  # they tell how fast and how even the machine is at the moment
    "Python alone, which does nothing": "pass",
    "Python alone, a sum of two million squares": "sum(n * n for n in range(2_000_000))",
}


def _run(folder: Path, program: str, *arguments: str) -> tuple[float, float]:
    """Wall and CPU seconds of a program in a fresh process."""
    env = dict(os.environ, PYTHONPYCACHEPREFIX=str(folder / "compiled"))
    env.pop("PYTHONDONTWRITEBYTECODE", None)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    started = time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", program, "plan", *arguments],
        cwd=folder, env=env, check=True, capture_output=True,
    )  # fmt: skip
    wall = time.perf_counter() - started
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return wall, used


def _measured(folder: Path, runs: int, program: str, *arguments: str) -> str:
    _run(folder, program, *arguments)
    found = [_run(folder, program, *arguments) for _ in range(runs)]
    walls, used = zip(*found, strict=True)
    return " | ".join(
        f"{value:.2f}" for value in (statistics.median(walls), min(walls), statistics.median(used))
    )


def plan_speed_table(runs: int = RUNS) -> str:
    """The table, as Markdown."""
    lines = [
        "| warp of about 3,000 ends | what | wall s, median | wall s, best | CPU s, median |",
        "| --- | --- | --- | --- | --- |",
    ]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for told, program in YARDSTICKS.items():
            lines.append(f"| none | {told} | {_measured(folder, runs, program)} |")
        for told, sequence in PATTERNS.items():
            in_hand = 2 if told == "one and one" else 1
            text = PROJECT.format(sequence=sequence, in_hand=in_hand)
            (folder / "cloth.toml").write_text(text, encoding="utf-8")
            lines.append(f"| {told} | plan | {_measured(folder, runs, PLANNING, 'cloth.toml')} |")
            sheets = _measured(folder, max(3, runs // 3), PLANNING, "cloth.toml", "-o", "sheets")
            lines.append(f"| {told} | plan and all sheets | {sheets} |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(plan_speed_table())
