"""Who may talk to the page: right host, right origin, right token, no more than so many bytes.

The page listens on this computer only, but any page in the browser can send requests to it. So
each request needs a token that only the link carries; the Host must be one of ours, or a foreign
name that leads here (DNS rebinding) would get in; what changes something must come from our own
page. Whatever is sent back forbids the browser everything but our own files.
"""

from __future__ import annotations

import secrets
from collections.abc import MutableMapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qsl, urlencode

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from settscan.page.shelf import MOST_PHOTO_BYTES

MOST_BODY = 1_000_000
"""Bytes of an ordinary request; a photo may have `MOST_PHOTO_BYTES`."""
UPLOAD_PATH = "/upload"
CSP = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:;"
    " font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none';"
    " frame-ancestors 'none'"
)
SHEET_CSP = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox allow-modals"
"""For the sheets, which carry their styles in themselves and run no scripts."""
_HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), screen-wake-lock=(self)",
    "x-frame-options": "DENY",
}
_SAFE = ("GET", "HEAD")


@dataclass(frozen=True, slots=True)
class Pass:
    """What gets somebody in.

    Attributes:
        token: random, in the link.
        hosts: "host:port" as the browser may name it.
    """

    token: str
    hosts: tuple[str, ...]

    @property
    def cookie(self) -> str:
        """Name of the cookie; cookies do not know of ports, so the name does."""
        return f"settscan-{self.hosts[0].rpartition(':')[2]}"


def new_token() -> str:
    """A token that nobody guesses."""
    return secrets.token_urlsafe(24)


class Guard:
    """Wraps the application; refused requests never reach it."""

    def __init__(self, app: ASGIApp, entry: Pass) -> None:
        self.app = app
        self.entry = entry

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check a request, let it in, and put the headers on what comes back."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = _headers(scope)
        if refused := self._refusal(scope, headers):
            await _say(send, *refused)
            return
        if token := dict(parse_qsl(_query(scope))).get("token"):
            await self._let_in(scope, send, token)
            return
        if not self._has_cookie(headers):
            told = "Open the page by the whole link that settscan printed; it carries a token."
            await _say(send, 403, told)
            return
        most = MOST_PHOTO_BYTES if scope["path"] == UPLOAD_PATH else MOST_BODY
        length = headers.get("content-length", "0")
        if not length.isascii() or not length.isdigit() or int(length) > most:
            await _say(send, 413, f"More than {most // 1_000_000} MB cannot be taken.")
            return
        await self.app(scope, _limited(receive, most), _with_headers(send))

    def _refusal(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str] | None:
        """Why a request is not let in, before its token is looked at."""
        if headers.get("host", "").lower() not in self.entry.hosts:
            return 421, "This address is not the one that settscan printed."
        origin = headers.get("origin")
        ours = {f"http://{host}" for host in self.entry.hosts}
        if origin is not None and origin.lower() not in ours:
            return 403, "Another page may not use this one."
        site = headers.get("sec-fetch-site", "same-origin")
        if scope["method"] not in _SAFE and (origin is None or site != "same-origin"):
            return 403, "A change must come from the page itself."
        if site == "cross-site" and headers.get("sec-fetch-mode", "navigate") != "navigate":
            return 403, "Another page may not use this one."
        return None

    def _has_cookie(self, headers: dict[str, str]) -> bool:
        try:
            cookie = SimpleCookie(headers.get("cookie", "")).get(self.entry.cookie)
        except CookieError:
            return False
        return cookie is not None and self._is_token(cookie.value)

    def _is_token(self, given: str) -> bool:
        return secrets.compare_digest(given.encode(), self.entry.token.encode())

    async def _let_in(self, scope: Scope, send: Send, token: str) -> None:
        """The token goes from the link into a cookie, so that it stands in no history."""
        if scope["method"] not in _SAFE or not self._is_token(token):
            await _say(send, 403, "The token in this link is not the one that settscan printed.")
            return
        rest = urlencode([p for p in parse_qsl(_query(scope)) if p[0] != "token"])
        path = scope["path"] if not scope["path"].startswith("//") else "/"
        to = _quoted(path) + (f"?{rest}" if rest else "")
        cookie = f"{self.entry.cookie}={token}; Path=/; HttpOnly; SameSite=Strict"
        await _say(send, 303, "", {"location": to, "set-cookie": cookie})


def _quoted(path: str) -> str:
    from urllib.parse import quote

    return quote(path, safe="/")


def _query(scope: Scope) -> str:
    return bytes(scope["query_string"]).decode("latin-1")


def _headers(scope: Scope) -> dict[str, str]:
    return {
        key.decode("latin-1").lower(): value.decode("latin-1") for key, value in scope["headers"]
    }


def _limited(receive: Receive, most: int) -> Receive:
    """Stops a body that turns out longer than its header says."""
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most:
            return {"type": "http.disconnect"}
        return message

    return limited


def _with_headers(send: Send) -> Send:
    async def sending(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            headers = list(message["headers"])
            there = {bytes(key).lower() for key, _ in headers}
            wanted = {**_HEADERS, "content-security-policy": CSP, "cache-control": "no-store"}
            for key, value in wanted.items():
                if key.encode() not in there:
                    headers.append((key.encode(), value.encode()))
            message = {**message, "headers": headers}
        await send(message)

    return sending


async def _say(send: Send, status: int, sentence: str, more: dict[str, str] | None = None) -> None:
    """A plain answer of one sentence."""
    headers = {"content-type": "text/plain; charset=utf-8", **(more or {})}
    start = {
        "type": "http.response.start",
        "status": status,
        "headers": [(key.encode(), value.encode("latin-1")) for key, value in headers.items()],
    }
    sending = _with_headers(send)
    await sending(start)
    await sending({"type": "http.response.body", "body": sentence.encode()})
