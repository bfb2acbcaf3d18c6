"""A server that answers as the real one does about entries and uploads, and can be told to misbehave."""

from __future__ import annotations

import http.server
import json
import threading
from dataclasses import dataclass, field
from pathlib import Path

STATIC = Path(__file__).parents[2] / "src" / "fanwright" / "web" / "static"


@dataclass
class Told:
    """What came in, and what to do next."""

    entries: dict[str, dict[str, object]] = field(default_factory=dict)
    posts: list[str] = field(default_factory=list)
    uploads: dict[str, bytearray] = field(default_factory=dict)
    sizes: dict[str, int] = field(default_factory=dict)
    offsets: list[int] = field(default_factory=list)
    lose_answers: int = 0  # store, then break the line
    break_pieces: int = 0
    refuse: str = ""  # entries of this test are refused
    status: int = 0  # answer everything with this
    lock: threading.Lock = field(default_factory=threading.Lock)


class Handler(http.server.SimpleHTTPRequestHandler):
    """Static modules, entries, uploads; told what to do by ``told``."""

    told: Told

    def guess_type(self, path: object) -> str:
        return "text/javascript" if str(path).endswith(".mjs") else super().guess_type(str(path))

    def log_message(self, format: str, *args: object) -> None:
        pass

    def do_GET(self) -> None:
        if self.path == "/":
            self._answer(200, b"<!doctype html><title>modules</title>", "text/html")
        elif self.path == "/api/events":
            self._answer(204, b"")
        else:
            super().do_GET()

    def do_POST(self) -> None:
        body = json.loads(self.rfile.read(int(self.headers["content-length"])))
        if self.told.status:
            self._json(self.told.status, {})
        elif self.path == "/api/uploads":
            held = self.told.uploads.setdefault(body["key"], bytearray())
            self.told.sizes[body["key"]] = body["size"]
            self._json(201, {"offset": len(held)})
        else:
            self._entry(body)

    def _entry(self, body: dict[str, object]) -> None:
        with self.told.lock:
            key = str(body["key"])
            self.told.posts.append(key)
            if self.told.refuse and body.get("test") == self.told.refuse:
                self._json(422, {"code": "refused", "messages": ["this cannot be read: write it again"]})
                return
            self.told.entries.setdefault(key, body)
            if self.told.lose_answers:
                self.told.lose_answers -= 1
                self.close_connection = True
                self.connection.close()
                return
        self._json(201, {"stored": key, "version": len(self.told.entries)})

    def do_PATCH(self) -> None:
        key = self.path.rsplit("/", 1)[1]
        piece = self.rfile.read(int(self.headers["content-length"]))
        held, offset = self.told.uploads[key], int(self.headers["upload-offset"])
        if offset != len(held):
            self._json(409, {"offset": len(held)})
            return
        held += piece
        self.told.offsets.append(offset)
        if self.told.break_pieces:
            self.told.break_pieces -= 1
            self.close_connection = True
            self.connection.close()
            return
        self._json(200, {"offset": len(held)})

    def _json(self, status: int, said: object) -> None:
        self._answer(status, json.dumps(said).encode(), "application/json")

    def _answer(self, status: int, body: bytes, kind: str = "text/plain") -> None:
        self.send_response(status)
        self.send_header("content-type", kind)
        self.send_header("content-length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


def start() -> tuple[http.server.ThreadingHTTPServer, Told]:
    """Start one on a free port."""
    told = Told()

    class Bound(Handler):
        def __init__(self, *args: object, **kinds: object) -> None:
            super().__init__(*args, directory=str(STATIC), **kinds)  # type: ignore[arg-type] # as the base class

    Bound.told = told
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Bound)
    server.handle_error = lambda *_: None  # type: ignore[method-assign] # a line broken on purpose is no news
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server, told
