"""Every route of the server with its least role: none is forgotten, and each asks for what stands here."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import httpx
import pytest
from fastapi import FastAPI
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute
from starlette.routing import Mount

from fanwright.web.session import ROLES, Need

Browser = Callable[..., httpx.Client]
OPEN = "open"
ROUTES = {
    # what holds no user's data, or lets somebody in
    ("GET", "/healthz"): OPEN,
    ("GET", "/worker.js"): OPEN,
    ("GET", "/shell.json"): OPEN,
    ("GET", "/static"): OPEN,
    ("GET", "/static/whole/{page}.mjs"): OPEN,
    ("GET", "/static/whole/{page}.css"): OPEN,
    ("GET", "/"): OPEN,
    ("GET", "/bay"): OPEN,
    ("GET", "/bay/{number}"): OPEN,
    ("GET", "/api/words"): OPEN,
    ("GET", "/sign-in"): OPEN,
    ("POST", "/sign-in"): OPEN,
    ("POST", "/sign-out"): OPEN,
    ("POST", "/pin"): OPEN,
    ("GET", "/install"): OPEN,
    ("GET", "/authority.crt"): OPEN,
    # looking
    ("GET", "/api/me"): "reader",
    ("GET", "/api/events"): "reader",
    ("GET", "/api/catalogue"): "reader",
    ("GET", "/api/bay"): "reader",
    ("GET", "/api/bay/{number}"): "reader",
    ("GET", "/api/trucks"): "reader",
    ("GET", "/trucks"): "reader",
    ("GET", "/trucks/{unit}"): "reader",
    ("GET", "/visits/{number}"): "reader",
    ("GET", "/visits/{number}/causes"): "reader",
    ("GET", "/bay/{number}/causes"): "reader",
    ("GET", "/{where}/{number}/trace"): "reader",
    ("GET", "/{where}/{number}/trace/{index}"): "reader",
    ("GET", "/{where}/{number}/recording"): "reader",
    ("GET", "/{where}/{number}/report.pdf"): "reader",
    # entering
    ("POST", "/api/bay"): "technician",
    ("POST", "/api/bay/{number}/entries"): "technician",
    ("POST", "/api/bay/{number}/keep"): "technician",
    ("POST", "/api/bay/{number}/sign"): "technician",
    ("POST", "/api/uploads"): "technician",
    ("PATCH", "/api/uploads/{key}"): "technician",
    ("HEAD", "/api/uploads/{key}"): "reader",
    ("GET", "/api/uploads/{key}"): "reader",
    # people
    ("GET", "/people"): "manager",
    ("POST", "/people"): "manager",
}
STREAMS = {("GET", "/api/events")}  # its answer does not end; tried on a real server elsewhere


def walked(app: FastAPI) -> Iterator[tuple[str, str, str]]:
    """Each method and path of the app, with the role it asks for."""
    for route in app.routes:
        if isinstance(route, Mount):
            yield "GET", route.path, OPEN
            continue
        assert isinstance(route, APIRoute), f"a kind of route that this test does not know: {route!r}"
        for method in route.methods:
            yield method, route.path, asked(route.dependant)


def asked(dependant: Dependant) -> str:
    roles = [one.call.role for one in dependant.dependencies if isinstance(one.call, Need)]
    assert len(roles) <= 1
    return roles[0] if roles else OPEN


def test_every_route_asks_for_the_role_that_stands_here(app: FastAPI) -> None:
    found = {(method, path): role for method, path, role in walked(app)}
    assert {key: role for key, role in found.items() if ROUTES.get(key) != role} == {}
    assert ("POST", "/people") in found


def test_an_unlisted_route_is_seen(app: FastAPI) -> None:
    """The rule itself can fail: a route that nobody listed comes out of the walk."""

    def forgotten() -> dict[str, str]:
        return {}

    app.add_api_route("/forgotten", forgotten, methods=["POST"])
    assert ("POST", "/forgotten", OPEN) in set(walked(app))
    assert ("POST", "/forgotten") not in ROUTES


def filled(path: str) -> str:
    path = path.replace("{where}", "visits").replace("{page}", "bay")
    return (
        path.replace("{number}", "1")
        .replace("{unit}", "214")
        .replace("{key}", "none")
        .replace("{index}", "0")
    )


def closed(app: FastAPI) -> list[tuple[str, str, str]]:
    return sorted(one for one in set(walked(app)) if one[2] != OPEN)


def test_a_stranger_gets_nothing_but_the_way_to_sign_in(app: FastAPI, browser: Browser) -> None:
    stranger = browser()
    for method, path, _ in closed(app):
        answer = stranger.request(method, filled(path))
        assert answer.status_code == 401, (method, path)
        page = stranger.request(method, filled(path), headers={"accept": "text/html"})
        if path.startswith("/api/"):
            assert page.status_code == 401, (method, path)
        else:
            assert page.status_code == 303, (method, path)
            assert page.headers["location"].startswith("/sign-in?to=/")


@pytest.mark.parametrize("role", ROLES)
def test_each_role_may_do_what_it_may_and_no_more(app: FastAPI, browser: Browser, role: str) -> None:
    somebody = browser(role)
    for method, path, least in closed(app):
        if (method, path) in STREAMS:
            continue
        answer = somebody.request(method, filled(path))
        if ROLES.index(role) < ROLES.index(least):
            assert answer.status_code == 403, (method, path)
        else:
            assert answer.status_code not in (401, 403, 500), (method, path, answer.text)


def test_what_is_open_holds_no_users_data(app: FastAPI, browser: Browser) -> None:
    """The open pages say the same to a stranger as to the manager, whom they name nowhere."""
    stranger, manager = browser(), browser("manager")
    for method, path, role in sorted(set(walked(app))):
        if role != OPEN or method != "GET" or path in ("/static", "/sign-in"):
            continue
        seen, known = stranger.get(filled(path)), manager.get(filled(path))
        assert (seen.status_code, seen.content) == (known.status_code, known.content), path
        assert "Mia" not in known.text
