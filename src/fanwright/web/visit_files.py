"""Work on the files of a visit, done in the child and held for a while, for papers and pages."""

from __future__ import annotations

import hashlib
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from fanwright.web import child
from fanwright.web.jobs import jobs_of
from fanwright.web.look import Look
from fanwright.web.served import look_mark, store_of

if TYPE_CHECKING:
    from starlette.requests import Request

    from fanwright.desk.page_files import Source

Where = Literal["bay", "visits"]
MOST_HELD = 24
_GUARD = threading.Lock()
_HELD: OrderedDict[str, dict[str, Any]] = OrderedDict()


def source_of(request: Request, where: Where, number: int) -> Source:
    """Give a visit with its files.

    Args:
        request: What the browser sent.
        where: ``bay`` for a bay visit, ``visits`` for a kept one.
        number: Its number.

    Returns:
        The visit.

    Raises:
        InputError: There is no such visit.
    """
    from fanwright.desk.page_files import bay_source, kept_source

    return (bay_source if where == "bay" else kept_source)(store_of(request), number)


def worked(
    request: Request, source: Source, task: str, given: Mapping[str, Any], look: Look
) -> dict[str, Any]:
    """Let the child work on a visit's files; the same work is not done twice.

    Args:
        request: What the browser sent.
        source: The visit.
        task: The child's task.
        given: What it needs beside the visit file, the shop, units and language.
        look: How the reader sees things.

    Returns:
        The child's answer.

    Raises:
        InputError: The files cannot be read, or took too much time or memory.
    """
    hashes = [f"{what}/{name}/{path.name}" for what, name, path in source.files]
    key = hashlib.sha256(
        repr((task, sorted(given.items()), source.written, hashes, look_mark(look))).encode()
    ).hexdigest()
    with _GUARD:
        if key in _HELD:
            _HELD.move_to_end(key)
            return _HELD[key]
    made: dict[str, Any] = jobs_of(request.app).run(lambda: _in_folder(request, source, task, given, look))
    with _GUARD:
        _HELD[key] = made
        while len(_HELD) > MOST_HELD:
            _HELD.popitem(last=False)
    return made


def _in_folder(
    request: Request, source: Source, task: str, given: Mapping[str, Any], look: Look
) -> dict[str, Any]:
    from fanwright.desk.page_files import lay_out

    shop = request.app.state.settings.shop
    with tempfile.TemporaryDirectory(prefix="fanwright-") as folder:
        visit_file = lay_out(source, Path(folder))
        whole = {
            "visit_file": str(visit_file),
            "shop": "" if shop is None else str(shop.absolute()),
            "units": dict(look.reader.units.chosen),
            "language": look.language,
            "numbers": source.language,
            **given,
        }
        return child.run(task, whole, Path(folder), jobs_of(request.app).limits)


def paper(request: Request, source: Source) -> bytes:
    """Let the child write the paper of a visit.

    Args:
        request: What the browser sent.
        source: The visit.

    Returns:
        The PDF.

    Raises:
        InputError: It cannot be written.
    """
    from fanwright.desk.page_files import lay_out

    settings, place = request.app.state.settings, store_of(request).place

    def made() -> bytes:
        with tempfile.TemporaryDirectory(prefix="fanwright-") as folder:
            out = Path(folder) / "paper.pdf"
            given = {
                "visit_file": str(lay_out(source, Path(folder))),
                "out": str(out),
                "shop": "" if settings.shop is None else str(settings.shop.absolute()),
                "language": source.language,
                "db": settings.db if place.sqlite is None else str(place.sqlite.absolute()),
            }
            child.run("make_report", given, Path(folder), jobs_of(request.app).limits)
            return out.read_bytes()

    written: bytes = jobs_of(request.app).run(made)
    return written
