"""Who I am, and the one stream of changes."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import StreamingResponse

from fanwright.web.session import Who, author_token, known, need

router = APIRouter()
Reader = Annotated[Who, Depends(need("reader"))]


@router.get("/api/me")
def me(request: Request, who: Reader) -> dict[str, Any]:
    """Say who is signed in here, and give what proves their work when it is sent later by another."""
    return {
        "name": who.name,
        "role": who.role,
        "demo": who.demo,
        "author_token": author_token(request),
        "device": who.device,
        "release": request.app.state.settings.release,
    }


@router.get("/api/events")
async def events(request: Request, who: Reader) -> StreamingResponse:
    """Tell which bay visits have changed, for as long as the session lasts."""
    hub, name = request.app.state.events, who.token_id or who.name
    if not hub.room_for(name):
        raise HTTPException(503, "too many pages listen at once: close some", {"Retry-After": "30"})
    headers = {"cache-control": "no-store", "x-accel-buffering": "no"}
    return StreamingResponse(
        hub.stream(name, _still(request)), media_type="text/event-stream", headers=headers
    )


def _still(request: Request) -> Callable[[], Awaitable[bool]]:
    async def ask() -> bool:
        return await run_in_threadpool(known, request) is not None

    return ask
