"""Files of a bay visit, in pieces that go on where a lost connection left off."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response

from fanwright.report.say import say_all
from fanwright.web.jobs import jobs_of
from fanwright.web.look import Look, look_of
from fanwright.web.served import answered, store_of
from fanwright.web.session import Who, need

router = APIRouter()
Reader = Annotated[Who, Depends(need("reader"))]
Technician = Annotated[Who, Depends(need("technician"))]
Seen = Annotated[Look, Depends(look_of)]


@router.post("/api/uploads")
def begin(request: Request, who: Technician, look: Seen, sent: Annotated[dict[str, Any], Body()]) -> Response:
    """Begin an upload, or say how far it has come."""
    from fanwright.desk import uploads

    return answered(look, lambda: _offset(uploads.begin(store_of(request), sent, who.name)))


@router.patch("/api/uploads/{key}")
async def piece(request: Request, key: str, who: Technician, look: Seen) -> Response:
    """Take the next piece; the answer says where to go on."""
    offset = request.headers.get("upload-offset", "")
    if not (offset.isascii() and offset.isdigit()):
        return JSONResponse({"code": "refused", "messages": ["Upload-Offset must be a number"]}, 400)
    body = await request.body()
    return await run_in_threadpool(_taken, request, key, int(offset[:15]), body, look)


def _taken(request: Request, key: str, offset: int, body: bytes, look: Look) -> Response:
    from fanwright.desk import uploads

    def made() -> Response:
        try:
            standing = uploads.add_piece(store_of(request), key, offset, body)
        except uploads.Damaged as error:
            return JSONResponse({"code": "damaged", "messages": say_all(error.messages, look.reader)}, 422)
        if standing.state == "working":
            jobs_of(request.app).check_what_waits()
        return _offset(standing)

    return answered(look, made)


@router.head("/api/uploads/{key}")
def how_far(request: Request, key: str, who: Reader, look: Seen) -> Response:
    """Say how far an upload has come, in a header."""
    from fanwright.desk import uploads

    return answered(look, lambda: _offset(uploads.standing(store_of(request), key)))


@router.get("/api/uploads/{key}")
def state(request: Request, key: str, who: Reader, look: Seen) -> Response:
    """Say where an upload stands, and why it was refused if it was."""
    from fanwright.desk import uploads

    jobs_of(request.app)

    def made() -> Response:
        found = uploads.standing(store_of(request), key)
        return JSONResponse({"state": found.state, "messages": say_all(found.messages, look.reader)})

    return answered(look, made)


def _offset(standing: Any) -> Response:
    headers = {"upload-offset": str(standing.offset), "cache-control": "no-store"}
    return JSONResponse({"offset": standing.offset, "state": standing.state}, headers=headers)
