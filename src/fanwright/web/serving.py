"""Runs the server: its socket, its certificate and the renewal of it, and a stop that waits for no stream."""

from __future__ import annotations

import asyncio
import contextlib
import datetime as dt
import gc
import logging
import signal
import socket
import ssl
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import uvicorn

from fanwright.errors import FanwrightError, InputError
from fanwright.web.app import create_app
from fanwright.web.tls import Certificates, prepare
from fanwright.words import Message, text

if TYPE_CHECKING:
    from fanwright.records.store import Store
    from fanwright.web.settings import Settings

LOG = logging.getLogger("fanwright.web")
GRACE_S = 2
RENEWAL_EVERY_S = 6 * 3600.0
MOST_CONNECTIONS = 256
LONGEST_HEAD = 32 * 1024  # of a request [bytes]


def serve(settings: Settings, store: Store, ready: Callable[[Settings], None]) -> None:
    """Serve until the process is told to stop.

    Args:
        settings: How to; a port of 0 takes any that is free.
        store: The records, open; closed at the end.
        ready: Called once connections are taken, with the port that was found.

    Raises:
        InputError: The address cannot be listened at, or the certificates do not fit the names.
    """
    try:
        listening = _listen(settings.host, settings.port)
        settings = replace(settings, port=listening.getsockname()[1])
        if settings.tls is not None:
            prepare(settings.tls, settings.names, dt.datetime.now(dt.UTC))
        server = Server(settings, store)
        ready(settings)
    except BaseException:
        store.close()
        raise
    signal.signal(signal.SIGTERM, _leave)  # which uvicorn gives back, and raises again, once it has stopped
    try:
        with contextlib.suppress(KeyboardInterrupt):
            server.run([listening])
    finally:
        gc.freeze()  # leaving took 1.6 s without this and takes 0.4 s with it


def _leave(_number: int, _frame: object) -> None:
    raise SystemExit(0)


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # named as TCP, so that asyncio switches the delay of small packets off, which would cost 40 ms an answer
    listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((host, port))
        listening.listen(256)
        return listening
    except (OSError, OverflowError) as error:
        listening.close()
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(
            Message(
                "{host} port {port} cannot be listened at: {reason}; take another with --port",
                {"host": text(host), "port": text(port), "reason": text(reason)},
            )
        ) from error


class Server(uvicorn.Server):
    """The server, which ends its streams when it stops and renews its certificate while it runs.

    Args:
        settings: How to serve.
        store: The records, open.
    """

    def __init__(self, settings: Settings, store: Store) -> None:
        self._settings = settings
        self._app = create_app(settings, store)
        super().__init__(
            uvicorn.Config(
                self._app,
                loop="asyncio",
                http="h11",
                ws="none",
                lifespan="on",
                log_config=None,
                access_log=False,
                proxy_headers=False,
                server_header=False,
                limit_concurrency=MOST_CONNECTIONS,
                timeout_keep_alive=20,
                timeout_graceful_shutdown=GRACE_S,
                h11_max_incomplete_event_size=LONGEST_HEAD,
                ssl_context_factory=None if settings.tls is None else self._context,
            )
        )

    def _context(self, _config: object, _default: object) -> ssl.SSLContext:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        self._take_certificate(context)
        return context

    def _take_certificate(self, context: ssl.SSLContext) -> None:
        assert self._settings.tls is not None
        at = Certificates(self._settings.tls)
        context.load_cert_chain(at.leaf, at.leaf_key)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, and look after the certificate from now on."""
        await super().startup(sockets)
        if self._settings.tls is not None:
            self._renewing = asyncio.create_task(self._renew())

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, which would else hold up the stop, then stop."""
        self._app.state.events.close()
        await super().shutdown(sockets)

    async def _renew(self) -> None:
        while True:
            await asyncio.sleep(RENEWAL_EVERY_S)
            await asyncio.to_thread(self.renew, dt.datetime.now(dt.UTC))

    def renew(self, now: dt.datetime) -> None:
        """Renew the certificate if it is time; connections made from then on get the new one.

        Args:
            now: The time now.
        """
        assert self._settings.tls is not None
        try:
            if prepare(self._settings.tls, self._settings.names, now) and self.config.ssl is not None:
                self._take_certificate(self.config.ssl)
                LOG.warning("the server's certificate was renewed")
        except (FanwrightError, OSError):
            LOG.exception("the server's certificate could not be renewed; it is tried again")
