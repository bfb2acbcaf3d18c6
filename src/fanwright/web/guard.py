"""The door: who may knock, from which page, with how much; and what every answer says about itself.

Pure ASGI and outermost of all, so that an error's answer passes here too.

- A Host header that is not ours is refused, on loopback too: a page elsewhere can point its own name here.
- A request that changes something must come from a page of ours: the browser's Sec-Fetch-Site or Origin says
  so. Neither header, or one of them from elsewhere, is refused. Another site's page gets nothing served into
  it either.
- A body has a limit, counted as it arrives.
"""

from __future__ import annotations

import json
import logging
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from fanwright.errors import InputError
from fanwright.web.rates import Rates
from fanwright.words import Message as Sentence

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from fanwright.web.settings import Settings

LOG = logging.getLogger("fanwright.web")
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
MOST_BODY = 64 * 1024  # of an entry or a form [bytes]
MOST_PIECE = 1024 * 1024 + 4096  # of a piece of an upload [bytes]
LONGEST_ADDRESS = 2048  # [bytes]
HEADERS = (
    (
        "content-security-policy",
        "default-src 'self'; img-src 'self' blob: data:; media-src 'self' blob:; object-src 'none';"
        " base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("cross-origin-resource-policy", "same-origin"),
)
"""Of every answer. No Strict-Transport-Security: a browser from which the shop's authority was removed could
never open this name again."""
PAGE_HEADERS = (
    ("x-frame-options", "DENY"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("permissions-policy", "camera=(self), microphone=(self), geolocation=(), payment=(), usb=()"),
)
"""Of every page besides."""
_ENCODED = tuple((name.encode(), value.encode()) for name, value in HEADERS)
_ENCODED_PAGE = tuple((name.encode(), value.encode()) for name, value in HEADERS + PAGE_HEADERS)
_SET_BY_US = frozenset(name for name, _ in _ENCODED_PAGE) | {b"server"}
_PIECE = re.compile(r"/api/uploads/[^/]+")


class Guard:
    """Wraps the app; see the top of this file.

    Args:
        app: What is guarded.
        settings: How the server was started.
    """

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self._app = app
        self._hosts = frozenset(settings.hosts)
        self._origins = frozenset(settings.origins)
        self._rates = Rates(burst=300, back_s=0.05)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        answer = _Answer(send)
        refused = self._refuse(scope)
        if refused is not None:
            await answer.refuse(*refused)
            return
        body = _Body(receive, _most(scope), answer)
        try:
            await self._app(scope, body.receive, answer.send)
        except Exception:
            if answer.too_much:
                await answer.refuse(413, TOO_MUCH)
                return
            LOG.exception("%s %r failed", scope["method"], scope["path"])
            await answer.refuse(500, OUR_FAULT)

    def _refuse(self, scope: Scope) -> tuple[int, str] | None:
        """Say why a request is not let in: a status and a sentence, or None."""
        headers = _Headers(scope["headers"])
        host = headers.only("host")
        if host is None or host.lower() not in self._hosts:
            return 421, "this machine does not go by that name"
        if len(scope["raw_path"]) + len(scope["query_string"]) > LONGEST_ADDRESS:
            return 414, "this address is too long"
        site = headers.only("sec-fetch-site")
        if scope["method"] in SAFE:
            return self._refuse_look(headers, site)
        return self._refuse_change(scope, headers, site)

    def _refuse_change(self, scope: Scope, headers: _Headers, site: str | None) -> tuple[int, str] | None:
        origin = headers.only("origin")
        if not self._from_here(headers, site, origin):
            return 403, "only pages of this machine may change something here: open it by its own address"
        length = headers.only("content-length")
        if length is not None and (not length.isdigit() or int(length) > _most(scope)):
            return 413, TOO_MUCH
        client = scope.get("client") or ("", 0)
        if not self._rates.take(str(client[0])):
            return 429, "too much at once from this device: wait a few seconds"
        return None

    def _refuse_look(self, headers: _Headers, site: str | None) -> tuple[int, str] | None:
        """Another site may lead a person here by a link, but may not use what is here in its own page."""
        if site in (None, "same-origin", "none") or headers.only("sec-fetch-mode") == "navigate":
            if headers.only("sec-fetch-dest") in ("iframe", "frame", "embed", "object"):
                return 403, "these pages are not shown inside others"
            return None
        return 403, "another site may not use what is here"

    def _from_here(self, headers: _Headers, site: str | None, origin: str | None) -> bool:
        if headers.count("origin") > 1 or headers.count("sec-fetch-site") > 1:
            return False
        if site is not None and site != "same-origin":
            return False
        if origin is not None and origin not in self._origins:
            return False
        return site is not None or origin is not None


TOO_MUCH = "this is more than is taken at once"
OUR_FAULT = "this failed by a fault of our own; nothing was changed, and the details are in the server's log"


class _Headers:
    """The headers of a request; one that comes twice is not trusted."""

    def __init__(self, raw: Iterable[tuple[bytes, bytes]]) -> None:
        self._all: dict[str, list[str]] = {}
        for name, value in raw:
            self._all.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))

    def only(self, name: str) -> str | None:
        values = self._all.get(name, [])
        return values[0].strip() if len(values) == 1 else None

    def count(self, name: str) -> int:
        return len(self._all.get(name, []))


def _most(scope: Scope) -> int:
    piece = scope["method"] == "PATCH" and _PIECE.fullmatch(scope["path"])
    return MOST_PIECE if piece else MOST_BODY


class _Body:
    """Counts what arrives."""

    def __init__(self, receive: Receive, most: int, answer: _Answer) -> None:
        self._receive, self._left, self._answer = receive, most, answer

    async def receive(self) -> Message:
        message = await self._receive()
        if message["type"] == "http.request":
            self._left -= len(message.get("body", b""))
            if self._left < 0:
                self._answer.too_much = True
                raise InputError(Sentence(TOO_MUCH))
        return message


class _Answer:
    """Sends an answer with the headers every answer has."""

    def __init__(self, send: Send) -> None:
        self._send = send
        self._started = self._done = False
        self.too_much = False

    async def send(self, message: Message) -> None:
        if self.too_much and not self._started:  # whatever the app made of the broken-off body
            await self.refuse(413, TOO_MUCH)
        if self._done:
            return
        if message["type"] == "http.response.start":
            self._started = True
            message = {**message, "headers": _dressed(message.get("headers", []))}
        await self._send(message)

    async def refuse(self, status: int, sentence: str) -> None:
        """Answer with one sentence; once something was sent the answer can only be broken off."""
        if self._started:
            self._done = True
            return
        self._started = self._done = True
        body = json.dumps({"code": "refused", "messages": [sentence]}).encode()
        headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
        if status in (413, 421):
            headers.append((b"connection", b"close"))
        if status in (429, 503):
            headers.append((b"retry-after", b"5"))
        await self._send({"type": "http.response.start", "status": status, "headers": _dressed(headers)})
        await self._send({"type": "http.response.body", "body": body})


def _dressed(headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    kept = [(name, value) for name, value in headers if name.lower() not in _SET_BY_US]
    told = {name.lower(): value for name, value in kept}
    if b"cache-control" not in told:
        kept.append((b"cache-control", b"private, no-cache" if b"etag" in told else b"no-store"))
    html = told.get(b"content-type", b"").startswith(b"text/html")
    return [*kept, *(_ENCODED_PAGE if html else _ENCODED)]
