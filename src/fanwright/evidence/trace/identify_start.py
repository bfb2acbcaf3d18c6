"""Where the search begins: closed forms for the conductances, a coarse look over the spring's pressures."""

from __future__ import annotations

import itertools
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.identify_episodes import Episode
from fanwright.evidence.trace.identify_fit import Fit, fit
from fanwright.evidence.trace.identify_model import LEAK, PRESSURE_PA, REFERENCE_EXPONENT, Model
from fanwright.evidence.trace.signal import PSI
from fanwright.laws.air import mass_flow
from fanwright.laws.filling import fill_time, time_constant, vent_time

Series = NDArray[np.float64]

UNIT = 1.0e-9
LIFTS_PSI, SPANS_PSI, FACTORS = (12.0, 25.0, 40.0, 52.0, 64.0, 78.0), (8.0, 18.0, 30.0), (0.8, 1.2)
STARTS, MORE_STARTS, FIRST_ROUNDS, FIRST_EPISODES = 3, 8, 5, 2
POOR = 4.0
NOTHING_LOST = 0.95


def best_fit(model: Model, **starts: float) -> Fit:
    """Fit a model from its most promising starts and give the best.

    Args:
        model: The model.
        starts: Where some of its unknowns begin instead, by name.
    """
    best = _from_starts(model, starts, STARTS)
    if best.scatter < POOR:
        return best
    again = _from_starts(model, {"leak": _lost_guess(model) / LEAK} | starts, MORE_STARTS)
    return min(best, again, key=lambda each: each.squares)


def _from_starts(model: Model, starts: Mapping[str, float], most: int) -> Fit:
    few = model.shortened(FIRST_EPISODES)
    tried = [fit(few, start, FIRST_ROUNDS) for start in _starts(few, starts, most)]
    best = min(tried, key=lambda each: each.squares)
    if few is model and best.settled:
        return best
    whole = model.taken_over(few, best.point)
    for number, one in enumerate(model.episodes):
        _delays(model, number, one, whole)
    return fit(model, whole)


def _starts(model: Model, given: Mapping[str, float], most: int) -> list[Series]:
    base = np.array([given.get(one.name, one.start) for one in model.unknowns])
    for path, guessed in (("fill", _fill_guess(model)), ("exhaust", _exhaust_guess(model))):
        place = model.place(path)
        if place is not None and guessed is not None:
            base[place] = np.log(guessed / LEAK)
    leak = model.place("leak")
    if leak is not None and "leak" not in given:
        base[leak] = max((_leak_guess(model, one) for one in model.episodes), default=0.0) / LEAK
    for number, one in enumerate(model.episodes):
        _delays(model, number, one, base)
    lift, span = model.place("lift_off"), model.place("span")
    points = [base]
    for lift_psi, span_psi, factor in itertools.product(LIFTS_PSI, SPANS_PSI, FACTORS):
        point = base.copy()
        point[lift], point[span] = lift_psi * PSI / PRESSURE_PA, span_psi * PSI / PRESSURE_PA
        for path in ("fill", "exhaust"):
            place = model.place(path)
            if place is not None:
                point[place] += np.log(factor)
        points.append(point)
    tried = np.array(points)
    found = model.residuals(tried)
    costs = np.minimum(np.abs(found), 30.0).sum(axis=1)
    chosen: list[Series] = []
    for place in np.argsort(costs):
        if all(abs(point[lift] - tried[place][lift]) > 0.3 for point in chosen):
            chosen.append(tried[place])
        if len(chosen) == most:
            break
    return chosen


def _volume(model: Model) -> float:
    circuit = model.machine.circuit
    return model.machine.line_volume_m3 + circuit.dead_volume_m3 + circuit.piston_area_m2 * circuit.stroke_m


def _fill_guess(model: Model) -> float | None:
    """Guess the fill conductance from the time a fill takes through the middle of its way."""
    ambient = model.machine.circuit.ambient_absolute_pa
    for one in model.episodes:
        supply = one.supply_pa
        end = min(0.75 * supply, 0.8 * one.top_pa)
        passed = _passage(one, 0.2 * end, end) if one.fills and supply > 5 * PSI else None
        if passed is not None:
            unit = fill_time(
                _volume(model),
                UNIT,
                0.3,
                supply + ambient,
                0.2 * end + ambient,
                end + ambient,
                REFERENCE_EXPONENT,
            )
            return float(UNIT * unit / passed)
    return None


