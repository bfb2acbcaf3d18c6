"""What the routes of the bay share: records and shop of the server, and how a refusal is answered."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.responses import JSONResponse, Response

from fanwright.errors import FanwrightError
from fanwright.report.say import say_all
from fanwright.web.look import Look

if TYPE_CHECKING:
    from starlette.requests import Request

    from fanwright.desk.shop import Shop
    from fanwright.records.store import Store

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""Set before numpy is first needed: for the small matrices of a visit more threads take longer."""


def store_of(request: Request) -> Store:
    """Give the records that the server works on."""
    store: Store = request.app.state.store
    return store


def shop_of(request: Request) -> Shop:
    """Give the shop's own data, read once."""
    return _shop(request.app.state.settings.shop)


@lru_cache(maxsize=4)
def _shop(path: Path | None) -> Shop:
    from fanwright.desk.shop import open_shop

    return open_shop(path)


def look_mark(look: Look) -> str:
    """Give a text that differs with everything a look changes in what is said.

    Example:
        >>> look_mark(Look())
        'en'
    """
    chosen = look.reader.units.chosen
    return "-".join([look.language, *(f"{name}.{chosen[name]}" for name in sorted(chosen))])


def answered(look: Look, make: Callable[[], Response]) -> Response:
    """Answer with what was made, or say why not, with the code that scripts go by.

    Args:
        look: How the reader sees things.
        make: Makes the answer.

    Returns:
        The answer; other errors go on to where every page answers them.
    """
    from fanwright.records.bay import Closed, NotThere, OtherBody

    try:
        return make()
    except NotThere as error:
        return _refused(404, "not_there", error, look)
    except Closed as error:
        return _refused(409, "closed", error, look)
    except OtherBody as error:
        return _refused(422, "other_body", error, look)


def _refused(status: int, code: str, error: FanwrightError, look: Look) -> Response:
    return JSONResponse({"code": code, "messages": say_all(error.messages, look.reader)}, status)
