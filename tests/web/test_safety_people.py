"""Who comes in, how, and how that ends: passwords, PINs, sessions, devices, and the manager's page."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest
from fastapi import FastAPI

from fanwright.desk import passwords, people
from fanwright.web.app import create_app
from fanwright.web.settings import Settings
from fanwright.web.tries import Tries

Browser = Callable[..., httpx.Client]
PASSWORD = "correct horse battery"


def enter(client: httpx.Client, name: str, password: str = PASSWORD) -> httpx.Response:
    return client.post("/sign-in", data={"name": name, "password": password})


def by_pin(client: httpx.Client, name: str, pin: str) -> httpx.Response:
    return client.post("/pin", data={"name": name, "pin": pin})


def me(client: httpx.Client) -> int:
    return client.get("/api/me").status_code


def thief_of(client: httpx.Client, browser: Browser) -> httpx.Client:
    """Another browser that came by somebody's cookies."""
    thief = browser()
    thief.cookies.update(client.cookies)
    assert me(thief) == 200
    return thief


def test_the_cookies_are_out_of_reach_of_scripts_and_other_sites(browser: Browser) -> None:
    answer = enter(browser(), "Ana")
    cookies = answer.headers.get_list("set-cookie")
    assert {cookie.partition("=")[0] for cookie in cookies} == {
        "fanwright-session", "fanwright-author", "fanwright-device",
    }  # fmt: skip
    for cookie in cookies:
        assert "HttpOnly" in cookie
        assert "SameSite=lax" in cookie
        assert "Path=/" in cookie


def test_me_tells_who_and_gives_what_vouches_for_entries(app: FastAPI, browser: Browser) -> None:
    client = browser("technician")
    said = client.get("/api/me").json()
    assert (said["name"], said["role"], said["demo"], said["release"]) == (
        "Ana",
        "technician",
        False,
        "test-1",
    )
    assert people.vouches(app.state.store, said["author_token"], "Ana", said["device"])
    assert not people.vouches(app.state.store, said["author_token"], "Rae", said["device"])


def test_a_wrong_name_and_a_wrong_password_are_told_alike(browser: Browser) -> None:
    client = browser()
    wrong = enter(client, "Ana", "not the password")
    nobody = enter(client, "Nob", "not the password")
    assert wrong.status_code == nobody.status_code == 403
    assert wrong.text.replace("Ana", "Nob") == nobody.text
    assert me(client) == 401


@pytest.mark.parametrize(
    "name",
    ["Ana\r\nset-cookie: a=b", "<script>alert(1)</script>", "x" * 900, "Ana\x00", "", "\u202eanA", "'--"],
)
def test_hostile_names_are_only_wrong_names(browser: Browser, name: str) -> None:
    answer = enter(browser(), name)
    assert answer.status_code == 403
    assert "<script>alert" not in answer.text
    assert not answer.cookies


def test_a_planted_session_is_not_taken_over(browser: Browser) -> None:
    client = browser()
    client.cookies.set("fanwright-session", "planted", domain="127.0.0.1", path="/")
    assert enter(client, "Ana").status_code == 303
    held = [cookie.value for cookie in client.cookies.jar if cookie.name == "fanwright-session"]
    assert "planted" not in held


def test_signing_in_again_ends_the_session_before(browser: Browser) -> None:
    client = browser("technician")
    before = thief_of(client, browser)
    assert enter(client, "Rae").status_code == 303
    assert (me(client), me(before)) == (200, 401)


def test_signing_out_ends_a_stolen_cookie_too(browser: Browser) -> None:
    client = browser("technician")
    thief = thief_of(client, browser)
    answer = client.post("/sign-out")
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
    assert answer.headers["clear-site-data"] == '"cache"'
    assert (me(client), me(thief)) == (401, 401)


def test_signing_out_everywhere_ends_every_device(browser: Browser) -> None:
    here, there, other = browser("technician"), browser("technician"), browser("foreman")
    here.post("/sign-out", data={"everywhere": "1"})
    assert (me(here), me(there), me(other)) == (401, 401, 200)


