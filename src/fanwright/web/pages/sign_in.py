"""Come in by password, change hands by PIN, go out."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Form, HTTPException, Request
from starlette.responses import RedirectResponse, Response

from fanwright.errors import FileError, InputError
from fanwright.report.say import say_all
from fanwright.web.look import look_of
from fanwright.web.names import way_back
from fanwright.web.session import device_token, session_token, sign_in_cookies, sign_out_cookies
from fanwright.web.shown import page

if TYPE_CHECKING:
    from fanwright.desk.people import SignedIn

router = APIRouter()
Text = Annotated[str, Form(max_length=1000)]
LOGGED_AGENT = 120  # of what a browser calls itself [characters]


@router.get("/sign-in")
def ask(request: Request, to: str = "/bay") -> Response:
    """Show the form; in the demo there is none."""
    if request.app.state.settings.demo:
        return RedirectResponse(way_back(to), 303)
    return _form(request, to)


@router.post("/sign-in")
def enter(request: Request, name: Text = "", password: Text = "", to: Text = "/bay") -> Response:
    """Sign in by password; this browser is a known device from then on."""
    from fanwright.desk import people

    store, agent = request.app.state.store, request.headers.get("user-agent", "")[:LOGGED_AGENT]
    return _try(
        request, name, to, lambda: people.sign_in(store, name, password, device_token(request), agent)
    )


@router.post("/pin")
def change(request: Request, name: Text = "", pin: Text = "", to: Text = "/bay") -> Response:
    """Change who is signed in, on a device where somebody signed in by password once."""
    from fanwright.desk import people

    store = request.app.state.store
    return _try(request, name, to, lambda: people.sign_in_by_pin(store, name, pin, device_token(request)))


@router.post("/sign-out")
def leave(request: Request, everywhere: Text = "") -> Response:
    """Sign out here, or on every device."""
    from fanwright.desk import people

    store, token = request.app.state.store, session_token(request)
    who = people.who_is(store, token) if token else None
    if who is not None and everywhere:
        people.withdraw_all(store, who.name)
    people.sign_out(store, token)
    answer = RedirectResponse("/sign-in", 303)
    sign_out_cookies(request, answer)
    return answer


def _try(request: Request, name: str, to: str, check: Callable[[], SignedIn]) -> Response:
    if request.app.state.settings.demo:
        return RedirectResponse(way_back(to), 303)
    try:
        came = request.app.state.tries.run(request, name, check)
    except FileError:
        raise
    except InputError as error:
        return _form(request, to, name, say_all(error.messages, look_of(request).reader), 403)
    except HTTPException as error:
        answer = _form(request, to, name, [str(error.detail)], error.status_code)
        answer.headers.update(error.headers or {})
        return answer
    _end_the_session_before(request)
    answer = RedirectResponse(way_back(to), 303)
    sign_in_cookies(request, answer, came)
    return answer


def _end_the_session_before(request: Request) -> None:
    from fanwright.desk import people

    before = session_token(request)
    if before:
        people.sign_out(request.app.state.store, before)


def _form(
    request: Request, to: str, name: str = "", messages: list[str] | None = None, status: int = 200
) -> Response:
    from fanwright.desk import people

    return page(
        request,
        "sign_in.html",
        status=status,
        to=way_back(to),
        name=name[:80],
        messages=messages or [],
        enrolled=device_token(request) is not None,
        nobody=not people.any_people(request.app.state.store),
    )
