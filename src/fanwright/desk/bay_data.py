"""A bay visit as plain data for the page: sentences in the reader's language and units, and the drawing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fanwright.catalogue import Catalogue
from fanwright.desk.bay_entries import entry_rows, file_rows
from fanwright.desk.bay_written import alive
from fanwright.diagnosis.model import Cause, NextTest, Sign
from fanwright.evidence.reading import Reading
from fanwright.judging import Judgement
from fanwright.report.figures import measured, plain, reading_words
from fanwright.report.life_data import life_data
from fanwright.report.life_text import forecast_lines
from fanwright.report.say import VERDICT_WORDS, Reader, say, say_all, write_chance
from fanwright.truck.arrangement import labels
from fanwright.visit import Assessment, Visit
from fanwright.words import Message, Value, chance, outcome, test_name

if TYPE_CHECKING:
    from fanwright.records.bay_model import BayEntry, BayVisit

MOST_NEXT, MOST_CAUSES = 6, 8
NO_FAULT = "no_fault"


def visit_data(bay: BayVisit, assessment: Assessment, reader: Reader) -> dict[str, Any]:
    """Give a bay visit as plain data.

    Args:
        bay: The visit with its entries.
        assessment: What is said of it.
        reader: Who reads.

    Returns:
        Tables, lists, texts and finite numbers only.
    """
    seen = assessment.visit
    counted = alive(bay.entries)
    readings = [*_judged(assessment, counted, reader), *_unjudged(assessment, counted, reader)]
    nexts = [_next(one, seen, reader) for one in assessment.next_tests[:MOST_NEXT]]
    return {
        "number": bay.number,
        "version": bay.version,
        "unit": bay.unit,
        "kind": seen.kind,
        "date": seen.date.isoformat(),
        "state": bay.state,
        "kept_visit": bay.kept_visit,
        "base_visit": bay.base_visit,
        "heading": _heading(seen, reader),
        "lock_out": _lock_out(counted, seen),
        "minutes_so_far": _minutes(readings, reader.catalogue),
        **_overall(assessment, reader),
        "readings": readings,
        **_open_points(assessment, counted, reader),
        "next": nexts,
        "stop": _said(assessment.diagnosis.stop if assessment.diagnosis else None, reader),
        **causes_of(assessment, reader),
        "life": _life(assessment, reader),
        "entries": entry_rows(bay.entries, reader),
        "files": file_rows(bay.entries, bay.files, reader),
        **_pictures(assessment, readings, nexts, reader),
        "core": list(reader.catalogue.core.get(seen.kind, ())),
        "plan": [test.id for test in reader.catalogue.tests.values() if not test.only_from],
    }


def _said(message: Message | None, reader: Reader) -> str | None:
    return None if message is None else say(message, reader)


def _heading(seen: Visit, reader: Reader) -> dict[str, Any]:
    drive, valve = labels(seen.truck)
    told = seen.circumstances
    return {
        "arrangement": say(drive, reader),
        "valve": say(valve, reader),
        "volts": reader.write(seen.truck.volts, "voltage", 1.0),
        "odometer": None if seen.odometer_m is None else plain(seen.odometer_m, "distance", reader.units),
        "engine_hours": None
        if seen.engine_time_s is None
        else plain(seen.engine_time_s, "engine_time", reader.units),
        "complaint": told.get("complaint"),
        "technician": told.get("technician"),
        "place": told.get("place"),
        "drive": {
            "grips_by": seen.truck.grips_by,
            "valve": seen.truck.valve,
            "volts": seen.truck.volts,
            "preset": seen.truck.preset,
        },
    }


def _lock_out(counted: Iterable[BayEntry], seen: Visit) -> dict[str, Any]:
    confirmed = [entry for entry in counted if entry.kind == "lock_out"]
    if confirmed:
        last = confirmed[-1]
        return {"confirmed": last.body.get("confirmed") is True, "by": last.author, "at": last.at}
    told = seen.circumstances.get("lock_out", "")
    return {"confirmed": bool(told), "by": seen.circumstances.get("technician", ""), "at": ""}


def _minutes(readings: Iterable[Mapping[str, Any]], catalogue: Catalogue) -> float:
    """The minutes of the tests typed so far; what a file tells took nobody's time."""
    done = {(one["test"], one["after"]) for one in readings if one["source"] == "typed"}
    return round(sum(catalogue.tests[test].minutes for test, _ in done), 1)


