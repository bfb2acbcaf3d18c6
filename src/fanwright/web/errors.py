"""What went wrong, as an answer: sentences as JSON for scripts, a page or the way to sign in for people."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, RedirectResponse, Response

from fanwright.errors import DataError, FanwrightError, FileError
from fanwright.report.say import say_all
from fanwright.web.look import look_of
from fanwright.web.shown import page

if TYPE_CHECKING:
    from fastapi import FastAPI, Request

PLAIN = {
    404: "there is no such page",
    405: "this address does not take that",
}


def answer_errors(app: FastAPI) -> None:
    """Let an app answer its errors so.

    Args:
        app: The app.
    """
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _malformed)
    app.add_exception_handler(FanwrightError, _ours)


def refusal(request: Request, status: int, messages: list[str], code: str = "refused") -> Response:
    """Answer with sentences, for whoever asked: a script or a person.

    Args:
        request: What the browser sent.
        status: The status of the answer.
        messages: The sentences.
        code: A word for scripts.

    Returns:
        The answer.
    """
    if _for_script(request):
        return JSONResponse({"code": code, "messages": messages}, status)
    return page(request, "refused.html", status=status, messages=messages, number=status)


def _for_script(request: Request) -> bool:
    return request.url.path.startswith("/api/") or "text/html" not in request.headers.get("accept", "")


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == 401 and not _for_script(request):
        back = request.url.path if request.method == "GET" else "/bay"
        return RedirectResponse(f"/sign-in?to={quote(back, safe='/')}", 303)
    sentence = PLAIN.get(error.status_code) if error.detail in _STANDARD else str(error.detail)
    code = {401: "not_signed_in", 403: "not_allowed", 404: "not_there"}.get(error.status_code, "refused")
    answer = refusal(request, error.status_code, [sentence or str(error.detail)], code)
    answer.headers.update(error.headers or {})
    return answer


_STANDARD = ("Not Found", "Method Not Allowed")


def _malformed(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    messages = [f"{'.'.join(str(part) for part in one['loc'])}: {one['msg']}" for one in error.errors()]
    return refusal(request, 422, messages, "malformed")


def _ours(request: Request, error: Exception) -> Response:
    """A mistake of an input is final (422); a database that is locked or full is tried again later (503)."""
    assert isinstance(error, FanwrightError)
    if isinstance(error, DataError):
        raise error
    messages = say_all(error.messages, look_of(request).reader)
    if isinstance(error, FileError):
        answer = refusal(request, 503, messages, "later")
        answer.headers["retry-after"] = "5"
        return answer
    return refusal(request, 422, messages)
