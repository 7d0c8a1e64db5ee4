"""How well rulers are found and read: `python -m tests.benchmark --ruler-only`.

Only what the scale needs is run: loading, ruler finding and, for the scales along both axes of
the cloth, straightening. A scale is wrong when it errs by more than 2 %.
"""

from __future__ import annotations

import concurrent.futures
import hashlib
import json
import multiprocessing
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from settscan.errors import Refusal
from settscan.photo.flat import FlatCloth, RulerFound
from settscan.photo.load import load_photo
from settscan.photo.rectify import flatten
from settscan.photo.ruler import find_rulers
from tests.render import camera as cam
from tests.render import ruler as rule
from tests.render import scene as renderer
from tests.render.random_ruler import random_ruler_scene
from tests.render.specs import CameraSpec, RulerSpec, Scene
from tests.render.truth import to_text

WRONG = 0.02
BANDS = (1.0, 1.6, 2.7, 4.5, 8.0, 20.0)  # px per mm


@dataclass(frozen=True, slots=True, kw_only=True)
class RulerResult:
    """One scene.

    Attributes:
        drawn: what was drawn, as `random_ruler_scene` says, with px_per_mm.
        errors: relative error of the scale along each ruler in the picture; None: missed.
        stray: rulers found where there is none.
        axes: relative errors of the flat picture's scale along x and y; None: unknown.
        inside: whether the axes' 90 % intervals hold the truth.
        doubted: codes of the doubts.
        seconds: of processor time, ruler finding alone.
    """

    name: str
    drawn: dict
    errors: tuple[float | None, ...]
    stray: int
    axes: tuple[float | None, float | None]
    inside: tuple[bool, ...]
    doubted: tuple[str, ...]
    seconds: float


def scene_of(seed: int, index: int) -> tuple[Scene, dict, int]:
    """Scene, what was drawn, and the seed to render it with."""
    rng = np.random.default_rng([seed, 20231, index])
    scene, drawn = random_ruler_scene(rng)
    return scene, drawn | {"px_per_mm": scene.camera.px_per_mm}, int(rng.integers(2**31))


def photo_of(seed: int, index: int, cache: Path) -> tuple[Path, dict]:
    """The rendered photo's file, and its truth; kept until the renderer changes."""
    stem = f"ruler-{seed}-{index}-{_digest()}"
    photo, beside = cache / f"{stem}.jpg", cache / f"{stem}.truth.json"
    if not beside.exists():
        cache.mkdir(parents=True, exist_ok=True)
        scene, _, chance = scene_of(seed, index)
        made = renderer.render(scene, chance)
        photo.write_bytes(made.jpeg)
        beside.write_text(to_text(made.truth), encoding="utf-8")
    return photo, json.loads(beside.read_text(encoding="utf-8"))


def _digest() -> str:
    files = (p for p in Path(renderer.__file__).parent.glob("*.py") if "test_" not in p.name)
    digest = hashlib.sha256()
    for path in sorted(files):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:10]


def measure(seed: int, index: int, cache: Path, axes: bool) -> RulerResult:
    """Find the rulers of one scene, and with `axes` straighten the cloth by them."""
    file, truth = photo_of(seed, index, cache)
    scene, drawn, _ = scene_of(seed, index)
    photo = load_photo(file)
    start = time.thread_time()
    found = find_rulers(photo)
    seconds = time.thread_time() - start
    errors, used = [], set()
    for spec, true in zip(scene.rulers, truth["rulers"], strict=True):
        near = [k for k, f in enumerate(found) if _is_it(f, true)]
        errors.append(along_error(found[near[0]], spec, scene.camera) if near else None)
        used.update(near)
    both: tuple[float | None, float | None] = (None, None)
    inside, doubts = (), [d.code for f in found for d in f.doubts]
    if axes:
        try:
            flat = flatten(photo, rulers=found)
            both, inside = axis_errors(flat, scene)
            doubts += [d.name for d in flat.doubts]
        except Refusal:
            doubts.append("refused")
    return RulerResult(
        name=f"{seed}-{index}", drawn=drawn, errors=tuple(errors), stray=len(found) - len(used),
        axes=both, inside=inside, doubted=tuple(doubts), seconds=seconds,
    )  # fmt: skip


def _is_it(found: RulerFound, true: dict) -> bool:
    """Whether the ticks found lie on the true ruler's body, or within 10 % of its width."""
    body = np.array(true["outline_px"], dtype=np.float32)
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32)
    to_square = cv2.getPerspectiveTransform(body, square)
    at = cv2.perspectiveTransform(found.ticks_px[None].astype(np.float32), to_square)[0]
    on = (at > -0.1) & (at < 1.1)
    return bool(on.all(axis=1).mean() > 0.5)


def along_error(found: RulerFound, ruler: RulerSpec, camera: CameraSpec) -> float:
    """Relative error of the scale: what the ticks found are apart, over their true distances.

    They are traced back to where they stand along the ruler, wherever that lies.
    """
    x, y = cam.to_plane(camera, found.ticks_px[:, 0], found.ticks_px[:, 1])
    along, _ = rule.over(ruler, camera, x, y)
    return float(1 / abs(np.polyfit(found.ticks_mm, along.astype(float), 1)[0]) - 1)


