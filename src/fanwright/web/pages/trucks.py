"""Pages for desks: the trucks, one truck with its past, and a visit as it was kept."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import Response

from fanwright.errors import InputError
from fanwright.report.figures import measured, plain, reading_words
from fanwright.report.say import VERDICT_WORDS, Reader, say, write_chance
from fanwright.web.look import Look, look_of
from fanwright.web.served import shop_of, store_of
from fanwright.web.session import Who, need
from fanwright.web.shown import page
from fanwright.words import Message, outcome

if TYPE_CHECKING:
    from fanwright.desk.kept_pages import KeptPage
    from fanwright.records.model import KeptVerdict, VisitRow
    from fanwright.visit import Past

router = APIRouter()
Seen = Annotated[Look, Depends(look_of)]
Signed = Annotated[Who, Depends(need("reader"))]
MOST = 100
ARRANGEMENTS = {
    "spring-nc": "spring-on, shuts without current",
    "spring-no": "spring-on, passes without current",
    "air-nc": "air-on, shuts without current",
    "air-no": "air-on, passes without current",
}


@router.get("/trucks")
def trucks(request: Request, who: Signed, search: Annotated[str, Query(max_length=80)] = "") -> Response:
    """Show the trucks, each with its latest visit."""
    from fanwright.desk.kept_pages import truck_rows

    rows, more = truck_rows(store_of(request), search.strip(), MOST)
    shown = [
        {**vars(row), "arrangement": ARRANGEMENTS.get(row.arrangement, ""), "words": _word(row.last_overall)}
        for row in rows
    ]
    return page(request, "trucks.html", who=who, trucks=shown, more=more, most=MOST, search=search)


@router.get("/trucks/{unit}")
def truck(request: Request, who: Signed, look: Seen, unit: str) -> Response:
    """Show one truck: its visits, its facing, and what is ahead of it."""
    from fanwright.desk.kept_pages import kept_page, truck_past

    try:
        past = truck_past(store_of(request), unit)
    except InputError as error:
        return _not_there(request, who, look, error)
    latest = next((row for row in past.visits if row.corrected_by is None and row.kind != "past"), None)
    held = None if latest is None else kept_page(store_of(request), latest.number, shop_of(request))
    return page(
        request,
        "truck.html",
        who=who,
        truck={**vars(past.row), "arrangement": ARRANGEMENTS.get(past.row.arrangement, "")},
        visits=[_visit_row(row, look.reader) for row in past.visits],
        facing=[one for day in reversed(past.past) for one in _facing(day, look.reader)],
        life=_life(held, look.reader),
        latest=latest,
    )


@router.get("/visits/{number}")
def visit(request: Request, who: Signed, look: Seen, number: int) -> Response:
    """Show a visit as it was kept, with the limits in force on its day."""
    from fanwright.desk.kept_pages import kept_page

    try:
        held = kept_page(store_of(request), number, shop_of(request))
    except InputError as error:
        return _not_there(request, who, look, error)
    kept, reader = held.kept, look.reader
    return page(
        request,
        "kept.html",
        who=who,
        row=_visit_row(kept.row, reader),
        kept=kept,
        drawings=_drawings(held, reader),
        verdicts=[_verdict(one, reader) for one in kept.verdicts],
        not_done=[(_test(test, reader), why) for test, why in kept.not_done.items()],
        causes=[(_fault(one, reader), sure) for one, sure in kept.causes.items()],
        has_trace=any(one.what.startswith("air_trace") for one in kept.files),
        has_recording=any(one.what.startswith("recording") for one in kept.files),
        life=_life(held, reader),
    )


def _not_there(request: Request, who: Who, look: Look, error: InputError) -> Response:
    messages = [say(one, look.reader) for one in error.messages]
    return page(request, "refused.html", 404, who=who, number=404, messages=messages)


def _word(verdict: str) -> str:
    return VERDICT_WORDS.get(verdict, "")


def _test(test: str, reader: Reader) -> str:
    known = reader.catalogue.tests.get(test)
    return test if known is None else known.label


def _fault(fault: str, reader: Reader) -> str:
    known = reader.catalogue.faults.get(fault)
    return fault if known is None else known.label


def _visit_row(row: VisitRow, reader: Reader) -> dict[str, Any]:
    odometer = "" if row.odometer_m is None else plain(row.odometer_m, "distance", reader.units)
    after = row.overall_after
    return {**vars(row), "odometer": odometer, "words": _word(row.overall), "words_after": _word(after)}


def _facing(day: Past, reader: Reader) -> list[dict[str, Any]]:
    odometer = "" if day.odometer_m is None else plain(day.odometer_m, "distance", reader.units)
    return [
        {
            "date": day.date.isoformat(),
            "odometer": odometer,
            "shown": reading_words(one, reader),
            "after": one.after,
        }
        for one in day.readings
        if one.test == "facing_thickness"
    ]


def _life(held: KeptPage | None, reader: Reader) -> dict[str, Any] | None:
    if held is None or held.life is None:
        return None
    from fanwright.report.life_text import forecast_lines
    from fanwright.report.pictures import life

    forecast = held.life.forecast
    return {"svg": life.draw(forecast, units=reader.units), "lines": forecast_lines(forecast, reader)}


def _drawings(held: KeptPage, reader: Reader) -> list[dict[str, Any]]:
    if held.assessment is None:
        return []
    from fanwright.report.pictures import bay

    seen = held.assessment
    drawn = []
    for after in (False, True) if seen.verdicts_after else (False,):
        spots = bay.spots_of(seen, reader, after)
        wide, small = (
            bay.draw(seen.visit.truck, spots, small=phone, reader=reader, chosen=False)
            for phone in (False, True)
        )
        drawn.append({"after": after, "wide": wide, "small": small})
    return drawn


def _verdict(one: KeptVerdict, reader: Reader) -> dict[str, Any]:
    return {
        "label": _test(one.test, reader),
        "after": one.after,
        "verdict": one.verdict,
        "words": _word(one.verdict),
        "shown": _shown(one, reader),
        "limit": _limit(one.limit_si, one, reader),
        "watch": _limit(one.watch_limit_si, one, reader),
        "chance": ""
        if one.chance_beyond_limit is None
        else write_chance(one.chance_beyond_limit, short=True),
        "why": say(one.why, reader),
        "repeat": one.repeat,
    }


def _shown(one: KeptVerdict, reader: Reader) -> str:
    if one.value_si is not None and one.dimension:
        instrument = reader.catalogue.instruments.get(reader.catalogue.tests[one.test].instrument)
        same = instrument is not None and instrument.dimension == one.dimension
        division = instrument.division_si if instrument is not None and same else 0.0
        return measured(one.value_si, one.dimension, reader.units, division, one.sd_si or 0.0)
    if not one.outcome:
        return ""
    return say(Message("{word}", {"word": outcome(one.test, one.outcome)}), reader)


def _limit(si: float | None, one: KeptVerdict, reader: Reader) -> str:
    return "" if si is None or not one.dimension else plain(si, one.dimension, reader.units)
