"""A real Chromium for the tests of the pages, and a bare site that serves the modules to it."""

from __future__ import annotations

import functools
import http.server
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright

STATIC = Path(__file__).parents[2] / "src" / "fanwright" / "web" / "static"
CALM = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip


@pytest.fixture(scope="module")  # its event loop must end before other tests run one of their own
def playwright_() -> Iterator[Playwright]:
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="module")
def chromium(playwright_: Playwright) -> Iterator[Browser]:
    path = shutil.which("chromium")
    assert path is not None, "chromium is missing: make test installs it"
    browser = playwright_.chromium.launch(executable_path=path, args=list(CALM))
    yield browser
    browser.close()


@pytest.fixture
def context(chromium: Browser) -> Iterator[BrowserContext]:
    context = chromium.new_context()
    yield context
    context.close()


class _Handler(http.server.SimpleHTTPRequestHandler):
    def guess_type(self, path: object) -> str:
        return "text/javascript" if str(path).endswith(".mjs") else super().guess_type(str(path))

    def log_message(self, format: str, *args: object) -> None:
        pass

    def do_GET(self) -> None:
        if self.path == "/":
            self.send_response(200)
            self.send_header("content-type", "text/html")
            self.end_headers()
            self.wfile.write(b"<!doctype html><title>modules</title>")
            return
        super().do_GET()


@pytest.fixture(scope="session")
def module_site() -> Iterator[str]:
    """The address of a site that serves the modules and nothing else."""
    server = http.server.ThreadingHTTPServer(
        ("127.0.0.1", 0), functools.partial(_Handler, directory=str(STATIC))
    )
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}"
    server.shutdown()
    server.server_close()


@pytest.fixture
def modules(context: BrowserContext, module_site: str) -> Page:
    """An empty page that can import the modules."""
    page = context.new_page()
    page.goto(module_site + "/")
    return page
