"""How long an edit on the page takes, on a cloth of 300 stripes each way: `--page-only`."""

from __future__ import annotations

import re
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from tests.benchmark.table import markdown

STRIPES = 300
ROUNDS = 20
_WAIT = """
([act, place]) => new Promise((done) => {
  const start = performance.now();
  const told = document.getElementById(place);
  const had = told.textContent;
  const watch = new MutationObserver(() => {
    if (told.textContent === had) return;
    watch.disconnect();
    requestAnimationFrame(() => setTimeout(() => done(performance.now() - start), 0));
  });
  watch.observe(told, {subtree: true, childList: true, characterData: true, attributes: true});
  eval(act);
})
"""


def latency_table() -> str:
    """The table, as Markdown: saved and answered, and with Chromium until it is painted."""
    from tests.page.cloths import many_striped

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "stripes.toml").write_text(many_striped(STRIPES), encoding="utf-8")
        rows = [_row(*one) for one in _answered(folder).items()]
        rows += [_row(*one) for one in _painted(folder).items()]
    head = ["edit", "until", "quickest of 20 ms", "median ms", "slowest ms", "processor ms, median"]
    return markdown(head, rows)


def _row(what: tuple[str, str], took: list[tuple[float, float]]) -> list[str]:
    wall, busy = zip(*took, strict=True)
    own = statistics.median(busy)
    told = "-" if own != own else f"{own:.0f}"
    spread = (min(wall), statistics.median(wall), max(wall))
    return [*what, *(f"{one:.0f}" for one in spread), told]


def _edits(state: dict[str, Any], turn: int) -> list[tuple[str, dict[str, Any]]]:
    """One edit of each kind, on a stripe that differs from turn to turn."""
    line = 10 + 7 * turn
    lines = state["warp"]["lines"]
    near = {lines[k]["yarn"] for k in range(line - 2, line + 3)}
    free = [one["key"] for one in state["yarns"] if one["key"] not in near]
    painted, other = free[0], free[1]
    place = state["warp"]["shown"][line]
    to = place[3] + 0.3 * (state["warp"]["shown"][line + 1][3] - place[3])
    at = {"side": "warp", "line": line}
    return [
        ("a count", {"name": "count", **at, "threads": lines[line]["threads"] + 1}),
        ("a colour", {"name": "colour", **at, "yarn": painted}),
        ("an edge moved", {"name": "move", "side": "warp", "place": line, "to": to}),
        ("a stripe inserted", {"name": "insert", **at, "yarn": other, "threads": 2}),
        ("a stripe taken out", {"name": "delete", "side": "warp", "line": line + 1}),
        (
            "marked as certain",
            {"name": "certain", "side": "warp", "line": line + 3, "certain": True},
        ),
    ]


def _now() -> tuple[float, float]:
    return time.perf_counter(), time.process_time()


def _since(start: tuple[float, float]) -> tuple[float, float]:
    """Milliseconds on the clock and of this process, in which the page is served as well."""
    wall, busy = _now()
    return 1000 * (wall - start[0]), 1000 * (busy - start[1])


def _answered(folder: Path) -> dict[tuple[str, str], list[tuple[float, float]]]:
    """From the request to the answer over the loopback, the file being on the disk by then."""
    import http.client
    import json

    from tests.page.browser import served

    found: dict[tuple[str, str], list[tuple[float, float]]] = {}
    with served(folder) as link:
        host, token = re.fullmatch(r"http://([^/]+)/\?token=(.+)", link).groups()
        line = http.client.HTTPConnection(host)
        cookie = f"settscan-{host.rpartition(':')[2]}={token}"
        headers = {"cookie": cookie, "origin": f"http://{host}"}

        def call(path: str, body: dict[str, Any] | None = None) -> dict[str, Any]:
            content = None if body is None else json.dumps(body)
            line.request("GET" if body is None else "POST", path, content, headers)
            answer = line.getresponse()
            data = json.loads(answer.read())
            if answer.status != 200:
                raise OSError(data["message"])
            return data

        for turn in range(ROUNDS):
            state = call("/p/stripes/state")
            for what, edit in _edits(state, turn):
                body = {"revision": state["revision"], "edit": edit}
                start = _now()
                state = call("/p/stripes/edit", body)
                found.setdefault((what, "saved and answered"), []).append(_since(start))
            start = _now()
            call("/p/stripes/undo", {"revision": state["revision"]})
            found.setdefault(("undo", "saved and answered"), []).append(_since(start))
        line.close()
    return found


def _painted(folder: Path) -> dict[tuple[str, str], list[tuple[float, float]]]:
    """From the hand to what changes on the screen, in Chromium; empty without it."""
    from tests.page.browser import FLAGS, Window, program, served

    if program() is None:
        return {}
    from playwright.sync_api import sync_playwright

    more, back = (f"document.getElementById('{one}').click()" for one in ("one-more", "undo"))
    # The list is changed at once, what is worked out from all stripes when it has been saved.
    acts = {
        ("a count", "its stripe is painted in Chromium"): (more, "lines"),
        ("a count", "all is painted, being saved"): (more, "repeat-told"),
        ("undo", "all is painted, being saved"): (back, "repeat-told"),
    }
    found: dict[tuple[str, str], list[tuple[float, float]]] = {}
    with sync_playwright() as play, tempfile.TemporaryDirectory() as profile:
        context = play.chromium.launch_persistent_context(
            profile, executable_path=program(), args=list(FLAGS), bypass_csp=True
        )
        with served(folder) as link:
            window = Window(context, link)
            window.go("/p/stripes")
            window.page.wait_for_timeout(500)
            for _ in range(ROUNDS):
                for what, act in acts.items():
                    took = window.page.evaluate(_WAIT, list(act))
                    found.setdefault(what, []).append((float(took), float("nan")))
                    window.page.wait_for_timeout(400)
            window.page.goto("about:blank")
        context.close()
    return found
