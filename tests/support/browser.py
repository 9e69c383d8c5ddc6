"""A real browser on the pages: Debian's Chromium through Playwright, and the service it asks."""

from __future__ import annotations

import os
import threading
from contextlib import contextmanager
from pathlib import Path

import pytest
from werkzeug.serving import WSGIRequestHandler, make_server

from support.databases import REQUIRE_ALL

CHROMIUM = os.environ.get("HOTFACE_CHROMIUM", "/usr/bin/chromium")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def need_browser():
    """Skip, or fail under HOTFACE_REQUIRE_ALL=1, where there is no browser to look with."""
    if Path(CHROMIUM).exists():
        return
    message = f"PAGES NOT SEEN IN A BROWSER: no {CHROMIUM}; install it or set HOTFACE_CHROMIUM"
    if REQUIRE_ALL:
        pytest.fail(message)
    pytest.skip(message)


class _Quiet(WSGIRequestHandler):
    """A handler that logs nothing."""

    def log(self, *_args, **_kwargs):
        """Say nothing."""


@contextmanager
def served(app):
    """Serve an application on a free port of this machine; give its address."""
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=_Quiet)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@contextmanager
def opened():
    """Open the browser."""
    need_browser()
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where it is used

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        try:
            yield browser
        finally:
            browser.close()


class Watched:
    """A browser page that remembers what it asked for and what its console said."""

    def __init__(self, context, base):
        self.base = base
        self.page = context.new_page()
        self.asked = []
        self.said = []
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.set_default_timeout(20_000)

    def go(self, address):
        """Open one of our pages."""
        return self.page.goto(self.base + address)

    def text(self):
        """Give the text of the page's main part, spaces folded."""
        return " ".join(self.page.inner_text("main").split())

    def check(self):
        """Hold that nothing was asked of another host and the console stayed silent."""
        assert self.asked
        assert [url for url in self.asked if not url.startswith(self.base + "/")] == []
        assert self.said == []
