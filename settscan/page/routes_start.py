"""Routes of the first page: projects in the folder, photos handed in, a cloth without a photo."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from settscan.cloth.beginning import plain_cloth
from settscan.cloth.notation import parse_sequence
from settscan.cloth.project import write_project
from settscan.cloth.project_values import density
from settscan.errors import BadInput
from settscan.files import read_bytes
from settscan.measured import Measured
from settscan.page.answers import LOOK_COOKIE, asked, look_from, page, room_of
from settscan.page.pictures import check_photo
from settscan.page.reader import Job
from settscan.page.room import Room
from settscan.page.shelf import safe_stem
from settscan.scanned import first_wishes

_NEEDED = (
    ("warp", "stripes of the warp are", '"A/24 B4 A8 C/2"'),
    ("epi", "ends in the finished cloth are", '"24 epi"'),
)
_MOST_PICTURE = 100_000_000
_YEAR = 31_000_000  # seconds


async def start(request: Request) -> Response:
    """The first page."""
    room = room_of(request)
    projects = await run_in_threadpool(room.shelf.projects)
    photos = await run_in_threadpool(room.shelf.photos)
    wanted = request.path_params.get("photo", "")
    first = wanted if wanted in photos else ""
    free = await run_in_threadpool(room.shelf.free_name, "blanket")
    return page(request, "start.html", projects=projects, photos=photos, first=first, free=free)


async def upload(request: Request) -> Response:
    """A photo handed in: its bytes are the body, its name stands in a header."""
    name = unquote(request.headers.get("x-file-name", ""))
    try:
        content = await request.body()
    except ClientDisconnect:
        raise BadInput("The photo is too large.", "Give it at a smaller size.") from None
    if not content:
        raise BadInput("The photo is empty.", "Copy it from the camera again.")
    room = room_of(request)

    def keep() -> str:
        check_photo(content, name)
        return room.shelf.keep_photo(name, content).name

    return JSONResponse({"photo": await run_in_threadpool(keep)})


def job_data(job: Job | None) -> dict[str, Any] | None:
    """A reading as the page shows it."""
    if job is None:
        return None
    return {
        "number": job.number,
        "project": job.project,
        "running": job.running,
        "told": job.told,
        "share": round(job.share, 3),
        "failed": job.failed,
        "advice": list(job.advice),
        "picture": f"/seen/{quote(job.project, safe='')}.png" if job.pictured else "",
    }


def read(room: Room, name: str, body: dict[str, Any]) -> Any:
    """Begin to read photos into a new project."""
    photos = body.get("photos", [])
    job, project = room.read_new(photos, body)
    taken = project != safe_stem(Path(photos[0]).stem)
    return {"job": job_data(job), "file": project, "taken": taken}


def stop(room: Room, name: str, body: dict[str, Any]) -> Any:
    """Give up a reading."""
    room.reader.stop()
    return {"job": job_data(room.reader.job)}


def seen(room: Room, name: str, body: dict[str, Any]) -> Any:
    """What a reading saw that may have made no project."""
    content = read_bytes(room.shelf.evidence(name), _MOST_PICTURE)
    return Response(content, media_type="image/png")


def new(room: Room, name: str, body: dict[str, Any]) -> Any:
    """A project without a photo."""
    given = {key: str(value).strip()[:10_000] for key, value in body.items()}
    for key, what, example in _NEEDED:
        if given.get(key) == "":  # an example instead would be taken for what was counted
            raise BadInput(f"The {what} not given.", f"Write what you counted, as in {example}.")
    wanted = safe_stem(given.get("name") or "cloth")
    path = room.shelf.new_project(wanted)
    warp = parse_sequence(given.get("warp") or "A/24 B4 A8 C/2")
    weft = parse_sequence(given["weft"]) if given.get("weft") else warp
    ends = Measured.exact(density("epi")(given.get("epi") or "24").value)
    typed = given.get("ppi")
    picks = Measured.exact(density("ppi")(typed).value) if typed else ends
    units = "metric" if given.get("units") == "metric" else "inch"
    cloth = plain_cloth(wanted, warp, weft, ends, picks, given.get("weave") or "2/2 twill")
    write_project(path, cloth, first_wishes(units))
    return {"file": wanted}


async def look(request: Request) -> Response:
    """Keep how this browser wants the page, and go back to where it was."""
    wanted = look_from(".".join(request.query_params.get(k, "") for k in ("words", "size", "tone")))
    back = request.query_params.get("back", "/")
    if not back.startswith("/") or back.startswith(("//", "/\\")):
        back = "/"
    answer = RedirectResponse(back, status_code=303)
    answer.set_cookie(LOOK_COOKIE, wanted.text, max_age=_YEAR, samesite="strict", path="/")
    return answer


async def share(request: Request) -> Response:
    """The link for another device in the room, as a code to be photographed."""
    room = room_of(request)
    code = ""
    if room.share:
        import segno

        code = segno.make(room.share, error="m").svg_inline(scale=6, dark="#1d1b18", light="#fff")
    return page(request, "share.html", link=room.share, code=code)


ROUTES = [
    Route("/", start),
    Route("/read/{photo}", start),
    Route("/upload", upload, methods=["POST"]),
    Route("/read", asked(read), methods=["POST"]),
    Route("/seen/{name}.png", asked(seen)),
    Route("/stop", asked(stop), methods=["POST"]),
    Route("/new", asked(new), methods=["POST"]),
    Route("/look", look),
    Route("/share", share),
]
