"""A diagnosis as plain data for JSON."""

from __future__ import annotations

from typing import Any

from fanwright.diagnosis.model import Cause, Diagnosis, NextTest, Repair, Sign
from fanwright.report.say import Reader, say

CHANCE_PLACES = 6


def diagnosis_data(diagnosis: Diagnosis, reader: Reader) -> dict[str, Any]:
    """Give a diagnosis as plain data.

    Args:
        diagnosis: What to show.
        reader: Who reads the sentences in it.

    Returns:
        The keys ``causes``, ``next_tests``, ``leading_to`` and what belongs to them.
    """
    return {
        "causes": [_cause(one, reader) for one in diagnosis.causes],
        "next_tests": [_next(one, reader) for one in diagnosis.next_tests],
        "stop": "" if diagnosis.stop is None else say(diagnosis.stop, reader),
        "cannot_test": [{"test": one.test, "why": say(one.why, reader)} for one in diagnosis.skipped],
        "alike": [
            {
                "faults": list(one.faults),
                "split_by": one.split_by,
                "shared_fix": one.shared_fix,
                "why": say(one.why, reader),
            }
            for one in diagnosis.alike
        ],
        "leading_to": [
            {
                "result": one.result,
                "cause": one.cause,
                "probability": round(one.probability, CHANCE_PLACES),
                "ask": list(one.ask),
                "why": say(one.why, reader),
                "tells": "" if one.tells is None else say(one.tells, reader),
            }
            for one in diagnosis.leading_to
        ],
        "repairs": [_repair(one) for one in diagnosis.repairs],
        "doubts": [say(one, reader) for one in (*diagnosis.doubts, *diagnosis.unused)],
    }


def _cause(cause: Cause, reader: Reader) -> dict[str, Any]:
    fault = reader.catalogue.faults[cause.fault]
    return {
        "fault": cause.fault,
        "label": fault.label,
        "probability": round(cause.probability, CHANCE_PLACES),
        "role": fault.role,
        "severity": fault.severity,
        "fix": cause.fix,
        "for": [_sign(one, reader) for one in cause.speaks_for],
        "against": [_sign(one, reader) for one in cause.speaks_against],
        "if_left": fault.consequence,
    }


def _sign(sign: Sign, reader: Reader) -> dict[str, Any]:
    test = reader.catalogue.tests[sign.test]
    label = next((one.label for one in test.outcomes if one.word == sign.outcome), sign.outcome)
    return {
        "test": sign.test,
        "outcome": sign.outcome,
        "label": label,
        "chance_with_fault": round(sign.with_fault, CHANCE_PLACES),
        "chance_when_sound": round(sign.without, CHANCE_PLACES),
    }


def _next(one: NextTest, reader: Reader) -> dict[str, Any]:
    return {
        "test": one.test,
        "label": reader.catalogue.tests[one.test].label,
        "minutes": round(one.minutes, 1),
        "worth_usd": round(one.worth_usd, 2),
        "forced": one.forced,
        "why": say(one.why, reader),
    }


def _repair(one: Repair) -> dict[str, Any]:
    return {
        "fault": one.fault,
        "probability": round(one.probability, CHANCE_PLACES),
        "cost_usd": round(one.cost_usd, 2),
        "minutes": round(one.minutes, 1),
        "retest": list(one.retest),
        "if_left": one.if_left,
    }
