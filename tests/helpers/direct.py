"""An app asked without a network between."""

from __future__ import annotations

import asyncio
from typing import Any

import httpx


class Direct(httpx.BaseTransport):
    """Hands a request to an app; the answer's bytes stay as they were sent, packed or not."""

    def __init__(self, app: Any) -> None:
        self._app = app

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        content = request.read()
        return asyncio.run(
            self._ask(
                httpx.Request(request.method, request.url, headers=request.headers.raw, content=content)
            )
        )

    async def _ask(self, request: httpx.Request) -> httpx.Response:
        answer = await httpx.ASGITransport(self._app).handle_async_request(request)
        content = b"".join([piece async for piece in answer.aiter_raw()])
        return httpx.Response(answer.status_code, headers=answer.headers.raw, content=content)
