"""The photos that are read: rendered (and kept for the next run), or a folder of real ones."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from settscan.cloth.notation import parse_sequence
from settscan.cloth.weaves import weave_name
from tests.benchmark.rows import Row, draw
from tests.render import scene as renderer
from tests.render.truth import to_text

PHOTOS = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic")
DENSITY = {"warp": "epi", "weft": "ppi"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One photo and its truth.

    Attributes:
        row, name: row of the table; name of the photo within it.
        photo: the file.
        truth: as `tests/render/truth.py` lists it, or its smaller hand-made form.
        pinned: whether the true densities are given to the program.
        told: whether the weave is named to it.
    """

    row: str
    name: str
    photo: Path
    truth: dict
    pinned: bool = False
    told: bool = False

    @property
    def weave(self) -> str | None:
        """The weave to be named to the program; None: none."""
        if not self.told:
            return None
        return weave_name(re.sub(" [ZS]$", "", self.truth["weave"]))

    @property
    def epi(self) -> Fraction | None:
        """Ends per mm to be given, to a hundredth of an end per inch; None: none."""
        return self._given("warp")

    @property
    def ppi(self) -> Fraction | None:
        """Picks per mm to be given."""
        return self._given("weft")

    def _given(self, axis: str) -> Fraction | None:
        density = self.truth[axis].get("epi") if self.pinned else None
        return None if density is None else Fraction(round(density * 100), 2540)


def rendered(row: Row, seed: int, index: int, cache: Path) -> Case:
    """Render a scene, or take it from the cache if the renderer has not changed since."""
    stem = f"{row.name}-{seed}-{index}-{_renderer_digest()}".replace(" ", "_").replace("/", "-")
    photo, beside = cache / f"{stem}.jpg", cache / f"{stem}.truth.json"
    if not beside.exists():
        cache.mkdir(parents=True, exist_ok=True)
        made = renderer.render(*draw(row, seed, index))
        photo.write_bytes(made.jpeg)
        waiting = beside.with_suffix(".part")
        waiting.write_text(to_text(made.truth), encoding="utf-8")
        waiting.rename(beside)
    truth = json.loads(beside.read_text(encoding="utf-8"))
    return Case(
        row=row.name,
        name=f"{seed}-{index}",
        photo=photo,
        truth=truth,
        pinned=row.pinned,
        told=row.told,
    )


def _renderer_digest() -> str:
    """Of the renderer's source, so that no picture of an older one is taken from the cache."""
    files = (p for p in Path(renderer.__file__).parent.glob("*.py") if "test_" not in p.name)
    digest = hashlib.sha256()
    for path in sorted([*files, Path(__file__).with_name("rows.py")]):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:10]


def folder(path: Path) -> list[Case]:
    """The photos of a folder that have a truth file beside them (see `read_truth`).

    Raises:
        ValueError: if there is none, or one cannot be used.
    """
    cases = []
    for photo in sorted(p for p in path.iterdir() if p.suffix.lower() in PHOTOS):
        beside = photo.with_suffix(".truth.json")
        if beside.exists():
            truth = read_truth(beside)
            cases.append(
                Case(
                    row=str(truth.get("group", path.name)),
                    name=photo.stem,
                    photo=photo,
                    truth=truth,
                    pinned=bool(truth.get("give_density", False)),
                )
            )
    if not cases:
        raise ValueError(f"{path} holds no photo with a truth file NAME.truth.json beside it.")
    return cases


def read_truth(path: Path) -> dict:
    """A truth file, of the renderer or made by hand, with every stripe placed in mm.

    By hand, only what is known is written (settscan/docs/accuracy.md gives the form): for warp
    and weft the stripes as the photo shows them, as text "A6 B4 C2" with the cut ends listed, or
    one by one. Places come from `start_px`, `end_px` and `px_per_mm`, or else from the counts and
    the density.

    Raises:
        ValueError: if it is not of this form.
    """
    try:
        truth = json.loads(path.read_text(encoding="utf-8"))
        scale = truth.get("px_per_mm")
        sides = scale if isinstance(scale, dict) else {"x": scale, "y": scale}
        for axis in ("warp", "weft"):
            runs = truth[axis].setdefault("runs", "down" if axis == "warp" else "across")
            _place(truth[axis], sides["x" if runs == "down" else "y"], DENSITY[axis])
    except (KeyError, TypeError, AttributeError, json.JSONDecodeError) as error:
        raise ValueError(f"{path} is no truth file: {error!r}.") from error
    return truth


def _place(axis: dict, px_per_mm: float | None, density: str) -> None:
    """Stripes of one axis in the renderer's form: yarn, threads, cut, start_mm, end_mm."""
    if density in axis:
        axis["epi"] = axis[density]
    if isinstance(axis["stripes"], str):
        written = parse_sequence(axis["stripes"], partial=True).stripes
        axis["stripes"] = [{"yarn": s.yarn, "threads": s.threads} for s in written]
        cuts = axis.get("cut", [0, -1])
        for k, stripe in enumerate(axis["stripes"]):
            stripe["cut"] = k in cuts or k - len(written) in cuts
    pitch = 25.4 / axis["epi"] if axis.get("epi") else 1.0
    axis["placed_by"] = "counts"
    at = 0.0
    for stripe in axis["stripes"]:
        stripe.setdefault("cut", False)
        stripe.setdefault("full_threads", stripe["threads"])
        if "start_mm" in stripe:
            axis["placed_by"] = "mm"
        elif "start_px" in stripe and px_per_mm:
            stripe["start_mm"] = stripe["start_px"] / px_per_mm
            stripe["end_mm"] = stripe["end_px"] / px_per_mm
            axis["placed_by"] = "px"
        else:
            stripe["start_mm"], stripe["end_mm"] = at, at + stripe["threads"] * pitch
        at = stripe["end_mm"]
