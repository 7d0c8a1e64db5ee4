"""The line patterns of the swatches, drawn on a reportlab canvas."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from settscan.sheets.marks import INK, Hatch, Mark


@lru_cache(maxsize=256)
def ink(colour: str) -> Any:
    """A colour "#rrggbb" as the canvas takes it without reading the text each time."""
    from reportlab.lib.colors import HexColor

    return HexColor(colour)


def draw_hatched(canvas: Any, mark: Mark, wide: float, high: float) -> None:
    """A rectangle at the origin in a yarn's colour, with its pattern and an edge."""
    canvas.saveState()
    canvas.setFillColor(mark.colour)
    canvas.rect(0, 0, wide, high, stroke=0, fill=1)
    if mark.hatch is not Hatch.NONE:
        clip = canvas.beginPath()
        clip.rect(0, 0, wide, high)
        canvas.clipPath(clip, stroke=0, fill=0)
        _draw_hatch(canvas, mark, wide, high)
    canvas.restoreState()
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.6)
    canvas.rect(0.3, 0.3, wide - 0.6, high - 0.6, stroke=1, fill=0)


def _draw_hatch(canvas: Any, mark: Mark, wide: float, high: float) -> None:
    """The line pattern of a mark over a rectangle at the origin."""
    canvas.setStrokeColor(mark.ink)
    canvas.setFillColor(mark.ink)
    canvas.setLineWidth(0.7)
    gap = 5.0
    if mark.hatch in (Hatch.RISING, Hatch.CROSSED):
        _lines(canvas, [(x, 0, x + high, high) for x in _steps(-high, wide, gap)])
    if mark.hatch in (Hatch.FALLING, Hatch.CROSSED):
        _lines(canvas, [(x, high, x + high, 0) for x in _steps(-high, wide, gap)])
    if mark.hatch in (Hatch.UPRIGHT, Hatch.GRID):
        _lines(canvas, [(x, 0, x, high) for x in _steps(gap / 2, wide, gap)])
    if mark.hatch in (Hatch.LEVEL, Hatch.GRID):
        _lines(canvas, [(0, y, wide, y) for y in _steps(gap / 2, high, gap)])
    if mark.hatch is Hatch.DOTS:
        for row, y in enumerate(_steps(gap / 2, high, gap)):
            for x in _steps(gap / 2 * (1 + row % 2), wide, gap):
                canvas.circle(x, y, 0.9, stroke=0, fill=1)


def _lines(canvas: Any, lines: list[tuple[float, float, float, float]]) -> None:
    if lines:
        canvas.lines(lines)


def _steps(first: float, last: float, gap: float) -> list[float]:
    count = int(max(0.0, last - first) // gap) + 1
    return [first + gap * step for step in range(count)]
