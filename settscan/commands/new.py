"""`settscan new`: a project file to fill in by hand, with no photo."""

from __future__ import annotations

from pathlib import Path

import click

from settscan.commands.console import Console, with_console
from settscan.commands.given import doubt_closest
from settscan.commands.paths import PATH
from settscan.commands.usage import OneOf


@click.command(
    epilog="""\b
Examples:
  settscan new blanket.toml
  settscan new blanket.toml --warp "A/24 B4 A8 C/2" --epi 24
  settscan new blanket.toml --wif draft.wif
"""
)
@click.argument("project", type=PATH, metavar="FILE.toml")
@click.option("--warp", help='Colour sequence. Default: "A/24 B4 A8 C/2", as an example.')
@click.option("--weft", help="Colour sequence of the weft. Default: as the warp.")
@click.option("--epi", metavar="DENSITY", help="Finished ends per inch, or 48/10cm. Default: 24.")
@click.option("--ppi", metavar="DENSITY", help="Finished picks per inch. Default: as the warp.")
@click.option("--weave", help="The weave. Default: 2/2 twill.")
@click.option("--wif", type=PATH, metavar="FILE", help="Take all of these from a draft (WIF 1.1).")
@click.option("--units", type=OneOf(["inch", "metric"]), help="Which the sheets lead with.")
@with_console
def new(
    project: Path,
    warp: str | None,
    weft: str | None,
    epi: str | None,
    ppi: str | None,
    weave: str | None,
    wif: Path | None,
    units: str | None,
    console: Console,
) -> None:
    """Write a project file to fill in by hand; no photo is needed.

    Each field has a remark that says what it is for. Give the sequence if you know it; otherwise
    an example stands there, to be changed.
    """
    from settscan.cloth.project import write_project
    from settscan.commands.starting import drafted_cloth, typed_cloth
    from settscan.errors import BadInput
    from settscan.scanned import first_wishes

    if wif is not None and any((warp, weft, epi, ppi, weave)):
        raise click.UsageError("A draft (--wif) has its own sequences, densities and weave.")
    if project.suffix != ".toml":
        raise BadInput(
            f"A project file has a name ending in .toml, not {project.name!r}.",
            f"Write {project.stem}.toml.",
        )
    if wif is not None:
        cloth = drafted_cloth(wif)
    else:
        cloth = typed_cloth(
            project.stem,
            "A/24 B4 A8 C/2" if warp is None else warp,
            weft,
            "24" if epi is None else epi,
            ppi,
            "2/2 twill" if weave is None else weave,
        )
    metric = "cm" in (epi or "") + (ppi or "")
    write_project(project, cloth, first_wishes(units or ("metric" if metric else "inch")))
    console.say(f"Wrote {project}. Change it in any editor, then: settscan plan {project}")
    doubt_closest(cloth.warp.density, cloth.weft.density, console)
    if not wif:
        given = (
            (warp, "the colour sequence"),
            (epi, "the density of 24 ends per inch"),
            (weave, "the weave 2/2 twill"),
            (None, "the names and colours of the yarns"),
        )
        *first, last = [told for value, told in given if value is None]
        what = f"{', '.join(first)} and {last}" if first else last
        console.note(f"Only examples are {what} in it: put there what is so in your cloth.")