def axis_errors(
    flat: FlatCloth, scene: Scene
) -> tuple[tuple[float | None, float | None], tuple[bool, ...]]:
    """Relative errors of pixels per mm along x and y, and whether their intervals hold the truth.

    The truth is the mean of distances on the plane between points of the flat picture.
    """
    height, width = flat.mask.shape
    x, y = np.linspace(0.1, 0.9, 9) * width, np.linspace(0.1, 0.9, 9) * height
    grid = np.stack(np.meshgrid(x, y), axis=2).reshape(-1, 2)
    photo = flat.photo_points(grid)
    mm = np.stack(cam.to_plane(scene.camera, photo[:, 0], photo[:, 1]), axis=1).reshape(9, 9, 2)
    across = np.linalg.norm(mm[:, -1] - mm[:, 0], axis=1).mean() / (x[-1] - x[0])
    down = np.linalg.norm(mm[-1] - mm[0], axis=1).mean() / (y[-1] - y[0])
    errors, inside = [], []
    for measured, true in (
        (flat.scale.px_per_mm_x, 1 / across),
        (flat.scale.px_per_mm_y, 1 / down),
    ):
        errors.append(None if measured is None else float(measured.value) / true - 1)
        if measured is not None:
            inside.append(bool(measured.low <= true <= measured.high))
    return (errors[0], errors[1]), tuple(inside)


def ruler_results(seed: int, scenes: int, cache: Path, jobs: int, axes: bool) -> list[RulerResult]:
    """All scenes of a seed; a line of progress for each goes to the error stream."""
    work = [(seed, k, cache, axes) for k in range(scenes)]
    results = []
    context = multiprocessing.get_context("spawn")
    with concurrent.futures.ProcessPoolExecutor(jobs, mp_context=context) as pool:
        for result in pool.map(measure, *zip(*work, strict=True)):
            d = result.drawn
            words = [d["kind"], d["material"], d["level"], d["special"], f"{d['px_per_mm']:.1f}"]
            said = ["missed" if e is None else f"{100 * e:+.2f}" for e in result.errors]
            said += ["-" if e is None else f"({100 * e:+.2f})" for e in result.axes if axes]
            rest = [f"{result.seconds:.2f} s", f"{result.stray} stray" * bool(result.stray)]
            print(result.name, *words, *said, *result.doubted, *rest, file=sys.stderr, flush=True)
            results.append(result)
    return results


def ruler_tables(results: list[RulerResult]) -> str:
    """The table, by all that was drawn."""
    groups: list[tuple[str, list[RulerResult]]] = []
    for key in ("kind", "material", "level", "special"):
        for value in sorted({r.drawn[key] for r in results}):
            groups.append((value or "plain", [r for r in results if r.drawn[key] == value]))
    for low, high in zip(BANDS, BANDS[1:], strict=False):
        inside = [r for r in results if low <= r.drawn["px_per_mm"] < high]
        groups.append((f"{low:g} to {high:g} px per mm", inside))
    groups.append(("all that lie flat", [r for r in results if not _off(r)]))
    head = (
        "| rulers | n | missed | wrong | stray | ruler % median / p95 / worst"
        " | axis % median / p95 / worst | axis in 90 % interval % | off plane doubted | CPU s |"
    )
    lines = [head, "|---" * 10 + "|"]
    lines += [_line(name, some) for name, some in groups if some]
    return "\n".join(lines)


def _off(result: RulerResult) -> bool:
    return result.drawn["special"] in ("raised", "lifted")


def _line(name: str, results: list[RulerResult]) -> str:
    every = [e for r in results for e in r.errors]
    seen = np.abs([e for e in every if e is not None]) * 100
    axes = np.abs([e for r in results if not _off(r) for e in r.axes if e is not None]) * 100
    inside = [k for r in results if not _off(r) for k in r.inside]
    known = [r for r in results if "ruler-missing" not in r.doubted]
    off = ["ruler-off-plane" in r.doubted for r in known if _off(r)]
    flat = ["ruler-off-plane" in r.doubted for r in known if not _off(r)]
    parts = [
        name, str(len(every)), str(sum(e is None for e in every)),
        str(int((seen > 100 * WRONG).sum())), str(sum(r.stray for r in results)),
        _spread(seen), _spread(axes),
        f"{100 * np.mean(inside):.0f}" if inside else "-",
        f"{sum(off)} of {len(off)}; flat {sum(flat)} of {len(flat)}",
        f"{np.mean([r.seconds for r in results]):.2f}",
    ]  # fmt: skip
    return "| " + " | ".join(parts) + " |"


def _spread(errors: np.ndarray) -> str:
    if not len(errors):
        return "-"
    return f"{np.median(errors):.2f} / {np.quantile(errors, 0.95):.2f} / {errors.max():.2f}"
