"""Every limit from the good side to the bad one, and where it cannot be judged."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fanwright.visit import Assessment

CASES = tomllib.loads((Path(__file__).parent.parent / "cases" / "limits.toml").read_text("utf-8"))["case"]
STEPS = [
    pytest.param(step, case.get("drive"), id=f"{case['name']} {number}")
    for case in CASES
    for number, step in enumerate(case["steps"])
]


@pytest.mark.parametrize(("step", "drive"), STEPS)
def test_verdict(
    step: dict[str, Any], drive: dict[str, Any] | None, assessed: Callable[..., Assessment]
) -> None:
    found = assessed(step["readings"], **({"drive": drive} if drive else {}))
    verdicts = {one.test: one.verdict for one in found.verdicts}
    verdicts |= {one.test: "not_judged" for one in found.not_judged}
    assert {test: verdicts.get(test) for test in step["verdicts"]} == step["verdicts"]
