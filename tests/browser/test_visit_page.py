"""The visit page in a real browser: by touch, by keys, without network, on a phone and on a desk."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Iterator

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from fanwright.desk.records import open_records
from fanwright.web.app import create_app
from fanwright.web.settings import Settings

PORT = 8461
SITE = f"http://127.0.0.1:{PORT}"
PATIENCE_MS = 20_000
SMALLEST_TARGET = 64
MOST_BYTES = 60_000
TARGETS = """(least) => [...document.querySelectorAll(
  'button:not(.link), a:not(.skip), summary, .choice, textarea, input[type=text]')]
  .filter((one) => one.offsetParent)
  .map((one) => [one.textContent || one.id, one.getBoundingClientRect()])
  .filter(([, box]) => box.width < least || box.height < least).map(([name]) => name)"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A server of the demo's kind over empty records."""
    db = tmp_path_factory.mktemp("bay") / "bay.db"
    open_records(str(db), create=True).close()
    app = create_app(Settings(str(db), None, None, True, "127.0.0.1", PORT, (), None, "test-1"))
    server = uvicorn.Server(
        uvicorn.Config(app, "127.0.0.1", PORT, log_level="error", timeout_graceful_shutdown=1)
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.05)
    yield SITE
    server.should_exit = True
    thread.join(10)


@pytest.fixture
def tablet(chromium: Browser) -> Iterator[BrowserContext]:
    context = chromium.new_context(viewport={"width": 800, "height": 1180}, has_touch=True)
    context.set_default_timeout(PATIENCE_MS)
    yield context
    context.close()


def visit(context: BrowserContext, site: str, unit: str, *, locked: bool = True) -> Page:
    """Start a visit from the list; a fault in a script or in the policy fails the test."""
    page = context.new_page()
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    page.on("console", lambda said: pytest.fail(said.text) if "Content Security" in said.text else None)
    page.goto(f"{site}/bay")
    page.get_by_text("start a visit").first.click()
    page.get_by_label("truck", exact=True).fill(unit)
    page.get_by_text("drive and valve").click()
    for name, value in (("drive", "spring"), ("valve", "nc"), ("volts", "12")):
        page.get_by_label(name, exact=True).select_option(value)
    page.get_by_role("button", name="start the visit").click()
    ready(page)
    if locked:
        with page.expect_response(lambda one: "screen=" in one.url):
            page.get_by_role("button", name="engine off, tag on: done").click()
        expect(page.locator("#panel .outcome").first).to_be_visible()
        expect(page.locator("#waiting")).to_have_text("all sent")
    return page


def ready(page: Page) -> None:
    page.locator("html[data-ready=yes]").wait_for()
    expect(page.locator("#unit")).not_to_have_text("…")


def take(page: Page, test: str) -> None:
    """Tap a test; where a glove covers two of them, say which."""
    label = page.locator(f"#drawing [data-test={test}]").first.get_attribute("aria-label") or ""
    page.locator(f"#drawing [data-test={test}] .hit").first.tap()
    asked = page.locator("#panel .stack button")
    expect(asked.or_(page.locator(f"[data-sheet={test}]")).first).to_be_visible()
    if asked.count():
        asked.filter(has_text=label.split(":")[0]).first.tap()
    expect(page.locator(f"[data-sheet={test}]")).to_be_visible()


def press(page: Page, keys: str) -> None:
    for key in keys:
        page.locator(".keys button", has_text=re.compile(f"^{re.escape(key)}$")).tap()


