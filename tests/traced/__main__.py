"""Trace scenes: `python -m tests.traced t01 t02 --out FOLDER`; without names it lists them."""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path

from .scene_list import SCENES
from .scenes import spec_of


def main() -> None:
    """Write NAME.jpg and NAME.truth.json of each scene named."""
    parser = argparse.ArgumentParser(prog="python -m tests.traced", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help="scenes to trace")
    parser.add_argument("--out", type=Path, default=Path("traced"), metavar="FOLDER")
    given = parser.parse_args()
    unknown = [name for name in given.names if name not in SCENES]
    if unknown:
        parser.error(f"no such scene: {', '.join(unknown)}")
    if not given.names:
        for name in SCENES:
            spec = spec_of(name)
            print(f"{name}  {spec['weave']}: {spec['warp']} by {spec['weft']}")
        return
    from .photo import picture  # here, so that the list comes without Mitsuba

    given.out.mkdir(parents=True, exist_ok=True)
    for name in given.names:
        began = time.time()
        jpeg, told = picture(spec_of(name))
        (given.out / f"{name}.jpg").write_bytes(jpeg)
        (given.out / f"{name}.truth.json").write_text(json.dumps(told, indent=1))
        print(f"{name}: {time.time() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
