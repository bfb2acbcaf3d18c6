"""What the server makes of one entry: the reference the tablet is held against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from fanwright import catalogue as catalogues
from fanwright.errors import InputError
from fanwright.evidence.typed import read_entry
from fanwright.judging import limits as limiting
from fanwright.judging.judge import Context, judge
from fanwright.truck.loader import presets


def truck_of(volts: float):
    """The truck of all cases."""
    return replace(presets()["line-haul spring-on"], volts=float(volts))


def expected(case: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """Give verdict, chances and whether to repeat; None where the entry cannot be read."""
    catalogue = catalogues.load()
    truck = truck_of(case["volts"])
    entry: dict[str, Any] = {"value": case["value"]}
    if "instrument" in case:
        entry["instrument"] = case["instrument"]
    others = {
        test: read_entry(test, value, catalogue)[0]
        for test, value in case["others"].items()
        if test != case["test"]
    }
    try:
        reading = read_entry(case["test"], entry, catalogue)[0]
    except InputError:
        return None
    said = judge(
        reading, Context(truck, catalogue, limiting.load(catalogue), {**others, reading.test: reading})
    )
    return {"verdict": said.verdict, "chances": dict(said.chances), "repeat": said.repeat}
