"""An assessment as plain data for JSON: keys end in their unit, a key whose room is missing is absent."""

from __future__ import annotations

from typing import Any

from fanwright.evidence.reading import Reading
from fanwright.judging import Finding, Judgement
from fanwright.quantities import dimension
from fanwright.report.causes_data import diagnosis_data
from fanwright.report.life_data import life_data
from fanwright.report.say import Reader, say
from fanwright.visit import Assessment, NotJudged

PLACES = 6


def assessment_data(assessment: Assessment, reader: Reader | None = None) -> dict[str, Any]:
    """Give an assessment as plain data.

    Args:
        assessment: What to show.
        reader: Who reads the sentences in it.

    Returns:
        Tables, lists, texts and finite numbers only.
    """
    who = reader or Reader()
    visit = assessment.visit
    data: dict[str, Any] = {
        "unit": visit.unit,
        "date": visit.date.isoformat(),
        "kind": visit.kind,
        "drive": {
            "grips_by": visit.truck.grips_by,
            "valve": visit.truck.valve,
            "volts": visit.truck.volts,
            "preset": visit.truck.preset,
        },
        "overall": assessment.overall,
        "overall_why": say(assessment.overall_why, who),
    }
    if assessment.overall_after is not None:
        data["overall_after"] = assessment.overall_after
    data |= {
        "verdicts": [judgement_data(one, who) for one in assessment.verdicts],
        "not_judged": [_not_judged(one, who) for one in assessment.not_judged],
        "listed": [reading_data(one, who) for one in assessment.listed],
        "not_done": [{"test": test, "why": why} for test, why in assessment.not_done.items()],
        "missing": list(assessment.missing),
        "findings": [_finding(one, who) for one in assessment.findings],
        "notes": [say(note, who) for one in assessment.evidence for note in one.notes],
        "cannot_tell": [say(note, who) for one in assessment.evidence for note in one.cannot_tell],
    }
    if assessment.verdicts_after:
        data["verdicts_after"] = [judgement_data(one, who) for one in assessment.verdicts_after]
    if assessment.diagnosis is not None:
        data |= diagnosis_data(assessment.diagnosis, who)
    data["life"] = None if assessment.life is None else life_data(assessment.life, who)
    if assessment.shop_file:
        data["shop"] = {"file": assessment.shop_file, "sha256": assessment.shop_sha256}
    return data


def judgement_data(judgement: Judgement, reader: Reader) -> dict[str, Any]:
    """Give one judgement as plain data."""
    reading = judgement.reading
    data: dict[str, Any] = {
        "test": judgement.test,
        "label": reader.catalogue.tests[judgement.test].label,
        "verdict": judgement.verdict,
        **_value(reading, reader),
    }
    if judgement.dimension and judgement.value_si is not None:
        shape = dimension(judgement.dimension)
        ending = shape.json_ending
        data |= {
            f"value_{ending}": _rounded(shape.to_json(judgement.value_si)),
            f"sd_{ending}": _rounded(shape.spread_to_json(judgement.sd_si or 0.0)),
        }
        for name, edge in (("limit", judgement.limit_si), ("watch_limit", judgement.watch_limit_si)):
            if edge is not None:
                data[f"{name}_{ending}"] = _rounded(shape.to_json(edge))
        for name, gap in (
            ("difference", judgement.difference_si),
            ("difference_limit", judgement.difference_limit_si),
        ):
            if gap is not None:
                data[f"{name}_{ending}"] = _rounded(shape.spread_to_json(gap))
    if judgement.chances:
        data |= {
            "chance_beyond_limit": _rounded(judgement.chance_beyond_limit or 0.0),
            "chance_beyond_watch": _rounded(judgement.chance_beyond_watch or 0.0),
            "chances": {name: _rounded(value) for name, value in judgement.chances.items()},
        }
    return data | {
        "repeat": judgement.repeat,
        "why": say(judgement.why, reader),
        "todo": "" if judgement.todo is None else say(judgement.todo, reader),
        "source": reading.origin,
        "limit_source": judgement.limit_source,
        "instrument": reading.instrument,
        "cautions": [reader.catalogue.cautions[one].text for one in judgement.cautions],
    }


def reading_data(reading: Reading, reader: Reader) -> dict[str, Any]:
    """Give one reading as plain data."""
    return {
        "test": reading.test,
        **_value(reading, reader),
        "source": reading.origin,
        "after": reading.after,
    }


def _value(reading: Reading, reader: Reader) -> dict[str, Any]:
    if reading.measured is None:
        return {"outcome": reading.outcome}
    shape = dimension(reader.catalogue.tests[reading.test].dimension)
    data: dict[str, Any] = {
        f"value_{shape.json_ending}": _rounded(shape.to_json(reading.measured.si)),
        f"sd_{shape.json_ending}": _rounded(shape.spread_to_json(reading.measured.sd_si)),
    }
    if len(reading.each_si) > 1:
        data[f"each_{shape.json_ending}"] = [_rounded(shape.to_json(one)) for one in reading.each_si]
    if reading.outcome:
        data["outcome"] = reading.outcome
    return data


def _not_judged(one: NotJudged, reader: Reader) -> dict[str, Any]:
    data: dict[str, Any] = {"test": one.test, "why": say(one.why, reader)}
    if one.reading is not None:
        data |= {**_value(one.reading, reader), "source": one.reading.origin, "after": one.reading.after}
    return data


def _finding(one: Finding, reader: Reader) -> dict[str, Any]:
    return {"finding": one.id, "why": say(one.message, reader), "tests": list(one.tests)}


def _rounded(value: float) -> float:
    return round(value, PLACES)
