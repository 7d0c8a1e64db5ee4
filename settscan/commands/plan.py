"""`settscan plan`: a project file becomes a warp plan and a winding plan."""

from __future__ import annotations

from pathlib import Path

import click

from settscan.commands.console import Console, with_console
from settscan.commands.paths import PATH
from settscan.commands.usage import OneOf


@click.command(
    epilog="""\b
Examples:
  settscan plan blanket.toml
  settscan plan blanket.toml -o blanket-sheets --paper Letter
  settscan plan blanket.toml --steps
"""
)
@click.argument("project", type=PATH, metavar="FILE.toml")
@click.option("-o", "--out", type=PATH, metavar="FOLDER", help="Write sheets and files there.")
@click.option(
    "--paper",
    type=OneOf(["A4", "Letter"], case_sensitive=False),
    help="Size of the printed sheets. Default: Letter for a project in inches, else A4.",
)
@click.option("--steps", is_flag=True, help="Show every step of the winding here as well.")
@with_console
def plan(project: Path, out: Path | None, paper: str | None, steps: bool, console: Console) -> None:
    """Work out the warp, the weft, the yarn and the winding.

    Reads a project file, written by settscan scan or by hand, and shows ends, reed and sley,
    warp length, picks, yarn to buy, and how to wind the warp, with anything that looks doubtful.
    With -o it also writes sheets to print (PDF and HTML), the draft as WIF, tables as CSV, the
    plan as JSON, and a picture of the cloth. Sheets of an earlier plan there are replaced.
    """
    from settscan.commands.planning import plan_to_files

    plan_to_files(project, out, console, paper=paper, steps=steps)
