"""Live updates: a stream tells a browser which bay visit has changed; the visit is fetched elsewhere."""

from __future__ import annotations

import asyncio
import contextlib
import json
import threading
from collections.abc import AsyncIterator, Awaitable, Callable

PING_S = 15.0
AGAIN_MS = 3000
MOST_STREAMS = 64
MOST_OF_ONE = 6


class Events:
    """Who listens, and what each has not been told yet.

    Example:
        >>> Events().publish(7, 3)
    """

    def __init__(self, ping_s: float = PING_S) -> None:
        self._ping_s = ping_s
        self._guard = threading.Lock()
        self._listeners: set[_Listener] = set()
        self._closed = False

    def publish(self, number: int, version: int) -> None:
        """Tell everybody that a bay visit has changed; any thread may call this.

        Args:
            number: The bay visit.
            version: Its version now.
        """
        with self._guard:
            for listener in self._listeners:
                listener.tell(number, version)

    def close(self) -> None:
        """End every stream, so that a stop need not wait for them."""
        with self._guard:
            self._closed = True
            for listener in self._listeners:
                listener.wake()

    def room_for(self, who: str) -> bool:
        """Say whether one more stream of somebody can be held.

        Args:
            who: Whose stream it is.
        """
        with self._guard:
            of_one = sum(1 for listener in self._listeners if listener.who == who)
            return not self._closed and len(self._listeners) < MOST_STREAMS and of_one < MOST_OF_ONE

    async def stream(self, who: str, still: Callable[[], Awaitable[bool]]) -> AsyncIterator[bytes]:
        """Give the lines of a stream until it is closed or its session ends.

        Args:
            who: Whose stream it is.
            still: Says whether that session still holds; asked at each ping.
        """
        listener = _Listener(who)
        with self._guard:
            self._listeners.add(listener)
        try:
            yield f"retry: {AGAIN_MS}\n: hello\n\n".encode()
            while not self._closed:
                changed = await listener.wait(self._ping_s)
                if self._closed:
                    return
                for number, version in changed.items():
                    yield _line(number, version)
                if not changed:
                    if not await still():
                        return
                    yield b": ping\n\n"
        finally:
            with self._guard:
                self._listeners.discard(listener)


class _Listener:
    """One stream: the newest version of each visit it has not been told of."""

    def __init__(self, who: str) -> None:
        self.who = who
        self._loop = asyncio.get_running_loop()
        self._event = asyncio.Event()
        self._news: dict[int, int] = {}

    def tell(self, number: int, version: int) -> None:
        self._news[number] = max(version, self._news.get(number, version))
        self.wake()

    def wake(self) -> None:
        if not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._event.set)

    async def wait(self, at_most_s: float) -> dict[int, int]:
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._event.wait(), at_most_s)
        self._event.clear()
        told, self._news = self._news, {}
        return told


def _line(number: int, version: int) -> bytes:
    data = json.dumps({"number": number, "version": version}, separators=(",", ":"))
    return f"event: bay\ndata: {data}\n\n".encode()
