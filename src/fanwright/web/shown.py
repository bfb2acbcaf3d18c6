"""Pages from templates, in the reader's language and theme; everything put in is escaped."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.responses import HTMLResponse

from fanwright.web.look import look_of

if TYPE_CHECKING:
    from jinja2 import Environment
    from starlette.requests import Request

TEMPLATES = Path(__file__).parent / "templates"


@cache
def environment() -> Environment:
    """Give the templates; a name that a page forgot to fill is an error, never a gap."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    made.install_null_translations(newstyle=True)  # type: ignore[attr-defined] # given by the extension
    return made


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """Show a page.

    Args:
        request: What the browser sent.
        template: The template's file.
        status: The status of the answer.
        values: What the template shows, besides ``look``, ``who``, ``release``, ``demo`` and ``path``.

    Returns:
        The answer.
    """
    settings = request.app.state.settings
    common = {
        "look": look_of(request),
        "who": None,
        "release": settings.release,
        "demo": settings.demo,
        "path": request.url.path,
    }
    return HTMLResponse(environment().get_template(template).render(common | values), status)
