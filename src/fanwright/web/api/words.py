"""The words of the pages' scripts in one language; the English text is the key and needs no translation."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter
from starlette.responses import JSONResponse

router = APIRouter()


@router.get("/api/words")
def words(language: Literal["en", "es", "fr"] = "en") -> JSONResponse:
    """Give what is translated; a sentence that is missing stays English."""
    del language  # no translation of the scripts' sentences is written yet
    return JSONResponse({}, headers={"cache-control": "no-cache"})
