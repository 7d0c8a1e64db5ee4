"""`settscan demo`: the main job on a sample image."""

from __future__ import annotations

from pathlib import Path

import click

from settscan.commands.console import Console, with_console
from settscan.commands.paths import PATH

_SAMPLE = "close_swatch.jpg"


@click.command(
    short_help="Do the whole job on a sample image.",
    epilog="""\b
Example:
  settscan demo -o settscan-demo
""",
)
@click.option(
    "-o",
    "--out",
    type=PATH,
    default=Path("settscan-demo"),
    metavar="FOLDER",
    help="Where everything goes.",
    show_default=True,
)
@with_console
def demo(out: Path, console: Console) -> int:
    """Do the whole job on a sample image: reading, evidence, plan and sheets.

    The sample is a rendered picture of an invented cloth. Edits that you make to the project
    file in the folder stay when you run the demo again.
    """
    from settscan.commands.planning import plan_to_files
    from settscan.commands.reading import Target, scan_to_files
    from settscan.files import make_folder
    from settscan.scan_model import ScanOptions

    photo = sample_photo()
    make_folder(out)
    project = out / "swatch.toml"
    target = Target(
        project=project,
        update=project.exists(),
        json=out / "swatch.reading.json",
        planned=True,
    )
    console.note(f"Reading the sample {photo.name} ...")
    code = scan_to_files((photo,), ScanOptions(), target, console)
    if not project.exists():
        return code
    console.note("")
    plan_to_files(project, out / "sheets", console, told=False)
    console.note("")
    console.note(f"Look first at {target.evidence}: what was read, drawn over the cloth.")
    console.note(f"Then change {project} as you like; settscan plan {project} works it out again.")
    console.note(f"Then print {out / 'sheets' / 'sheets.pdf'}: plan, yarn and winding sheets.")
    return code


def sample_photo() -> Path:
    """The sample image: shipped inside an installed settscan, or beside it in its source.

    Raises:
        BadFile: if it is in neither place.
    """
    from settscan.errors import BadFile

    package = Path(__file__).resolve().parent.parent
    for place in (package / "sample" / _SAMPLE, package.parent / "sample_images" / _SAMPLE):
        if place.is_file():
            return place
    raise BadFile(
        f"The sample image {_SAMPLE} is missing from this installation.",
        "Install settscan again, or scan a photo of your own.",
    )
