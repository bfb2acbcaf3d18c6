"""Wear by the heat of grips instead of distance, where recordings tell how much heat a distance makes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fanwright.evidence.recording.exhibit import RecordingExhibit
from fanwright.life.forecast import Forecast
from fanwright.life.history import History, Thickness
from fanwright.words import Message, count, quantity

LEAST_GRIPS, LEAST_M = 5, 5_000.0
"""Fewer grips or less road tells nothing of a truck's duty."""

LONGEST_GAP_S = 120.0


@dataclass(frozen=True)
class Pace:
    """How much heat a truck's grips made for distance, by a recording of a day.

    Args:
        date: The day.
        energy_j_per_m: Heat of its grips for distance [J/m].
    """

    date: dt.date
    energy_j_per_m: float


def heat_for_distance(exhibit: RecordingExhibit) -> float | None:
    """Give the heat of recorded grips for the distance driven.

    Args:
        exhibit: A recording with the heat of its grips and the road speed.

    Returns:
        The heat for distance [J/m]; None where too little of either is known.
    """
    heats = [run.slip_energy_j for run in exhibit.runs if run.slip_energy_j is not None]
    pairs = zip(exhibit.road_speed, exhibit.road_speed[1:], strict=False)
    driven = sum(
        (end - start) * (before + after) / 2.0
        for (start, before), (end, after) in pairs
        if end - start <= LONGEST_GAP_S
    )
    if len(heats) < LEAST_GRIPS or driven < LEAST_M:
        return None
    return sum(heats) / driven


def by_energy(history: History, paces: Sequence[Pace]) -> History | None:
    """Put a history on the heat of grips: usage becomes the distance that today's duty would need for it.

    Args:
        history: Readings with their dates, against distance.
        paces: What recordings of at least two days tell; each holds halfway to its neighbours.

    Returns:
        The same readings; None where recordings or dates do not tell enough.

    Example:
        >>> day = dt.date(2026, 1, 1)
        >>> dates = [day + dt.timedelta(100 * n) for n in range(3)]
        >>> rows = [Thickness(date, 1e7 * n, 0.0085 - 1e-4 * n, 1e-4) for n, date in enumerate(dates)]
        >>> paces = [Pace(day, 1.0), Pace(day + dt.timedelta(200), 4.0)]
        >>> [one.usage for one in by_energy(History("7", tuple(rows)), paces).readings]
        [0.0, 2500000.0, 12425000.0]
    """
    days = {one.date: one.energy_j_per_m for one in paces if one.energy_j_per_m > 0.0}
    dated = all(one.date is not None for one in history.readings)
    if len(days) < 2 or history.in_hours or len(history.readings) < 2 or not dated:
        return None
    ordered = [Pace(date, days[date]) for date in sorted(days)]
    usage = [history.readings[0].usage]
    for before, after in zip(history.readings, history.readings[1:], strict=False):
        usage.append(usage[-1] + (after.usage - before.usage) * _times(before, after, ordered))
    rows = [replace(one, usage=at) for one, at in zip(history.readings, usage, strict=True)]
    said = Message(
        "by the heat of grips instead of distance: {number} recordings, each taken to hold halfway to the "
        "next",
        {"number": count(len(ordered))},
    )
    return replace(history, readings=tuple(rows), assumed=(*history.assumed, said))


def _times(before: Thickness, after: Thickness, paces: Sequence[Pace]) -> float:
    """Heat for distance between two readings over what it is by the last recording."""
    assert before.date is not None
    assert after.date is not None
    now = paces[-1].energy_j_per_m
    whole = (after.date - before.date).days
    if whole <= 0:
        return _at(before.date, paces) / now
    days = (before.date + dt.timedelta(days=day) for day in range(whole))
    return sum(_at(day, paces) for day in days) / whole / now


def _at(day: dt.date, paces: Sequence[Pace]) -> float:
    nearest = min(paces, key=lambda one: (abs((one.date - day).days), one.date))
    return nearest.energy_j_per_m


def compared(by_heat: Forecast, by_distance: Forecast) -> Message | None:
    """Put the forecast by heat beside the one by distance, as a sentence."""
    heat, distance = by_heat.remaining, by_distance.remaining
    if heat is None or distance is None:
        return None
    return Message(
        "by the heat of grips {heat} are left at the present duty ({heat_low} to {heat_high}); by distance "
        "alone {distance} ({low} to {high})",
        {
            "heat": quantity(heat.p50, "distance"),
            "heat_low": quantity(heat.p10, "distance"),
            "heat_high": quantity(heat.p90, "distance"),
            "distance": quantity(distance.p50, "distance"),
            "low": quantity(distance.p10, "distance"),
            "high": quantity(distance.p90, "distance"),
        },
    )
