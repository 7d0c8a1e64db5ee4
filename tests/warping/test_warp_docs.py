"""The page on the warp says what the program does."""

import re
from pathlib import Path

import pytest

import settscan
from settscan.cloth.wishes import Frame, Loom, Losses, Piece
from settscan.quantities import parse_reed, parse_yarn
from settscan.warping.weft import PER_TAIL
from settscan.warping.yarn import PER_KNOT

PAGE = (Path(settscan.__file__).parent / "docs" / "warp.md").read_text(encoding="utf-8")


def section(title):
    return PAGE.split(f"## {title}\n")[1].split("\n## ")[0]


def quoted(text):
    return re.findall(r"`([^`]+)`", text)


def test_the_reeds_and_yarns_of_the_page_can_be_read():
    reeds = [text for text in quoted(section("Reed and sley")) if "=" not in text]
    assert len(reeds) >= 7
    assert all(parse_reed(text).dents_per_mm > 0 for text in reeds)
    yarns = [
        text
        for row in section("Yarn sizes").splitlines()
        if row.startswith("| `")
        for text in quoted(row)
    ]
    assert len(yarns) >= 17
    assert all(parse_yarn(text) > 0 for text in yarns)


def test_the_allowances_of_the_page_are_those_of_the_program():
    assert f"{float(PER_KNOT) / 10:g} cm for each end of a" in section("Yarn sizes")
    assert f"{float(PER_TAIL) / 10:g} cm for each end of a weft" in section("Yarn sizes")


@pytest.mark.parametrize("text", quoted(PAGE))
def test_fields_that_the_page_names_exist(text):
    names = {
        field.removesuffix("_mm") for kind in (Piece, Loom, Frame, Losses) for field in kind._fields
    }
    if "=" in text:
        assert text.split(" = ")[0] in names
    elif "_" in text:
        assert text in names
