"""What a page elsewhere can do to the open demo from within a real browser on the same machine: nothing.

The demo has no password, so the browser's own word on where a request comes from is all that stands in the
way.
"""

from __future__ import annotations

import http.server
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from fanwright.desk import people
from fanwright.desk.demo import load_demo
from fanwright.desk.records import open_records

ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--host-resolver-rules=MAP rebound.test 127.0.0.1",
]  # fmt: skip
ATTACK = """<!doctype html><title>elsewhere</title><script>
const target = new URLSearchParams(location.search).get("target");
async function attempt(work) { try { return String(await work()); } catch (error) { return error.name; } }
async function attack() {
  const body = JSON.stringify({key: "00000000-0000-4000-8000-000000000001", unit: "999", kind: "complaint"});
  const json = {"content-type": "application/json"};
  return {
    read: await attempt(async () => (await fetch(target + "api/bay")).text()),
    post: await attempt(async () =>
      (await fetch(target + "api/bay", {method: "POST", headers: json, body})).text()),
    blind: await attempt(async () =>
      (await fetch(target + "api/bay", {method: "POST", mode: "no-cors", body})).type),
    script: await attempt(() => new Promise((good, bad) => {
      const made = document.createElement("script");
      made.src = target + "static/look.js";
      made.onload = () => good("loaded"); made.onerror = () => bad(new Error());
      document.head.append(made); })),
    frame: await attempt(() => new Promise((good) => {
      const made = document.createElement("iframe"); made.src = target + "bay"; made.onload = () => {
        let seen; try { seen = made.contentDocument === null ? "sealed" : made.contentDocument.title; }
        catch { seen = "sealed"; } good(seen); }; document.body.append(made); })),
  };
}
</script><body><form id="form" method="post"><input name="act" value="add"></form>"""


KEEP = """async () => {
  const store = await import("/static/store.mjs"), outbox = await import("/static/outbox.mjs");
  await store.open();
  await store.keepSnapshot(1, {number: 1, unit: "214", version: 1});
  await outbox.put(1, {kind: "note", value: "not sent yet"});
}"""
KEPT = """async () => {
  const store = await import("/static/store.mjs"), outbox = await import("/static/outbox.mjs");
  await store.open();
  return {snapshot: await store.snapshot(1) ?? null, waiting: (await outbox.waiting()).length};
}"""


@pytest.fixture(scope="module")
def demo(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of the demo, served by a process of its own."""
    folder = tmp_path_factory.mktemp("demo")
    shutil.copy(root / "examples" / "demo" / "201.toml", folder)
    load_demo(str(folder / "demo.db"), folder)
    yield from served("--demo", "--db", str(folder / "demo.db"))


def served(*words: str) -> Iterator[str]:
    command = [sys.executable, "-m", "fanwright", "serve", "--port", "0", *words]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        yield process.stdout.readline().split()[-1]
        process.terminate()


@pytest.fixture(scope="module")
def elsewhere() -> Iterator[str]:
    """The address of a page that means ill, on another port of this machine."""

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("content-type", "text/html")
            self.end_headers()
            self.wfile.write(ATTACK.encode())

        def log_message(self, *_: object) -> None:
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}/"
        server.shutdown()
        thread.join()


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path="/usr/bin/chromium", args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context()
    yield context.new_page()
    context.close()


def units(demo: str) -> list[str]:
    return [row["unit"] for row in httpx.get(demo + "api/bay").json()]


def test_a_page_elsewhere_reads_and_changes_nothing(page: Page, demo: str, elsewhere: str) -> None:
    before = units(demo)
    page.goto(f"{elsewhere}?target={demo}")
    done = page.evaluate("attack()")
    assert done["read"] == "TypeError"
    assert done["post"] == "TypeError"
    assert done["blind"] in ("opaque", "TypeError")
    assert done["script"] == "Error"
    assert done["frame"] == "sealed"
    assert units(demo) == before
    assert "999" not in before


def test_a_form_elsewhere_is_refused(page: Page, demo: str, elsewhere: str) -> None:
    page.goto(f"{elsewhere}?target={demo}")
    with page.expect_response(demo + "sign-out") as answer:
        page.evaluate(f"form.action = '{demo}sign-out'; form.submit()")
    assert answer.value.status == 403


def test_a_name_pointed_here_gets_nothing(page: Page, demo: str) -> None:
    rebound = demo.replace("127.0.0.1", "rebound.test")
    answer = page.goto(rebound + "bay")
    assert answer is not None
    assert answer.status == 421
    assert page.evaluate("fetch('/api/bay').then((answer) => answer.status)") == 421


def test_our_own_page_works_under_its_policy(page: Page, demo: str) -> None:
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text))
    answer = page.goto(demo + "install")
    assert answer is not None
    assert answer.status == 200
    assert page.evaluate("fetch('/api/bay').then((answer) => answer.status)") == 200
    assert [
        said for said in complaints if "Content Security Policy" in said or "Content-Security" in said
    ] == []


def test_coming_in_and_going_out(peopled: Path, tmp_path: Path, page: Page) -> None:
    """By password, by PIN, out again; what the browser kept of the visits goes, and the entries stay."""
    records = shutil.copy(peopled, tmp_path / "shop.db")
    store = open_records(str(records))
    people.set_pin(store, "Mia", "8350")
    store.close()
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text))
    serving = served("--db", str(records))
    address = next(serving)
    page.goto(address + "people")
    assert page.url == address + "sign-in?to=/people"
    page.locator("html[data-dropped=yes]").wait_for(state="attached")
    assert page.locator("#pin").count() == 0, "this browser is not known yet"
    page.fill("#name", "Mia")
    page.fill("#password", "correct horse battery")
    page.click("form[action='/sign-in'] button")
    assert page.url == address + "people"
    page.goto(address + "sign-in")
    page.fill("#pin-name", "Ana")
    page.fill("#pin", "2580")
    page.click("form[action='/pin'] button")
    assert page.evaluate("fetch('/api/me').then((answer) => answer.json())")["name"] == "Ana"
    page.goto(address + "install")
    page.evaluate(KEEP)
    page.evaluate("""() => {
      const form = document.createElement("form");
      form.method = "post"; form.action = "/sign-out"; document.body.append(form); form.submit(); }""")
    page.wait_for_url(address + "sign-in")
    page.locator("html[data-dropped=yes]").wait_for(state="attached")
    kept = page.evaluate(KEPT)
    assert kept == {"snapshot": None, "waiting": 1}, "what was not sent yet stays, the visits go"
    assert page.evaluate("fetch('/api/me').then((answer) => answer.status)") == 401
    assert [said for said in complaints if "Content Security Policy" in said] == []
    next(serving, None)
