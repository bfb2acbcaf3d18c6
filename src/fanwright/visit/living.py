"""How long this truck's facing will last, what waiting costs, and whether to renew or exchange."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from fanwright.catalogue import Catalogue
from fanwright.diagnosis.model import Diagnosis
from fanwright.evidence.reading import Evidence, Reading
from fanwright.evidence.recording.exhibit import RecordingExhibit, Run
from fanwright.life import History, Thickness, forecast_fleet
from fanwright.life.colours import colours, explained
from fanwright.life.eating import eaters
from fanwright.life.grips import RPM, grip_cost, torque_in_hand
from fanwright.visit.life import Life
from fanwright.visit.model import Visit
from fanwright.visit.paying import choices, waiting
from fanwright.words import Message

TEST = "facing_thickness"
REST = "drive_gauge_air_off"
USUAL_GRIPS_PER_HOUR, AMBIENT_K = 10.0, 360.0
"""A pace of grips common on many routes, and the air behind a radiator; assumptions."""

GROWN_M = 0.0008
"""A facing this much thicker after the repair than before is a new one (1/32 in)."""


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
    forecast = forecast_fleet([history])[0]
    if forecast.remaining is None or forecast.chance_at_limit is None:
        return Life(forecast)
    probable = {} if diagnosis is None else {cause.fault: cause.probability for cause in diagnosis.causes}
    rest_gauge_pa = next(
        (one.measured.si for one in found if one.test == REST and one.measured is not None), 0.0
    )
    lost = max(0.0, rest_gauge_pa) if visit.truck.grips_by == "spring" else 0.0
    return Life(
        forecast,
        waiting(forecast.chance_at_limit, forecast.ahead, catalogue),
        choices(forecast, probable, catalogue),
        eaters(_runs(evidence)),
        torque_in_hand(visit.truck, visit.truck.fan.speed_rad_s / visit.truck.pulley_ratio / RPM, lost),
        _heat_mark(found, visit),
    )


def _runs(evidence: tuple[Evidence, ...]) -> tuple[Run, ...]:
    """Give the runs of the first recording; one after the repair tells nothing of what wore the facing.

    A recording whose readings must not be judged (it is another truck's) tells nothing of this one either.
    """
    exhibits = [
        exhibit
        for one in evidence
        if all(reading.cannot_judge is None for reading in one.readings)
        for exhibit in one.exhibits
    ]
    return next((exhibit.runs for exhibit in exhibits if isinstance(exhibit, RecordingExhibit)), ())


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
    rows = [
        one for past in visit.history
        if (one := _row(past.readings, past.date, past.odometer_m, past.date.isoformat())) is not None
    ]  # fmt: skip
    found = _row(tuple(before), visit.date, visit.odometer_m, "this visit")
    mended = _row(tuple(after), visit.date, visit.odometer_m, "after the repair")
    rows += [one for one in (found,) if one is not None]
    if mended is not None:
        grown = found is None or mended.thickness_m > found.thickness_m + GROWN_M
        renewed = Thickness(mended.date, mended.usage, mended.thickness_m, mended.sd_m, grown, mended.row)
        rows.append(renewed)
    if not rows:
        return None
    truck = visit.truck
    return History(
        visit.unit,
        tuple(rows),
        truck.facing.limit_m,
        truck.facing.new_m,
        (truck.preset, f"{truck.grips_by}-on"),
    )


def _row(readings: Iterable[Reading], date: dt.date, odometer_m: float | None, row: str) -> Thickness | None:
    measured = next((one.measured for one in readings if one.test == TEST and one.measured is not None), None)
    if measured is None or odometer_m is None:
        return None
    return Thickness(date, odometer_m, measured.si, measured.sd_si, row=row)
