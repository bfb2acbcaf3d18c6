"""Puts the server together: the records, every router found here, the door around them."""

from __future__ import annotations

import hashlib
import importlib
import mimetypes
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from fastapi import APIRouter, FastAPI
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.staticfiles import StaticFiles

from fanwright.web.errors import answer_errors
from fanwright.web.events import Events
from fanwright.web.guard import Guard
from fanwright.web.settings import STATIC, Settings
from fanwright.web.tries import Tries

if TYPE_CHECKING:
    from fanwright.records.store import Store

HERE = Path(__file__).parent
THREADS = 12  # for blocking work; fewer than the database library keeps connections


def create_app(settings: Settings, store: Store | None = None) -> FastAPI:
    """Put the server together.

    Args:
        settings: How it was started.
        store: Records that are open already, or None to open those of the settings.

    Returns:
        The app: ``state.settings``, ``state.store`` and ``state.events`` are what routes work with.

    Raises:
        FileError: The records are not there, or cannot be opened.
    """
    from fanwright.desk.serve import open_served

    mimetypes.add_type("text/javascript", ".mjs")
    mimetypes.add_type("application/manifest+json", ".webmanifest")
    app = FastAPI(
        title="Fanwright",
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        redirect_slashes=False,
        lifespan=_lifespan,
        middleware=[
            Middleware(Guard, settings=settings),
            Middleware(GZipMiddleware, minimum_size=800, compresslevel=6),
        ],
    )
    app.state.settings = settings
    app.state.store = store or open_served(settings.db, settings.files)
    app.state.events = Events()
    app.state.tries = Tries()
    answer_errors(app)
    for router in routers():
        app.router.routes.extend(router.routes)  # flat, so that a test can walk over every route
    app.add_api_route("/healthz", healthz, methods=["GET"])
    app.add_api_route("/worker.js", worker, methods=["GET"], response_class=Response)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    return app


def healthz() -> JSONResponse:
    """Say that the server runs, and nothing about it."""
    return JSONResponse({"hello": "fan"})


def worker() -> FileResponse:
    """Give the service worker from the root, so that it may serve every page."""
    return FileResponse(STATIC / "worker.js", media_type="text/javascript")


def routers() -> list[APIRouter]:
    """Find every router of the folders ``api`` and ``pages``."""
    found = []
    for folder in ("api", "pages"):
        for path in sorted((HERE / folder).glob("[!_]*.py")):
            router = getattr(importlib.import_module(f"fanwright.web.{folder}.{path.stem}"), "router", None)
            if isinstance(router, APIRouter):
                found.append(router)
    return found


def release_mark() -> str:
    """Give the release that is served: the program's version and a mark of its pages."""
    from fanwright import __version__

    mark = hashlib.sha256()
    for folder in (STATIC, HERE / "templates"):
        for path in sorted(path for path in folder.rglob("*") if path.is_file()):
            mark.update(path.name.encode() + path.read_bytes())
    return f"{__version__}-{mark.hexdigest()[:12]}"


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    import anyio.to_thread

    anyio.to_thread.current_default_thread_limiter().total_tokens = THREADS
    try:
        yield
    finally:
        app.state.events.close()
        app.state.store.close()
