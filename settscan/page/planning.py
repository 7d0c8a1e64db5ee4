"""The plan as the page shows it: figures with derivation, warnings, yarn, reeds; the files."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from settscan.cloth.notation import parse_sequence
from settscan.cloth.project_model import PhotoRecord, Project
from settscan.errors import BadFile, SettscanError
from settscan.files import read_bytes
from settscan.sheets import at_loom, content
from settscan.sheets.picture import ShownPart
from settscan.sheets.sizes import usual_paper
from settscan.sheets.to_look_at import short_warnings
from settscan.warping.model import Step, WarpPlan
from settscan.warping.plan import plan_warp
from settscan.winding.model import WindingPlan
from settscan.winding.wound import Wound, plan_wound

_MOST_PICTURE = 100_000_000
MEDIA = {
    "sheets.pdf": "application/pdf",
    "sheets.html": "text/html; charset=utf-8",
    "warp.wif": "text/plain; charset=utf-8",
    "ends.csv": "text/csv; charset=utf-8",
    "picks.csv": "text/csv; charset=utf-8",
    "stripes.csv": "text/csv; charset=utf-8",
    "plan.json": "application/json",
    "preview.svg": "image/svg+xml",
    "preview.png": "image/png",
}
"""The files of a plan that can be downloaded."""

# Which steps of the working tell how a key figure came about: beginnings of their labels.
_DERIVED: dict[str, tuple[str, ...]] = {
    "Ends": ("Ends",),
    "Warp length": ("Finished length", "Woven length", "Warp length"),
    "Width in the reed": ("Reed", "Width in the reed"),
    "Finished width": ("Finished width", "Joined width"),
    "Sett on the loom": ("Density on the loom", "Cover", "Sett"),
    "Reed": ("Density on the loom", "Reed"),
    "Comes out at": ("Width in the reed", "Comes out at"),
    "Beat on the loom": ("Picks on the loom",),
    "Picks": ("Finished length", "Picks"),
}


@dataclass
class Plans:
    """Plans of one project, worked out once for each revision."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    _plans: dict[int, tuple[WarpPlan, Wound]] = field(default_factory=dict)
    _files: dict[tuple[int, str, str], dict[str, bytes]] = field(default_factory=dict)

    def of(self, revision: int, project: Project) -> tuple[WarpPlan, Wound]:
        """Warp and winding of the project at this revision.

        Raises:
            SettscanError: if it cannot be planned.
        """
        with self.lock:
            if revision not in self._plans:
                plan = plan_warp(project.cloth, project.wishes)
                self._plans.clear()
                self._plans[revision] = plan, plan_wound(plan)
            return self._plans[revision]

    def files(
        self, revision: int, project: Project, paper: str, words: str = ""
    ) -> dict[str, bytes]:
        """All sheets and files of the plan, the sheets in US or GB words."""
        from settscan.sheets.bundle import sheet_set

        plan, winding = self.of(revision, project)
        key = revision, paper, words
        with self.lock:
            if key not in self._files:
                self._files.clear()
                self._files[key] = sheet_set(
                    plan,
                    winding,
                    paper=paper,
                    rectified=_picture(project.path, ".cloth.jpg"),
                    evidence=_picture(project.path, ".evidence.png"),
                    shown=shown_part(project.photo),
                    words=words,
                )
            return self._files[key]


def answers(plans: Plans, revision: int, project: Project) -> dict[str, Any]:
    """The plan as plain data; a plan that cannot be made is told as a sentence."""
    try:
        plan, winding = plans.of(revision, project)
    except SettscanError as error:
        return {"revision": revision, "problem": str(error)}
    units = project.wishes.units
    return {
        "revision": revision,
        "problem": "",
        "title": content.title_of(plan),
        "paper": usual_paper(units),
        "figures": [
            {
                "label": figure.label,
                "value": figure.value,
                "note": figure.note,
                "steps": _derivation(figure.label, plan, winding),
            }
            for figure in content.key_figures(plan, winding)
        ],
        "steps": [[step.label, step.text] for step in _steps(plan, winding)],
        "warnings": list(short_warnings(plan, winding)),
        "yarnHead": list(content.YARN_HEAD),
        "yarns": [
            {
                "key": need.key,
                "row": list(row),
                "steps": [[step.label, step.text] for step in need.steps],
            }
            for need, row in zip(winding.yarns, content.yarn_rows(winding), strict=True)
        ],
        "reedHead": list(at_loom.REED_HEAD),
        "reeds": [list(row) for row in at_loom.reed_rows(plan)],
        "lossHead": list(content.LOSS_HEAD),
        "losses": [list(row) for row in content.loss_rows(plan)],
        "divide": content.losses_divide(units),
        "sley": list(at_loom.sley_lines(plan)),
        "threading": list(at_loom.threading_lines(plan.draft, plan.ends)) if plan.draft else [],
    }


def _steps(plan: WarpPlan, winding: Wound) -> Sequence[Step]:
    return (*plan.steps, winding.yarn_step)


def _derivation(label: str, plan: WarpPlan, winding: Wound) -> list[list[str]]:
    """The working of one figure; all of it is listed below the figures as well."""
    if label in _DERIVED:
        begins = _DERIVED[label]
        return [[s.label, s.text] for s in _steps(plan, winding) if s.label.startswith(begins)]
    if label == "Weave" and plan.draft is not None:
        lines = at_loom.threading_lines(plan.draft, plan.ends)
        return [["Threading", "; ".join(lines)], *(["Note", note] for note in plan.draft.notes)]
    if isinstance(winding, WindingPlan):
        return _winding_derivation(label, winding)
    return [[winding.yarn_step.label, winding.yarn_step.text]]


def _winding_derivation(label: str, winding: WindingPlan) -> list[list[str]]:
    """The working of a figure of the winding."""
    if label == "Bouts":
        reasons = dict.fromkeys(bout.split_reason for bout in winding.bouts)
        return [
            ["Most ends in one bout", str(winding.frame.bout_ends)],
            ["They end", "; ".join(reasons)],
        ]
    if label == "Time to wind":
        pace = winding.frame.seconds_per_pass
        told = "as you wrote" if pace else "as an assumption from the length of the path"
        return [
            ["Passes", f"{winding.passes}, each as long as the path; the pace {told}"],
            ["Besides", f"{winding.knots} knots at colour changes, and the ties of all bouts"],
        ]
    return [[winding.yarn_step.label, winding.yarn_step.text]]


def shown_part(photo: PhotoRecord | None) -> ShownPart | None:
    """The stripes that the photo shows, to be drawn beside it."""
    if photo is None or not (photo.shows_warp and photo.shows_weft):
        return None
    try:
        return ShownPart(
            warp=parse_sequence(photo.shows_warp, partial=True).stripes,
            weft=parse_sequence(photo.shows_weft, partial=True).stripes,
            warp_across=photo.warp_runs == "across",
        )
    except SettscanError:
        return None


def wound_plan(winding: Wound) -> WindingPlan | None:
    """The winding in bouts; None for a sectional beam."""
    return winding if isinstance(winding, WindingPlan) else None


def _picture(project: Path | None, ending: str) -> bytes | None:
    if project is None:
        return None
    path = project.with_suffix(ending)
    try:
        return read_bytes(path, _MOST_PICTURE) if path.is_file() else None
    except BadFile:
        return None
