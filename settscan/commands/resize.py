"""`settscan resize`: the same cloth in another sett or size, with the choices that there are."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from settscan.commands.console import Console, with_console
from settscan.commands.given import parse_factor, parse_pinned

if TYPE_CHECKING:
    from settscan.cloth.model import ThreadSet
    from settscan.cloth.project import Project
    from settscan.warping.resize import ClothChoice

_PATH = click.Path(path_type=Path)


@click.command(
    short_help="The same cloth in another sett or size.",
    epilog="""\b
Examples:
  settscan resize blanket.toml --epi 36
  settscan resize blanket.toml --epi 36 --keep counts -o fine.toml
  settscan resize blanket.toml --scale 1/2 -o small.toml --choice 2
""",
)
@click.argument("project", type=_PATH, metavar="FILE.toml")
@click.option("--epi", metavar="DENSITY", help='New finished ends per inch: 36 or "144/10cm".')
@click.option("--ppi", metavar="DENSITY", help="New finished picks per inch. Default: in step.")
@click.option(
    "--keep",
    type=click.Choice(["size", "counts"]),
    default="size",
    help="In another sett: the size of the pattern, with new counts, or the counts.",
    show_default=True,
)
@click.option("--scale", metavar="FACTOR", help="Another size in the same sett: 1/2, 1.5 or 60 %.")
@click.option("-o", "--out", type=_PATH, metavar="NEW.toml", help="Write the choice as a project.")
@click.option(
    "--choice",
    type=click.IntRange(min=1),
    default=1,
    help="Which of the choices to write.",
    show_default=True,
)
@with_console
def resize(
    project: Path,
    epi: str | None,
    ppi: str | None,
    keep: str,
    scale: str | None,
    out: Path | None,
    choice: int,
    console: Console,
) -> None:
    """Work out the counts of a cloth for another sett or another size.

    Counts stay even and no stripe vanishes, so they seldom fit exactly: where several answers are
    sound they are listed, with the error of every stripe, and you pick. The project itself stays as
    it is; with -o the choice becomes a project of its own.
    """
    from settscan.cloth.project import read_project
    from settscan.errors import BadInput

    if (scale is None) == (epi is None and ppi is None):
        raise click.UsageError("Give a new sett (--epi, --ppi) or a factor (--scale).")
    found = read_project(project)
    offered = _offered(found, epi, ppi, keep, scale)
    for number, each in enumerate(offered, 1):
        console.say(_told(number, each, found.wishes.units))
    if out is None:
        which = f", and --choice N for another than 1 of {len(offered)}" if offered[1:] else ""
        console.note(f"To keep it: add -o NEW.toml{which}.")
        return
    if choice > len(offered):
        raise BadInput(f"There is no choice {choice}.", f"Write a number from 1 to {len(offered)}.")
    _write(found, offered[choice - 1], out)
    console.say(f"Wrote {out} with choice {choice}. Next: settscan plan {out}")


def _offered(
    project: Project, epi: str | None, ppi: str | None, keep: str, scale: str | None
) -> tuple[ClothChoice, ...]:
    from settscan.errors import BadInput
    from settscan.warping.resize import same_counts_in_sett, same_size_in_sett, scaled_size

    cloth = project.cloth
    if scale is not None:
        return scaled_size(cloth, parse_factor(scale))
    ends = None if epi is None else parse_pinned(epi, "epi")
    picks = None if ppi is None else parse_pinned(ppi, "ppi")
    if cloth.warp.density is None or cloth.weft.density is None:
        raise BadInput(
            "The densities of the cloth are not known, so neither is its size.",
            "Count one inch each way and type epi and ppi, or give --scale.",
        )
    old = Fraction(cloth.warp.density.value), Fraction(cloth.weft.density.value)
    factor = ends / old[0] if ends is not None else (picks or old[1]) / old[1]
    ends, picks = ends or old[0] * factor, picks or old[1] * factor
    if keep == "counts":
        return (same_counts_in_sett(cloth, ends, picks),)
    return same_size_in_sett(cloth, ends, picks)


def _told(number: int, choice: ClothChoice, units: str) -> list[str]:
    """A choice in a few lines: its sequences, and what became of each stripe."""
    cloth = choice.cloth
    weft = _line(cloth.weft, "picks", units)
    if cloth.weft == cloth.warp:
        weft = "as the warp"
    lines = [f"Choice {number}", f"  warp  {_line(cloth.warp, 'ends', units)}", f"  weft  {weft}"]
    return [*lines, *(f"    {line}" for line in choice.lines), ""]


def _line(threads: ThreadSet, of: str, units: str) -> str:
    """A sequence with the threads and the size of one repeat."""
    from settscan.cloth.notation import format_sequence
    from settscan.quantities import format_length

    count = threads.sequence.threads
    size = ""
    if threads.density is not None:
        size = f", {format_length(count / Fraction(threads.density.value), units)}"
    return f"{format_sequence(threads.sequence)}  (a repeat: {count} {of}{size})"


def _write(project: Project, choice: ClothChoice, out: Path) -> None:
    """The choice as a project of its own: typed, since no photo shows it."""
    from dataclasses import replace

    from settscan.cloth.project import write_project
    from settscan.errors import BadInput
    from settscan.measured import Origin

    if out.suffix != ".toml":
        raise BadInput(
            f"A project file has a name ending in .toml, not {out.name!r}.",
            f"Write -o {out.stem}.toml.",
        )
    warp, weft = (
        replace(
            threads,
            origin=Origin.TYPED,
            density=None
            if threads.density is None
            else replace(threads.density, origin=Origin.TYPED),
        )
        for threads in (choice.cloth.warp, choice.cloth.weft)
    )
    write_project(out, replace(choice.cloth, name=out.stem, warp=warp, weft=weft), project.wishes)
