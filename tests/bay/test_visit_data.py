"""The plain data of a bay visit, held by a written example that the page is drawn from."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

from fanwright.catalogue import load
from fanwright.desk.bay_data import visit_data
from fanwright.desk.bay_written import written
from fanwright.judging import load as load_limits
from fanwright.records.bay_model import BayVisit
from fanwright.report.say import Reader
from fanwright.visit import assess, visit_from

EXAMPLE = Path(__file__).with_name("visit.json")


@pytest.fixture(scope="module")
def data(demo_bay: BayVisit) -> dict[str, Any]:
    catalogue = load()
    visit = visit_from(written(demo_bay), catalogue, None, "en")
    made = visit_data(demo_bay, assess(visit, catalogue, load_limits(catalogue)), Reader(catalogue=catalogue))
    if os.environ.get("FANWRIGHT_WRITE_EXAMPLES"):
        EXAMPLE.write_text(json.dumps(made, ensure_ascii=False, indent=1) + "\n", "utf-8")
    return made


def test_the_written_example_is_what_the_code_makes(data: dict[str, Any]) -> None:
    kept = json.loads(EXAMPLE.read_text("utf-8"))
    drawn = ("svg", "svg_small", "svg_after", "svg_after_small", "life", "causes", "next", "repair_order")
    for name in kept.keys() | data.keys():
        if name not in drawn:
            assert data.get(name) == kept.get(name), name
        else:
            assert (data[name] is None) == (kept[name] is None), name


def test_both_readings_of_two_tablets_are_kept_and_shown(data: dict[str, Any]) -> None:
    before = [one for one in data["readings"] if one["test"] == "vent_time" and not one["after"]]
    assert len(before) == 1
    assert {before[0]["by"], *(one["by"] for one in before[0]["others"])} == {"Ana", "Bo"}
    assert len(before[0]["keys"]) == 2


def test_a_replaced_entry_stays_in_the_list_but_does_not_count(data: dict[str, Any]) -> None:
    shown = [one for one in data["entries"] if one["test"] == "exhaust_puff"]
    assert [one["alive"] for one in shown] == [False, True]
    (reading,) = (one for one in data["readings"] if one["test"] == "exhaust_puff")
    assert reading["outcome"] == "weak_or_slow"


def test_lock_out_minutes_and_cautions_stand_in_full(data: dict[str, Any]) -> None:
    assert data["lock_out"] == {"confirmed": True, "by": "Ana", "at": "2026-04-14T07:21:04-06:00"}
    assert data["minutes_so_far"] > 40.0
    assert data["next"]
    assert all(one["label"] and one["minutes"] >= 0.0 for one in data["next"])
    cautions = load().cautions
    said = {one.text for one in cautions.values()}
    assert all(caution in said for one in data["next"] for caution in one["cautions"])


def test_everything_in_it_can_be_sent(data: dict[str, Any]) -> None:
    assert json.loads(json.dumps(data, allow_nan=False)) == data
