"""What a tablet needs to work without network: the rules to judge by, and the list of files of the shell."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import JSONResponse, Response

from fanwright.web.bundle import PAGES
from fanwright.web.look import LANGUAGES, Look, look_from, look_of
from fanwright.web.packed import packed
from fanwright.web.session import Who, need
from fanwright.web.settings import STATIC

router = APIRouter()


@router.get("/api/catalogue")
def catalogue(
    request: Request,
    look: Annotated[Look, Depends(look_of)],
    _: Annotated[Who, Depends(need("reader"))],
) -> Response:
    """Give tests, units, instruments and limits, so that a tablet can judge for the time being."""
    version, body = _rules(request.app.state.settings.shop, look.language)
    mark = f'"{version}-{look.language}"'
    if request.headers.get("if-none-match") == mark:
        return Response(status_code=304, headers={"etag": mark})
    return packed(request, body, "application/json", {"etag": mark, "cache-control": "no-cache"}, tight=True)


@lru_cache(maxsize=16)
def _rules(shop: Path | None, language: str) -> tuple[str, bytes]:
    from fanwright.desk.shop import open_shop
    from fanwright.desk.tablet_rules import tablet_rules

    rules = tablet_rules(
        open_shop(shop), look_from(f"language={language}", shop).reader, language, typed_only=True
    )
    body = json.dumps(rules, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return str(rules["version"]), body.encode("utf-8")


@router.get("/shell.json")
def shell(request: Request) -> JSONResponse:
    """Name the files that the worker keeps: the shell of the pages, and nothing of anybody."""
    files = ["/bay", "/bay/0"]
    files += [f"/api/words?language={language}" for language in LANGUAGES]
    files += [f"/static/whole/{page}.mjs" for page in PAGES]
    files += ["/static/whole/visit.css", "/static/whole/desk.css"]
    files += sorted(
        "/static/" + path.relative_to(STATIC).as_posix()
        for path in STATIC.rglob("*")
        if path.is_file() and path.name != "worker.js"
    )
    return JSONResponse(
        {"release": request.app.state.settings.release, "files": files},
        headers={"cache-control": "no-store"},
    )
