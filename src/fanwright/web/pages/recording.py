"""The page of recorded traffic: the day by reason, the runs, what stands out, what cannot be told."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from fanwright.web.look import Look, look_of
from fanwright.web.session import Who, need
from fanwright.web.shown import page
from fanwright.web.visit_files import Where, source_of, worked

router = APIRouter()


@router.get("/{where}/{number}/recording")
def recording(
    request: Request,
    where: Where,
    number: int,
    who: Annotated[Who, Depends(need("reader"))],
    look: Annotated[Look, Depends(look_of)],
) -> Response:
    """Show the recordings of a visit."""
    from fanwright.desk.page_files import RECORDINGS

    source = source_of(request, where, number)
    shown = []
    for kind in RECORDINGS:
        names = [name for what, name, _ in source.files if what == kind]
        if names:
            made = worked(request, source, "recording_page", {"files": names}, look)
            shown.append({"names": names, "after": kind.endswith("_after"), **made})
    return page(
        request, "recording.html", who=who, where=where, number=number, unit=source.unit, recordings=shown
    )
