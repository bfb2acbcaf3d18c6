"""Whatever circuit and faults are put together, the run ends, stays finite and loses no air."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fanwright.truck.loader import presets
from fanwright.virtual.air import FAULTS, circuit_of, cycles, simulate, with_faults

PSI = 6894.757293168
STORY = cycles(2, on_s=1.0, off_s=1.5)
CLOCK = np.linspace(0.0, STORY.duration_s, 101)
SPREAD = (
    "dead_volume_m3",
    "inlet_volume_m3",
    "moving_mass_kg",
    "damping_n_s_per_m",
    "stiffness_n_per_m",
    "fill_conductance_m3_per_s_pa",
    "exhaust_conductance_m3_per_s_pa",
    "supply_conductance_m3_per_s_pa",
)


@settings(deadline=None)
@given(
    name=st.sampled_from(sorted(presets())),
    psi=st.floats(0.0, 140.0),
    faults=st.dictionaries(st.sampled_from(sorted(FAULTS)), st.floats(0.0, 1.0), max_size=4),
    spread=st.lists(st.floats(0.1, 10.0), min_size=len(SPREAD), max_size=len(SPREAD)),
    exponent=st.floats(1.0, 1.4),
    segments=st.integers(0, 4),
    friction=st.floats(0.0, 3000.0),
    wall=st.sampled_from((0.3, 5.0, float("inf"))),
)
def test_any_circuit_runs(
    name: str,
    psi: float,
    faults: dict[str, float],
    spread: list[float],
    exponent: float,
    segments: int,
    friction: float,
    wall: float,
) -> None:
    circuit = with_faults(circuit_of(presets()[name], psi * PSI), faults)
    changed = {part: getattr(circuit, part) * by for part, by in zip(SPREAD, spread, strict=True)}
    circuit = replace(
        circuit,
        **changed,
        exponent=exponent,
        line_segments=segments,
        sliding_friction_n=friction,
        breakaway_friction_n=1.2 * friction,
        wall_time_s=wall,
    )
    shown = simulate(circuit, STORY, CLOCK)
    assert np.all(np.isfinite(shown.drive_gauge_pa))
    assert (
        shown.drive_gauge_pa.min() > -0.3 * 101325.0
    )  # moving air in the line may draw the drive below ambient
    assert shown.drive_gauge_pa.max() < 1.5 * circuit.supply_gauge_pa + 0.3 * 101325.0
    assert np.all((shown.piston_m >= -1e-6) & (shown.piston_m <= circuit.stroke_m + 1e-6))
    assert abs(shown.mass_error_kg) < 1e-12 + 1e-9 * shown.mass_moved_kg