def test_a_reading_by_touch_from_lock_out_to_the_servers_verdict(tablet: BrowserContext, site: str) -> None:
    page = visit(tablet, site, "901", locked=False)
    expect(page.locator("#sheet-title")).to_have_text("Engine off, tag on")
    assert page.locator("#panel .outcome").count() == 0
    page.get_by_role("button", name="engine off, tag on: done").tap()
    expect(page.locator("#panel .outcome").first).to_be_visible()
    take(page, "vent_time")
    expect(page.locator("#panel .care")).to_contain_text("Hands clear")
    press(page, "2.1")
    page.get_by_role("button", name="save reading").tap()
    line = page.locator("#panel .verdict")
    expect(line).to_contain_text("2.1 s")
    expect(line).to_contain_text("act now")
    expect(page.locator("#panel .so-far")).to_contain_text("limit 1.5 s")
    expect(page.locator("#waiting")).to_have_text("all sent")
    expect(page.locator("#drawing [data-test=vent_time]")).to_have_attribute(
        "aria-label", re.compile("2.1 s, act now")
    )
    expect(page.locator("#overall")).to_contain_text("act now")
    page.get_by_role("button", name="take back").tap()
    expect(page.locator("#drawing [data-test=vent_time]")).to_have_attribute(
        "aria-label", re.compile("open, 1 min")
    )


def test_what_cannot_be_read_is_refused_on_the_spot(tablet: BrowserContext, site: str) -> None:
    page = visit(tablet, site, "902")
    take(page, "vent_time")
    page.get_by_role("button", name="save reading").tap()
    expect(page.locator("#panel .refused")).to_contain_text("type what was read")
    press(page, "2..1")
    page.get_by_role("button", name="save reading").tap()
    expect(page.locator("#panel .refused")).to_contain_text("cannot be read")
    expect(page.locator("#waiting")).to_have_text("all sent")


def test_the_timer_is_an_instrument_of_its_own(tablet: BrowserContext, site: str) -> None:
    page = visit(tablet, site, "903")
    take(page, "vent_time")
    with page.expect_request(lambda one: one.url.endswith("/entries")) as sent:
        page.locator(".timer").tap()
        page.wait_for_timeout(400)
        page.locator(".timer").tap()
        value = page.locator("input.number").input_value()
        page.get_by_role("button", name="save reading").tap()
    body = sent.value.post_data_json
    assert 0.3 <= float(value) <= 3.0
    assert body["value"] == f"{value} s"
    assert body["instrument"] == "tablet_timer"
    assert body["kind"] == "reading"


def test_several_places_a_unit_and_a_fraction(tablet: BrowserContext, site: str) -> None:
    page = visit(tablet, site, "904")
    take(page, "facing_thickness")
    press(page, "19/64")
    page.get_by_role("button", name="another place").tap()
    page.get_by_role("group", name="unit").get_by_role("button", name="mm").tap()
    press(page, "7.6")
    with page.expect_request(lambda one: one.url.endswith("/entries")) as sent:
        page.get_by_role("button", name="save reading").tap()
    assert sent.value.post_data_json["value"] == ["19/64 in", "7.6 mm"]
    expect(page.locator("#panel .verdict")).to_contain_text("good")


def test_without_network_the_verdict_stands_and_nothing_is_lost(tablet: BrowserContext, site: str) -> None:
    page = visit(tablet, site, "905")
    tablet.set_offline(True)
    take(page, "supply_gauge_still")
    press(page, "118")
    page.get_by_role("button", name="save reading").tap()
    expect(page.locator("#panel .verdict")).to_contain_text("preliminary")
    expect(page.locator("#panel .verdict")).to_contain_text("good")
    expect(page.locator("#waiting")).to_have_text("1 entry waiting to be sent")
    expect(page.locator("#drawing [data-test=supply_gauge_still]")).to_have_attribute(
        "aria-label", re.compile("118 psi, good")
    )
    tablet.set_offline(False)
    expect(page.locator("#waiting")).to_have_text("all sent", timeout=30_000)
    expect(page.locator("#panel .so-far")).to_contain_text("limit 90 psi")


def test_by_keys_alone(chromium: Browser, site: str) -> None:
    context = chromium.new_context(viewport={"width": 1180, "height": 830})
    context.set_default_timeout(PATIENCE_MS)
    page = visit(context, site, "906")
    page.locator("#drawing [data-test=fill_time]").focus()
    page.keyboard.press("ArrowLeft")
    moved = page.evaluate("document.activeElement.dataset.test")
    assert moved not in (None, "fill_time")
    page.locator("#drawing [data-test=fill_time]").focus()
    page.keyboard.press("Enter")
    expect(page.locator("[data-sheet=fill_time]")).to_be_visible()
    page.locator("input.number").focus()
    page.keyboard.type("0.4 s")
    page.keyboard.press("Enter")
    expect(page.locator("#panel .verdict")).to_contain_text("0.4 s")
    page.keyboard.press("Escape")
    expect(page.locator("[data-sheet=fill_time]")).to_have_count(0)
    assert page.evaluate("document.activeElement.dataset.test") == "fill_time"
    context.close()


