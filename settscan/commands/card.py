"""`settscan card`: the printable scale card."""

from __future__ import annotations

from pathlib import Path

import click

from settscan.commands.console import Console, with_console
from settscan.commands.paths import PATH
from settscan.commands.usage import OneOf


@click.command(
    epilog="""\b
Example:
  settscan card -o scale-card.pdf --paper Letter
"""
)
@click.option(
    "-o",
    "--out",
    type=PATH,
    default=Path("scale-card.pdf"),
    metavar="FILE.pdf",
    help="The file to write.",
    show_default=True,
)
@click.option(
    "--paper",
    type=OneOf(["A4", "Letter"], case_sensitive=False),
    help="Size of the paper. Default: A4; for US paper give Letter.",
)
@with_console
def card(out: Path, paper: str | None, console: Console) -> None:
    """Draw the scale card, to be printed and laid on the cloth.

    Print it at 100 % ("actual size") on plain matt paper and measure its line with a ruler.
    Lying flat on the cloth it gives the scale both ways, the slant of the camera, and a grey to
    set the colours by.
    """
    from settscan.files import write_new

    if out.suffix.lower() != ".pdf":
        raise click.UsageError(f"The card is a PDF file; write -o {out.with_suffix('.pdf').name}.")
    from settscan.photo.card import card_pdf

    write_new(out, card_pdf(paper or "A4"))
    console.say(
        f"Wrote {out}, for {paper or 'A4'}. Print it at 100 %, without fitting it to the page."
    )
    if paper is None:
        console.note("For US paper: settscan card -o letter-card.pdf --paper Letter")
