"""The server is killed (signal 9) in mid-write, again and again: what it answered is there once, and holds.

A tablet goes on as its outbox does: it sends each entry until it is answered, with the same key.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from fanwright.desk.records import open_records
from fanwright.records.bay import load
from fanwright.records.verifying import verify

KILLS = 60 if os.environ.get("FANWRIGHT_SOAK") else 6
TABLETS = 3
SERVER = """
import sys
from pathlib import Path
from fanwright.desk.serve import open_served
from fanwright.web.serving import serve
from fanwright.web.settings import Settings
path, port = sys.argv[1], int(sys.argv[2])
settings = Settings(path, None, None, True, "127.0.0.1", port, (), None, "t")
serve(settings, open_served(path), lambda ready: print(ready.port, flush=True))
"""


class Server:
    """A server as a process of its own that can be killed and started again on the same port."""

    def __init__(self, path: Path) -> None:
        self.path, self.port = path, 0
        self.process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", SERVER, str(self.path), str(self.port)], stdout=subprocess.PIPE, text=True
        )
        assert self.process.stdout is not None
        self.port = int(self.process.stdout.readline())

    def kill(self) -> None:
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()

    def browser(self) -> httpx.Client:
        here = f"http://127.0.0.1:{self.port}"
        return httpx.Client(
            base_url=here,
            headers={"sec-fetch-site": "same-origin", "origin": here},
            timeout=10,
            trust_env=False,
        )


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    path = tmp_path / "shop.db"
    open_records(str(path), create=True).close()
    made = Server(path)
    made.start()
    yield made
    made.kill()


def test_every_answered_reading_is_there_once(server: Server) -> None:
    asked = {"key": str(uuid.uuid4()), "unit": "214", "kind": "complaint"} | {
        "grips_by": "spring", "valve": "nc", "volts": 12,
    }  # fmt: skip
    with server.browser() as web:
        number = web.post("/api/bay", json=asked).json()["number"]
    answered: list[str] = []
    tried: set[str] = set()
    stop = threading.Event()

    def tablet(name: str) -> None:
        turn = 0
        while not stop.is_set():
            body: dict[str, Any] = {
                "key": str(uuid.uuid4()), "kind": "reading", "test": "vent_time", "value": f"2.{turn % 10} s",
                "at": "2026-04-14T07:21:04-06:00", "author": name,
            }  # fmt: skip
            turn += 1
            tried.add(body["key"])
            while not stop.is_set():
                try:
                    with server.browser() as web:
                        answer = web.post(f"/api/bay/{number}/entries", json=body)
                except httpx.HTTPError:
                    time.sleep(0.05)
                    continue
                if answer.status_code in (200, 201):
                    answered.append(body["key"])
                    break
                assert answer.status_code in (429, 503), answer.text
                time.sleep(0.1)

    tablets = [threading.Thread(target=tablet, args=(f"tablet {one}",)) for one in range(TABLETS)]
    for one in tablets:
        one.start()
    chosen = random.Random(8214)
    for _ in range(KILLS):
        time.sleep(chosen.uniform(0.1, 0.5))
        server.kill()
        server.start()
    time.sleep(0.5)
    stop.set()
    for one in tablets:
        one.join()
    store = open_records(str(server.path))
    try:
        kept = [entry.key for entry in load(store, number).entries]
        assert len(kept) == len(set(kept))
        assert set(answered) <= set(kept) <= tried
        assert len(answered) > KILLS
        assert verify(store).sound
    finally:
        store.close()
