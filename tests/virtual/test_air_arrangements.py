"""The four arrangements of drive and valve do what the trade's table says, by simulation alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanwright.truck.loader import presets
from fanwright.virtual.air import Circuit, Simulation, Story, circuit_of, cycles, simulate, with_faults

PSI = 6894.757293168

# preset, unplugged: gauge and fan, fed: gauge and fan, fan after loss of current, fan after loss of air
TABLE = [
    ("line-haul spring-on", "zero", "grips", "high", "lets_go", "grips", "grips"),
    ("line-haul air-on", "high", "grips", "zero", "lets_go", "grips", "lets_go"),
    ("line-haul spring-on no", "high", "lets_go", "zero", "grips", "lets_go", "grips"),
    ("line-haul air-on nc", "zero", "lets_go", "high", "grips", "lets_go", "lets_go"),
]


def sound(name: str) -> Circuit:
    return circuit_of(presets()[name], 120 * PSI)


def stand(circuit: Circuit, story: Story) -> Simulation:
    return simulate(circuit, story, np.array([story.duration_s]))


def gauge(shown: Simulation) -> str:
    psi = shown.drive_gauge_pa[-1] / PSI
    return "high" if psi >= 90.0 else ("zero" if psi <= 2.0 else "between")


@pytest.mark.parametrize(
    ("name", "off_gauge", "off_fan", "fed_gauge", "fed_fan", "no_current", "no_air"), TABLE
)
@pytest.mark.parametrize("told", [False, True])
def test_the_table(
    name: str,
    told: bool,
    off_gauge: str,
    off_fan: str,
    fed_gauge: str,
    fed_fan: str,
    no_current: str,
    no_air: str,
) -> None:
    circuit, whole = sound(name), ((-1.0, 6.0),)
    sent = whole if told else ()
    unplugged = stand(circuit, Story(5.0, sent, unplugged=((0.5, 6.0),)))
    assert (gauge(unplugged), unplugged.fan_at(5.0)) == (off_gauge, off_fan)
    fed = stand(circuit, Story(5.0, sent, jumper=((0.5, 6.0),)))
    assert (gauge(fed), fed.fan_at(5.0)) == (fed_gauge, fed_fan)
    dead = stand(with_faults(circuit, {"wire_open": 1.0}), Story(5.0, sent))
    assert dead.fan_at(5.0) == no_current
    empty = stand(replace(circuit, supply_gauge_pa=0.0), Story(5.0, sent))
    assert empty.fan_at(5.0) == no_air
    assert gauge(empty) == "zero"


@pytest.mark.parametrize("name", [row[0] for row in TABLE])
def test_air_sent_and_cut_off_does_the_same_whatever_the_valve(name: str) -> None:
    circuit, story = sound(name), cycles(2, on_s=2.5, off_s=3.0)
    clock = np.array([0.1, 2.9, 5.9, 8.4, 11.4])
    shown = simulate(circuit, story, clock)
    with_air = "lets_go" if circuit.grips_by == "spring" else "grips"
    without = "grips" if circuit.grips_by == "spring" else "lets_go"
    assert [shown.fan_at(time) for time in clock] == [without, with_air, without, with_air, without]


@pytest.mark.parametrize("name", [row[0] for row in TABLE])
def test_wrong_valve_turns_both_states_round(name: str) -> None:
    wrong = with_faults(sound(name), {"valve_wrong_or_swapped": 1.0})
    sent = stand(wrong, Story(4.0, ((-1.0, 5.0),)))
    cut = stand(wrong, Story(4.0))
    assert sent.drive_gauge_pa[-1] < 5 * PSI
    assert cut.drive_gauge_pa[-1] > 60 * PSI


@pytest.mark.parametrize("name", [row[0] for row in TABLE])
@pytest.mark.parametrize(
    ("fault", "fed"), [("coil_open", False), ("wire_open", False), ("wire_touches_power", True)]
)
def test_electrical_faults_hold_the_coil_in_one_state(name: str, fault: str, fed: bool) -> None:
    circuit = sound(name)
    passes = fed == (circuit.valve == "nc")
    for sent in ((), ((-1.0, 5.0),)):
        shown = stand(with_faults(circuit, {fault: 0.4}), Story(4.0, sent))
        assert gauge(shown) == ("high" if passes else "zero")


def test_a_jumper_parts_an_open_wire_from_an_open_coil() -> None:
    circuit, jumper = sound("line-haul spring-on"), Story(4.0, (), jumper=((0.0, 5.0),))
    assert gauge(stand(with_faults(circuit, {"wire_open": 1.0}), jumper)) == "high"
    assert gauge(stand(with_faults(circuit, {"coil_open": 1.0}), jumper)) == "zero"
