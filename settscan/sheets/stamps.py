"""Marks that come in many places of a PDF: kept in it once, and set down in each."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

Draw = Callable[[Any], None]


class _Stamp(NamedTuple):
    name: str
    draw: Draw
    bounds: tuple[float, float, float, float]  # left, bottom, right, top


class Stamps:
    """The stamps of one document."""

    def __init__(self) -> None:
        self._made: dict[Hashable, _Stamp] = {}

    def placed(
        self,
        look: Hashable,
        draw: Draw,
        place: tuple[float, float, float, float],
        beyond: float = 0,
    ) -> Draw:
        """What sets down a mark.

        Args:
            look: the same for all that look the same.
            draw: draws it with its lower left corner at the origin.
            place: left and lower edge, width and height.
            beyond: how far its lines may reach over its edges.
        """
        x, y, wide, high = place
        bounds = -beyond, -beyond, wide + beyond, high + beyond
        new = _Stamp(f"stamp{len(self._made)}", draw, bounds)
        name = self._made.setdefault(look, new).name

        def put(canvas: Any) -> None:
            canvas.saveState()
            canvas.translate(x, y)
            canvas.doForm(name)
            canvas.restoreState()

        return put

    def write(self, canvas: Any) -> None:
        """Put all of them into the document, before its first page."""
        for stamp in self._made.values():
            canvas.beginForm(stamp.name, *stamp.bounds)
            stamp.draw(canvas)
            canvas.endForm()


@contextmanager
def binary_streams() -> Iterator[None]:
    """Streams as plain bytes: smaller and quicker than the text form that is the default."""
    from reportlab import rl_config

    before = rl_config.useA85
    rl_config.useA85 = 0
    try:
        yield
    finally:
        rl_config.useA85 = before
