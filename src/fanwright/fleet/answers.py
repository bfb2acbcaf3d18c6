"""The answers of a fleet: a line for each truck, route and month, what changed when, and who stands apart."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from fanwright.fleet.changes import Change, find_changes
from fanwright.fleet.intervals import LEAST_DAYS, Interval, draws_of, least, ratio, total
from fanwright.fleet.model import Days, Flags, Numbers
from fanwright.fleet.outliers import Outlier, find_outliers
from fanwright.fleet.spans import DAY_US, Moments
from fanwright.fleet.tables import months_of
from fanwright.laws.fan import fuel_m3

LEAST_KNOWN_S = 1_800.0
"""A day with less known time than this says nothing of a change (assumption)."""
MEASURES: Mapping[str, float] = {"fan_share": 0.005, "grips_per_hour": 0.2}
"""What trucks are compared by, and below which differences mean nothing (assumption)."""
RouteOf = Callable[[str, int], str]
"""Gives the route of a truck on a day counted from 1970-01-01."""


@dataclass(frozen=True)
class Line:
    """One truck on one route in one month.

    Args:
        unit: The truck.
        route: Its route; empty where none was given.
        month: The month.
        days: Days with known time.
        engine_on_s: Time with the engine on [s].
        fan_known_s: Time with the engine on in which told on or off is known [s].
        fan_on_s: Time told on [s].
        grips: How often it was told on.
        fan_share: Share of the known time, or None.
        grips_per_hour: Grips an hour of known time, or None.
        reason_shares: Share of the time told on by reason, longest first.
        reason_grips: Grips by first reason.
        slip_energy_j: Heat of the grips, or None [J].
        fan_energy_j: Work of the fan, or None [J].
        fuel_m3: Fuel for both, or None [m3].
        least_ac_run_s: Shortest whole run told on by the air conditioning, or None [s].
        outliers: In what it stands apart from the others on the route in that month.
        compared: Whether there were enough others to compare with.
    """

    unit: str
    route: str
    month: str
    days: int
    engine_on_s: float
    fan_known_s: float
    fan_on_s: float
    grips: int
    fan_share: Interval | None
    grips_per_hour: Interval | None
    reason_shares: Mapping[str, Interval]
    reason_grips: Mapping[str, int]
    slip_energy_j: Interval | None
    fan_energy_j: Interval | None
    fuel_m3: Interval | None
    least_ac_run_s: Interval | None
    outliers: tuple[Outlier, ...] = ()
    compared: bool = False


@dataclass(frozen=True)
class TruckChange:
    """A change in one truck.

    Args:
        unit: The truck.
        measure: What changed: ``fan_share`` or ``grips_per_hour``.
        change: When and how much.
        against_others: Whether its days were set against the others on its route on the same day.
    """

    unit: str
    measure: str
    change: Change
    against_others: bool


@dataclass(frozen=True)
class FleetAnswers:
    """What a fleet's recordings say.

    Args:
        lines: Truck by route and month, in order.
        changes: What changed.
        overlap_s: Time that several recordings tell of, by truck; counted once [s].
        energies: Whether heat, work and fuel are worked out.
    """

    lines: tuple[Line, ...]
    changes: tuple[TruckChange, ...]
    overlap_s: Mapping[str, float] = field(default_factory=dict)
    energies: bool = False


def answer(trucks: Mapping[str, Days], route_of: RouteOf, energies: bool) -> FleetAnswers:
    """Work out the answers of a fleet.

    Args:
        trucks: The trucks' days.
        route_of: Their routes.
        energies: Whether heat, work and fuel were worked out.
    """
    routes = {unit: [route_of(unit, int(day)) for day in days.day] for unit, days in trucks.items()}
    lines = [
        line
        for unit in sorted(trucks, key=_natural)
        for line in _lines(unit, trucks[unit], routes[unit], energies)
    ]
    return FleetAnswers(
        _compared(lines),
        _changes(trucks, routes),
        {unit: days.overlap_s for unit, days in trucks.items() if days.overlap_s > 0.0},
        energies,
    )


def _natural(unit: str) -> tuple[int, str]:
    return (len(unit) if unit.isdigit() else 1_000, unit)


def _lines(unit: str, days: Days, routes: Sequence[str], energies: bool) -> list[Line]:
    months = months_of(days.day * DAY_US, "absolute")
    keys = list(zip(routes, months, strict=True))
    found = []
    for route, month in sorted(set(keys)):
        chosen: Flags = np.array([key == (route, month) for key in keys])
        found.append(_line((unit, route, month), days.where(chosen), energies))
    return found


def _line(name: tuple[str, str, str], days: Days, energies: bool) -> Line:
    known = days.fan_known_s > 0.0
    many = int(known.sum())
    draws = draws_of(many) if many >= LEAST_DAYS else None
    few = days.where(known)
    slip, work = few.slip_energy_j, few.fan_energy_j
    shares = {
        reason: share
        for reason, on_s in few.reason_on_s.items()
        if on_s.sum() > 0.0 and (share := ratio(on_s, few.fan_on_s, draws)) is not None
    }
    return Line(
        *name,
        many,
        float(days.engine_on_s.sum()),
        float(days.fan_known_s.sum()),
        float(days.fan_on_s.sum()),
        int(days.grips.sum()),
        ratio(few.fan_on_s, few.fan_known_s, draws),
        ratio(few.grips, few.fan_known_s / 3600.0, draws),
        dict(sorted(shares.items(), key=lambda one: (-one[1].value, one[0]))),
        {reason: int(count.sum()) for reason, count in few.reason_grips.items() if count.sum()},
        total(slip, draws) if energies else None,
        total(work, draws) if energies else None,
        _fuel(total(slip + work, draws)) if energies else None,
        least(days.ac_length_s, days.ac_sd_s),
    )


def _fuel(work_j: Interval) -> Interval:
    each = (work_j.value, work_j.low, work_j.high, work_j.sd)
    value, low, high, sd = (None if one is None else fuel_m3(one) for one in each)
    return Interval(value or 0.0, low, high, sd)


def _compared(lines: Sequence[Line]) -> tuple[Line, ...]:
    """Set each line against the others of its route and month."""
    groups: dict[tuple[str, str], list[int]] = {}
    for place, line in enumerate(lines):
        groups.setdefault((line.route, line.month), []).append(place)
    outliers: dict[int, list[Outlier]] = {}
    compared: set[int] = set()
    for places in groups.values():
        for measure, smallest in MEASURES.items():
            values = [getattr(lines[place], measure) for place in places]
            for number, outlier in find_outliers(measure, values, smallest).items():
                compared.add(places[number])
                if outlier is not None:
                    outliers.setdefault(places[number], []).append(outlier)
    return tuple(
        Line(**{**vars(line), "outliers": tuple(outliers.get(place, ())), "compared": place in compared})
        for place, line in enumerate(lines)
    )


# --- Changes ----------------------------------------------------------------------------------------------


def _changes(trucks: Mapping[str, Days], routes: Mapping[str, Sequence[str]]) -> tuple[TruckChange, ...]:
    found = []
    for measure in MEASURES:
        rows = {unit: _row(days, measure) for unit, days in trucks.items()}
        middles = _middles(rows, trucks, routes)
        for unit in sorted(rows, key=_natural):
            day, value, weight, chosen = rows[unit]
            names = [name for name, kept in zip(routes[unit], chosen, strict=True) if kept]
            level = np.array(
                [middles.get((name, int(at)), np.nan) for name, at in zip(names, day, strict=True)]
            )
            others = bool(len(level)) and not np.isnan(level).any()
            against = value - level if others else value
            for change in find_changes(day, against, weight, len(MEASURES) * len(trucks)):
                found.append(TruckChange(unit, measure, _levels(change, day, value, weight), others))
    return tuple(found)


def _row(days: Days, measure: str) -> tuple[Moments, Numbers, Numbers, Flags]:
    chosen: Flags = days.fan_known_s >= LEAST_KNOWN_S
    known = days.fan_known_s[chosen]
    above = days.fan_on_s if measure == "fan_share" else 3600.0 * days.grips
    return days.day[chosen], above[chosen] / known, known, chosen


def _middles(
    rows: Mapping[str, tuple[Moments, Numbers, Numbers, Flags]],
    trucks: Mapping[str, Days],
    routes: Mapping[str, Sequence[str]],
) -> dict[tuple[str, int], float]:
    """Give the middle of all trucks on a route by day, where at least 5 are on it."""
    seen: dict[tuple[str, int], list[float]] = {}
    for unit, (day, value, _, chosen) in rows.items():
        names = [name for name, kept in zip(routes[unit], chosen, strict=True) if kept]
        for name, at, one in zip(names, day, value, strict=True):
            seen.setdefault((name, int(at)), []).append(float(one))
    return {key: float(np.median(values)) for key, values in seen.items() if len(values) >= LEAST_DAYS}


def _levels(change: Change, day: Moments, value: Numbers, weight: Numbers) -> Change:
    """Say the levels as they were seen, not as they stood against the others."""
    before = day < change.day
    return Change(
        change.first_day,
        change.last_day,
        change.day,
        float(np.average(value[before], weights=weight[before])),
        float(np.average(value[~before], weights=weight[~before])),
        change.chance,
    )
