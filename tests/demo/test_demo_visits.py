"""The demo visits: shape, ids, words and quantities, their story, and nothing from outside the scenario."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from fanwright import catalogue, quantities

DEMO = Path(__file__).parents[2] / "examples" / "demo"
UNITS = [str(unit) for unit in range(201, 225)]
HERE = Path(__file__).parent

TABLES = {
    "truck": {
        "unit",
        "odometer",
        "engine_hours",
        "preset",
        "vin",
        "make",
        "model_year",
        "serial",
        "tire_size",
    },
    "drive": {"grips_by", "valve", "volts"},
    "visit": {"date", "time", "zone", "place", "lock_out", "kind", "technician"},
    "proof": {"unplugged_drive_gauge", "unplugged_fan"},
    "work": {"cause", "parts", "labour", "note"},
    "files": {"air_trace", "air_trace_after", "recording"},
}
READING_TABLES = {"readings", "readings_after", "not_done"}
LONG_FORM = {"value", "instrument", "at", "by", "beside"}
# Scenario: date of the visit, first and last thickness [in] (None where only the last is told).
STORY: dict[str, tuple[str, float | None, float]] = {
    "201": ("2026-01-12", 0.310, 0.302),
    "202": ("2026-01-14", 0.298, 0.284),
    "203": ("2026-01-20", 0.285, 0.246),
    "204": ("2026-02-02", 0.322, 0.262),
    "205": ("2026-02-03", 0.318, 0.300),
    "206": ("2026-02-09", 0.301, 0.255),
    "207": ("2026-02-16", 0.270, 0.268),
    "208": ("2026-02-23", None, 0.290),
    "209": ("2026-03-02", None, 0.305),
    "210": ("2026-03-03", None, 0.296),
    "211": ("2026-03-17", None, 0.333),
    "212": ("2026-03-30", None, 0.288),
    "213": ("2026-04-07", None, 0.275),
    "214": ("2026-04-14", 0.297, 0.291),
    "215": ("2026-04-21", None, 0.252),
    "216": ("2026-04-22", None, 0.248),
    "217": ("2026-05-05", None, 0.309),
    "218": ("2026-05-06", None, 0.312),
    "219": ("2026-05-19", None, 0.281),
    "220": ("2026-06-09", None, 0.294),
    "221": ("2026-06-23", None, 0.287),
    "222": ("2026-07-14", None, 0.300),
    "223": ("2026-08-11", None, 0.313),
    "224": ("2026-10-06", 0.344, 0.341),
}
AIR_ON = {"217"}  # 218 is air-on too, but was written down as spring-on
NAMES = {"Ana", "Bo", "Kit", "Rae", "Sol", "Noor", "Millrace", "High", "Saddle", "Quillfen"}
# Every other word with a capital, so that a new one is looked at before it gets in.
PLAIN_WORDS = {"A", "A/C", "C", "DEMO", "G", "Hz", "INVENTED", "V"}
PLAIN_WORDS |= {"January", "March", "April", "May", "June", "November"}
PLAIN_WORDS |= {"Cleaned", "Coil", "Compressor", "Do", "Everything", "Exchange", "Facing", "Fifteen", "Front"}
PLAIN_WORDS |= {"New", "Software", "Thawed", "The", "Valve", "Wash", "Worked"}


def visit(unit: str) -> dict[str, Any]:
    return tomllib.loads((DEMO / f"{unit}.toml").read_text("utf-8"))


def typed(value: Any) -> list[Any]:
    """Give the single values of a reading in any of its forms."""
    if isinstance(value, dict):
        value = value["value"]
    return value if isinstance(value, list) else [value]


def entries(content: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """Give every reading of a visit: as found, after, in the proof and in the history."""
    for table in ("readings", "readings_after", "proof"):
        yield from content.get(table, {}).items()
    for past in content.get("history", []):
        yield from ((key, value) for key, value in past.items() if key not in {"date", "odometer"})


def inches(value: Any) -> list[float]:
    return [quantities.read(one, "length").si / 0.0254 for one in typed(value)]


def test_there_is_one_visit_for_each_truck() -> None:
    assert sorted(path.stem for path in DEMO.glob("*.toml")) == UNITS


@pytest.mark.parametrize("unit", UNITS)
def test_only_the_keys_of_a_visit_file(unit: str) -> None:
    content = visit(unit)
    assert content["truck"]["unit"] == unit
    for name, table in content.items():
        if name == "history":
            assert all({"date", "odometer", "facing_thickness"} == set(past) for past in table)
        elif name not in READING_TABLES:
            assert set(table) <= TABLES[name], name
    assert {"truck", "drive", "visit", "readings", "not_done", "history"} <= set(content)
    for _, value in entries(content):
        assert not isinstance(value, dict) or ("value" in value and set(value) <= LONG_FORM)
    assert all(isinstance(reason, str) and reason for reason in content["not_done"].values())
    assert not set(content["not_done"]) & set(content["readings"])


@pytest.mark.parametrize("unit", UNITS)
def test_ids_words_and_quantities_are_known(unit: str) -> None:
    content, known = visit(unit), catalogue.load()
    assert set(content["not_done"]) <= set(known.tests)
    assert content.get("work", {}).get("cause", "no_fault") in known.faults
    for test_id, value in entries(content):
        test = known.tests[test_id]
        for one in typed(value):
            if one not in test.words():
                assert test.dimension, f"{test_id} has no word {one}"
                quantities.read(one, test.dimension)
        if len(typed(value)) > 1:
            assert test.list_means, f"{test_id} takes no list"


@pytest.mark.parametrize("unit", UNITS)
def test_truck_and_history_quantities(unit: str) -> None:
    content = visit(unit)
    quantities.read(content["truck"]["odometer"], "distance")
    quantities.read(content["truck"]["engine_hours"], "engine_time")
    if "labour" in content.get("work", {}):
        quantities.read(content["work"]["labour"], "working_time")
    dates = [past["date"] for past in content["history"]] + [content["visit"]["date"]]
    assert dates == sorted(dates)
    driven = [quantities.read(past["odometer"], "distance").si for past in content["history"]]
    driven.append(quantities.read(content["truck"]["odometer"], "distance").si)
    assert (driven == sorted(driven)) is (unit != "207"), "only 207 carries the odometer trap"


@pytest.mark.parametrize("unit", UNITS)
def test_the_story_of_the_scenario(unit: str) -> None:
    content = visit(unit)
    date, first, last = STORY[unit]
    assert content["visit"]["date"] == dt.date.fromisoformat(date)
    now = min(inches(content["readings"]["facing_thickness"]))
    assert (now / 25.4 if unit == "205" else now) == pytest.approx(last, abs=0.0006)
    was = [min(inches(past["facing_thickness"])) for past in content["history"]]
    assert first is None or was[0] == pytest.approx(first, abs=0.0005)
    assert was == sorted(was, reverse=True)
    assert was[-1] > last - 1e-9
    assert content["drive"]["grips_by"] == ("air" if unit in AIR_ON else "spring")
    assert content["drive"]["valve"] == ("no" if unit in AIR_ON else "nc")
    assert content["drive"]["volts"] == (24 if unit == "219" else 12)


@pytest.mark.parametrize("unit", UNITS)
def test_first_line_tells_the_story(unit: str) -> None:
    first, second = (DEMO / f"{unit}.toml").read_text("utf-8").splitlines()[:2]
    assert first.startswith(f"# {unit}: ")
    assert len(first) > 40
    assert second == "[truck]"


@pytest.mark.parametrize("unit", UNITS)
def test_no_name_from_outside_the_scenario(unit: str) -> None:
    content = visit(unit)
    assert content["visit"]["technician"] in {"Ana", "Bo", "Kit"}
    assert content["visit"]["place"] in {"Millrace", "High Saddle"}
    assert content["truck"]["make"] == "demo tractor"
    assert content["truck"]["serial"] == f"DEMO-000{unit}"
    text = (DEMO / f"{unit}.toml").read_text("utf-8")
    assert set(re.findall(r"\b[A-Z][A-Za-z/]*", text)) <= NAMES | PLAIN_WORDS


def test_the_traps_are_there() -> None:
    assert min(inches(visit("205")["readings"]["facing_thickness"])) > 7
    assert visit("213")["readings"]["drive_gauge_air_off"]["value"] == "-8 psi"
    assert "readings_after" not in visit("209")
    assert visit("218")["proof"] == {"unplugged_drive_gauge": "118 psi", "unplugged_fan": "grips"}
    assert "photo" in visit("220")["work"]["note"]


def test_expectations_speak_of_readings_that_were_taken() -> None:
    expected = tomllib.loads((HERE / "expectations.toml").read_text("utf-8"))
    assert sorted(expected) == UNITS
    for unit, wanted in expected.items():
        assert set(wanted) == {"overall", "verdicts", "findings", "not_judged"}
        taken = set(visit(unit)["readings"]) | {"facing_spread"}
        assert set(wanted["verdicts"]) | set(wanted["not_judged"]) <= taken, unit
        order = ["good", "watch", "act_now", "stand_down"]
        worst = max(wanted["verdicts"].values(), key=order.index)
        assert worst == wanted["overall"], unit
