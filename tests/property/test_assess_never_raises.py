"""Whatever a visit file holds, there is an assessment or a list of mistakes; never anything else."""

from __future__ import annotations

import copy
import json
import math
import tomllib
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fanwright import catalogue, judging
from fanwright.errors import InputError
from fanwright.quantities import Units, read
from fanwright.report.as_data import assessment_data
from fanwright.report.say import Reader, say_all
from fanwright.visit import assess, visit_from

KNOWN = catalogue.load()
LIMITS = judging.load(KNOWN)
DEMO = sorted((Path(__file__).parents[2] / "examples" / "demo").glob("*.toml"))
VISITS = [tomllib.loads(path.read_text("utf-8")) for path in DEMO]
JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 10**9),
    st.floats(allow_nan=True, allow_infinity=True),
    st.text(max_size=12),
    st.sampled_from(
        ["0 psi", "-3 psi", "999 psi", "1e9 psi", "0 in", "nan s", "over_3_s_or_never", "no", "12 mm", "½ in"]
    ),
    st.lists(st.one_of(st.text(max_size=6), st.integers(), st.just("1 s")), max_size=4),
    st.dictionaries(st.sampled_from(["value", "instrument", "at", "inlet", "x"]), st.text(max_size=6)),
)


def places(table: dict[str, Any], above: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = []
    for key, value in table.items():
        found.append((*above, key))
        if isinstance(value, dict):
            found += places(value, (*above, key))
    return found


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=120)
@given(data=st.data())
def test_a_mutated_visit_is_assessed_or_refused(data: st.DataObject) -> None:
    raw = copy.deepcopy(data.draw(st.sampled_from(VISITS)))
    for _ in range(data.draw(st.integers(1, 4))):
        where = data.draw(st.sampled_from(places(raw)))
        holder = raw
        for key in where[:-1]:
            holder = holder[key]
            if not isinstance(holder, dict):
                break
        if isinstance(holder, dict):
            if data.draw(st.booleans()):
                holder[where[-1]] = data.draw(JUNK)
            else:
                holder[data.draw(st.sampled_from([*KNOWN.tests, "odometer", "junk"]))] = data.draw(JUNK)
    try:
        visit = visit_from(raw, KNOWN)
    except InputError as error:
        lines = say_all(error.messages)
        visit = None
    if visit is None:
        assert lines
        assert all(line.strip() for line in lines)
        return
    written = json.dumps(assessment_data(assess(visit, KNOWN, LIMITS)), allow_nan=False)
    assert "failed inside the program" not in written


@given(
    test=st.sampled_from(["supply_gauge_still", "drive_gauge_air_off", "hold_test", "build_air"]),
    psi=st.floats(0.0, 149.0),
    unit=st.sampled_from(["psi", "kPa", "bar", "Pa"]),
)
def test_a_change_of_unit_changes_no_verdict(test: str, psi: float, unit: str) -> None:
    as_typed = Units({"pressure": unit}).write(psi * 6894.757293168, "pressure", step_si=1e-3)
    again = read(as_typed, "pressure").si
    assert math.isclose(again, psi * 6894.757293168, abs_tol=1e-3)
    verdicts = []
    for typed in (f"{again / 6894.757293168:.9f} psi", as_typed):
        raw = {
            "truck": {"unit": "1"},
            "drive": {"grips_by": "spring", "valve": "nc"},
            "visit": {"date": "2026-04-14", "kind": "planned"},
            "readings": {test: typed},
        }
        found = assess(visit_from(raw, KNOWN), KNOWN, LIMITS, verdicts_only=True)
        verdicts.append([one.verdict for one in found.verdicts])
    assert verdicts[0] == verdicts[1]


def test_sentences_of_the_demo_fleet_read_in_metric_too() -> None:
    metric = Reader(Units({"pressure": "kPa", "length": "mm", "distance": "km"}))
    for raw in VISITS:
        data = assessment_data(assess(visit_from(raw, KNOWN), KNOWN, LIMITS, verdicts_only=True), metric)
        measured = [one for one in data["verdicts"] if "value_kpa" in one]
        assert all(" kPa" in one["why"].split(":")[0] for one in measured)
