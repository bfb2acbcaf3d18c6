"""Scripts and style sheets of the pages that work without network, each as one file."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter, Request
from starlette.responses import Response

from fanwright.web.bundle import bundle, styles
from fanwright.web.packed import packed

router = APIRouter()


@router.get("/static/whole/{page}.mjs")
def script(request: Request, page: Literal["visit", "bay"]) -> Response:
    """Give the script of a page with all it needs."""
    return packed(
        request, bundle(page).encode(), "text/javascript", {"cache-control": "no-cache"}, tight=True
    )


@router.get("/static/whole/{page}.css")
def style(request: Request, page: Literal["visit", "desk"]) -> Response:
    """Give the style sheet of a page with all it needs."""
    return packed(request, styles(page).encode(), "text/css", {"cache-control": "no-cache"}, tight=True)
