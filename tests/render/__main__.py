"""Render one random scene: `python -m tests.render OUT --px 6 --seed 3 --level ordinary`."""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from tests.render.random_scene import LEVELS, random_scene
from tests.render.scene import render
from tests.render.truth import to_text


def main() -> None:
    """Write OUT.jpg and OUT.truth.json."""
    parser = argparse.ArgumentParser(prog="python -m tests.render", description=__doc__)
    parser.add_argument("out", help="where to write, without ending")
    parser.add_argument("--px", type=float, default=6.0, help="pixels per thread")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--level", choices=sorted(LEVELS), default="ordinary")
    parser.add_argument("--size", type=int, nargs=2, default=(1600, 1200), metavar=("W", "H"))
    parser.add_argument("--weave", default=None)
    parser.add_argument("--ruler", default="any")
    given = parser.parse_args()
    scene = random_scene(
        np.random.default_rng(given.seed),
        px_per_thread=given.px,
        level=given.level,
        size=tuple(given.size),
        weave=given.weave,
        ruler=given.ruler,
    )
    picture = render(scene, given.seed)
    Path(f"{given.out}.jpg").write_bytes(picture.jpeg)
    Path(f"{given.out}.truth.json").write_text(to_text(picture.truth))


if __name__ == "__main__":
    main()