def _overall(assessment: Assessment, reader: Reader) -> dict[str, Any]:
    after = assessment.overall_after
    return {
        "overall": assessment.overall,
        "overall_words": reader.words(VERDICT_WORDS[assessment.overall]),
        "overall_why": say(assessment.overall_why, reader),
        "overall_after": after,
        "overall_after_words": None if after is None else reader.words(VERDICT_WORDS[after]),
    }


@dataclass(frozen=True)
class _Given:
    """What the entries say of one reading: their keys, and when they were made."""

    keys: list[str]
    by: str
    at: str


def _given(reading: Reading, counted: Iterable[BayEntry]) -> _Given:
    ones = [
        entry
        for entry in counted
        if entry.kind == "reading" and entry.test == reading.test and entry.after == reading.after
    ]
    keys = [entry.key for entry in ones] if reading.origin == "typed" else []
    return _Given(keys, reading.by, reading.at)


def _reading(
    reading: Reading, assessment: Assessment, counted: Sequence[BayEntry], reader: Reader
) -> dict[str, Any]:
    given = _given(reading, counted)
    test = reader.catalogue.tests[reading.test]
    division = 2.0 * reading.measured.half_width_si if reading.measured else 0.0
    return {
        "keys": given.keys,
        "test": reading.test,
        "label": reader.words(test.label),
        "after": reading.after,
        "shown": reading_words(reading, reader),
        "outcome": reading.outcome,
        "value_si": None if reading.measured is None else reading.measured.si,
        "each": [measured(one, test.dimension, reader.units, division) for one in reading.each_si],
        "source": reading.origin,
        "instrument": reading.instrument,
        "by": given.by,
        "at": given.at,
        "others": [
            {"shown": reading_words(one, reader), "by": one.by, "at": one.at, "source": one.origin}
            for one in (*assessment.listed, *(each.reading for each in assessment.not_judged))
            if one is not None
            and one is not reading
            and (one.test, one.after) == (reading.test, reading.after)
            and _differs(one, reading)
        ],
    }


def _differs(one: Reading, other: Reading) -> bool:
    return (one.measured, one.outcome, one.by, one.at, one.origin) != (
        other.measured,
        other.outcome,
        other.by,
        other.at,
        other.origin,
    )


def _judged(assessment: Assessment, counted: Sequence[BayEntry], reader: Reader) -> list[dict[str, Any]]:
    return [
        _reading(one.reading, assessment, counted, reader) | _verdict(one, reader)
        for one in (*assessment.verdicts, *assessment.verdicts_after)
    ]


def _verdict(judged: Judgement, reader: Reader) -> dict[str, Any]:
    holds = chance_of(judged)
    return {
        "verdict": judged.verdict,
        "verdict_words": reader.words(VERDICT_WORDS[judged.verdict]),
        "limit": _edge(judged.limit_si, judged, reader),
        "watch_limit": _edge(judged.watch_limit_si, judged, reader),
        "chance": None if holds is None else write_chance(holds, short=True),
        "repeat": judged.repeat,
        "why": say(judged.why, reader),
        "todo": _said(judged.todo, reader),
    }


def chance_of(judged: Judgement) -> float | None:
    """Give the chance that a verdict, or a worse one, is the true one; of ``good``, that nothing is worse.

    Args:
        judged: The judgement.

    Returns:
        The chance [-], or None where the reading is a word.
    """
    if not judged.chances or judged.verdict in ("none", "not_judged"):
        return None
    beyond = {"watch": judged.chance_beyond_watch, "act_now": judged.chance_beyond_limit}
    return beyond.get(judged.verdict, judged.chances.get(judged.verdict, 0.0))


def _edge(si: float | None, judged: Judgement, reader: Reader) -> str | None:
    return None if si is None else plain(si, judged.dimension, reader.units)


def _unjudged(assessment: Assessment, counted: Sequence[BayEntry], reader: Reader) -> list[dict[str, Any]]:
    """A reading that could not be judged stands in its place too, without a verdict; one place a test."""
    found: dict[tuple[str, bool], dict[str, Any]] = {}
    for one in reversed(assessment.not_judged):  # of two that disagree the surer one comes last
        if one.reading is None or (one.test, one.reading.after) in found:
            continue
        shown = _reading(one.reading, assessment, counted, reader)
        found[one.test, one.reading.after] = shown | {
            "verdict": "not_judged",
            "verdict_words": reader.words(VERDICT_WORDS["not_judged"]),
            "limit": None,
            "watch_limit": None,
            "chance": None,
            "repeat": False,
            "why": say(one.why, reader),
            "todo": None,
        }
    return list(reversed(found.values()))


