"""How long this truck's facing will last, what waiting costs, and whether to renew or exchange."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from fanwright.catalogue import Catalogue
from fanwright.diagnosis.model import Diagnosis
from fanwright.evidence.reading import Evidence, Reading
from fanwright.evidence.recording.exhibit import RecordingExhibit
from fanwright.life import History, Thickness, forecast_fleet
from fanwright.life.by_energy import Pace, by_energy, heat_for_distance
from fanwright.life.colours import colours, explained
from fanwright.life.eating import eaters
from fanwright.life.grips import RPM, grip_cost, side_by_side, torque_in_hand
from fanwright.life.history import Noted, of_day
from fanwright.visit.life import Life
from fanwright.visit.model import Visit
from fanwright.visit.paying import choices, waiting
from fanwright.words import Message, test_name

TEST = "facing_thickness"
REST = "drive_gauge_air_off"
USUAL_GRIPS_PER_HOUR, AMBIENT_K = 10.0, 360.0
"""A pace of grips common on many routes, and the air behind a radiator; assumptions."""


def life_of(
    visit: Visit, before: Iterable[Reading], after: Iterable[Reading], catalogue: Catalogue,
    diagnosis: Diagnosis | None, evidence: tuple[Evidence, ...] = (),
) -> Life | None:  # fmt: skip
    """Forecast the facing of a visit's truck.

    Args:
        visit: What was written down, with its history.
        before: Readings as found, one a test.
        after: Readings after the repair, one a test.
        catalogue: What renewing costs.
        diagnosis: What is wrong with the drive besides, or None.
        evidence: What was read out of the visit's files.

    Returns:
        The life, or None where the facing was never measured at a known distance.
    """
    found = tuple(before)
    history = _history(visit, found, after)
    if history is None:
        return None
    forecast = forecast_fleet([history], outlook=True)[0]
    if forecast.remaining is None or forecast.chance_at_limit is None:
        return Life(forecast)
    probable = {} if diagnosis is None else {cause.fault: cause.probability for cause in diagnosis.causes}
    rest_gauge_pa = next(
        (one.measured.si for one in found if one.test == REST and one.measured is not None), 0.0
    )
    lost = max(0.0, rest_gauge_pa) if visit.truck.grips_by == "spring" else 0.0
    recordings = _recordings(evidence)
    paces = _paces(recordings, visit.date)
    by_heat = by_energy(forecast.history, paces)
    return Life(
        forecast,
        waiting(forecast.chance_at_limit, forecast.ahead, catalogue),
        choices(forecast, probable, catalogue),
        eaters(recordings[0].runs if recordings else ()),
        torque_in_hand(visit.truck, visit.truck.fan.speed_rad_s / visit.truck.pulley_ratio / RPM, lost),
        _heat_mark(found, visit),
        paces[-1].energy_j_per_m if paces else None,
        None if by_heat is None else forecast_fleet([by_heat])[0],
        side_by_side(visit.truck, lost),
    )


def _recordings(evidence: tuple[Evidence, ...]) -> list[RecordingExhibit]:
    """Give the recordings, the first one first; eaters look at it alone, as one after the repair lies behind.

    A recording whose readings must not be judged (it is another truck's) tells nothing of this one either.
    """
    return [
        exhibit
        for one in evidence
        if all(reading.cannot_judge is None for reading in one.readings)
        for exhibit in one.exhibits
        if isinstance(exhibit, RecordingExhibit)
    ]


def _paces(recordings: Iterable[RecordingExhibit], visit_day: dt.date) -> list[Pace]:
    """Give the heat for distance of each recording, oldest first; without a date it is of the visit's day."""
    found = []
    for one in recordings:
        heat = heat_for_distance(one)
        if heat is not None:
            known = one.clock != "relative"
            day = dt.datetime.fromtimestamp(one.first_s, dt.UTC).date() if known else visit_day
            found.append(Pace(min(day, visit_day), heat))
    return sorted(found, key=lambda pace: pace.date)


def _heat_mark(readings: Iterable[Reading], visit: Visit) -> tuple[Message, ...]:
    """Say what a straw or blue steel face tells, beside a duty of common pace at the fan's rated speed."""
    seen = next((one.outcome for one in readings if one.test == "disc_look"), "")
    name = {"light_marks_or_straw": "straw", "blue_cracked_or_deep": "blue"}.get(seen)
    if name is None:
        return ()
    colour, truck = colours()[name], visit.truck
    rated = truck.fan.speed_rad_s / truck.pulley_ratio / RPM
    return colour.message, explained(colour, grip_cost(truck, rated, USUAL_GRIPS_PER_HOUR), AMBIENT_K)


def _history(visit: Visit, before: Iterable[Reading], after: Iterable[Reading]) -> History | None:
    rows: list[Thickness] = []
    for past in visit.history:
        told = past.date.isoformat()
        as_found = _row((one for one in past.readings if not one.after), past.date, past.odometer_m, told)
        mended = _row((one for one in past.readings if one.after), past.date, past.odometer_m, told)
        rows += of_day(as_found, mended)
    rows += of_day(
        _row(before, visit.date, visit.odometer_m, "this visit"),
        _row(after, visit.date, visit.odometer_m, "after the repair"),
    )
    if not rows:
        return None
    truck = visit.truck
    return History(
        visit.unit,
        tuple(rows),
        truck.facing.limit_m,
        truck.facing.new_m,
        (truck.preset, f"{truck.grips_by}-on"),
        noted=tuple(
            noted_setting(past.date, one)
            for past in visit.history
            for one in past.readings
            if one.after and one.test.startswith("set_")
        ),
    )


def noted_setting(date: dt.date, reading: Reading) -> Noted:
    """Say that a setting was changed on a day: a settings record can date a change of the wear."""
    return Noted(date, Message("{test} was changed", {"test": test_name(reading.test)}))


def _row(readings: Iterable[Reading], date: dt.date, odometer_m: float | None, row: str) -> Thickness | None:
    measured = next((one.measured for one in readings if one.test == TEST and one.measured is not None), None)
    if measured is None or odometer_m is None:
        return None
    return Thickness(date, odometer_m, measured.si, measured.sd_si, row=row)
