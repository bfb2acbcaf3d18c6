"""No entry is ever lost: lost answers, two tabs, refused entries, killed browsers, broken uploads."""

from __future__ import annotations

import base64
import os
import shutil
import signal
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright

import fake_server

PUT = """async ([bay, entry]) => {
  const { put } = await import("/outbox.mjs");
  return (await put(bay, entry)).key;
}"""
START = "async () => (await import('/sync.mjs')).start(() => {})"
SEND = "async () => (await import('/sync.mjs')).send()"
WAITING = "async () => (await import('/outbox.mjs')).waiting()"
READING = {"kind": "reading", "test": "vent_time", "value": "2.1 s"}


@dataclass
class Site:
    url: str
    told: Any


@pytest.fixture
def site() -> Iterator[Site]:
    server, told = fake_server.start()
    yield Site(f"http://127.0.0.1:{server.server_address[1]}", told)
    server.shutdown()
    server.server_close()


@pytest.fixture
def page(context: BrowserContext, site: Site) -> Page:
    page = context.new_page()
    page.goto(site.url)
    return page


def until(wanted: Any, seconds: float = 8.0) -> None:
    end = time.monotonic() + seconds
    while not wanted():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.02)


def test_an_entry_waits_while_there_is_no_network_and_is_sent_once(
    context: BrowserContext, page: Page, site: Site
) -> None:
    page.evaluate(START)
    context.set_offline(True)
    key = page.evaluate(PUT, [1, READING])
    assert [row["key"] for row in page.evaluate(WAITING)] == [key]
    assert site.told.posts == []
    context.set_offline(False)
    page.evaluate(SEND)
    until(lambda: page.evaluate(WAITING) == [])
    assert site.told.posts == [key]
    assert site.told.entries[key]["value"] == "2.1 s"


def test_an_entry_survives_a_closed_page(context: BrowserContext, page: Page, site: Site) -> None:
    key = page.evaluate(PUT, [1, READING])
    page.close()
    again = context.new_page()
    again.goto(site.url)
    assert [row["key"] for row in again.evaluate(WAITING)] == [key]


def test_a_lost_answer_leaves_one_entry(page: Page, site: Site) -> None:
    site.told.lose_answers = 2
    key = page.evaluate(PUT, [1, READING])
    for _ in range(4):
        page.evaluate(SEND)
    until(lambda: page.evaluate(WAITING) == [])
    assert list(site.told.entries) == [key]
    assert set(site.told.posts) == {key}
    assert len(site.told.posts) >= 2


def test_two_tabs_send_each_entry_once(context: BrowserContext, page: Page, site: Site) -> None:
    other = context.new_page()
    other.goto(site.url)
    keys = [page.evaluate(PUT, [1, READING]) for _ in range(5)]
    keys += [other.evaluate(PUT, [1, READING]) for _ in range(5)]
    page.evaluate(START)
    other.evaluate(START)
    until(lambda: page.evaluate(WAITING) == [])
    assert site.told.posts == keys


def test_entries_go_in_the_order_they_were_made(page: Page, site: Site) -> None:
    keys = [page.evaluate(PUT, [1, {**READING, "value": f"{n}.0 s"}]) for n in range(1, 8)]
    page.evaluate(SEND)
    until(lambda: page.evaluate(WAITING) == [])
    assert list(site.told.entries) == keys


def test_a_refused_entry_goes_to_the_tray_and_holds_nothing_up(page: Page, site: Site) -> None:
    site.told.refuse = "vent_time"
    page.evaluate(PUT, [1, READING])
    good = page.evaluate(PUT, [1, {"kind": "reading", "test": "grip", "value": "holds"}])
    page.evaluate(SEND)
    until(lambda: list(site.told.entries) == [good])
    tray = page.evaluate("async () => (await import('/outbox.mjs')).refused()")
    assert [row["messages"] for row in tray] == [["this cannot be read: write it again"]]
    page.evaluate(SEND)
    assert len(site.told.posts) == 2, "a refused entry is not sent again by itself"


def test_a_refused_entry_can_be_put_right(page: Page, site: Site) -> None:
    site.told.refuse = "vent_time"
    key = page.evaluate(PUT, [1, READING])
    page.evaluate(SEND)
    until(lambda: page.evaluate(WAITING)[0]["state"] == "refused")
    site.told.refuse = ""
    page.evaluate("""async () => {
      const { refused, mend } = await import("/outbox.mjs");
      await mend((await refused())[0], { value: "2.2 s" });
    }""")
    page.evaluate(SEND)
    until(lambda: page.evaluate(WAITING) == [])
    assert [entry["value"] for entry in site.told.entries.values()] == ["2.2 s"]
    assert key not in site.told.entries


