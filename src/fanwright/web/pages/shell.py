"""The two pages of the bay: the list and a visit. They hold no user's data; their scripts fetch it."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from fanwright.web.look import Look
from fanwright.web.shown import environment

router = APIRouter()


@router.get("/")
def home() -> Response:
    """Send the browser to the list of the bay."""
    return RedirectResponse("/bay", 303)


@router.get("/bay")
def bay(request: Request) -> Response:
    """Show the list of visits in the bay."""
    return _shell(request, "bay.html")


@router.get("/bay/{number}")
def visit(request: Request, number: int) -> Response:
    """Show a visit in the bay; the same page for every number."""
    del number
    return _shell(request, "visit.html")


def _shell(request: Request, template: str) -> HTMLResponse:
    """Show a page that is the same for everybody, so that a browser may keep it for use without network."""
    settings = request.app.state.settings
    shown = {"look": Look(), "who": None, "release": settings.release, "demo": settings.demo, "path": "/bay"}
    return HTMLResponse(environment().get_template(template).render(shown))
