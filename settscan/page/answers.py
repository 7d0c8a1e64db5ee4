"""What the routes share: bodies in, answers and sentences out, in the words of whoever asks."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from settscan.errors import BadInput, SettscanError
from settscan.page.desk import Conflict
from settscan.page.room import Room
from settscan.sheets.words import GB, US, all_in_words_of, in_words_of

LOOK_COOKIE = "settscan-look"
NOT_OURS = frozenset(
    {"name", "value", "key", "id", "section", "choices", "photo", "file", "text"}
    | {"yarn", "shown", "sequence", "totals"}
)
"""Keys of answers below which stand a weaver's own words, or words that are sent back."""

Answer = Callable[[Room, str, dict[str, Any]], Any]


@dataclass(frozen=True, slots=True)
class Look:
    """How this browser wants the page."""

    words: str = GB
    size: str = "100"
    contrast: str = "paper"

    @property
    def text(self) -> str:
        """As the cookie has it."""
        return f"{self.words}.{self.size}.{self.contrast}"


SIZES = ("90", "100", "115", "130", "150", "180")
CONTRASTS = ("paper", "strong", "dark")


def look_of(request: Request) -> Look:
    """The look that the browser asked for earlier; what is not known is left as usual."""
    return look_from(request.cookies.get(LOOK_COOKIE, ""))


def look_from(text: str) -> Look:
    """A look from "gb.100.paper"."""
    parts = [*text.split("."), "", "", ""]
    return Look(
        words=parts[0] if parts[0] in (US, GB) else GB,
        size=parts[1] if parts[1] in SIZES else "100",
        contrast=parts[2] if parts[2] in CONTRASTS else "paper",
    )


def room_of(request: Request) -> Room:
    """The memory of the running page."""
    room: Room = request.app.state.room
    return room


async def body_of(request: Request) -> dict[str, Any]:
    """The JSON object in a request's body.

    Raises:
        BadInput: if there is none.
    """
    try:
        data = json.loads(await request.body() or b"{}")
    except (ValueError, RecursionError, ClientDisconnect):
        data = None
    if not isinstance(data, dict):
        raise BadInput("The page sent something that is no edit.", "Reload the page.")
    return data


def asked(answer: Answer) -> Callable[[Request], Any]:
    """An endpoint for JSON: `answer` is called in a thread with room, project name and body."""

    async def endpoint(request: Request) -> Response:
        body = await body_of(request) if request.method == "POST" else dict(request.query_params)
        name = request.path_params.get("name", "")
        found = await run_in_threadpool(answer, room_of(request), name, body)
        if isinstance(found, Response):
            return found
        return JSONResponse(all_in_words_of(found, look_of(request).words, NOT_OURS))

    return endpoint


def page(request: Request, template: str, **values: Any) -> HTMLResponse:
    """A page from its template."""
    look = look_of(request)
    env = request.app.state.templates
    text = env.get_template(template).render(look=look, room=room_of(request), **values)
    return HTMLResponse(text)


async def told(request: Request, error: Exception) -> Response:
    """A failure as a sentence: JSON for the scripts, a page for people."""
    assert isinstance(error, SettscanError)
    status = 409 if isinstance(error, Conflict) else 400
    words = look_of(request).words
    if "text/html" in request.headers.get("accept", "") and request.method == "GET":
        answer = page(request, "sorry.html", message=error.message, advice=error.advice)
        answer.status_code = status
        return answer
    content = {
        "message": in_words_of(error.message, words),
        "advice": in_words_of(error.advice, words),
    }
    return JSONResponse(content, status_code=status)
