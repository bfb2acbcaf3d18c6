"""The chain of reasoning as a drawing: told in words too, inside its frame, a cause before its result."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from typing import Any

import pytest

from fanwright.desk.diagnose import draw_chain
from fanwright.diagnosis.model import Cause, Diagnosis, LeadsTo, Sign
from fanwright.diagnosis.reasoning import reasoning_of
from fanwright.report.font import font
from fanwright.report.pictures.chain import FEW, SHORT, draw
from fanwright.words import Message

SVG = "{http://www.w3.org/2000/svg}"
BLOCKED = {
    "facing_look": "glazed",
    "engage_sound": "long_squeal",
    "vent_time": "2.1 s",
    "exhaust_look": "blocked_or_upward",
    "drive_gauge_air_on": "117 psi",
}


def led(cause: str, result: str, probability: float, *ask: str) -> LeadsTo:
    return LeadsTo(result, cause, probability, ask, Message("why"))


def test_a_cause_stands_before_its_result_and_is_joined_to_it() -> None:
    worn = Cause("facing_worn", 0.99, "", (Sign("facing_thickness", "at_or_under_0_250", 0.9, 0.003),))
    brake = Cause("set_fan_with_brake", 0.95, "", (Sign("set_brake_fan", "on", 0.9, 0.001),))
    found = reasoning_of(
        Diagnosis((worn, brake), leading_to=(led("set_fan_with_brake", "facing_worn", 0.95),))
    )
    assert [held.fault for held in found.held] == ["set_fan_with_brake", "facing_worn"]
    assert found.leads == (("set_fan_with_brake", "facing_worn"),)
    assert not any(held.open_tests for held in found.held)


def test_a_result_without_its_cause_names_what_to_ask() -> None:
    worn = Cause("facing_worn", 0.99, "", (Sign("facing_thickness", "at_or_under_0_250", 0.9, 0.003),))
    led_by = (led("set_ac_time_short", "facing_worn", 0.04, "set_ac_time", "recording_runs"),)
    found = reasoning_of(Diagnosis((worn,), leading_to=led_by))
    assert found.held[0].open_tests == ("set_ac_time",)
    assert "what led to it? " in draw(found)


@pytest.mark.parametrize("theme", ["screen", "print"])
@pytest.mark.parametrize("short", [False, True])
def test_everything_stands_inside_and_is_told_in_words(
    assessed: Callable[..., Any], theme: Any, short: bool
) -> None:
    assessment = assessed(BLOCKED, verdicts_only=False)
    chain = reasoning_of(assessment.diagnosis, **({"faults": FEW, "speaking_for": FEW} if short else {}))
    svg = draw(chain, theme, form=SHORT) if short else draw_chain(assessment, theme)
    root = ET.fromstring(svg)
    width, height = (float(number) for number in root.attrib["viewBox"].split()[2:])
    for text in root.iter(f"{SVG}text"):
        size, x, y = (float(text.attrib[key]) for key in ("font-size", "x", "y"))
        wide = font().width(text.text or "", size, "font-weight" in text.attrib)
        left = x - (wide if text.attrib.get("text-anchor") == "end" else 0.0)
        assert left >= 0.0
        assert left + wide <= width
        assert size * 0.8 <= y <= height
    for box in root.iter(f"{SVG}rect"):
        x, y, wide, high = (float(box.attrib[key]) for key in ("x", "y", "width", "height"))
        assert 0.0 <= x <= x + wide <= width
        assert 0.0 <= y <= y + high <= height
    told = root.findtext(f"{SVG}desc") or ""
    assert "Exhaust port blocked" in told
    assert re.search(r"Facing glazed by slip: \d+ %|over 99 %", told)
    assert "leads to Facing glazed" in told
    assert ("class=" in svg) == (theme == "screen")


def test_a_measured_value_stands_beside_its_test(assessed: Callable[..., Any]) -> None:
    svg = draw_chain(assessed(BLOCKED, verdicts_only=False))
    assert ">2.1 s<" in svg


def test_nothing_is_drawn_where_the_search_failed(assessed: Callable[..., Any]) -> None:
    assert draw_chain(assessed(BLOCKED)) == ""
