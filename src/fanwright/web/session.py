"""Who is asking: the session behind the cookie, and what role a route needs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import HTTPException, Request
from starlette.responses import Response

from fanwright.desk.people import ROLES, who_is

if TYPE_CHECKING:
    from fanwright.desk.people import SignedIn

DEMO_NAME = "Rae"
DEMO_ROLE = "foreman"
DEVICE_S = 400 * 86_400  # the longest a browser keeps a cookie


@dataclass(frozen=True)
class Who:
    """Somebody signed in.

    Args:
        name: Their name.
        role: What they may do: one of ``ROLES``.
        token_id: Which session of theirs; empty in the demo.
        demo: Whether this is the demo, where everybody is its foreman.
        device: The public name of the device they work on.
        how: How they came in: ``password``, ``pin`` or ``demo``.
    """

    name: str
    role: str
    token_id: str
    demo: bool
    device: str = ""
    how: str = ""


DEMO = Who(DEMO_NAME, DEMO_ROLE, "", demo=True, device="demo", how="demo")


@dataclass(frozen=True)
class Need:
    """Asks that somebody signed in has at least a role; the table of routes in the tests reads it.

    Args:
        role: The least role.
    """

    role: str

    def __call__(self, request: Request) -> Who:
        """Give who asks.

        Args:
            request: What the browser sent.

        Raises:
            HTTPException: Nobody is signed in (401), or the role does not suffice (403).
        """
        who = current(request)
        if not may(who, self.role):
            raise HTTPException(403, f"this needs the role {self.role}; {who.name} is {who.role}")
        return who


def need(role: str) -> Need:
    """Ask for a role, for a route: ``who: Annotated[Who, Depends(need("technician"))]``.

    Args:
        role: The least role.

    Example:
        >>> need("foreman").role
        'foreman'
    """
    if role not in ROLES:
        raise ValueError(role)
    return Need(role)


def may(who: Who, role: str) -> bool:
    """Say whether somebody has at least a role.

    Example:
        >>> may(DEMO, "technician"), may(DEMO, "manager")
        (True, False)
    """
    return who.role in ROLES and ROLES.index(who.role) >= ROLES.index(role)


def current(request: Request) -> Who:
    """Say who is asking.

    Args:
        request: What the browser sent.

    Returns:
        Who it is; in the demo everybody is its foreman.

    Raises:
        HTTPException: Nobody is signed in (401).
    """
    found = known(request)
    if found is None:
        raise HTTPException(401, "sign in first")
    return found


def known(request: Request) -> Who | None:
    """Say who is asking, or None when nobody is signed in."""
    if request.app.state.settings.demo:
        return DEMO
    token = session_token(request)
    if not token:
        return None
    found = who_is(request.app.state.store, token)
    if found is None:
        return None
    return Who(found.name, found.role, found.token_id, demo=False, device=found.device, how=found.how)


def session_token(request: Request) -> str:
    """Give the token of the session's cookie, or an empty text."""
    return request.cookies.get(_name(request, "session"), "")


def author_token(request: Request) -> str:
    """Give the token that vouches for entries of this session, or an empty text."""
    return request.cookies.get(_name(request, "author"), "")


def device_token(request: Request) -> str | None:
    """Give the token of a device that a full sign-in enrolled, or None."""
    return request.cookies.get(_name(request, "device")) or None


def sign_in_cookies(request: Request, response: Response, came: SignedIn) -> None:
    """Hand a browser its session, what vouches for its entries, and its own token as a device.

    Args:
        request: What the browser sent.
        response: What it is answered.
        came: What the sign-in gave.
    """
    _set(request, response, "session", came.token, None)
    _set(request, response, "author", came.author_token, None)
    if came.device_token is not None:
        _set(request, response, "device", came.device_token, DEVICE_S)


def sign_out_cookies(request: Request, response: Response) -> None:
    """Take the session from a browser; what it kept of the pages goes too, unsent entries stay.

    Args:
        request: What the browser sent.
        response: What it is answered.
    """
    for what in ("session", "author"):
        response.delete_cookie(
            _name(request, what), path="/", secure=_secure(request), httponly=True, samesite="lax"
        )
    response.headers["clear-site-data"] = '"cache"'


def _secure(request: Request) -> bool:
    return request.app.state.settings.tls is not None


def _name(request: Request, what: str) -> str:
    """``__Host-`` keeps other names from setting it; plain http, which is loopback only, cannot have that."""
    return f"__Host-fanwright-{what}" if _secure(request) else f"fanwright-{what}"


def _set(request: Request, response: Response, what: str, value: str, seconds: int | None) -> None:
    response.set_cookie(
        _name(request, what),
        value,
        max_age=seconds,
        path="/",
        secure=_secure(request),
        httponly=True,
        samesite="lax",
    )
