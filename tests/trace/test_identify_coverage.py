"""Intervals of an identified circuit hold what they promise, and nothing is guessed."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from fanwright.evidence.trace.identify import identify
from fanwright.evidence.trace.identify_machine import machine_of
from fanwright.evidence.trace.maker import examine
from fanwright.truck.loader import presets
from fanwright.virtual.air import circuit_of, cycles, with_faults
from fanwright.virtual.logger import Logger, simulate_trace

COLUMNS = ("time_s", "supply_gauge_pa", "drive_gauge_pa", "air_sent", "shut")
EACH = 24
# 99.9 % of binomial draws of 48 at a chance of 0.80 lie in 29 to 46 (scipy.stats.binom)
FEWEST, MOST = 29 / 48, 47 / 48


@pytest.fixture(scope="module")
def trials() -> ModuleType:
    """The generator of the trials, which knows the truth of each trace."""
    path = Path(__file__).parents[2] / "trials" / "identify.py"
    spec = importlib.util.spec_from_file_location("trials_identify", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["trials_identify"] = module
    spec.loader.exec_module(module)
    return module


def test_intervals_cover_what_they_say(trials: ModuleType) -> None:
    found = trials.tried(trials.KINDS, EACH, 4711)
    for name in trials.NAMES:
        sides = [side for kind in trials.KINDS for side in found[kind][name]]
        assert len(sides) >= 1.5 * EACH, name
        assert FEWEST <= sides.count(0) / len(sides) <= MOST, (name, sides)


@pytest.mark.parametrize(
    ("fault", "severity", "narrowed", "untouched"),
    [
        ("exhaust_blocked", 0.7, ("exhaust",), ("fill",)),
        ("drive_line_restricted", 0.95, ("fill", "exhaust"), ()),
    ],
)
def test_a_fault_narrows_its_own_path(
    fault: str, severity: float, narrowed: tuple[str, ...], untouched: tuple[str, ...], trials: ModuleType
) -> None:
    truck = presets()["line-haul spring-on"]
    found = []
    for faults in ({}, {fault: severity}):
        circuit = with_faults(circuit_of(truck), faults)
        logger = Logger(rate_hz=100.0, noise_sd_pa=1500.0, seed=3)
        trace = simulate_trace(circuit, cycles(2, 8.0, 8.0), logger)
        columns = (getattr(trace, each) for each in COLUMNS)
        found.append(identify(examine(trials.raw_of(*columns)), machine_of(truck)))
    sound, faulty = found
    for name in narrowed:
        assert getattr(faulty, name).high < 0.6 * getattr(sound, name).low
    for name in untouched:
        assert getattr(faulty, name).low < getattr(sound, name).high
