"""What a page elsewhere or a stranger on the network could try at the door, and what every answer says."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI

from fanwright.errors import DataError, FileError, InputError
from fanwright.web import guard
from fanwright.web.names import disposition, way_back
from fanwright.words import Message, text

Browser = Callable[..., httpx.Client]
HERE = "http://127.0.0.1:8214"
ACCEPTED = (303, 403)  # 403 with our own form: the name or password was wrong


def tried(browser: Browser, headers: list[tuple[str, str]]) -> httpx.Response:
    """Try to sign in with exactly these headers on top of what every client sends."""
    client = browser()
    for name in ("origin", "sec-fetch-site"):
        del client.headers[name]
    return client.post("/sign-in", data={"name": "Ana", "password": "wrong"}, headers=headers)


def from_a_page_of_ours(answer: httpx.Response) -> bool:
    return "only pages of this machine" not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        [],
        [("origin", "http://elsewhere.example")],
        [("origin", "null")],
        [("origin", "https://127.0.0.1:8214")],
        [("origin", "http://127.0.0.1:9999")],
        [("origin", "http://127.0.0.1:8214.elsewhere.example")],
        [("sec-fetch-site", "cross-site")],
        [("sec-fetch-site", "same-site")],
        [("sec-fetch-site", "none")],
        [("sec-fetch-site", "cross-site"), ("origin", HERE)],
        [("sec-fetch-site", "same-origin"), ("origin", "http://elsewhere.example")],
        [("origin", HERE), ("origin", "http://elsewhere.example")],
        [("sec-fetch-site", "same-origin"), ("sec-fetch-site", "cross-site")],
    ],
)
def test_only_our_own_pages_change_anything(browser: Browser, headers: list[tuple[str, str]]) -> None:
    answer = tried(browser, headers)
    assert answer.status_code == 403
    assert not from_a_page_of_ours(answer)


@pytest.mark.parametrize(
    "headers",
    [
        [("origin", HERE)],
        [("sec-fetch-site", "same-origin")],
        [("sec-fetch-site", "same-origin"), ("origin", "http://localhost:8214")],
    ],
)
def test_our_own_pages_get_through(browser: Browser, headers: list[tuple[str, str]]) -> None:
    answer = tried(browser, headers)
    assert answer.status_code in ACCEPTED
    assert from_a_page_of_ours(answer)


@pytest.mark.parametrize(
    "host",
    [
        "elsewhere.example",
        "elsewhere.example:8214",
        "127.0.0.1",
        "127.0.0.1:80",
        "127.0.0.1:8214.elsewhere.example",
        "localhost.elsewhere.example:8214",
        "127.0.0.2:8214",
        "",
    ],
)
def test_a_name_that_was_pointed_here_gets_nothing(browser: Browser, host: str) -> None:
    """DNS rebinding: the browser believes it talks to its own site, so the Host header gives it away."""
    for path in ("/healthz", "/", "/api/me", "/static/worker.js"):
        answer = browser().get(path, headers={"host": host})
        assert answer.status_code == 421
        assert answer.json()["messages"]


@pytest.mark.parametrize("host", ["127.0.0.1:8214", "localhost:8214", "LOCALHOST:8214", "[::1]:8214"])
def test_our_own_names_are_answered(browser: Browser, host: str) -> None:
    assert browser().get("/healthz", headers={"host": host}).status_code == 200


def test_another_site_may_link_here_but_not_use_what_is_here(browser: Browser) -> None:
    client = browser()
    for site in ("cross-site", "same-site"):
        looked = {"sec-fetch-site": site, "sec-fetch-mode": "no-cors", "sec-fetch-dest": "script"}
        assert client.get("/static/worker.js", headers=looked).status_code == 403
        led = {"sec-fetch-site": site, "sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}
        assert client.get("/sign-in", headers=led).status_code == 200
        framed = led | {"sec-fetch-dest": "iframe"}
        assert client.get("/sign-in", headers=framed).status_code == 403


def test_a_body_has_a_limit(browser: Browser) -> None:
    client = browser()
    answer = client.post("/sign-in", content=b"x" * (guard.MOST_BODY + 1))
    assert answer.status_code == 413
    assert answer.headers["content-security-policy"].startswith("default-src 'self'")
    assert client.post("/sign-in", content=b"x", headers={"content-length": "1x"}).status_code == 413
    piece = client.patch("/api/uploads/none", content=b"x" * (guard.MOST_BODY + 1))
    assert piece.status_code != 413, "a piece of an upload may be larger"
    assert client.patch("/api/uploads/none", content=b"x" * (guard.MOST_PIECE + 1)).status_code == 413


def test_an_address_has_a_limit(browser: Browser) -> None:
    assert browser().get("/healthz?" + "x" * 4000).status_code == 414


def test_a_flood_of_changes_is_slowed(browser: Browser) -> None:
    client = browser()
    answers = [client.post("/api/nothing").status_code for _ in range(330)]
    assert answers[0] == 404
    assert 429 in answers[300:]


def fail(error: Exception) -> Callable[[], None]:
    def route() -> None:
        raise error

    return route


def test_errors_are_told_plainly_and_keep_their_secrets(
    app: FastAPI, browser: Browser, caplog: pytest.LogCaptureFixture
) -> None:
    """Wrong input is final, what may pass is tried again; of our own faults only the log has the details."""
    said = Message("{what} is wrong", {"what": text("the secret")})
    for path, error in {
        "/api/x/wrong": InputError(said),
        "/api/x/later": FileError(said),
        "/api/x/data": DataError(said),
        "/api/x/bug": RuntimeError("the secret"),
    }.items():
        app.add_api_route(path, fail(error), methods=["GET"])
    client = browser()
    assert client.get("/api/x/wrong").status_code == 422
    assert client.get("/api/x/wrong").json() == {"code": "refused", "messages": ["the secret is wrong"]}
    later = client.get("/api/x/later")
    assert (later.status_code, later.headers["retry-after"]) == (503, "5")
    with caplog.at_level(logging.ERROR, "fanwright.web"):
        for path in ("/api/x/data", "/api/x/bug"):
            answer = client.get(path)
            assert answer.status_code == 500
            assert "secret" not in answer.text
            assert "Traceback" not in answer.text
            assert answer.headers["content-security-policy"].startswith("default-src 'self'")
    assert "the secret" in caplog.text


def test_every_answer_carries_the_policy_and_no_banner(browser: Browser) -> None:
    client = browser("manager")
    asked = [
        ("GET", path)
        for path in (
            "/bay", "/bay/1", "/sign-in", "/install", "/people", "/healthz", "/api/me", "/worker.js",
            "/static/worker.js", "/nothing", "/api/nothing", "/authority.crt", "/static/nothing",
        )
    ]  # fmt: skip
    asked += [("POST", "/healthz"), ("DELETE", "/people"), ("POST", "/people"), ("POST", "/sign-out")]
    for method, path in asked:
        for accept in ("text/html", "application/json"):
            answer = client.request(method, path, headers={"accept": accept})
            policy = answer.headers["content-security-policy"]
            assert "default-src 'self'" in policy, (method, path)
            assert "unsafe" not in policy
            assert "*" not in policy
            assert answer.headers["x-content-type-options"] == "nosniff"
            assert answer.headers.get_list("server") == []
            assert "x-powered-by" not in answer.headers
            if answer.headers.get("content-type", "").startswith("text/html"):
                assert answer.headers["x-frame-options"] == "DENY"
                assert answer.headers["referrer-policy"] == "same-origin"
            if path.startswith(("/api/", "/people", "/sign-in")):
                assert answer.headers["cache-control"] in ("no-store", "private, no-cache")


def test_no_page_holds_inline_script_or_style() -> None:
    """The policy would stop them; a template that has one is a fault."""
    templates = Path(guard.__file__).parent / "templates"
    inline = re.compile(
        r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son[a-z]+=|javascript:|https?://(?!www\.w3\.org/)"
    )
    found = {path.name: inline.findall(path.read_text("utf-8")) for path in templates.rglob("*.html")}
    assert {name: slips for name, slips in found.items() if slips} == {}
    assert inline.search('<p style="x">')
    assert inline.search("<script>x</script>")


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e%2f%2e%2e%2f%2e%2e%2f%2e%2e%2f%2e%2e%2f%2e%2e%2fetc/passwd",
        "/static//etc/passwd",
        "/static/%2fetc/passwd",
        "/static/..%5capp.py",
        "/static/worker.js%00.html",
        "/static/",
        "/static",
        "/static/.",
        "/trucks/..%2f..%2fetc%2fpasswd",
        "/visits/..%2f1",
        "/api/uploads/..%2f..%2fshop.db",
    ],
)
def test_no_path_leads_out(browser: Browser, path: str) -> None:
    client = browser("manager")
    answer = client.send(client.build_request("GET", httpx.URL(HERE + "/").copy_with(raw_path=path.encode())))
    assert answer.status_code in (400, 404, 405, 422), answer.text
    assert "import" not in answer.text
    assert "root:" not in answer.text


@pytest.mark.parametrize(
    "wanted",
    [
        "//elsewhere.example/", "https://elsewhere.example", "/\\elsewhere.example",
        "/bay\r\nset-cookie: a=b",
        "javascript:alert(1)", "/bay/../..//x", "", " /bay", "/%2felsewhere.example", "/bay?x=1", "bay",
    ],
)  # fmt: skip
def test_signing_in_leads_back_to_our_own_pages_only(browser: Browser, wanted: str) -> None:
    assert way_back(wanted) == "/bay"
    answer = browser().post(
        "/sign-in", data={"name": "Ana", "password": "correct horse battery", "to": wanted}
    )
    assert answer.status_code == 303
    assert answer.headers["location"] == "/bay"
    assert "a" not in answer.cookies


@pytest.mark.parametrize(
    "name", ["214\r\nset-cookie: a=b", '"; x="', "../../etc/passwd", "ü \u2028.pdf", "", "\x00"]
)
def test_a_file_name_stays_a_file_name(name: str) -> None:
    header = disposition(name)
    header.encode("ascii")
    assert header.isprintable()
    assert header.count(";") == 2
    assert "/" not in header
    assert header.count('"') == 2
