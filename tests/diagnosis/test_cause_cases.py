"""Cases of readings and their causes, written from the trade."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fanwright.diagnosis import Diagnosis

FILES = sorted((Path(__file__).parent.parent / "cases").glob("causes*.toml"))
CASES = [case for file in FILES for case in tomllib.loads(file.read_text("utf-8"))["case"]]


def test_there_are_enough_cases_each_with_its_own_name() -> None:
    names = [case["name"] for case in CASES]
    assert len(names) >= 60
    assert len(names) == len(set(names))


@pytest.mark.parametrize("case", CASES, ids=[case["name"].replace(" ", "_") for case in CASES])
def test_case(case: dict[str, Any], assessed: Callable[..., Any]) -> None:
    truck = {"grips_by": "spring", "valve": "nc", "volts": 12, **case.get("truck", {})}
    kind = case.get("kind", "complaint")
    found = assessed(case["readings"], verdicts_only=False, drive=truck, visit={"kind": kind}).diagnosis
    assert found is not None
    chances = {cause.fault: cause.probability for cause in found.causes}
    first = found.causes[0].fault
    assert first in case["first"], chances
    for fault, least in case.get("sure", {}).items():
        assert chances.get(fault, 0.0) >= least, chances
    for fault, most in case.get("unlikely", {}).items():
        assert chances.get(fault, 0.0) <= most, chances
    if "asks" in case:
        assert {test.test for test in found.next_tests} & set(case["asks"]), found.next_tests
    for result, cause in case.get("led", {}).items():
        assert (result, cause) in led(found), led(found)
    if case.get("doubts"):
        assert found.doubts


def led(diagnosis: Diagnosis) -> set[tuple[str, str]]:
    return {(one.result, one.cause) for one in diagnosis.leading_to}
