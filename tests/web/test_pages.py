"""The pages for desks and the shell of the bay: what they show, to whom, and what they refuse."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI

from fanwright.desk.keep import keep_visit
from fanwright.web.app import create_app
from fanwright.web.bundle import PAGES, bundle, styles
from fanwright.web.look import look_from
from fanwright.web.settings import STATIC, Settings

Browser = Callable[..., httpx.Client]
DEMO = Path(__file__).parents[2] / "examples" / "demo"


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records with two kept visits of the demo that need no files beside them."""
    folder = tmp_path_factory.mktemp("kept")
    for name in ("201", "215"):
        text = (DEMO / f"{name}.toml").read_text("utf-8")
        (folder / f"{name}.toml").write_text(re.sub(r"(?ms)^\[files\].*?(?=^\[|\Z)", "", text), "utf-8")
        keep_visit(folder / f"{name}.toml", str(folder / "kept.db"), None, by="Ana")
    return folder / "kept.db"


@pytest.fixture
def shop_app(kept: Path, tmp_path: Path) -> Iterator[FastAPI]:
    """A server over a copy of those records that needs no password."""
    shutil.copytree(kept.parent, tmp_path / "shop")
    db = str(tmp_path / "shop" / "kept.db")
    made = create_app(Settings(db, None, None, True, "127.0.0.1", 8214, (), None, "test-1"))
    yield made
    made.state.store.close()


@pytest.fixture
def shop(shop_app: FastAPI, browser: Browser) -> httpx.Client:
    return browser(on=shop_app)


def number_of(shop: httpx.Client, unit: str) -> int:
    found = re.search(r'href="/visits/(\d+)"', shop.get(f"/trucks/{unit}").text)
    assert found is not None
    return int(found.group(1))


def test_the_shell_of_a_visit_is_the_same_for_everybody(shop: httpx.Client) -> None:
    one, other = (
        shop.get(path, headers={"cookie": cookie})
        for path, cookie in (("/bay/1", ""), ("/bay/9999", "fanwright-look=theme=dark&language=es"))
    )
    assert one.status_code == 200
    assert one.text == other.text
    assert "201" not in re.sub(r"/static/\S+|release=\S+", "", one.text)
    assert shop.get("/", follow_redirects=False).headers["location"] == "/bay"
    assert shop.get("/bay/x").status_code == 422


def test_pages_hold_no_script_or_style_of_their_own(shop: httpx.Client) -> None:
    for path in ("/bay", "/bay/1", "/trucks", "/trucks/215", f"/visits/{number_of(shop, '215')}"):
        text = shop.get(path).text
        assert not re.search(r"<style|\sstyle=|\son\w+=|<script(?![^>]*\ssrc=\"/)", text), path
        assert "://" not in re.sub(r'xmlns="[^"]*"', "", text), path


def test_trucks_are_listed_and_found(shop: httpx.Client) -> None:
    everything = shop.get("/trucks").text
    assert 'href="/trucks/201"' in everything
    assert 'href="/trucks/215"' in everything
    found = shop.get("/trucks", params={"search": "215"}).text
    assert 'href="/trucks/201"' not in found
    nothing = shop.get("/trucks", params={"search": '"><script>alert(1)</script>'})
    assert nothing.status_code == 200
    assert "<script>alert" not in nothing.text
    assert "No truck fits." in nothing.text
    assert shop.get("/trucks", params={"search": "x" * 81}).status_code == 422


def test_a_truck_shows_its_facing_and_what_is_ahead(shop: httpx.Client) -> None:
    text = shop.get("/trucks/215").text
    assert "0.252 in" in text
    assert "What is ahead of the facing" in text
    assert 'class="mark ' in text


def test_a_kept_visit_shows_drawing_and_verdicts_in_the_readers_units(shop: httpx.Client) -> None:
    address = f"/visits/{number_of(shop, '215')}"
    plain = shop.get(address).text
    metric = shop.get(address, headers={"cookie": "fanwright-look=pressure=bar&length=mm&theme=sun"}).text
    assert plain.count("<svg") >= 3
    assert "0.252 in" in plain
    assert "6.40 mm" in metric or "6.4 mm" in metric
    assert " psi" not in re.sub(r"<text.*?</text>|<desc>.*?</desc>", "", metric.split("<tbody>")[1])[:3000]
    assert 'data-theme="sun"' in metric
    assert "/report.pdf" in plain


@pytest.mark.parametrize("path", ["/trucks/nope", "/visits/999999", "/trucks/%3Cb%3E"])
def test_what_is_not_there_is_said(shop: httpx.Client, path: str) -> None:
    answer = shop.get(path)
    assert answer.status_code == 404
    assert 'role="alert"' in answer.text
    assert "<b>" not in answer.text.split('role="alert"')[1].split("</main>")[0]


@pytest.mark.parametrize("path", ["/trucks", "/trucks/215", "/visits/1"])
def test_a_stranger_sees_no_truck(browser: Browser, path: str) -> None:
    answer = browser().get(path, follow_redirects=False)
    assert answer.status_code in (303, 401)
    assert "215" not in answer.text.replace(path, "")


@pytest.mark.parametrize(
    "cookie",
    ["", "theme=../../x", "language=xx&pressure=<b>", "=&=&;", "theme=dark" * 100, "pressure=degF", "\x00"],
)
def test_a_look_that_is_not_allowed_counts_as_not_said(cookie: str) -> None:
    look = look_from(cookie)
    assert (look.theme, look.language) == ("auto", "en")
    assert look.reader.units.unit("pressure").printed == "psi"


def test_a_look_is_read() -> None:
    look = look_from("language=es&pressure=bar&length=mm&distance=km&temperature=C&theme=dark&mode=glove")
    assert (look.theme, look.language) == ("dark", "es")
    assert look.reader.write(8.1e5, "pressure") == "8,1 bar"
    assert look.reader.units.unit("temperature").printed == "°C"


@pytest.mark.parametrize("page", PAGES)
def test_a_bundle_holds_every_module_once(page: str) -> None:
    text = bundle(page)
    assert "import " not in re.sub(r"\bimport\(", "", re.sub(r'"[^"\n]*"', "", text))
    places = re.findall(r"^const of_(\w+) = await", text, re.MULTILINE)
    assert len(places) == len(set(places))
    assert {"dom", "words", "store", "outbox", "sync"} <= set(places)
    used = set(re.findall(r" = of_(\w+);", text))
    assert used <= set(places)
    assert all(places.index(one) < text.index(f" = of_{one};") for one in used)


def test_bundles_are_served_with_the_pages(shop: httpx.Client) -> None:
    for path in re.findall(r'(?:src|href)="(/static/[^"]+)"', shop.get("/bay/1").text):
        assert shop.get(path).status_code == 200, path
    named = set(shop.get("/shell.json").json()["files"])
    assert {"/static/whole/visit.mjs", "/static/whole/visit.css"} <= named
    assert styles("visit").startswith((STATIC / "tokens.css").read_text("utf-8")[:40])


def test_the_words_of_the_scripts_are_there_for_every_language(shop: httpx.Client) -> None:
    for language in ("en", "es", "fr"):
        assert isinstance(shop.get("/api/words", params={"language": language}).json(), dict)
    assert shop.get("/api/words", params={"language": "xx"}).status_code == 422
