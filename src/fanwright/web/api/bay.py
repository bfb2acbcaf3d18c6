"""Bay visits: the list, starting one, one as it stands, entering into it, keeping and signing it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Body, Depends, Path, Request
from starlette.responses import JSONResponse, Response

from fanwright.web.jobs import jobs_of
from fanwright.web.look import Look, look_of
from fanwright.web.packed import packed
from fanwright.web.served import answered, look_mark, shop_of, store_of
from fanwright.web.session import Who, need

router = APIRouter()
Reader = Annotated[Who, Depends(need("reader"))]
Technician = Annotated[Who, Depends(need("technician"))]
Seen = Annotated[Look, Depends(look_of)]
Number = Annotated[int, Path(ge=1, le=2**53)]
Sent = Annotated[dict[str, Any], Body()]
Screen = Literal["", "small", "wide", "small-after", "wide-after"]


@router.get("/api/bay")
def bays(request: Request, who: Reader, look: Seen) -> Response:
    """List the bay visits that are not signed, and the kept visits that are still open."""
    from fanwright.desk.bay_list import open_visits

    return JSONResponse(open_visits(store_of(request), shop_of(request)))


@router.post("/api/bay")
def start(request: Request, who: Technician, look: Seen, sent: Sent) -> Response:
    """Start a bay visit; the same key again gives the same one."""
    from fanwright.desk import bay

    return answered(
        look, lambda: _started(request, bay.start(store_of(request), sent, who.name, shop_of(request)))
    )


def _started(request: Request, added: Any) -> Response:
    if added.new:
        request.app.state.events.publish(added.number, added.version)
    return JSONResponse({"number": added.number, "version": added.version}, 201 if added.new else 200)


@router.get("/api/bay/{number}")
def one(request: Request, number: Number, who: Reader, look: Seen, screen: Screen = "") -> Response:
    """Give a bay visit as it stands, in the reader's language and units; its drawings for one screen only."""
    from fanwright.desk import bay

    jobs_of(request.app)

    def made() -> Response:
        held = bay.page_data(
            store_of(request), number, shop_of(request), look.reader, look_mark(look), screen
        )
        mark = f'"{held.mark}-{look_mark(look)}{screen}-{request.app.state.settings.release}"'
        if request.headers.get("if-none-match", "").removeprefix("W/") == mark:
            return Response(status_code=304, headers={"etag": mark})
        return packed(request, held.body, "application/json", {"etag": mark})

    return answered(look, made)


@router.post("/api/bay/{number}/entries")
def enter(
    request: Request, number: Number, who: Technician, look: Seen, sent: Sent, full: bool = False
) -> Response:
    """Take one entry, exactly once: the same key and body again is answered alike."""
    from fanwright.desk import bay

    def taken() -> Response:
        added = bay.enter(store_of(request), number, sent, who.name, shop_of(request))
        if added.new:
            request.app.state.events.publish(number, added.version)
        answer: dict[str, Any] = {"stored": sent["key"], "version": added.version}
        if not full:
            return JSONResponse(answer, 201 if added.new else 200)
        held = bay.page_data(store_of(request), number, shop_of(request), look.reader, look_mark(look))
        whole = b'{"stored":"%s","version":%d,"visit":%s}'
        return Response(
            whole % (str(sent["key"]).encode(), held.version, held.body),
            201 if added.new else 200,
            media_type="application/json",
        )

    return answered(look, taken)


@router.post("/api/bay/{number}/keep")
def keep(request: Request, number: Number, who: Technician, look: Seen, sent: Sent) -> Response:
    """Keep a bay visit among the records."""
    from fanwright.desk import bay_closing

    return answered(
        look,
        lambda: _ended(
            request,
            bay_closing.keep(store_of(request), number, who.name, shop_of(request), _text(sent, "why")),
        ),
    )


@router.post("/api/bay/{number}/sign")
def sign(request: Request, number: Number, who: Technician, look: Seen, sent: Sent) -> Response:
    """Keep a bay visit and sign it; the password is asked again for that."""
    from fanwright.desk import bay_closing

    proved = who.demo or _proved(request, who, _text(sent, "password"))
    causes = sent.get("named_causes", [])

    def signed() -> Response:
        ended = bay_closing.sign(
            store_of(request),
            number,
            who.name,
            shop_of(request),
            proved=proved,
            second=_text(sent, "second"),
            driver_told=who.name if sent.get("driver_told") is True else _text(sent, "driver_told"),
            named_causes=tuple(str(each) for each in causes) if isinstance(causes, list) else (),
            anyway=_text(sent, "anyway"),
        )
        return _ended(request, ended)

    return answered(look, signed)


def _proved(request: Request, who: Who, password: str) -> bool:
    from fanwright.desk.people import check_password

    tries = request.app.state.tries
    return bool(tries.run(request, who.name, lambda: check_password(store_of(request), who.name, password)))


def _ended(request: Request, ended: Any) -> Response:
    request.app.state.events.publish(ended.number, ended.version)
    return JSONResponse(
        {"visit": ended.visit, "version": ended.version, "pdf": f"/visits/{ended.visit}/report.pdf"}
    )


def _text(sent: dict[str, Any], name: str) -> str:
    value = sent.get(name, "")
    return value if isinstance(value, str) else ""
