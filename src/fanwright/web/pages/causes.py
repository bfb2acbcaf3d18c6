"""The page of causes: what may be wrong, how sure that is, the chain of reasoning, what to repair first."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from fanwright.web.look import Look, look_of
from fanwright.web.served import shop_of, store_of
from fanwright.web.session import Who, need
from fanwright.web.shown import page

router = APIRouter()
Seen = Annotated[Look, Depends(look_of)]
Signed = Annotated[Who, Depends(need("reader"))]


@router.get("/bay/{number}/causes")
def of_bay(request: Request, number: int, who: Signed, look: Seen) -> Response:
    """Show the causes of a bay visit as it stands."""
    from fanwright.desk.causes_page import bay_causes

    return _page(
        request, who, "bay", number, bay_causes(store_of(request), number, shop_of(request), look.reader)
    )


@router.get("/visits/{number}/causes")
def of_kept(request: Request, number: int, who: Signed, look: Seen) -> Response:
    """Show the causes of a kept visit, as they are seen today."""
    from fanwright.desk.causes_page import kept_causes

    shown = kept_causes(store_of(request), number, shop_of(request), look.reader)
    return _page(request, who, "visits", number, shown)


def _page(request: Request, who: Who, where: str, number: int, shown: dict[str, Any]) -> Response:
    return page(request, "causes.html", who=who, where=where, number=number, **shown)
