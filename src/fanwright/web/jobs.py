"""Work for child processes, one at a time: papers somebody waits for go before uploads that can wait."""

from __future__ import annotations

import itertools
import logging
import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import TYPE_CHECKING, Any

from fanwright.errors import InputError
from fanwright.evidence.from_json import message_data
from fanwright.web import child

if TYPE_CHECKING:
    from fastapi import FastAPI

    from fanwright.desk.uploads import About

LOG = logging.getLogger("fanwright.web")
SOON, LATER = 0, 1
MOST_WAITING = 100
_GUARD = threading.Lock()


class Jobs:
    """The queue, and the one thread that starts children.

    Args:
        app: The server, for its records, shop and events.
    """

    def __init__(self, app: FastAPI) -> None:
        self._app = app
        self._numbers = itertools.count()
        self._queue: queue.PriorityQueue[tuple[int, int, Callable[[], None]]] = queue.PriorityQueue()
        self._known: set[str] = set()
        self._guard = threading.Lock()
        self.limits = child.Limits()
        threading.Thread(target=self._work, name="fanwright-jobs", daemon=True).start()

    def _work(self) -> None:
        while True:
            _, _, work = self._queue.get()
            try:
                work()
            except Exception:  # one job that fails must not end the thread
                LOG.exception("a job failed")

    def run(self, work: Callable[[], Any], wait_s: float = 240.0) -> Any:
        """Do something that starts a child, before what can wait, and give what it gave.

        Args:
            work: What to do.
            wait_s: How long to wait for its turn and its end [s].

        Returns:
            What ``work`` gave; what it raised is raised.
        """
        done: Future[Any] = Future()

        def one() -> None:
            if done.set_running_or_notify_cancel():
                try:
                    done.set_result(work())
                except BaseException as error:
                    done.set_exception(error)

        self._queue.put((SOON, next(self._numbers), one))
        try:
            return done.result(wait_s)
        finally:
            done.cancel()

    def check(self, about: About) -> None:
        """Let an upload that has arrived whole be checked; asked twice it is done once."""
        with self._guard:
            if about.key in self._known:
                return
            self._known.add(about.key)
        self._queue.put((LATER, next(self._numbers), lambda: self._check(about)))

    def _check(self, about: About) -> None:
        from fanwright.desk import uploads
        from fanwright.desk.bay_written import written
        from fanwright.records.bay import load

        state = self._app.state
        try:
            work = uploads.lay_out(state.store, about)
            shop = state.settings.shop
            given = {
                "what": about.what,
                "name": about.name,
                "visit": written(load(state.store, about.bay)),
                "shop": "" if shop is None else str(shop.absolute()),
            }
            try:
                answer = child.run("check_upload", given, work, self.limits)
            except InputError as error:
                kept = about.name if about.what.startswith(("air_trace", "recording")) else None
                answer = {"keep": kept, "refused": [message_data(one) for one in error.messages]}
            version = uploads.settle(state.store, about, answer)
            state.events.publish(about.bay, version)
        finally:
            with self._guard:
                self._known.discard(about.key)

    def check_what_waits(self) -> None:
        """Check what had arrived whole when the server was stopped or killed."""
        from fanwright.desk.uploads import waiting_to_be_checked

        for about in waiting_to_be_checked(self._app.state.store):
            self.check(about)


def jobs_of(app: FastAPI) -> Jobs:
    """Give the jobs of a server; the first call begins with what was left over from before.

    Args:
        app: The server.

    Returns:
        Its jobs.
    """
    with _GUARD:
        found: Jobs | None = getattr(app.state, "jobs", None)
        if found is None:
            found = app.state.jobs = Jobs(app)
            found.check_what_waits()
    return found
