"""Routes of the plan: the form, the live answers, the files; and of the winding."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from settscan.errors import BadInput
from settscan.page.answers import asked, look_of, page, room_of
from settscan.page.cards import Card
from settscan.page.fields import check_yarns, edits_for, form, label_of, yarn_form
from settscan.page.guard import SHEET_CSP
from settscan.page.mill import Place
from settscan.page.planning import MEDIA, answers
from settscan.page.room import Room, Table
from settscan.page.routes_cloth import _revision as revision_of
from settscan.page.state import state_of
from settscan.sheets.sizes import SIZES, usual_paper


def fields(room: Room, name: str, body: dict[str, Any]) -> Any:
    """The form."""
    view = room.table(name).desk.view()
    if view.project is None:
        return {"revision": view.revision, "problem": view.problem, "sections": [], "yarns": []}
    return {
        "revision": view.revision,
        "problem": "",
        "sections": form(view),
        "yarns": yarn_form(view),
    }


def write(room: Room, name: str, body: dict[str, Any]) -> Any:
    """One field, written at once."""
    section, key = str(body.get("section", "")), str(body.get("key", ""))
    edits = edits_for(section, key, body.get("value", ""))
    desk = room.table(name).desk
    if section == "yarns" or section.startswith("yarns."):
        known = desk.view().data.get("yarns", {})
        if section.partition(".")[2] not in known:
            raise BadInput("There is no such yarn.", "Reload the page.")
    check_yarns(key, edits, desk.view().data)
    told = f"{label_of(section, key)}: {str(body.get('value', ''))[:60] or 'empty'}"
    desk.write(revision_of(body), edits, told)
    return state_of(desk) | {"told": told}


def plan(room: Room, name: str, body: dict[str, Any]) -> Any:
    """Figures, warnings, yarn and the rest."""
    table = room.table(name)
    view = table.desk.view()
    if view.project is None:
        return {"revision": view.revision, "problem": view.problem}
    return answers(table.plans, view.revision, view.project)


async def files(request: Request) -> Response:
    """One sheet or file of the plan, or the project file itself; sheets in the page's words."""
    room, name = room_of(request), request.path_params["name"]
    words, asked_for = look_of(request).words, dict(request.query_params)
    return await run_in_threadpool(_file, room, name, asked_for, words)


def _file(room: Room, name: str, body: dict[str, str], words: str) -> Response:
    wanted = str(body.get("file", ""))
    table = room.table(name)
    view = table.desk.view()
    if wanted == "project":
        text = table.desk.path.read_bytes()
        return _download(text, f"{name}.toml", "application/toml; charset=utf-8")
    if view.project is None:
        raise BadInput("The project file has mistakes.", view.problem)
    if wanted not in MEDIA:
        raise BadInput("There is no such file.", "Choose one from the list.")
    paper = str(body.get("paper", ""))
    if paper not in SIZES:
        paper = usual_paper(view.project.wishes.units)
    content = table.plans.files(view.revision, view.project, paper, words)[wanted]
    if body.get("open") == "1" and wanted in ("sheets.html", "sheets.pdf"):
        headers = {"content-security-policy": SHEET_CSP} if wanted == "sheets.html" else {}
        return Response(content, media_type=MEDIA[wanted], headers=headers)
    return _download(content, f"{name}-{wanted}", MEDIA[wanted])


def _download(content: bytes, name: str, media: str) -> Response:
    told = f"attachment; filename*=UTF-8''{quote(name)}"
    return Response(content, media_type=media, headers={"content-disposition": told})


async def mill(request: Request) -> Response:
    """The page for the mill."""
    name = request.path_params["name"]
    table = await run_in_threadpool(room_of(request).table, name)
    view = await run_in_threadpool(table.desk.view)
    title = view.project.cloth.name if view.project else name
    return page(request, "mill.html", name=name, title=title.replace("_", " "))


def cards(room: Room, name: str, body: dict[str, Any]) -> Any:
    """All cards, and the one that is on."""
    table = room.table(name)
    found = table.cards()
    view = table.desk.view()
    assert view.project is not None
    place, question = table.mill.place(found)
    plan, winding = table.plans.of(view.revision, view.project)
    yarns = {yarn.key: yarn.colour for yarn in plan.cloth.yarns}
    minutes = getattr(winding, "minutes", None)
    return {
        "revision": view.revision,
        "cards": found,
        "value": yarns,
        "ends": plan.ends,
        "minutes": None if minutes is None else float(minutes.value),
        "recover": list(getattr(winding, "recover", ())),
        "cautions": list(winding.cautions),
        "place": _place(table, found, place, question),
    }


def go(room: Room, name: str, body: dict[str, Any]) -> Any:
    """On to another card."""
    table = room.table(name)
    found = table.cards()
    seen, to = body.get("seen"), body.get("to")
    if body.get("again") is True:
        return _place(table, found, table.mill.begin_again(found), "")
    for one in (seen, to):
        if isinstance(one, bool) or not isinstance(one, int):
            raise BadInput("The page sent no step.", "Reload the page.")
    assert isinstance(seen, int) and isinstance(to, int)
    return _place(table, found, table.mill.go(found, seen, to), "")


def _place(table: Table, found: list[Card], place: Place, question: str) -> dict[str, Any]:
    told = asdict(place)
    return {
        "done": told["done"],
        "wound": place.warp_total,
        "seconds": round(place.seconds),
        "moved": place.moved,
        "question": question,
    }


ROUTES = [
    Route("/p/{name}/form", asked(fields)),
    Route("/p/{name}/field", asked(write), methods=["POST"]),
    Route("/p/{name}/plan", asked(plan)),
    Route("/p/{name}/files", files),
    Route("/p/{name}/wind", mill),
    Route("/p/{name}/cards", asked(cards)),
    Route("/p/{name}/go", asked(go), methods=["POST"]),
]
