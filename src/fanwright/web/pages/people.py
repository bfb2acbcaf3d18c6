"""Who may come in: the manager's page. Every change here asks for the manager's own password."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends, Form, Request
from starlette.responses import RedirectResponse, Response

from fanwright.errors import InputError
from fanwright.report.say import say_all
from fanwright.web.look import look_of
from fanwright.web.session import Who, need
from fanwright.web.shown import page
from fanwright.words import Message

if TYPE_CHECKING:
    from fanwright.records.store import Store

router = APIRouter()
Text = Annotated[str, Form(max_length=1000)]
Manager = Annotated[Who, Depends(need("manager"))]


@router.get("/people")
def show(request: Request, who: Manager) -> Response:
    """Show everybody, the sessions that hold and the devices."""
    return _shown(request, who)


@router.post("/people")
def change(
    request: Request, who: Manager, act: Text, name: Text = "", role: Text = "", secret: Text = "",
    own_password: Text = "",
) -> Response:  # fmt: skip
    """Add somebody, give a role, password or PIN, shut out, let in again, end sessions, shut a device out."""
    from fanwright.desk import people

    store = request.app.state.store
    right = request.app.state.tries.run(
        request, who.name, lambda: people.check_password(store, who.name, own_password)
    )
    try:
        if not right:
            raise InputError(Message("your own password is wrong; nothing was changed"))
        _act(act)(store, name, role, secret, who.name)
    except InputError as error:
        return _shown(request, who, say_all(error.messages, look_of(request).reader), 422)
    return RedirectResponse("/people", 303)


def _act(act: str) -> Callable[[Store, str, str, str, str], object]:
    """Give what an act of the form does; arguments are store, name, role, secret, by."""
    from fanwright.desk import people

    acts: dict[str, Callable[[Store, str, str, str, str], object]] = {
        "add": lambda store, name, role, secret, by: people.add_person(store, name, role, secret, by=by),
        "role": lambda store, name, role, _, by: people.set_role(store, name, role, by=by),
        "password": lambda store, name, _, secret, by: people.set_password(store, name, secret, by=by),
        "pin": lambda store, name, _, secret, by: people.set_pin(store, name, secret or None, by=by),
        "disable": lambda store, name, _role, _secret, by: people.disable(store, name, by=by),
        "enable": lambda store, name, _role, _secret, by: people.enable(store, name, by=by),
        "withdraw": lambda store, name, _role, _secret, _by: people.withdraw_all(store, name),
        "device": lambda store, name, _role, _secret, _by: people.withdraw_device(store, _number(name)),
    }
    if act not in acts:
        raise InputError(Message("this form does not know what to do; open the page again"))
    return acts[act]


def _number(typed: str) -> int:
    if not (typed.isascii() and typed.isdecimal() and len(typed) < 10):
        raise InputError(Message("a device goes by its number in the list"))
    return int(typed)


def _shown(request: Request, who: Who, messages: list[str] | None = None, status: int = 200) -> Response:
    from fanwright.desk import people

    store = request.app.state.store
    return page(
        request,
        "people.html",
        status=status,
        who=who,
        messages=messages or [],
        roles=people.ROLES,
        people=people.list_people(store),
        sessions=people.list_sessions(store),
        devices=[device for device in people.list_devices(store) if not device.withdrawn_utc],
    )
