"""The page of a pressure trace: a chart to zoom into, what was fitted to it, what it cannot tell."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Request
from starlette.responses import JSONResponse, Response

from fanwright.web.look import Look, look_of
from fanwright.web.session import Who, need
from fanwright.web.shown import page
from fanwright.web.visit_files import Where, source_of, worked

router = APIRouter()
Seen = Annotated[Look, Depends(look_of)]
Signed = Annotated[Who, Depends(need("reader"))]


@router.get("/{where}/{number}/trace")
def trace(request: Request, where: Where, number: int, who: Signed) -> Response:
    """Show the pressure traces of a visit."""
    from fanwright.desk.page_files import TRACES

    source = source_of(request, where, number)
    files = [{"name": name, "after": what.endswith("_after")} for what, name, _ in source.of(TRACES)]
    return page(request, "trace.html", who=who, where=where, number=number, unit=source.unit, files=files)


@router.get("/{where}/{number}/trace/{index}")
def chart(request: Request, where: Where, number: int, index: int, who: Signed, look: Seen) -> Response:
    """Give one trace as numbers for the chart."""
    from fanwright.desk.page_files import TRACES

    source = source_of(request, where, number)
    files = source.of(TRACES)
    if not 0 <= index < len(files):
        raise HTTPException(404, "there is no such trace")
    made = worked(request, source, "trace_page", {"file": files[index][1]}, look)
    return JSONResponse(made, headers={"cache-control": "no-store"})
