"""A real Chromium for the tests of the page, new and empty, that may go nowhere else."""

import os
import shutil
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

SIZES = {"laptop": (1366, 768), "tablet": (820, 1180), "phone": (390, 844)}
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
_NAMES = ("chromium", "chromium-browser", "google-chrome")


def program():
    """Chromium's path; None if it is not installed."""
    return next(filter(None, map(shutil.which, _NAMES)), None)


def chromium():
    """The same; a test without it is skipped, but never where CI says that it must be there."""
    if found := program():
        return found
    told = "Chromium is not installed (apt-get install chromium): the page was not tried in one"
    if os.environ.get("SETTSCAN_NEEDS_BROWSER"):
        pytest.fail(told)
    pytest.skip(told)


@contextmanager
def served(folder):
    """The page on a folder; yields its link."""
    import uvicorn

    from settscan.page.app import create_app
    from settscan.page.room import Room
    from settscan.page.serve import open_door

    door, room = open_door("/"), Room(folder)
    config = uvicorn.Config(
        create_app(room, door.entry),
        log_level="error",
        lifespan="off",
        ws="none",
        timeout_graceful_shutdown=5,
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(
        target=server.run, kwargs={"sockets": list(door.sockets)}, daemon=True
    )
    thread.start()
    while not server.started:
        time.sleep(0.02)
    try:
        yield door.link
    finally:
        room.closing = server.should_exit = True
        thread.join(10)
        for one in door.sockets:
            one.close()


class Window:
    """A browser with one page, and everything that went wrong in it."""

    def __init__(self, context, link):
        self.context = context
        self.page = context.pages[0] if context.pages else context.new_page()
        self.link = link
        self.wrong = []
        self.watch(self.page)
        self.page.set_default_timeout(15_000)

    def watch(self, page):
        """Note errors, refused parts, and requests to anywhere else."""
        page.on("pageerror", lambda error: self.wrong.append(f"error: {error}"))
        page.on("console", lambda m: m.type == "error" and self.wrong.append(f"console: {m.text}"))
        page.on("request", lambda r: self.ours(r.url) or self.wrong.append(f"outside: {r.url}"))

    def ours(self, url):
        """Whether an address is the page's own."""
        host = self.link.split("/?")[0]
        return url.startswith((host, "data:", "blob:", "about:"))

    def size(self, name):
        """Laptop, tablet or phone."""
        wide, high = SIZES[name]
        self.page.set_viewport_size({"width": wide, "height": high})

    def go(self, path="/"):
        """Open a part of the page and wait until it is ready."""
        host, _, query = self.link.partition("/?")
        path, _, part = path.partition("#")
        self.page.goto("about:blank")  # or a change of part alone would load nothing
        self.page.goto(f"{host}{path}?{query}{'#' if part else ''}{part}")
        self.page.wait_for_selector("body[data-ready]")

    def look(self, words="gb", size="100", tone="paper"):
        """Ask for words, text size and paper."""
        host = self.link.partition("/?")[0]
        self.page.goto(f"{host}/look?words={words}&size={size}&tone={tone}&back=/")
        self.page.wait_for_selector("body[data-ready]")

    def part(self, name):
        """Show what stands behind a tab."""
        self.page.click(f"#tab-{name}")

    def shot(self, name):
        """Keep a picture where the environment names a folder for them."""
        if folder := os.environ.get("SETTSCAN_SHOTS"):
            Path(folder).mkdir(exist_ok=True)
            self.page.wait_for_timeout(500)
            self.page.screenshot(path=str(Path(folder) / f"{name}.png"))


@contextmanager
def a_window(browser, folder):
    """A window of the browser on the page of a folder, without errors in the end.

    What was typed wrong on purpose is answered with 400, which Chromium notes as well.
    """
    with served(folder) as link:
        one = Window(browser, link)
        one.size("laptop")
        browser.clear_cookies()
        yield one
        one.page.goto("about:blank")
    assert [told for told in one.wrong if "400 (Bad Request)" not in told] == []
