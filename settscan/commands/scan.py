"""`settscan scan`: a photo becomes a project file."""

from __future__ import annotations

from pathlib import Path

import click

from settscan.commands.console import Console, with_console
from settscan.commands.given import parse_corners, parse_pinned, parse_scale
from settscan.commands.paths import PATH
from settscan.commands.usage import OneOf


@click.command(
    epilog="""\b
Examples:
  settscan scan blanket.jpg -o blanket.toml
  settscan scan whole.jpg closeup.jpg -o blanket.toml --epi 24
  settscan scan blanket.jpg -o blanket.toml --ppi 48/10cm --update
  settscan scan swatch.jpg -o swatch.toml --scale-x "120,800 2120,806 = 10 cm"
"""
)
@click.argument("photos", nargs=-1, required=True, type=PATH, metavar="PHOTO [CLOSE-UP]")
@click.option(
    "-o",
    "--out",
    type=PATH,
    metavar="FILE.toml",
    help="The project file to write. Default: named after the photo, in this folder.",
)
@click.option("--update", is_flag=True, help="Put the reading into an existing project file.")
@click.option("--json", "json_file", type=PATH, metavar="FILE", help="Write the reading as JSON.")
@click.option("--epi", metavar="DENSITY", help='Ends per inch that you counted: 24 or "48/10cm".')
@click.option("--ppi", metavar="DENSITY", help='Picks per inch that you counted: 24 or "48/10cm".')
@click.option(
    "--scale-x",
    metavar="SCALE",
    help='Two points across the photo and their distance: "120,800 2120,806 = 10 cm".',
)
@click.option("--scale-y", metavar="SCALE", help="The same for two points up and down the photo.")
@click.option(
    "--corners",
    metavar="POINTS",
    help='Four points that are a rectangle on the cloth, from the top left: "x,y x,y x,y x,y".',
)
@click.option(
    "--warp-runs",
    type=OneOf(["down", "across"]),
    help="Which way the warp runs in the photo as shown. Default: down.",
)
@click.option(
    "--weave", metavar="WEAVE", help='The weave, if you see it: plain, hopsack, "2/2 twill".'
)
@click.option("--units", type=OneOf(["inch", "metric"]), help="For a new project file.")
@with_console
def scan(
    photos: tuple[Path, ...],
    out: Path | None,
    update: bool,
    json_file: Path | None,
    epi: str | None,
    ppi: str | None,
    scale_x: str | None,
    scale_y: str | None,
    corners: str | None,
    warp_runs: str | None,
    weave: str | None,
    units: str | None,
    console: Console,
) -> int:
    """Read a photo of a cloth and write a project file.

    Lay a ruler or the printed card (settscan card) on the cloth and photograph it from straight
    above. A second photo may be a close-up of the same cloth. Beside the project file goes a
    picture of what was read: compare it with the cloth.

    With --update, everything that you have typed, pinned or changed in the project file stays.
    """
    if len(photos) > 2:
        raise click.UsageError("Give one photo, or the whole cloth and a close-up.")
    if len(photos) == 2 and photos[0] == photos[1]:
        raise click.UsageError("The close-up is the same file as the photo.")
    from settscan.cloth.weaves import weave_name
    from settscan.commands.reading import Target, scan_to_files
    from settscan.scan_model import ScanOptions

    options = ScanOptions(
        epi=parse_pinned(epi, "epi") if epi is not None else None,
        ppi=parse_pinned(ppi, "ppi") if ppi is not None else None,
        scale_x=parse_scale(scale_x) if scale_x is not None else None,
        scale_y=parse_scale(scale_y) if scale_y is not None else None,
        corners=parse_corners(corners) if corners is not None else None,
        warp_runs=warp_runs,
        weave=weave_name(weave) if weave is not None else None,
    )
    metric = any("cm" in given for given in (epi, ppi, scale_x, scale_y) if given)
    target = Target(
        project=out or Path(photos[0].stem + ".toml"),
        update=update,
        json=json_file,
        units=units or ("metric" if metric else "inch"),
    )
    return scan_to_files(photos, options, target, console)
