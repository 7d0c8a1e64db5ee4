"""`settscan new`: a project file to fill in by hand, with no photo."""

from __future__ import annotations

from pathlib import Path

import click

from settscan.commands.console import Console, with_console


@click.command(
    epilog="""\b
Examples:
  settscan new blanket.toml
  settscan new blanket.toml --warp "A/24 B4 A8 C/2" --epi 24
"""
)
@click.argument("project", type=click.Path(path_type=Path), metavar="FILE.toml")
@click.option("--warp", default="A/24 B4 A8 C/2", help="Colour sequence.", show_default=True)
@click.option("--weft", help="Colour sequence of the weft. Default: as the warp.")
@click.option(
    "--epi",
    default="24",
    metavar="DENSITY",
    help="Finished ends per inch, or 48/10cm.",
    show_default=True,
)
@click.option("--ppi", metavar="DENSITY", help="Finished picks per inch. Default: as the warp.")
@click.option("--weave", default="2/2 twill", help="The weave.", show_default=True)
@click.option("--units", type=click.Choice(["inch", "metric"]), help="Which the sheets lead with.")
@with_console
def new(
    project: Path,
    warp: str,
    weft: str | None,
    epi: str,
    ppi: str | None,
    weave: str,
    units: str | None,
    console: Console,
) -> None:
    """Write a project file to fill in by hand; no photo is needed.

    Each field has a remark that says what it is for. Give the sequence if you know it; otherwise
    an example stands there, to be changed.
    """
    from settscan.cloth.project import write_project
    from settscan.commands.reading import first_wishes
    from settscan.commands.starting import typed_cloth
    from settscan.errors import BadInput

    if project.suffix != ".toml":
        raise BadInput(
            f"A project file has a name ending in .toml, not {project.name!r}.",
            f"Write {project.stem}.toml.",
        )
    cloth = typed_cloth(project.stem, warp, weft, epi, ppi, weave)
    metric = "cm" in epi + (ppi or "")
    write_project(project, cloth, first_wishes(units or ("metric" if metric else "inch")))
    console.say(f"Wrote {project}. Change it in any editor, then: settscan plan {project}")
