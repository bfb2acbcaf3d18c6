"""Faults of the catalogue put into a sound circuit, each as bad as a severity from 0 (absent) to 1 says.

A severity is a share: of an opening that is blocked, of the travel a valve has lost, of a largest leak. A
fault of the kind that is there or not (an open coil) is there from any severity over 0.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from fanwright.errors import InputError
from fanwright.virtual.circuit import Circuit
from fanwright.virtual.story import Spans, Story
from fanwright.words import Message, listing, number, text

Put = Callable[[Circuit, float], Circuit]

# How bad the worst is, all assumptions.
LEAK_BY_FILL = 2.0
SEAT_LEAK_BY_EXHAUST = 0.25
AIR_LOST = 0.75
PRELOAD_LOST = 0.8
HELD_BY_BREAKAWAY = 1.3
SLOWEST_COIL_S = 0.5
COIL_GIVES_UP = 0.9
LEFT_OPEN = 1.0e-4


def _left(severity: float) -> float:
    return max(LEFT_OPEN, 1.0 - severity)


def _vehicle_air_low(circuit: Circuit, severity: float) -> Circuit:
    return replace(circuit, supply_gauge_pa=circuit.supply_gauge_pa * (1.0 - AIR_LOST * severity))


def _supply_narrowed(circuit: Circuit, severity: float) -> Circuit:
    # Path and filter resist alike in a sound circuit: one of two equal elements is narrowed, rule of squares.
    narrowed = circuit.supply_conductance_m3_per_s_pa * (0.5 + 0.5 / _left(severity) ** 2) ** -0.5
    return replace(circuit, supply_conductance_m3_per_s_pa=narrowed)


def _leak_supply_side(circuit: Circuit, severity: float) -> Circuit:
    leak = severity * circuit.supply_conductance_m3_per_s_pa
    return replace(circuit, supply_leak_m3_per_s_pa=circuit.supply_leak_m3_per_s_pa + leak)


def _leak_drive_line(circuit: Circuit, severity: float) -> Circuit:
    leak = severity * LEAK_BY_FILL * circuit.fill_conductance_m3_per_s_pa
    return replace(circuit, line_leak_m3_per_s_pa=circuit.line_leak_m3_per_s_pa + leak)


def _drive_seal_leaks(circuit: Circuit, severity: float) -> Circuit:
    leak = severity * LEAK_BY_FILL * circuit.fill_conductance_m3_per_s_pa
    return replace(circuit, seal_leak_m3_per_s_pa=circuit.seal_leak_m3_per_s_pa + leak)


def _drive_line_restricted(circuit: Circuit, severity: float) -> Circuit:
    left = circuit.line_conductance_m3_per_s_pa * _left(severity)
    return replace(circuit, line_conductance_m3_per_s_pa=left)


def _valve_sticks_shut(circuit: Circuit, severity: float) -> Circuit:
    most = min(circuit.most_opening, 1.0 - severity)
    return replace(circuit, most_opening=most, least_opening=min(circuit.least_opening, most))


def _valve_sticks_open(circuit: Circuit, severity: float) -> Circuit:
    least = max(circuit.least_opening, severity)
    return replace(circuit, least_opening=least, most_opening=max(circuit.most_opening, least))


def _valve_seat_leaks(circuit: Circuit, severity: float) -> Circuit:
    leak = severity * SEAT_LEAK_BY_EXHAUST * circuit.exhaust_conductance_m3_per_s_pa
    return replace(circuit, seat_leak_m3_per_s_pa=circuit.seat_leak_m3_per_s_pa + leak)


def _exhaust_blocked(circuit: Circuit, severity: float) -> Circuit:
    left = circuit.exhaust_conductance_m3_per_s_pa * (1.0 - severity)
    return replace(circuit, exhaust_conductance_m3_per_s_pa=left)


def _valve_wrong_or_swapped(circuit: Circuit, severity: float) -> Circuit:
    return replace(circuit, valve_swapped=not circuit.valve_swapped)


def _coil_open(circuit: Circuit, severity: float) -> Circuit:
    return replace(circuit, coil_open=True)


def _coil_slow(circuit: Circuit, severity: float) -> Circuit:
    # A weak coil pulls in late, and at last not at all; the spring that lets it go does not care.
    if severity > COIL_GIVES_UP:
        return replace(circuit, coil_open=True)
    late = severity * SLOWEST_COIL_S
    if circuit.valve == "nc":
        return replace(circuit, send_delay_s=circuit.send_delay_s + late)
    return replace(circuit, cut_delay_s=circuit.cut_delay_s + late)


def _never_fed(circuit: Circuit, severity: float) -> Circuit:
    return replace(circuit, feed="never")


def _always_fed(circuit: Circuit, severity: float) -> Circuit:
    return replace(circuit, feed="always")


def _drive_sticks(circuit: Circuit, severity: float) -> Circuit:
    sliding = circuit.sliding_friction_n + severity * circuit.preload_n
    holding = max(circuit.breakaway_friction_n, HELD_BY_BREAKAWAY * sliding)
    return replace(circuit, sliding_friction_n=sliding, breakaway_friction_n=holding)


def _clamp_spring_weak(circuit: Circuit, severity: float) -> Circuit:
    return replace(circuit, preload_n=circuit.preload_n * (1.0 - PRELOAD_LOST * severity))


FAULTS: dict[str, Put] = {
    "vehicle_air_low": _vehicle_air_low,
    "supply_path_blocked": _supply_narrowed,
    "filter_plugged": _supply_narrowed,
    "leak_supply_side": _leak_supply_side,
    "leak_drive_line": _leak_drive_line,
    "drive_line_restricted": _drive_line_restricted,
    "drive_seal_leaks": _drive_seal_leaks,
    "valve_sticks_shut": _valve_sticks_shut,
    "valve_sticks_open": _valve_sticks_open,
    "valve_seat_leaks": _valve_seat_leaks,
    "exhaust_blocked": _exhaust_blocked,
    "valve_wrong_or_swapped": _valve_wrong_or_swapped,
    "coil_open": _coil_open,
    "coil_weak": _coil_slow,
    "volts_low": _coil_slow,
    "wire_open": _never_fed,
    "controller_output_dead": _never_fed,
    "wire_touches_power": _always_fed,
    "clamp_spring_weak": _clamp_spring_weak,
    "drive_sticks": _drive_sticks,
}
"""Faults that show in the air, by their ids in the catalogue."""


def with_faults(circuit: Circuit, faults: Mapping[str, float]) -> Circuit:
    """Put faults into a circuit.

    Args:
        circuit: A sound circuit, or one with faults already.
        faults: Fault id to severity, 0 to 1 [-].

    Returns:
        The circuit with all of them, whatever order they are named in.

    Raises:
        InputError: One message for each id that does not show in the air and each severity outside 0 to 1.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> from fanwright.virtual.circuit import circuit_of
        >>> sound = circuit_of(presets()["line-haul spring-on"])
        >>> blocked = with_faults(sound, {"exhaust_blocked": 0.75})
        >>> blocked.exhaust_conductance_m3_per_s_pa / sound.exhaust_conductance_m3_per_s_pa
        0.25
    """
    mistakes = [_unknown(name) for name in faults if name not in FAULTS]
    mistakes += [_outside(name, given) for name, given in faults.items() if not 0.0 <= given <= 1.0]
    if mistakes:
        raise InputError(mistakes)
    for name, put in FAULTS.items():
        if faults.get(name, 0.0) > 0.0:
            circuit = put(circuit, faults[name])
    return circuit


def with_loose_plug(story: Story, severity: float, seed: int) -> Story:
    """Let the plug of the coil lose contact now and then (``plug_comes_and_goes``).

    Args:
        story: The story.
        severity: Share of the time without contact, 0 to 1 [-].
        seed: Seed of the chance; the same seed gives the same story.

    Returns:
        The story with stretches in which the coil is as good as unplugged.

    Raises:
        InputError: The severity lies outside 0 to 1.
    """
    if not 0.0 <= severity <= 1.0:
        raise InputError(_outside("plug_comes_and_goes", severity))
    chance = np.random.default_rng(seed)
    gaps: list[tuple[float, float]] = []
    time = 0.0
    while severity > 0.0 and time < story.duration_s:
        start = time + float(chance.exponential(1.0 - severity + 1e-3))
        time = start + float(chance.exponential(severity)) + 1e-3
        gaps.append((start, time))
    return Story(
        story.duration_s,
        story.sent,
        _joined((*story.unplugged, *gaps)),
        story.jumper,
        story.shut,
        story.shut_at,
        story.settle_s,
    )


def _joined(spans: Spans) -> Spans:
    joined: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return tuple(joined)


def _unknown(name: str) -> Message:
    known = listing(tuple(text(one) for one in FAULTS))
    return Message(
        "{fault} does not show in the air, so it cannot be simulated; these do: {known}",
        {"fault": text(name), "known": known},
    )


def _outside(name: str, given: float) -> Message:
    return Message(
        "{fault} has a severity of {given}; allowed is 0 (absent) to 1 (as bad as can be)",
        {"fault": text(name), "given": number(given)},
    )