def test_after_the_repair_stands_beside_before(tablet: BrowserContext, site: str) -> None:
    page = visit(tablet, site, "907")
    for side, value in (("before", "2.1"), ("after", "0.6")):
        page.locator("#sides button", has_text=side).first.tap()
        take(page, "vent_time")
        press(page, value)
        page.get_by_role("button", name="save reading").tap()
        expect(page.locator("#panel .so-far")).to_contain_text("limit 1.5 s")
    page.locator("#sides button", has_text="side by side").tap()
    figures = page.locator("#drawing figure")
    expect(figures).to_have_count(2)
    for index, words in ((0, "2.1 s, act now"), (1, "0.6 s, good")):
        expect(figures.nth(index).locator("[data-test=vent_time]")).to_have_attribute(
            "aria-label", re.compile(words)
        )


def test_why_not_and_gloves_and_list(tablet: BrowserContext, site: str) -> None:
    page = visit(tablet, site, "908")
    page.locator("#modes button", has_text="gloves").tap()
    expect(page.locator("#drawing")).to_be_hidden()
    first = page.locator("#sheet-title").inner_text()
    page.get_by_role("button", name="Next test").tap()
    expect(page.locator("#sheet-title")).not_to_have_text(first)
    page.locator("#modes button", has_text="list").tap()
    expect(page.get_by_role("table")).to_be_visible()
    page.get_by_role("row").get_by_role("button", name="Coil current when fed").tap()
    page.get_by_text("cannot do this: why").tap()
    page.get_by_role("button", name="no tool for it").tap()
    expect(page.get_by_role("row", name=re.compile("Coil current when fed"))).to_contain_text(
        "not done: no tool for it"
    )


@pytest.mark.parametrize(("wide", "high"), [(360, 740), (800, 1180), (1180, 830)])
def test_anyone_can_use_it(chromium: Browser, site: str, wide: int, high: int) -> None:
    """No violation that axe finds, targets for gloves, nothing beyond the edge; in each theme."""
    context = chromium.new_context(viewport={"width": wide, "height": high}, has_touch=True)
    context.set_default_timeout(PATIENCE_MS)
    page = visit(context, site, f"91{wide}")
    for theme in ("light", "dark", "sun"):
        context.add_cookies([{"name": "fanwright-look", "value": f"theme={theme}", "url": site}])
        page.reload()
        ready(page)
        page.locator("#drawing [data-test=facing_thickness]").focus()
        page.keyboard.press("Enter")
        expect(page.locator("[data-sheet=facing_thickness]")).to_be_visible()
        found = Axe().run(page).response["violations"]
        assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found] == []
        assert page.evaluate(TARGETS, SMALLEST_TARGET) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= wide
    context.close()


def test_the_page_is_light(chromium: Browser, site: str) -> None:
    """All that a tablet fetches to open a visit for the first time, with the heads of the answers."""
    context = chromium.new_context(viewport={"width": 800, "height": 1180}, service_workers="block")
    context.set_default_timeout(PATIENCE_MS)
    address = visit(context, site, "950").url
    context.close()
    context = chromium.new_context(viewport={"width": 800, "height": 1180}, service_workers="block")
    page = context.new_page()
    cdp = context.new_cdp_session(page)
    cdp.send("Network.enable")
    sizes: list[float] = []
    cdp.on("Network.loadingFinished", lambda one: sizes.append(one["encodedDataLength"]))
    page.goto(address)
    ready(page)
    page.wait_for_timeout(500)
    assert len(sizes) >= 5
    assert sum(sizes) <= MOST_BYTES
    context.close()
