"""Routes of a project's stripes, yarns and pictures."""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from settscan.cloth.model import SequenceKind
from settscan.errors import BadInput, SettscanError
from settscan.page.answers import asked, page, room_of
from settscan.page.edits import edited
from settscan.page.planning import shown_part
from settscan.page.room import Room
from settscan.page.routes_start import job_data
from settscan.page.state import state_of
from settscan.page.work import Side, Work

_KEPT = "private, max-age=86400"
_DRAWN_PX = 1600


async def project(request: Request) -> Response:
    """The page of a project."""
    name = request.path_params["name"]
    table = await run_in_threadpool(room_of(request).table, name)
    view = await run_in_threadpool(table.desk.view)
    title = view.project.cloth.name if view.project else name
    return page(request, "project.html", name=name, title=title.replace("_", " "))


def state(room: Room, name: str, body: dict[str, Any]) -> Any:
    """The project at this moment."""
    return state_of(room.table(name).desk) | {"job": job_data(room.reader.job)}


def edit(room: Room, name: str, body: dict[str, Any]) -> Any:
    """One edit; the new state comes back."""
    desk = room.table(name).desk
    wanted = body.get("edit")
    if not isinstance(wanted, dict):
        raise BadInput("The page sent no edit.", "Reload the page.")

    def change(work: Work) -> tuple[Work, str]:
        if wanted.get("name") == "fold":
            return _folded(work, str(wanted.get("side")))
        return edited(work, wanted)

    told = desk.edit(_revision(body), change)
    return state_of(desk) | {"told": told}


def undo(room: Room, name: str, body: dict[str, Any]) -> Any:
    """One step back."""
    desk = room.table(name).desk
    told = desk.undo(_revision(body))
    return state_of(desk) | {"told": f"Undone: {told}"}


def redo(room: Room, name: str, body: dict[str, Any]) -> Any:
    """One step forth again."""
    desk = room.table(name).desk
    told = desk.redo(_revision(body))
    return state_of(desk) | {"told": f"Done again: {told}"}


def _folded(work: Work, name: str) -> tuple[Work, str]:
    """The repeat looked for anew in what the picture shows, or else in what is written."""
    from dataclasses import replace

    from settscan.cloth.model import Stripe
    from settscan.page.laying import laid
    from settscan.page.work import Line
    from settscan.scanned import fold_stripes

    side: Side = work.side(name)
    if side.name == "weft" and work.like_warp:
        raise BadInput("The weft is made like the warp.", "Look for the repeat in the warp.")
    if side.kind is SequenceKind.PARTIAL or not side.shown:
        stripes = [(Stripe(one.yarn, one.threads), False) for one in side.lines]
        lines = side.lines
        if side.shown and len(side.shown) == len(side.lines):
            stripes = [(s, one.cut) for (s, _), one in zip(stripes, side.shown, strict=True)]
    else:
        lines = tuple(side.lines[one.of] for one in side.shown)
        stripes = [
            (Stripe(line.yarn, one.threads), one.cut)
            for line, one in zip(lines, side.shown, strict=True)
        ]
    sequence = fold_stripes(stripes)
    settled = {(line.yarn, line.threads) for line in lines if line.certain}
    written = tuple(
        Line(one.yarn, one.threads, (one.yarn, one.threads) in settled) for one in sequence.stripes
    )
    found = [(side.lines[one.of].yarn, one) for one in side.shown]
    new = laid(replace(side, kind=sequence.kind, lines=written), found)
    if sequence.kind is SequenceKind.PARTIAL:
        return work.with_side(new), f"{name.capitalize()}: no repeat was found"
    return work.with_side(new), f"{name.capitalize()}: repeat of {sequence.threads} found"


def read_again(room: Room, name: str, body: dict[str, Any]) -> Any:
    """A second look at the photo."""
    return {"job": job_data(room.read_again(name, body))}


def photo(room: Room, name: str, body: dict[str, Any]) -> Any:
    """Sizes of the pictures, and where cloth and ruler lie in the photo."""
    found: dict[str, Any] = {"seen": room.table(name).desk.picture()}
    for which in ("photo", "cloth"):
        try:
            path = room.picture(name, which)
            version = path.stat().st_mtime_ns
            found[which] = room.pictures.size(path) | {"version": str(version)}
        except (SettscanError, OSError):
            found[which] = None
    found["photos"] = list(room.shelf.photos())
    project = room.table(name).desk.view().project
    found["closeUp"] = (project.photo.close_up if project and project.photo else None) or ""
    return found


def tile(room: Room, name: str, body: dict[str, Any]) -> Any:
    """One tile of a picture."""
    numbers = [body.get(key, "") for key in ("level", "column", "row")]
    if not all(isinstance(n, str) and n.isascii() and n.isdigit() and len(n) < 6 for n in numbers):
        raise BadInput("The picture has no such part.", "Reload the page.")
    level, column, row = map(int, numbers)
    path = room.picture(name, str(body.get("which")))
    content = room.pictures.tile(path, level, column, row)
    return Response(content, media_type="image/jpeg", headers={"cache-control": _KEPT})


def evidence(room: Room, name: str, body: dict[str, Any]) -> Any:
    """The picture of what was read, as it was drawn by the reading."""
    from settscan.files import read_bytes

    content = read_bytes(room.picture(name, "evidence"), 100_000_000)
    return Response(content, media_type="image/png")


def colour(room: Room, name: str, body: dict[str, Any]) -> Any:
    """The colour of the cloth about a place."""
    x, y = body.get("x"), body.get("y")
    for one in (x, y):
        if isinstance(one, bool) or not isinstance(one, int | float) or not 0 <= one <= 1:
            raise BadInput("That is no place in the picture.", "Choose one inside it.")
    assert x is not None and y is not None
    return {"colour": room.pictures.colour_at(room.picture(name, "cloth"), float(x), float(y))}


def drawn(room: Room, name: str, body: dict[str, Any]) -> Any:
    """The cloth drawn from the counts, as much as the photo shows; else one piece."""
    from settscan.sheets.picture import beside_photo
    from settscan.sheets.preview import preview_png

    table = room.table(name)
    view = table.desk.view()
    if view.project is None:
        raise BadInput("The project file has mistakes.", view.problem)
    plan, _ = table.plans.of(view.revision, view.project)
    picture, _ = beside_photo(plan, shown_part(view.project.photo))
    content = preview_png(picture, fit=(_DRAWN_PX, _DRAWN_PX))
    return Response(content, media_type="image/png", headers={"cache-control": _KEPT})


def _revision(body: dict[str, Any]) -> int:
    revision = body.get("revision")
    if isinstance(revision, bool) or not isinstance(revision, int):
        raise BadInput("The edit does not say what it was made on.", "Reload the page.")
    return revision


ROUTES = [
    Route("/p/{name}", project),
    Route("/p/{name}/state", asked(state)),
    Route("/p/{name}/edit", asked(edit), methods=["POST"]),
    Route("/p/{name}/undo", asked(undo), methods=["POST"]),
    Route("/p/{name}/redo", asked(redo), methods=["POST"]),
    Route("/p/{name}/read", asked(read_again), methods=["POST"]),
    Route("/p/{name}/photo", asked(photo)),
    Route("/p/{name}/tile", asked(tile)),
    Route("/p/{name}/evidence.png", asked(evidence)),
    Route("/p/{name}/colour", asked(colour), methods=["POST"]),
    Route("/p/{name}/drawn.png", asked(drawn)),
]
