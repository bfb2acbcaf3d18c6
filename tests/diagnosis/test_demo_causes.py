"""Each story of the demo fleet is found: its hidden cause, and the result that goes with it."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from fanwright import catalogue, judging
from fanwright.visit import assess, visit_from

STORIES: dict[str, dict[str, float]] = {
    "201": {"no_fault": 0.9},
    "202": {"exhaust_blocked": 0.95, "facing_glazed": 0.9},
    "203": {"set_fan_with_brake": 0.95, "facing_worn": 0.5},
    "204": {"set_ac_time_short": 0.95},
    "205": {"ac_switch_chatters": 0.85},
    "206": {"coolers_plugged": 0.85},
    "207": {"drive_seal_leaks": 0.97},
    "208": {"hub_bearing_worn": 0.9},
    "209": {"air_wet_or_oily": 0.7},
    "210": {"air_wet_or_oily": 0.7},
    "211": {"valve_wrong_or_swapped": 0.97},
    "212": {"wire_open": 0.95},
    "213": {"coil_weak": 0.95},
    "214": {"exhaust_blocked": 0.95},
    "216": {"disc_overheated": 0.95, "facing_worn": 0.8},
    "217": {"leak_drive_line": 0.95},
    "218": {"valve_sticks_open": 0.9},
    "219": {"coil_weak": 0.95},
    "220": {"cooling_side_fault": 0.95},
    "221": {"fan_blade_damaged": 0.95, "fan_rubs": 0.5},
    "222": {"tensioner_weak": 0.9},
    "223": {"plug_comes_and_goes": 0.9},
    "224": {"no_fault": 0.9},
}
"""215 stays open: its facing, 0.252 in, is not at its limit yet. That it is due is for its life to say."""


def causes(root: Path, unit: str) -> dict[str, float]:
    known = catalogue.load()
    raw: dict[str, Any] = tomllib.loads((root / "examples" / "demo" / f"{unit}.toml").read_text("utf-8"))
    found = assess(visit_from(raw, known), known, judging.load(known))
    assert not [one for one in found.findings if one.id == "diagnosis_failed"]
    return {cause.fault: cause.probability for cause in found.causes}


@pytest.mark.parametrize("unit", STORIES)
def test_story(root: Path, unit: str) -> None:
    found = causes(root, unit)
    for fault, least in STORIES[unit].items():
        assert found.get(fault, 0.0) >= least, found


def test_what_is_not_settled_is_not_called_settled(root: Path) -> None:
    assert 0.005 < causes(root, "215")["facing_worn"] < 0.5
