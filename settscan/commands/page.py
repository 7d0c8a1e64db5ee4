"""`settscan page`: the whole job in a browser."""

from __future__ import annotations

from pathlib import Path

import click

from settscan.commands.console import Console, with_console
from settscan.commands.paths import PATH
from settscan.commands.usage import Whole


@click.command(
    short_help="Do the whole job in a browser.",
    epilog="""\b
Examples:
  settscan page
  settscan page blanket.toml
  settscan page blanket.jpg
  settscan page blanket.toml --share
""",
)
@click.argument("project_or_photo", required=False, type=PATH, metavar="[PROJECT or PHOTO]")
@click.option("--port", type=Whole(0, 65535), default=0, help="Default: any free one.")
@click.option("--share", is_flag=True, help="Let other devices in the same network in.")
@click.option("--no-browser", is_flag=True, help="Only print the link.")
@with_console
def page(
    project_or_photo: Path | None, port: int, share: bool, no_browser: bool, console: Console
) -> None:
    """Correct the reading, plan, print, and be led through the winding, in a browser.

    Runs on this computer alone and needs no network. Works on the projects and photos in the
    folder of the file that is given, or in this folder. Ends with Ctrl+C; everything is saved as
    you go.
    """
    from settscan.files import check_writable
    from settscan.page.serve import SHARED, open_door, run

    folder, path = _where(project_or_photo)
    check_writable(folder)
    door = open_door(path, port, share)
    console.say("The page is at")
    console.say(f"  {door.link}")
    if door.share:
        import segno

        console.say("and, for other devices in this network, at")
        console.say(f"  {door.share}")
        if not console.quiet:
            segno.make(door.share, error="m").terminal(compact=True)
        console.paragraph(SHARED)
    console.note("Leave this running; Ctrl+C ends it. Everything is saved as you go.")

    def opened() -> None:
        if not no_browser:
            import webbrowser

            webbrowser.open(door.link)

    run(folder, door, opened)


def _where(given: Path | None) -> tuple[Path, str]:
    """The folder to work in, and the page to begin with."""
    from urllib.parse import quote

    from settscan.errors import BadInput
    from settscan.page.shelf import PHOTO_ENDINGS, is_name

    if given is None:
        return Path(), "/"
    if given.is_dir():
        return given, "/"
    if not given.is_file():
        raise BadInput(f"There is no {given}.", "Check the name and the folder.")
    if given.suffix == ".toml" and is_name(given.stem):
        return given.parent, f"/p/{quote(given.stem)}"
    if given.suffix.lower() in PHOTO_ENDINGS:
        if is_name(given.stem) and given.with_suffix(".toml").is_file():
            return given.parent, f"/p/{quote(given.stem)}"
        return given.parent, f"/read/{quote(given.name)}"
    raise BadInput(
        f"{given.name} is neither a project nor a photo.", "Give a .toml file or a photo."
    )
