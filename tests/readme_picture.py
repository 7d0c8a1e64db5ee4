"""Puts the README's picture together from a demo: the photo, what was read, the cloth drawn.

Run after `settscan demo`: `python -m tests.readme_picture settscan-demo`. Writes
sample_images/demo.jpg. The photo is a rendered sample image, so the picture is too.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from PIL import Image

WIDTH = 600
GAP = 16
SAMPLES = Path(__file__).parent.parent / "sample_images"


def main() -> None:
    """Read the demo's folder and write the picture."""
    parser = argparse.ArgumentParser(prog="python -m tests.readme_picture", description=__doc__)
    parser.add_argument("folder", type=Path, help="where `settscan demo` wrote")
    folder = parser.parse_args().folder
    reading = json.loads((folder / "swatch.reading.json").read_text("utf-8"))
    photo = wide(Image.open(SAMPLES / reading["photo"]["file"]))
    drawn = wide(same_part(Image.open(folder / "sheets" / "preview.png"), folder, reading))
    drawn = drawn.crop((0, 0, WIDTH, min(drawn.height, photo.height)))
    height = photo.height + GAP + drawn.height
    seen = Image.open(folder / "swatch.evidence.png").convert("RGB")
    seen = seen.resize((round(seen.width * height / seen.height), height), Image.Resampling.LANCZOS)
    whole = Image.new("RGB", (WIDTH + GAP + seen.width, height), "white")
    whole.paste(photo, (0, 0))
    whole.paste(drawn, (0, photo.height + GAP))
    whole.paste(seen, (WIDTH + GAP, 0))
    whole.save(SAMPLES / "demo.jpg", quality=85, optimize=True)


def wide(picture: Image.Image) -> Image.Image:
    """The picture at the width of the left column."""
    height = round(picture.height * WIDTH / picture.width)
    return picture.convert("RGB").resize((WIDTH, height), Image.Resampling.LANCZOS)


def same_part(drawn: Image.Image, folder: Path, reading: dict) -> Image.Image:
    """As many ends and picks of the drawn cloth as the photo shows, from its top left."""
    plan = json.loads((folder / "sheets" / "plan.json").read_text("utf-8"))
    ends, picks = (sum(s["threads"] for s in reading[axis]["stripes"]) for axis in ("warp", "weft"))
    width = drawn.width * ends / plan["warp"]["ends"]
    height = drawn.height * picks / plan["weft"]["picks_per_piece"]
    return drawn.crop((0, 0, min(round(width), drawn.width), min(round(height), drawn.height)))


if __name__ == "__main__":
    main()
