"""Reads one photo by the program's front door and by the baseline, and scores both."""

from __future__ import annotations

import json
import shutil
import time
import traceback
from dataclasses import replace
from pathlib import Path

from settscan.scan import ScanOptions, ScanResult, scan_photos
from tests.benchmark.cases import Case, rendered
from tests.benchmark.naive import read_naively
from tests.benchmark.rows import Row
from tests.benchmark.score import PhotoScore, StripeScore, score
from tests.benchmark.table import Result


def draw_and_judge(what: Row | Case, seed: int, index: int, cache: Path, keep: Path | None):
    """One entry of the work list: render a scene of a row (or take a photo), then `judge` it."""
    case = what if isinstance(what, Case) else rendered(what, seed, index, cache)
    return judge(case, keep)


def judge(case: Case, keep: Path | None = None) -> Result:
    """Scan a photo as `settscan scan` does and score what it says; a crash is a miss."""
    options = ScanOptions(
        epi=case.epi, ppi=case.ppi, warp_runs=case.truth["warp"]["runs"], weave=case.weave
    )
    start = time.process_time()
    try:
        scan = scan_photos((case.photo,), options, lambda _: None)
    except Exception:
        result, mine = None, _failed(case, traceback.format_exc())
    else:
        seconds = time.process_time() - start
        result = scan
        mine = score(scan.reading_json, case.truth, given_density=case.pinned)
        mine = replace(mine, seconds=seconds)
    if keep is not None and not mine.sequence:
        _keep(case, result, mine, keep)
    return Result(row=case.row, name=case.name, score=mine, naive=_naive(case))


def _naive(case: Case) -> PhotoScore:
    return score(read_naively(case), case.truth, given_density=True)


def _failed(case: Case, report: str) -> PhotoScore:
    """Nothing was read: every whole stripe is missed."""
    missed = tuple(
        StripeScore(axis=axis, index=k, threads=s["threads"])
        for axis in ("warp", "weft")
        for k, s in enumerate(case.truth[axis]["stripes"])
        if not s["cut"]
    )
    return PhotoScore(status="failed", stripes=missed, note=tuple(report.splitlines()))


def _keep(case: Case, result: ScanResult | None, mine: PhotoScore, folder: Path) -> None:
    """Lay photo, truth, evidence, JSON and the list of faults into the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    stem = f"{case.row}-{case.name}".replace(" ", "_").replace("/", "-").replace(",", "")
    shutil.copyfile(case.photo, folder / f"{stem}{case.photo.suffix}")
    truth = json.dumps(case.truth, indent=1)
    (folder / f"{stem}.truth.json").write_text(truth, encoding="utf-8")
    lines = [f"status: {mine.status}", f"density: {mine.density}", f"scale: {mine.scale}",
             f"weave: {mine.weave}", f"repeats: {mine.repeats}", *mine.note]  # fmt: skip
    if result is not None:
        data = json.dumps(result.reading_json, indent=1)
        (folder / f"{stem}.reading.json").write_text(data, encoding="utf-8")
        (folder / f"{stem}.evidence.png").write_bytes(result.evidence_png)
        lines += [f"advice: {sentence}" for sentence in result.advice]
    (folder / f"{stem}.faults.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
