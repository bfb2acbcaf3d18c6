"""The paper of every visit as PDF."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from fanwright.web.names import disposition
from fanwright.web.session import Who, need
from fanwright.web.visit_files import Where, paper, source_of

router = APIRouter()


@router.get("/{where}/{number}/report.pdf")
def report(
    request: Request, where: Where, number: int, who: Annotated[Who, Depends(need("reader"))]
) -> Response:
    """Give the paper of a visit, to sign or to file."""
    source = source_of(request, where, number)
    name = disposition(f"{source.unit}-{source.date}.pdf", inline=True)
    headers = {"content-disposition": name, "cache-control": "no-store"}
    return Response(paper(request, source), media_type="application/pdf", headers=headers)
