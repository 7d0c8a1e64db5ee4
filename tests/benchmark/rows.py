"""The rows of the accuracy table: what is drawn for each, and what is given along."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace

import numpy as np

from tests.render.random_scene import random_scene
from tests.render.specs import Scene
from tests.render.weaves import WEAVES

SIZE = (1200, 900)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the table.

    Attributes:
        name: as printed, and part of the seed.
        px: pixels per thread, in the denser direction.
        level: of `random_scene`.
        weave, ruler, fills: of `random_scene`.
        size: of the picture, pixels.
        share: of the wished number of scenes that this row draws (one at least).
        pinned: whether both densities are given to the program.
        told: whether the weave is named to it.
        plain_weft: whether one yarn of the warp makes the whole weft, so that only ends are striped
            and in some stripes nothing tells ends from picks but their shading.
        group: "size", "weave" or "kind", for choosing many rows at once.
    """

    name: str
    px: float
    level: str = "ordinary"
    weave: str | None = None
    ruler: str = "any"
    fills: bool | None = True
    size: tuple[int, int] = SIZE
    share: float = 1.0
    pinned: bool = False
    told: bool = False
    plain_weft: bool = False
    group: str = "size"


ROWS = (
    Row(name="8 px", px=8),
    Row(name="6 px", px=6),
    Row(name="4 px", px=4),
    Row(name="3 px", px=3),
    Row(name="2 px", px=2),
    Row(name="3 px, weave given", px=3, told=True),
    Row(name="2 px, weave given", px=2, told=True),
    Row(name="1.3 px, density given", px=1.3, pinned=True),
    Row(name="6 px, easy", px=6, level="easy", group="kind"),
    Row(name="6 px, hard", px=6, level="hard", group="kind"),
    Row(name="6 px, stripes one way", px=6, plain_weft=True, group="kind"),
    Row(name="6 px, no ruler", px=6, ruler="none", group="kind", share=0.5),
    Row(
        name="whole blanket, density given", px=1.6, fills=False, size=(1600, 1200), pinned=True,
        group="kind", share=0.5,
    ),
    *(Row(name=f"6 px, {w}", px=6, weave=w, share=0.34, group="weave") for w in WEAVES),
)  # fmt: skip


def draw(row: Row, seed: int, index: int) -> tuple[Scene, int]:
    """Scene number `index` of a row, and the seed to render it with; none depends on others."""
    parts = [seed, zlib.crc32(row.name.encode()), index]
    rng = np.random.default_rng(parts)
    scene = random_scene(
        rng,
        px_per_thread=row.px,
        level=row.level,
        size=row.size,
        weave=row.weave,
        ruler=row.ruler,
        fills=row.fills,
    )
    pixels = int(rng.integers(2**31))
    if row.plain_weft:
        yarn = str(rng.choice([key for key, _ in scene.cloth.warp]))
        scene = replace(
            scene, cloth=replace(scene.cloth, weft=((yarn, 16),), weft_kind="repeating")
        )
    return scene, pixels


def number(row: Row, scenes: int) -> int:
    """How many scenes the row draws when `scenes` are wished."""
    return max(1, round(scenes * row.share))


def chosen(names: list[str]) -> tuple[Row, ...]:
    """The rows whose name or group is among `names`; all for none.

    Raises:
        ValueError: if a name fits no row.
    """
    if not names:
        return ROWS
    for name in names:
        if not any(name in (row.name, row.group) for row in ROWS):
            known = ", ".join(f'"{row.name}"' for row in ROWS)
            raise ValueError(f'No row is called "{name}": there are {known}.')
    return tuple(row for row in ROWS if row.name in names or row.group in names)
