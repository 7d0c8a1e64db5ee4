"""Server-sent events: the page is told of progress and of changes made elsewhere."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from settscan.errors import SettscanError
from settscan.page.answers import look_of, room_of
from settscan.page.room import Room
from settscan.page.routes_start import job_data
from settscan.sheets.words import all_in_words_of

_EVERY = 0.4  # seconds between looks; a glance at a small file
_STILL = 15.0  # seconds after which a silent stream says that it is there


def _news(room: Room, name: str) -> dict[str, Any]:
    """What the page wants to know at once."""
    news: dict[str, Any] = {"job": job_data(room.reader.job)}
    if name:
        try:
            table = room.table(name)
            news["revision"] = table.desk.view().revision
            news["moved"] = table.mill.moved()
        except SettscanError as error:
            news["problem"] = str(error)
    return news


async def watched(
    look: Callable[[], dict[str, Any]], words: str, closing: Callable[[], bool] = lambda: False
) -> AsyncIterator[str]:
    """An event whenever what `look` tells has changed, until it is closing time."""
    last: dict[str, Any] | None = None
    silent = 0.0
    while not closing():
        news = await run_in_threadpool(look)
        if news != last:
            last, silent = news, 0.0
            told = all_in_words_of(news, words)
            yield f"data: {json.dumps(told)}\n\n"
        elif silent >= _STILL:
            silent = 0.0
            yield ": still here\n\n"
        await asyncio.sleep(_EVERY)
        silent += _EVERY


async def events(request: Request) -> Response:
    """The stream of a project, or of the first page."""
    room = room_of(request)
    name = request.path_params.get("name", "")
    if name:
        await run_in_threadpool(room.table, name)
    stream = watched(lambda: _news(room, name), look_of(request).words, lambda: room.closing)
    return StreamingResponse(stream, media_type="text/event-stream")


ROUTES = [Route("/events", events), Route("/p/{name}/events", events)]
