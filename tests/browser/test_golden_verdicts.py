"""The tablet's preliminary verdict against the server's, on the same entries."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from playwright.sync_api import Page

import golden_server
from fanwright.desk.shop import Shop
from fanwright.desk.tablet_rules import tablet_rules
from fanwright.report.say import Reader

GOLDEN = Path(__file__).parents[1] / "golden"
CASES = json.loads((GOLDEN / "verdicts.json").read_text("utf-8"))
CLOSE = 1e-9

RUN = """async ([rules, cases, truck]) => {
  const { preliminary, measured } = await import("/verdict.mjs");
  return cases.map((one) => {
    const others = {};
    for (const [test, value] of Object.entries(one.others)) {
      if (test !== one.test) others[test] = measured(rules, rules.tests[test], { value });
    }
    return preliminary(rules, one, { ...truck, volts: one.volts, grips_by: one.grips_by, others });
  });
}"""


def test_the_golden_cases_are_what_the_server_says() -> None:
    said = golden_server.expected
    assert len(CASES) > 500
    for case in CASES:
        assert alike(said(case), case["expected"]), case


def test_the_tablet_says_the_same(modules: Page) -> None:
    from fanwright.laws import belt

    truck = golden_server.truck_of(12)
    known = {
        "lift_off_gauge_pa": truck.lift_off_gauge_pa,
        "belt_span_m": truck.belt.span_m,
        "target_tone_hz": belt.span_tone_hz(
            truck.belt.tension_n, truck.belt.span_m, truck.belt.mass_per_length_kg_m
        ),
    }
    rules = json.loads(json.dumps(tablet_rules(Shop(), Reader())))
    answers = modules.evaluate(RUN, [rules, CASES, known])
    wrong = [
        (case, answer)
        for case, answer in zip(CASES, answers, strict=True)
        if not alike(answer, case["expected"])
    ]
    assert wrong == []


def alike(one: dict[str, object] | None, other: dict[str, object] | None) -> bool:
    if one is None or other is None:
        return one is other
    mine, yours = one["chances"], other["chances"]
    assert isinstance(mine, dict)
    assert isinstance(yours, dict)
    return (
        one["verdict"] == other["verdict"]
        and one["repeat"] == other["repeat"]
        and mine.keys() == yours.keys()
        and all(abs(mine[word] - yours[word]) < CLOSE for word in mine)
    )


@pytest.mark.parametrize(
    ("x", "value"),
    [
        # Abramowitz and Stegun, table 7.1 (1 - erf x) and 7.3 (x e^(x^2) erfc x at 1/x^2 = 0.01), from memory
        (0.0, 1.0),
        (0.5, 0.4795001221869535),
        (1.0, 0.15729920705028513),
        (2.0, 0.004677734981047266),
        (3.0, 2.209049699858544e-05),
        (-1.0, 1.8427007929497148),
        (10.0, 2.088487583762545e-45),
    ],
)
def test_the_error_function(modules: Page, x: float, value: float) -> None:
    found = modules.evaluate("async (x) => (await import('/chances.mjs')).erfc(x)", x)
    assert found == pytest.approx(value, rel=1e-12)
