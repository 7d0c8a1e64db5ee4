"""The page as an ASGI application: routes, templates, files of our own, and the guard round it."""

from __future__ import annotations

from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.applications import Starlette
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from settscan.errors import SettscanError
from settscan.page import events, routes_cloth, routes_plan, routes_start
from settscan.page.answers import CONTRASTS, SIZES, told
from settscan.page.guard import Guard, Pass
from settscan.page.room import Room
from settscan.sheets.words import in_words_of

_HERE = Path(__file__).parent


def create_app(room: Room, entry: Pass) -> ASGIApp:
    """The application.

    Args:
        room: its memory, with the folder outside of which nothing is read or written.
        entry: who is let in.
    """
    routes = [
        *routes_start.ROUTES,
        *routes_cloth.ROUTES,
        *routes_plan.ROUTES,
        *events.ROUTES,
        Mount("/static/fonts", StaticFiles(directory=_HERE.parent / "sheets" / "fonts")),
        Mount("/static", StaticFiles(directory=_HERE / "static")),
    ]
    app = Starlette(routes=routes, exception_handlers={SettscanError: told})
    app.state.room = room
    app.state.templates = _templates()
    return Guard(app, entry)


def _templates() -> Environment:
    env = Environment(
        loader=PackageLoader("settscan.page", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters["words"] = in_words_of
    env.globals.update(sizes=SIZES, contrasts=CONTRASTS)
    return env
