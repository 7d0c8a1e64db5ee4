"""A warp on a sectional beam: the same sheets, with sections in place of bouts."""

from __future__ import annotations

import json
import re
from io import BytesIO

import pytest
from pypdf import PdfReader

from settscan.cloth.wishes import Frame, FrameKind
from settscan.errors import BadInput
from settscan.sheets import content
from settscan.sheets.bundle import sheet_set
from settscan.sheets.headline import headline_text
from settscan.sheets.text import steps_text, winding_text
from settscan.warping.plan import plan_warp
from settscan.winding.plan import plan_winding
from settscan.winding.wound import plan_wound
from tests.sheets.conftest import blanket, wishes


@pytest.fixture(scope="module")
def beam():
    return plan_wound(plan_warp(blanket(), wishes(frame=Frame(kind=FrameKind.SECTIONS))))


@pytest.fixture(scope="module")
def files(beam) -> dict[str, bytes]:
    return sheet_set(beam.plan, beam)


def test_the_sections_hold_every_end_in_its_order(beam, files) -> None:
    data = json.loads(files["plan.json"])
    assert data["winding"] is None
    sections = data["sections"]["sections"]
    assert [section["number"] for section in sections] == list(range(1, len(sections) + 1))
    wound = [
        stripe["yarn"]
        for section in sections
        for stripe in section["order"]
        for _ in range(stripe["threads"])
    ]
    assert wound == [s.yarn for s in beam.plan.order for _ in range(s.threads)]


def test_yarn_to_buy_holds_what_is_lost_at_the_cuts(beam) -> None:
    each = beam.plan.warp_length_mm.value + beam.frame.cut_waste_mm
    for need in beam.yarns:
        assert need.warp_mm == need.warp_ends * each + need.knots_mm
    assert sum(lot.spools * lot.length_mm for lot in beam.lots) == beam.plan.ends * each


@pytest.mark.parametrize("units", ["inch", "metric"])
def test_what_spools_hold_is_told_in_one_unit(units) -> None:
    """A spool for one section holds a yard or two, one for all sections many."""
    frame = Frame(kind=FrameKind.SECTIONS)
    rows = content.spool_rows(plan_wound(plan_warp(blanket(), wishes(frame=frame, units=units))))
    assert {row[3].split()[1] for row in rows} == {{"inch": "yd", "metric": "m"}[units]}
    assert {len(row[3].partition(".")[2].split()[0]) for row in rows if "." in row[3]} == {1}


def test_paper_page_and_terminal_tell_the_sections(beam, files) -> None:
    pages = [page.extract_text() for page in PdfReader(BytesIO(files["sheets.pdf"])).pages]
    paper, page = "\n".join(pages), files["sheets.html"].decode()
    for section in beam.sections:
        ends = f"{section.ends} ({section.first_end} to {section.last_end})"
        assert ends in paper and ends in page and ends in steps_text(beam), ends
    for text in (paper, page):
        assert "Winding the sectional beam" in text
        assert not re.search(r"Bout \d", text)
    assert "Spools" in headline_text(beam)
    told = "\n".join((winding_text(beam), headline_text(beam), steps_text(beam)))
    assert max(map(len, told.splitlines())) <= 80


def test_a_sectional_beam_has_no_bouts(beam) -> None:
    with pytest.raises(BadInput, match="in sections, not in bouts"):
        plan_winding(beam.plan)