def test_what_waits_can_be_taken_out_as_a_file_without_secrets(page: Page) -> None:
    page.evaluate(
        "async () => (await import('/store.mjs')).keepFact('me', {name: 'Ana', author_token: 'xyz'})"
    )
    page.evaluate(PUT, [7, READING])
    page.evaluate("""async () => {
      const { put } = await import("/outbox.mjs");
      await put(7, { kind: "file", what: "photos", name: "a.jpg" }, new Blob(["abc"]));
    }""")
    text = page.evaluate("async () => (await (await import('/outbox.mjs')).exportFile()).text()")
    assert '"value": "2.1 s"' in text
    assert '"author": "Ana"' in text
    assert base64.b64encode(b"abc").decode() in text
    assert "xyz" not in text


@pytest.mark.parametrize("status", [500, 503, 429, 401])
def test_trouble_of_the_server_keeps_the_entry(page: Page, site: Site, status: int) -> None:
    site.told.status = status
    key = page.evaluate(PUT, [1, READING])
    page.evaluate(SEND)
    assert [(row["key"], row["state"]) for row in page.evaluate(WAITING)] == [(key, "waiting")]
    site.told.status = 0
    page.evaluate(SEND)
    until(lambda: page.evaluate(WAITING) == [])


def test_a_photo_follows_its_reading_and_goes_on_where_it_broke_off(page: Page, site: Site) -> None:
    site.told.break_pieces = 1
    page.evaluate("""async () => {
      const { put } = await import("/outbox.mjs");
      const bytes = new Uint8Array(1300000).map((_, at) => at % 251);
      await put(1, { kind: "file", what: "photos", name: "a.jpg" }, new Blob([bytes]));
      await put(1, { kind: "reading", test: "grip", value: "holds" });
    }""")
    for _ in range(3):
        page.evaluate(SEND)
    until(lambda: page.evaluate(WAITING) == [])
    assert [entry["kind"] for entry in site.told.entries.values()] == ["reading", "file"]
    (held,) = site.told.uploads.values()
    assert bytes(held) == bytes(at % 251 for at in range(1300000))
    assert site.told.offsets == [0, 524288, 1048576]


def test_signing_out_forgets_the_user_but_not_what_waits(page: Page) -> None:
    key = page.evaluate(PUT, [1, READING])
    left = page.evaluate("""async () => {
      const store = await import("/store.mjs");
      await store.keepSnapshot(1, { version: 3 });
      await store.keepFact("me", { name: "Ana" });
      await store.dropUserData();
      return [await store.snapshot(1), await store.fact("me")];
    }""")
    assert left == [None, None]
    assert [row["key"] for row in page.evaluate(WAITING)] == [key]


def test_an_older_state_never_takes_the_place_of_a_newer_one(page: Page) -> None:
    kept = page.evaluate("""async () => {
      const store = await import("/store.mjs");
      await store.keepSnapshot(1, { version: 5 });
      await store.keepSnapshot(1, { version: 4 });
      return (await store.snapshot(1)).version;
    }""")
    assert kept == 5


def test_without_a_secure_address_entries_are_sent_all_the_same(playwright_: Playwright, site: Site) -> None:
    """On plain http under a name there are no locks, no worker and no random names."""
    port = site.url.rsplit(":", 1)[1]
    browser: Browser = playwright_.chromium.launch(
        executable_path=shutil.which("chromium"),
        args=["--no-sandbox", "--disable-gpu", "--host-resolver-rules=MAP bay.test 127.0.0.1"],
    )
    try:
        page = browser.new_page()
        page.goto(f"http://bay.test:{port}/")
        assert page.evaluate("async () => (await import('/sync.mjs')).missing()") == ["worker", "locks"]
        key = page.evaluate(PUT, [1, READING])
        page.evaluate(SEND)
        until(lambda: page.evaluate(WAITING) == [])
        assert list(site.told.entries) == [key]
        assert len(key) == 36
    finally:
        browser.close()


def test_a_browser_killed_right_after_the_entry_loses_nothing(
    playwright_: Playwright, site: Site, tmp_path: Path
) -> None:
    def launch() -> BrowserContext:
        return playwright_.chromium.launch_persistent_context(
            tmp_path / "profile",
            executable_path=shutil.which("chromium"),
            args=["--no-sandbox", "--disable-gpu", "--no-first-run"],
        )

    site.told.status = 503
    context = launch()
    page = context.pages[0]
    page.goto(site.url)
    key = page.evaluate(PUT, [1, READING])
    _kill(str(tmp_path / "profile"))
    site.told.status = 0
    again = launch()
    try:
        page = again.pages[0]
        page.goto(site.url)
        assert [row["key"] for row in page.evaluate(WAITING)] == [key]
        page.evaluate(SEND)
        until(lambda: page.evaluate(WAITING) == [])
        assert list(site.told.entries) == [key]
    finally:
        again.close()


def _kill(profile: str) -> None:
    """Kill every process of a browser at once, without a word of warning."""
    mine = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            told = (folder / "cmdline").read_bytes()
        except OSError:
            continue
        if profile.encode() in told and int(folder.name) != os.getpid():
            mine.append(int(folder.name))
    assert mine
    for one in mine:
        try:
            os.kill(one, signal.SIGKILL)
        except ProcessLookupError:
            continue
    time.sleep(0.5)
    for lock in Path(profile).glob("Singleton*"):
        lock.unlink(missing_ok=True)