def _open_points(assessment: Assessment, counted: Iterable[BayEntry], reader: Reader) -> dict[str, list[Any]]:
    keys = {entry.test: entry.key for entry in counted if entry.kind == "not_done"}
    label = {test.id: reader.words(test.label) for test in reader.catalogue.tests.values()}
    notes = [note for one in assessment.evidence for note in (*one.notes, *one.cannot_tell)]
    return {
        "not_judged": [
            {"test": one.test, "label": label[one.test], "why": say(one.why, reader)}
            for one in assessment.not_judged
        ],
        "not_done": [
            {"test": test, "label": label[test], "why": why, "key": keys.get(test)}
            for test, why in assessment.not_done.items()
        ],
        "findings": say_all((one.message for one in assessment.findings), reader),
        "notes": say_all(notes, reader),
        "missing": list(assessment.missing),
    }


def _next(one: NextTest, seen: Visit, reader: Reader) -> dict[str, Any]:
    test = reader.catalogue.tests[one.test]
    why = say(one.why, reader)
    named = test.cautions_for(seen.truck.grips_by, seen.truck.valve)
    return {
        "test": one.test,
        "label": reader.words(test.label),
        "minutes": round(one.minutes, 1),
        "worth_usd": round(one.worth_usd, 2),
        "why": why,
        "cautions": [reader.words(reader.catalogue.cautions[name].text) for name in named],
        "gates": why if one.forced else None,
    }


def causes_of(assessment: Assessment, reader: Reader) -> dict[str, list[Any]]:
    """Give causes, what led to them, the order of repair and doubts.

    Args:
        assessment: The assessment.
        reader: Who reads.

    Returns:
        ``causes``, ``leading_to``, ``repair_order`` and ``doubts``.
    """
    found = assessment.diagnosis
    label = {fault.id: reader.words(fault.label) for fault in reader.catalogue.faults.values()}
    return {
        "causes": [_cause(one, reader) for one in assessment.causes[:MOST_CAUSES]],
        "leading_to": [
            {
                "result": one.result,
                "result_label": label[one.result],
                "cause": one.cause,
                "cause_label": label[one.cause],
                "chance": write_chance(one.probability, short=True),
                "ask": list(one.ask),
                "why": say(one.why, reader),
            }
            for one in assessment.leading_to
        ],
        "repair_order": [
            {
                "fault": one.fault,
                "label": label[one.fault],
                "chance": write_chance(one.probability, short=True),
                "minutes": round(one.minutes, 1),
                "cost_usd": round(one.cost_usd, 2),
                "retest": [reader.words(reader.catalogue.tests[test].label) for test in one.retest],
                "if_left": reader.words(one.if_left),
            }
            for one in (() if found is None else found.repairs)
        ],
        "doubts": [] if found is None else say_all((*found.doubts, *found.unused), reader),
    }


def _cause(cause: Cause, reader: Reader) -> dict[str, Any]:
    fault = reader.catalogue.faults[cause.fault]
    return {
        "fault": cause.fault,
        "label": reader.words(fault.label),
        "probability": round(cause.probability, 6),
        "chance": write_chance(cause.probability, short=True),
        "fix": reader.words(cause.fix),
        "severity": fault.severity,
        "for": [_sign(one, reader) for one in cause.speaks_for],
        "against": [_sign(one, reader) for one in cause.speaks_against],
    }


def _sign(sign: Sign, reader: Reader) -> str:
    values: dict[str, Value] = {
        "test": test_name(sign.test),
        "outcome": outcome(sign.test, sign.outcome),
        "with_fault": chance(sign.with_fault),
        "sound": chance(sign.without),
    }
    told = Message("{test}: {outcome} ({with_fault} with this fault, {sound} on a sound truck)", values)
    return say(told, reader)


def _life(assessment: Assessment, reader: Reader) -> dict[str, Any] | None:
    if assessment.life is None:
        return None
    return life_data(assessment.life, reader) | {
        "text": forecast_lines(assessment.life.forecast, reader),
    }


def _pictures(
    assessment: Assessment,
    readings: Sequence[Mapping[str, Any]],
    nexts: Sequence[Mapping[str, Any]],
    reader: Reader,
) -> dict[str, str | None]:
    from fanwright.report.pictures import bay

    truck, wanted = assessment.visit.truck, [str(one["test"]) for one in nexts]
    drawn: dict[str, str | None] = {"svg_after": None, "svg_after_small": None}
    for after in (False, True) if any(one["after"] for one in readings) else (False,):
        spots = bay.spots_of(assessment, reader, after)
        for small in (False, True):
            name = f"svg{'_after' if after else ''}{'_small' if small else ''}"
            drawn[name] = bay.draw(truck, spots, wanted, small=small, reader=reader)
    return drawn
