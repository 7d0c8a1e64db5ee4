"""All sheets of a warp as one printable HTML page that needs nothing but itself."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from settscan.cloth.model import Stripe
from settscan.sheets import at_loom, content, weft_lines
from settscan.sheets.bout_sets import BoutSet, bout_sets, times_in_words
from settscan.sheets.drafts import draft_cells
from settscan.sheets.marks import INK, PAPER, Hatch, marks_of
from settscan.sheets.photos import NO_PICTURES, Pictures
from settscan.sheets.picture import beside_photo, detail_of
from settscan.sheets.preview import data_uri, preview_svg
from settscan.sheets.seen import CHECKS_HEAD
from settscan.sheets.winding_lines import (
    HAND_HEAD,
    HAND_WORDS,
    HOW_TO_READ,
    bout_cards,
    bout_rows,
    closing_ties,
    due_ties,
    hand_rows,
    odd_groups,
    passes_note,
    per_yarn_line,
    tie_sentences,
)
from settscan.sheets.words import Say, said_in_html
from settscan.warping.model import WarpPlan
from settscan.winding.frame import turn_word
from settscan.winding.model import WindingPlan
from settscan.winding.sections import SectionPlan
from settscan.winding.wound import Wound

_PAPERS = {"a4": "A4", "letter": "letter"}
_DENTS = 30  # shown of the reed


def sheets_html(
    plan: WarpPlan,
    winding: Wound,
    pictures: Pictures = NO_PICTURES,
    paper: str = "A4",
    say: Say = str,
) -> str:
    """The whole set as one HTML document: overview, colour order, plan, yarn, sley, winding.

    Args:
        plan: the warp.
        winding: how it is wound.
        pictures: the photo, and what was read from it.
        paper: "A4" or "Letter", for printing from the browser.
        say: puts the text into the weaver's words.

    Raises:
        BadInput: for a picture that is neither PNG nor JPEG.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    env = Environment(
        loader=PackageLoader("settscan.sheets", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        optimized=False,  # they are read in, filled once and thrown away
    )
    env.globals.update(
        plural=content.plural,
        passes_note=passes_note,
        times_in_words=times_in_words,
        outlines=outlines,
    )
    marks = marks_of(plan.cloth.yarns)
    pictures = pictures.for_print()
    drawn, caption = beside_photo(plan, pictures.shown)
    page = env.get_template("sheets.html").render(
        plan=plan,
        winding=winding,
        marks=marks,
        paper=_PAPERS.get(paper.lower(), "A4"),
        hatches=[hatch for hatch in Hatch if hatch is not Hatch.NONE],
        inks={"dark": INK, "light": PAPER},
        preview=preview_svg(drawn),
        drawn_caption=caption,
        beside=data_uri(pictures.rectified) if pictures.rectified else None,
        detail=preview_svg(detail_of(plan)).replace("url(#", "url(#d-").replace('id="', 'id="d-'),
        evidence=data_uri(pictures.evidence) if pictures.evidence else None,
        checks=pictures.seen.checks if pictures.seen else (),
        checks_head=CHECKS_HEAD,
        draft=draft_cells(plan.draft) if plan.draft else None,
        **_words(plan, winding),
        **(_beam(winding) if isinstance(winding, SectionPlan) else _bouts(winding, marks)),
    )
    return said_in_html(page.strip(), say) + "\n"


def outlines(stripes: Iterable[Stripe], high: int) -> dict[str, str]:
    """Stripes side by side as SVG outlines, a thread one unit wide: all of a yarn in one."""
    found: dict[str, list[str]] = {}
    at = 0
    for yarn, threads in stripes:
        found.setdefault(yarn, []).append(f"M{at} 0h{threads}v{high}h-{threads}z")
        at += threads
    return {yarn: "".join(parts) for yarn, parts in found.items()}


def _words(plan: WarpPlan, winding: Wound) -> dict[str, Any]:
    """The words and rows of all sheets but the winding sheets."""
    units = plan.wishes.units
    return {
        "title": content.title_of(plan),
        "figures": content.key_figures(plan, winding),
        "warnings": content.warnings(plan, winding),
        "stretches": content.stretches(plan),
        "weft_heading": content.weft_heading(plan),
        "weft": () if content.weft_is_as_warp(plan) else plan.weft.order,
        "losses_divide": content.losses_divide(units),
        "loss_lines": content.loss_lines(plan),
        "loss_head": content.LOSS_HEAD,
        "loss_rows": content.loss_rows(plan),
        "dye_lot": content.DYE_LOT,
        "wound_for_each": content.wound_for_each(winding),
        "yarn_head": content.YARN_HEAD,
        "yarn_rows": list(zip(winding.yarns, content.yarn_rows(winding), strict=True)),
        "raddle_lines": at_loom.raddle_lines(plan),
        "sley_lines": at_loom.sley_lines(plan),
        "reed_head": at_loom.REED_HEAD,
        "reed_rows": at_loom.reed_rows(plan),
        "dents": at_loom.dents(plan)[:_DENTS],
        "weaving_lines": weft_lines.weaving_lines(plan, winding.yarns),
        "weft_stretches": [
            (stretch, weft_lines.stripe_rows(plan, stretch))
            for stretch in weft_lines.weft_stretches(plan)
        ],
        "stripe_head": weft_lines.STRIPE_HEAD,
        "marks_along": weft_lines.marks_along(plan),
        "measure": weft_lines.MEASURE,
        "threading_lines": at_loom.threading_lines(plan.draft, plan.ends) if plan.draft else (),
    }


def _bouts(winding: WindingPlan, marks: dict[str, Any]) -> dict[str, Any]:
    """What the sheets of a mill, reel or board say."""
    return {
        "beam": None,
        "how_to_read": HOW_TO_READ,
        "turn_word": turn_word(winding.frame),
        "turns": content.mixed(winding.path.turns),
        "path_length": content.length(winding.path.length_mm, winding.plan.wishes.units),
        "tie_sentences": tie_sentences(winding),
        "sets": [_bout_set(winding, bouts, marks) for bouts in bout_sets(winding)],
        "orders": content.bout_orders(winding),
        "bout_rows": bout_rows(winding),
        "odd_groups": odd_groups(winding),
        "hand_head": HAND_HEAD,
        "hand_rows": hand_rows(winding),
        "hand_words": HAND_WORDS,
        "cards": bout_cards(winding),
    }


def _beam(beam: SectionPlan) -> dict[str, Any]:
    """What the sheets of a sectional beam say."""
    return {
        "beam": beam,
        "spool_head": content.SPOOL_HEAD,
        "spool_rows": content.spool_rows(beam),
        "section_head": content.SECTION_HEAD,
        "section_rows": [content.section_row(section) for section in beam.sections],
    }


def _bout_set(winding: WindingPlan, bouts: BoutSet, marks: dict[str, Any]) -> dict[str, Any]:
    """Bouts that are wound alike, with what their sheet needs."""
    bout = bouts.pattern
    due = due_ties(bout)
    labels = [""] + [step.repeat_label for step in bout.steps]
    groups: list[list[dict[str, Any]]] = [[]]
    for step, before in zip(bout.steps, labels, strict=False):
        if groups[-1] and groups[-1][-1]["ties"]:  # a page may end only where a tie was made
            groups.append([])
        groups[-1].append(
            {
                "step": step,
                "words": " and ".join(marks[yarn].name for yarn in step.yarns),
                "label": step.repeat_label if step.repeat_label != before else "",
                "ties": due.get(step.number, ()),
            }
        )
    return {
        "bouts": bouts.bouts,
        "bout": bout,
        "times": bouts.times,
        "numbers": bouts.numbers,
        "groups": groups,
        "closing": closing_ties(winding, bout),
        "per_yarn": per_yarn_line(bouts, {key: mark.name for key, mark in marks.items()}),
    }
