"""Seconds and memory by the size of the picture, in processes of their own (memory: Linux)."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np

from tests.benchmark.cases import rendered
from tests.benchmark.rows import Row
from tests.benchmark.table import markdown

SIZES = (
    Row(name="2 megapixels", px=6, level="easy", weave="2/2 twill Z", size=(1632, 1224)),
    Row(name="12 megapixels", px=6, level="easy", weave="2/2 twill Z", size=(4000, 3000)),
    Row(name="48 megapixels", px=6, level="easy", weave="2/2 twill Z", size=(8000, 6000)),
)

# Runs in a process of its own. Libraries are loaded first, so that their time stands apart.
CHILD = """
import json, sys, time
from pathlib import Path
def now(): return time.perf_counter(), time.process_time()
def since(start): return [b - a for a, b in zip(start, now())]
def peak():
    # Not ru_maxrss, which starts at the size of the process that started this one.
    try: lines = Path("/proc/self/status").read_text().splitlines()
    except OSError: return float("nan")
    return next(int(l.split()[1]) for l in lines if l.startswith("VmHWM")) / 1024
path, what = Path(sys.argv[1]), sys.argv[2]
start = now()
from settscan.scan import ScanOptions, scan_photos
import cv2, numpy, skimage, sklearn.cluster, PIL.Image
import settscan.photo.load, settscan.photo.rectify, settscan.reading.read
import settscan.photo.ruler, settscan.photo.card, settscan.photo.draw, settscan.reading.evidence
loading, loaded = since(start), peak()
start, status = now(), ""
if what == "decode":
    numpy.asarray(PIL.Image.open(path).convert("RGB"))
else:
    status = scan_photos((path,), ScanOptions(), lambda _: None).status
seconds = since(start)
print(json.dumps({
    "status": status, "loading": loading, "seconds": seconds, "loaded": loaded, "peak": peak(),
}))
"""


def _measure(photo: Path, what: str) -> dict:
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(photo), what], capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise OSError(f"The scan of {photo.name} failed:\n{done.stderr}")
    return json.loads(done.stdout)


def speed_table(cache: Path, quick: bool = False) -> str:
    """The table and the sentence on growth, as Markdown."""
    lines, sizes, times = [], [], []
    for row in SIZES[:1] if quick else SIZES:
        photo = rendered(row, 1, 0, cache).photo
        decode, scan = _measure(photo, "decode"), _measure(photo, "scan")
        wall, cpu = scan["seconds"]
        sizes.append(row.size[0] * row.size[1])
        times.append(cpu)
        lines.append([
            row.name, f"{wall:.1f}", f"{cpu:.1f}", f"{scan['peak']:.0f}", f"{scan['loaded']:.0f}",
            f"{scan['loading'][0]:.1f}", f"{decode['seconds'][1]:.2f}",
            f"{cpu / decode['seconds'][1]:.0f}", scan["status"],
        ])  # fmt: skip
    head = ["picture", "scan s", "CPU s", "peak MB", "of it libraries MB", "loading libraries s",
            "decoding alone, CPU s", "scan / decoding", "status"]  # fmt: skip
    text = markdown(head, lines)
    if len(sizes) > 1:
        power = np.polyfit(np.log(sizes), np.log(times), 1)[0]
        text += f"\n\nCPU seconds grow as pixels to the power {power:.2f}."
    return text
