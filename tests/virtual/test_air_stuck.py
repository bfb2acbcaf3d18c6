"""A piston that friction parks between its stops must not keep the solver at one moment for ever."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanwright.evidence.trace.identify_machine import machine_of_volumes
from fanwright.virtual.air import Story, simulate

PARKED = {
    "exponent": 1.0,
    "dead_volume_m3": 7.45003707045528e-05,
    "stroke_m": 0.0016960472673464243,
    "preload_n": 9311.24129220635,
    "stiffness_n_per_m": 4353150.364028842,
    "sliding_friction_n": 1326.316369732998,
    "breakaway_friction_n": 1326.316369732998,
    "seal_leak_m3_per_s_pa": 1.6534663293295648e-12,
    "supply_gauge_pa": 725226.2352901602,
    "send_delay_s": 0.0,
    "cut_delay_s": 0.035977163996176675,
    "supply_conductance_m3_per_s_pa": 3.162277660168378e-07,
    "fill_conductance_m3_per_s_pa": 1.3273111148841897e-09,
    "fill_critical_ratio": 0.7,
    "exhaust_conductance_m3_per_s_pa": 4.568078359409756e-09,
    "exhaust_critical_ratio": 0.42536983158248665,
    "reservoir_volume_m3": 800.0,
}


@pytest.mark.parametrize("tolerance", [5e-5, 3e-5, 1e-5])
def test_piston_parked_by_friction_while_the_drive_is_topped_up_again(tolerance: float) -> None:
    drive = machine_of_volumes(6.772760973141162e-05, 0.02287463228402187, 0.0018844969637182491)
    story = Story(
        58.67985733651999,
        ((0.24724658568758423, 55.30081966545634),),
        shut=((6.036937467205181, 54.826930376221796),),
        shut_at="valve",
        settle_s=2.0,
    )
    shown = simulate(replace(drive.circuit, **PARKED), story, np.linspace(0.0, 58.0, 50), tolerance)
    assert shown.steps < 1000
    assert len(shown.events) < 50
