"""Answers that cross the shop's network packed as tightly as the browser can unpack."""

from __future__ import annotations

from functools import lru_cache
from importlib.util import find_spec

from starlette.requests import Request
from starlette.responses import Response

TIGHT, QUICK = 11, 5  # quality of the packing: once for a release, or for each version of a visit


def packed(
    request: Request,
    body: bytes,
    media_type: str,
    headers: dict[str, str] | None = None,
    *,
    tight: bool = False,
) -> Response:
    """Answer with a body, packed by brotli where the browser takes it; else the server packs it by gzip.

    Args:
        request: What the browser sent.
        body: The body.
        media_type: What it is.
        headers: Further headers.
        tight: Whether it is worth a second to pack, because it is sent often.

    Returns:
        The answer.
    """
    given = {"vary": "accept-encoding", **(headers or {})}
    taken = {one.split(";")[0].strip() for one in request.headers.get("accept-encoding", "").split(",")}
    if "br" not in taken or find_spec("brotli") is None:
        return Response(body, media_type=media_type, headers=given)
    whole = _brotli(body, TIGHT if tight else QUICK)
    return Response(whole, media_type=media_type, headers={**given, "content-encoding": "br"})


@lru_cache(maxsize=128)
def _brotli(body: bytes, quality: int) -> bytes:
    import brotli  # type: ignore[import-untyped] # ships no stubs

    made: bytes = brotli.compress(body, quality=quality)
    return made
