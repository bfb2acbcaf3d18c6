"""How often somebody may try: a bucket of tries each, refilled steadily."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

MOST_BUCKETS = 10_000


class Rates:
    """A bucket of tries for each name, refilled steadily; the emptiest are remembered longest.

    Args:
        burst: How many tries may come at once.
        back_s: How long it takes until one comes back [s].
        clock: Where the time comes from [s].

    Example:
        >>> now = [0.0]
        >>> rates = Rates(2, 2.0, clock=lambda: now[0])
        >>> rates.take("Ana"), rates.take("Ana"), rates.take("Ana"), rates.take("Rae")
        (True, True, False, True)
        >>> now[0] = 2.0
        >>> rates.take("Ana"), rates.take("Ana")
        (True, False)
    """

    def __init__(self, burst: int, back_s: float, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._burst, self._back_s, self._clock = float(burst), back_s, clock
        self._guard = threading.Lock()
        self._buckets: dict[str, tuple[float, float]] = {}

    def take(self, name: str) -> bool:
        """Take one try, if there is one.

        Args:
            name: Whose.

        Returns:
            Whether it may be tried.
        """
        with self._guard:
            now = self._clock()
            left = self._left(name, now)
            taken = left >= 1.0
            self._buckets[name] = (left - 1.0 if taken else left, now)
            if len(self._buckets) > MOST_BUCKETS:
                self._forget_full(now)
            return taken

    def give_back(self, name: str) -> None:
        """Undo one try: it was a right one.

        Args:
            name: Whose.
        """
        with self._guard:
            now = self._clock()
            self._buckets[name] = (min(self._burst, self._left(name, now) + 1.0), now)

    def _left(self, name: str, now: float) -> float:
        left, since = self._buckets.get(name, (self._burst, now))
        return min(self._burst, left + (now - since) / self._back_s)

    def _forget_full(self, now: float) -> None:
        """Drop buckets that say nothing any more, and if all say something the fuller half."""
        levels = {name: self._left(name, now) for name in self._buckets}
        for name, level in levels.items():
            if level >= self._burst:
                del self._buckets[name]
        if len(self._buckets) > MOST_BUCKETS:
            fuller = sorted(self._buckets, key=levels.__getitem__, reverse=True)[: MOST_BUCKETS // 2]
            for name in fuller:
                del self._buckets[name]


class Queue:
    """Lets few wait for something dear (a password's hash), so that a flood cannot fill every thread.

    Args:
        most: How many may be inside or waiting.
    """

    def __init__(self, most: int) -> None:
        self._places = threading.BoundedSemaphore(most)

    @contextmanager
    def place(self) -> Iterator[bool]:
        """Take a place for a while.

        Yields:
            Whether there was one.
        """
        got = self._places.acquire(blocking=False)
        try:
            yield got
        finally:
            if got:
                self._places.release()
