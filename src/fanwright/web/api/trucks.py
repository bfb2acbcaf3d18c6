"""Trucks as a list."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import Response

from fanwright.web.served import store_of
from fanwright.web.session import Who, need

router = APIRouter()


@router.get("/api/trucks")
def trucks(
    request: Request,
    who: Annotated[Who, Depends(need("reader"))],
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
    search: Annotated[str, Query(max_length=80)] = "",
) -> Response:
    """List trucks by their number, each with its latest visit."""
    from fanwright.desk.truck_page import trucks_json

    found = trucks_json(store_of(request), search, limit)
    mark = f'"{found.head[:16]}"'
    headers = {"etag": mark, "vary": "Accept-Encoding"}
    if request.headers.get("if-none-match", "").removeprefix("W/") == mark:
        return Response(status_code=304, headers=headers)
    if "gzip" in request.headers.get("accept-encoding", ""):
        return Response(
            found.packed, media_type="application/json", headers=headers | {"content-encoding": "gzip"}
        )
    return Response(found.body, media_type="application/json", headers=headers)
