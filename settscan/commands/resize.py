"""`settscan resize`: the same cloth in another sett or size, with the choices that there are."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from settscan.commands.console import Console, with_console
from settscan.commands.given import doubt_closest, parse_factor, parse_pinned
from settscan.commands.paths import PATH
from settscan.commands.usage import OneOf, Whole

if TYPE_CHECKING:
    from settscan.cloth.model import ThreadSet
    from settscan.cloth.project import Project
    from settscan.warping.resize import ClothChoice
    from settscan.warping.sizing import Resized


@click.command(
    short_help="The same cloth in another sett or size.",
    epilog="""\b
Examples:
  settscan resize blanket.toml --epi 36
  settscan resize blanket.toml --epi 36 --keep counts -o fine.toml
  settscan resize blanket.toml --scale 1/2 -o small.toml --choice 2
  settscan resize blanket.toml --yarn "2/12 worsted" -o fine.toml
""",
)
@click.argument("project", type=PATH, metavar="FILE.toml")
@click.option("--epi", metavar="DENSITY", help='New finished ends per inch: 36 or "144/10cm".')
@click.option("--ppi", metavar="DENSITY", help="New finished picks per inch. Default: in step.")
@click.option(
    "--keep",
    type=OneOf(["size", "counts"]),
    default="size",
    help="In another sett: the size of the pattern, with new counts, or the counts.",
    show_default=True,
)
@click.option("--yarn", metavar="SIZE", help="Another yarn, set as firmly: 2/12 worsted, 30 tex.")
@click.option("--scale", metavar="FACTOR", help="Another size in the same sett: 1/2, 1.5 or 60 %.")
@click.option("--repeat", type=Whole(1, 100_000), help="Ends that a repeat is to have.")
@click.option("--odd", is_flag=True, help="Allow odd counts; without it all become even.")
@click.option("-o", "--out", type=PATH, metavar="NEW.toml", help="Write the choice as a project.")
@click.option(
    "--choice",
    type=Whole(min=1),
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
    yarn: str | None,
    scale: str | None,
    repeat: int | None,
    odd: bool,
    out: Path | None,
    choice: int,
    console: Console,
) -> None:
    """Work out the counts of a cloth for another sett, another yarn or another size.

    Counts stay even and no stripe vanishes, so they seldom fit exactly: where several answers are
    sound they are listed, with the error of every stripe, and you pick. The project itself stays as
    it is; with -o the choice becomes a project of its own.
    """
    from settscan.cloth.project import read_project
    from settscan.errors import BadInput

    sett = epi is not None or ppi is not None
    if sum((sett, yarn is not None, scale is not None, repeat is not None)) != 1:
        raise click.UsageError(
            "Give one of these: a new sett (--epi, --ppi), --yarn, --scale or --repeat."
        )
    found = read_project(project)
    if yarn is not None:
        found, epi = _spun_anew(found, yarn, console)
    offered = _offered(found, epi, ppi, keep, scale, repeat, odd)
    new = offered[0].cloth
    # All choices come of that number, so it is doubted before they are listed.
    doubt_closest(new.warp.density, new.weft.density, console)
    for number, each in enumerate(offered, 1):
        console.say(_told(number, each, found.wishes.units))
    if not odd and keep == "size" and _has_odd_counts(found):
        console.note("The pattern has odd counts, which became even: --odd allows odd ones.")
    if out is None:
        which = f", and --choice N for another than 1 of {len(offered)}" if offered[1:] else ""
        console.note(f"To keep it: add -o NEW.toml{which}.")
        return
    if choice > len(offered):
        raise BadInput(f"There is no choice {choice}.", f"Write a number from 1 to {len(offered)}.")
    _write(found, offered[choice - 1], out)
    console.say(f"Wrote {out} with choice {choice}. Next: settscan plan {out}")


def _spun_anew(project: Project, typed: str, console: Console) -> tuple[Project, str]:
    """The project in another yarn, and the finished sett in which it lies as firmly.

    What was known of the old yarn (put-ups, stash, price, wraps) is left out.
    """
    from dataclasses import replace

    from settscan.errors import BadInput
    from settscan.quantities import format_density, parse_yarn
    from settscan.warping.resize import in_another_yarn

    cloth, units = project.cloth, project.wishes.units
    factor = in_another_yarn(cloth, project.wishes, parse_yarn(typed))
    if cloth.warp.density is None:
        raise BadInput(
            "The sett of the cloth is not known, so that of another yarn is not either.",
            "Count one inch and type epi.",
        )
    old = Fraction(cloth.warp.density.value)
    console.note(
        f"As firm in {typed}: {format_density(old * factor, units)} finished, in place of"
        f" {format_density(old, units)} (the sett goes with the root of the yarn's length by"
        " weight; a sample decides).\n"
    )
    yarns = tuple(replace(yarn, size=typed) for yarn in cloth.yarns)
    project = replace(
        project,
        cloth=replace(cloth, yarns=yarns),
        wishes=project.wishes._replace(stock=()),
    )
    return project, f"{old * factor * 100}/10cm"


def _has_odd_counts(project: Project) -> bool:
    axes = (project.cloth.warp, project.cloth.weft)
    return any(stripe.threads % 2 for axis in axes for stripe in axis.sequence.stripes)


def _offered(
    project: Project,
    epi: str | None,
    ppi: str | None,
    keep: str,
    scale: str | None,
    repeat: int | None,
    odd: bool,
) -> tuple[ClothChoice, ...]:
    from settscan.errors import BadInput
    from settscan.warping.resize import (
        same_counts_in_sett,
        same_size_in_sett,
        scaled_size,
        with_repeat,
    )
    from settscan.warping.sizing import Rules

    cloth, rules = project.cloth, Rules(even=not odd)
    if scale is not None:
        return scaled_size(cloth, parse_factor(scale), rules)
    if repeat is not None:
        return with_repeat(cloth, repeat, rules)
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
    return same_size_in_sett(cloth, ends, picks, rules)


def _told(number: int, choice: ClothChoice, units: str) -> list[str]:
    """A choice in a few lines: its sequences, and what became of each stripe."""
    cloth = choice.cloth
    weft = _line(cloth.weft, "picks", units)
    if cloth.weft == cloth.warp:
        weft = "as the warp"
    lines = [f"Choice {number}", f"  warp  {_line(cloth.warp, 'ends', units)}", f"  weft  {weft}"]
    lines += [f"    {line}" for line in choice.lines]
    lines.append(f"    warp repeat {_total(choice.warp)}")
    if choice.weft != choice.warp:
        lines.append(f"    weft repeat {_total(choice.weft)}")
    return [*lines, ""]


def _total(answer: Resized) -> str:
    """How true the whole repeat is: "36 (ideal 35.4, +0.6); squared errors 1.5"."""
    return (
        f"{answer.threads} (ideal {float(answer.ideal_threads):.1f},"
        f" {float(answer.repeat_error):+.1f}); sum of squared errors {float(answer.cost):.1f}"
    )


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