ENDINGS: dict[str, Callable[[object], object]] = {
    "withdrawn": lambda store: people.withdraw_all(store, "Ana"),  # type: ignore[arg-type]
    "shut out": lambda store: people.disable(store, "Ana"),  # type: ignore[arg-type]
    "new password": lambda store: people.set_password(store, "Ana", "other horse battery"),  # type: ignore[arg-type]
    "device lost": lambda store: people.withdraw_device(store, 1),  # type: ignore[arg-type]
}


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_session_that_was_ended_is_worth_nothing(app: FastAPI, browser: Browser, ending: str) -> None:
    client = browser("technician")
    thief = thief_of(client, browser)
    ENDINGS[ending](app.state.store)
    assert (me(client), me(thief)) == (401, 401)


def test_another_role_counts_at_once(app: FastAPI, browser: Browser) -> None:
    client = browser("manager")
    people.set_role(app.state.store, "Rae", "manager")
    people.set_role(app.state.store, "Mia", "reader")
    assert client.get("/people").status_code == 403


def test_a_pin_counts_only_where_somebody_signed_in_by_password(browser: Browser) -> None:
    stranger = browser()
    refused = by_pin(stranger, "Ana", "2580")
    assert refused.status_code == 403
    assert me(stranger) == 401
    tablet = browser("foreman")
    assert by_pin(tablet, "Ana", "2580").status_code == 303
    assert tablet.get("/api/me").json()["name"] == "Ana"


def test_a_made_up_device_is_not_enrolled(browser: Browser) -> None:
    client = browser()
    client.cookies.set("fanwright-device", "made-up")
    assert by_pin(client, "Ana", "2580").status_code == 403


def test_after_five_wrong_pins_the_right_one_is_refused(app: FastAPI, browser: Browser) -> None:
    tablet = browser("foreman")
    assert [by_pin(tablet, "Ana", "0000").status_code for _ in range(5)] == [403] * 5
    assert by_pin(tablet, "Ana", "2580").status_code == 429
    app.state.tries = Tries()  # as after a restart of the server, or a long wait
    assert by_pin(tablet, "Ana", "2580").status_code == 403
    assert tablet.get("/api/me").json()["name"] == "Rae"
    assert enter(tablet, "Ana").status_code == 303
    assert by_pin(tablet, "Rae", "2580").status_code == 303
    assert by_pin(tablet, "Ana", "2580").status_code == 303, "a full sign-in wakes the PIN"


def test_passwords_cannot_be_tried_fast(browser: Browser) -> None:
    client = browser()
    answers = [enter(client, "Ana", f"guess number {number}") for number in range(6)]
    assert [answer.status_code for answer in answers] == [403] * 5 + [429]
    assert answers[-1].headers["retry-after"] == "30"
    assert enter(client, "ANA ", PASSWORD).status_code == 429, "however the name is written"
    assert enter(client, "Rae").status_code == 303, "others still come in"


def test_one_address_cannot_try_every_name(browser: Browser) -> None:
    client = browser()
    answers = [enter(client, f"Name {number}", "guess").status_code for number in range(21)]
    assert answers == [403] * 20 + [429]


def test_right_passwords_cost_no_tries(browser: Browser) -> None:
    client = browser()
    assert [enter(client, "Ana").status_code for _ in range(8)] == [303] * 8