def _exhaust_guess(model: Model) -> float | None:
    """Guess the exhaust conductance likewise."""
    ambient = model.machine.circuit.ambient_absolute_pa
    for one in model.episodes:
        if not one.vents:
            continue
        cut = int(np.searchsorted(one.time_s, one.story.sent[0][1]))
        stood = float(one.drive_pa[max(cut - 3, 0) : cut + 1].mean())
        passed = _passage(one, 0.8 * stood, 0.2 * stood, cut) if stood > 5 * PSI else None
        if passed is not None:
            unit = vent_time(
                _volume(model),
                UNIT,
                0.3,
                0.8 * stood + ambient,
                0.2 * stood + ambient,
                ambient,
                REFERENCE_EXPONENT,
            )
            return float(UNIT * unit / passed)
    return None


def _leak_guess(model: Model, one: Episode) -> float:
    """Guess the leak from how fast a drive that was shut off lost its air."""
    ambient = model.machine.circuit.ambient_absolute_pa
    rate = 1.0 / time_constant(_volume(model), UNIT, REFERENCE_EXPONENT)
    guesses = [0.0]
    for begin, until in one.story.shut:
        rows = np.flatnonzero((one.time_s >= begin) & (one.time_s <= until))
        if rows.size < 4:
            continue
        held = one.drive_pa[rows] + ambient
        low = np.flatnonzero(held < 0.7 * held[0])
        stop = int(low[0]) if low.size else rows.size - 1
        first = 0 if low.size else rows.size // 2  # air that cools down does so in the first half
        passed = float(one.time_s[rows[stop]] - one.time_s[rows[first]])
        end = float(held[max(stop - 2, 0) : stop + 1].mean())
        guesses.append(
            UNIT * max(float(np.log(held[first : first + 3].mean() / end)), 0.0) / max(passed, 1e-3) / rate
        )
    return max(guesses)


def _lost_guess(model: Model) -> float:
    """Guess the leak from how far under its inlet the drive settled while air was sent."""
    fill, ambient = _fill_guess(model), model.machine.circuit.ambient_absolute_pa
    place = model.place("fill")
    if place is None:
        return 0.0
    sent = fill or LEAK * float(np.exp(model.unknowns[place].start))
    guesses = [0.0]
    for one in model.episodes:
        if one.fills:
            cut = max(int(np.searchsorted(one.time_s, one.story.sent[0][1])), 1)
            stood = max(float(one.drive_pa[max(cut - 3, 0) : cut].mean()), 0.1 * PSI)
            if stood < NOTHING_LOST * one.supply_pa:
                reached = mass_flow(sent, 0.3, one.supply_pa + ambient, stood + ambient)
                guesses.append(UNIT * reached / mass_flow(UNIT, 0.3, stood + ambient, ambient))
    return max(guesses)


def _passage(one: Episode, begin_pa: float, end_pa: float, first: int = 0) -> float | None:
    """Time the drive took from one pressure to another [s], or None."""
    side = 1.0 if end_pa > begin_pa else -1.0
    after = side * (one.drive_pa[first:] - end_pa) >= 0.0
    if not after.any():
        return None
    stop = first + int(np.argmax(after))
    before = np.flatnonzero(side * (one.drive_pa[first:stop] - begin_pa) <= 0.0)
    begin = first + int(before[-1]) if before.size else first
    return max(float(one.time_s[stop] - one.time_s[begin]), 1e-3)


def _delays(model: Model, number: int, one: Episode, base: Series) -> None:
    """Let each switch begin a little before the drive is seen to move."""
    if one.fills:
        place = model.place("send", number)
        assert place is not None
        moved = np.flatnonzero(one.drive_pa > 0.08 * one.supply_pa)
        if moved.size:
            seen = one.time_s[moved[0]] - one.story.sent[0][0]
            base[place] = min(max(base[place], 0.8 * seen / 0.05), model.unknowns[place].high)