def test_a_flood_of_sign_ins_checks_two_at_once(
    app: FastAPI, browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each check takes 64 MiB; the others wait, and those too many are told to come again."""
    working, most, guard = 0, 0, threading.Lock()

    class Slow:
        def verify(self, _kept: str, _secret: str) -> bool:
            nonlocal working, most
            with guard:
                working += 1
                most = max(most, working)
            time.sleep(0.1)
            with guard:
                working -= 1
            return True

    monkeypatch.setattr(passwords, "_hasher", Slow)
    with ThreadPoolExecutor(12) as threads:
        answers = list(threads.map(lambda at: enter(browser(), f"Name {at}").status_code, range(12)))
    assert most == 2
    assert set(answers) == {403, 503}


def test_the_demo_is_open_and_has_no_passwords(settings: Settings, browser: Browser) -> None:
    demo = create_app(Settings(**{**vars(settings), "demo": True}))
    client = browser(on=demo)
    said = client.get("/api/me").json()
    assert (said["role"], said["demo"], said["author_token"]) == ("foreman", True, "")
    assert client.get("/sign-in").headers["location"] == "/bay"
    assert enter(client, "Mia").headers["location"] == "/bay"
    assert client.get("/people").status_code == 403, "nobody becomes manager by sitting down"
    demo.state.store.close()


def act(client: httpx.Client, act: str, own: str = PASSWORD, **fields: str) -> httpx.Response:
    return client.post("/people", data={"act": act, "own_password": own, **fields})


def test_the_manager_looks_after_people(app: FastAPI, browser: Browser) -> None:
    manager = browser("manager")
    assert act(manager, "add", name="Leo", role="reader", secret="several words here").status_code == 303
    assert act(manager, "role", name="Leo", role="technician").status_code == 303
    assert act(manager, "pin", name="Leo", secret="8350").status_code == 303
    assert act(manager, "password", name="Leo", secret="other words here").status_code == 303
    leo = browser()
    assert enter(leo, "Leo", "other words here").status_code == 303
    assert act(manager, "withdraw", name="Leo").status_code == 303
    assert me(leo) == 401
    assert act(manager, "disable", name="Leo").status_code == 303
    assert enter(leo, "Leo", "other words here").status_code == 403
    assert act(manager, "enable", name="Leo").status_code == 303
    assert enter(leo, "Leo", "other words here").status_code == 303
    page = manager.get("/people").text
    assert "Leo" in page
    assert "other words" not in page


def test_changes_of_people_ask_for_the_managers_own_password(app: FastAPI, browser: Browser) -> None:
    """Whoever finds a tablet lying there, or came in by PIN, adds nobody."""
    manager = browser("manager")
    refused = act(manager, "add", "not mine", name="Eve", role="manager", secret="several words here")
    assert refused.status_code == 422
    assert "your own password is wrong" in refused.text
    assert [one.name for one in people.list_people(app.state.store)] == ["Ana", "Mia", "Rae", "Ren"]


@pytest.mark.parametrize(
    ("what", "fields", "said"),
    [
        ("add", {"name": "Eve\r\nx", "role": "reader", "secret": "several words here"}, "cannot be a name"),
        ("add", {"name": "Eve", "role": "king", "secret": "short"}, "is not a role"),
        ("role", {"name": "Nob", "role": "reader"}, "there is nobody of the name"),
        ("role", {"name": "Mia", "role": "reader"}, "is the only manager"),
        ("pin", {"name": "Ana", "secret": "1234"}, "too easy to guess"),
        ("device", {"name": "1 or 1=1"}, "goes by its number"),
        ("nonsense", {"name": "Ana"}, "does not know what to do"),
    ],
)
def test_what_cannot_be_done_to_people_is_told(
    browser: Browser, what: str, fields: dict[str, str], said: str
) -> None:
    answer = act(browser("manager"), what, **fields)
    assert answer.status_code == 422
    assert said in answer.text


def test_what_a_browser_calls_itself_is_only_text(app: FastAPI, browser: Browser) -> None:
    client = browser()
    client.headers["user-agent"] = "<script>alert(1)</script>"
    enter(client, "Ana")
    page = browser("manager").get("/people").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def begun(client: httpx.Client) -> int:
    sent = {
        "key": "6a1f6d0e-7e55-4a53-9a49-0a4a3f0d5b11", "unit": "214", "kind": "complaint",
        "preset": "line-haul spring-on",
    }  # fmt: skip
    answer = client.post("/api/bay", json=sent)
    assert answer.status_code == 201, answer.text
    return int(answer.json()["number"])


def test_signing_asks_for_the_password_whoever_came_in_how(browser: Browser) -> None:
    """A tablet left lying, or a change of hands by PIN, signs nothing, and guesses no password."""
    tablet = browser("foreman")
    number = begun(tablet)
    assert by_pin(tablet, "Ana", "2580").status_code == 303
    for sent in ({}, {"password": ""}, {"password": "2580"}, {"password": 1}, {"password": PASSWORD + " "}):
        answer = tablet.post(f"/api/bay/{number}/sign", json=sent)
        assert answer.status_code == 422, answer.text
        assert "password" in answer.json()["messages"][0]
    assert tablet.post(f"/api/bay/{number}/sign", json={"password": PASSWORD}).status_code == 429
    assert tablet.get(f"/api/bay/{number}").json()["state"] == "open"
