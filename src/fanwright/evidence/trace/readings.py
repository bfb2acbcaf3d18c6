"""Readings out of what a trace says, each with its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fanwright.catalogue import load
from fanwright.evidence.reading import Measured, Reading
from fanwright.evidence.trace.exhibit import Stroke
from fanwright.evidence.trace.levels import Level
from fanwright.evidence.trace.result import Levels, Times
from fanwright.evidence.trace.signal import Grain
from fanwright.evidence.trace.zero import Zeroing
from fanwright.words import Message

GAUGE, CLOCK = "pressure_logger", "logger_clock"
NEVER = "over_3_s_or_never"


def level_readings(
    levels: Levels, drive: Grain, supply: Grain | None, zeroing: Zeroing, place: str
) -> Iterator[Reading]:
    """Give a reading for each level the trace shows.

    A gauge's own error counts where a pressure stands alone, not where two of one gauge lie close together.

    Args:
        levels: The levels.
        drive: Noise and division of the drive gauge.
        supply: Noise and division of the inlet gauge, or None.
        zeroing: What is known of the gauges' zero.
        place: The file.
    """
    own_sd_pa = load().instruments[GAUGE].normal_sd_si
    held = levels.hold
    lost = None if held is None else Level(held.lost_in_60_s_pa, held.lost_sd_pa)
    lost_share = 0.0 if held is None else min(abs(held.lost_in_60_s_pa) / held.opening_pa, 1.0)
    unknown = not zeroing.rest_known and bool(zeroing.zero.drive_pa)
    for test, level, gauge, gauge_sd_pa in (
        ("supply_gauge_still", levels.supply_at_rest, supply, own_sd_pa),
        ("supply_gauge_cycling", levels.supply_lowest, supply, own_sd_pa),
        ("inlet_dip", levels.inlet_dip, supply, 0.0),
        ("drive_gauge_air_on", levels.drive_settled, drive, own_sd_pa),
        ("drive_gauge_air_off", levels.drive_rest, drive, own_sd_pa),
        ("hold_at_drive", lost, drive, own_sd_pa * lost_share),
    ):
        if level is not None and gauge is not None:
            why = zeroing.cannot_tell[0] if unknown and test == "drive_gauge_air_off" else None
            sd_pa = math.hypot(level.sd_pa, gauge_sd_pa)
            yield _level(test, Measured(level.value_pa, gauge.division_pa / 2.0, sd_pa), place, why)


def _level(test: str, measured: Measured, place: str, why: Message | None) -> Reading:
    return Reading(
        test,
        measured,
        origin="trace",
        instrument=GAUGE,
        place=place,
        cannot_judge=why,
    )


def time_readings(fills: Times, vents: Times, zeroing: Zeroing, place: str) -> Iterator[Reading]:
    """Give the readings of fill and vent time: the worst is judged.

    Args:
        fills: The fills.
        vents: The vents.
        zeroing: What is known of the gauges' zero.
        place: The file.
    """
    fill = _time("fill_time", fills, place, _fill_not_judged(fills))
    if fill is not None:
        yield fill
    ambiguous = bool(vents.never) and not zeroing.rest_known and bool(zeroing.cannot_tell)
    vent = _time("vent_time", vents, place, zeroing.cannot_tell[0] if ambiguous else None)
    if vent is not None:
        yield vent


def _fill_not_judged(fills: Times) -> Message | None:
    strokes = fills.arrived or fills.not_timed
    if strokes and all(stroke.inlet_gauge_pa is None for stroke in strokes):
        return Message(
            "A fill is judged only when the inlet stood high enough, and the trace has no inlet gauge"
        )
    return None


def _time(test: str, times: Times, place: str, why: Message | None) -> Reading | None:
    """Give the worst of those that arrived, "never" if one never did, else one not judged."""
    if times.never:
        return Reading(
            test,
            outcome=NEVER,
            origin="trace",
            each_si=times.durations_s,
            instrument=CLOCK,
            place=place,
            conditions=_conditions(times.never[0]),
            cannot_judge=why,
        )
    if times.worst is not None:
        return _timed(test, times.worst, times.durations_s, place, why)
    late = [stroke for stroke in times.not_timed if stroke.duration_s is not None]
    if not late:
        return None
    worst = max(late, key=_duration_s)
    return _timed(test, worst, tuple(map(_duration_s, late)), place, worst.not_timed)


def _timed(test: str, stroke: Stroke, each_s: tuple[float, ...], place: str, why: Message | None) -> Reading:
    half = stroke.half_width_s
    rest = math.sqrt(max((stroke.sd_s or 0.0) ** 2 - half**2 / 3.0, 0.0))
    return Reading(
        test,
        Measured(_duration_s(stroke), half, rest),
        origin="trace",
        each_si=each_s,
        instrument=CLOCK,
        place=place,
        conditions=_conditions(stroke),
        cannot_judge=why,
    )


def _duration_s(stroke: Stroke) -> float:
    return stroke.duration_s or 0.0


def _conditions(stroke: Stroke) -> dict[str, float]:
    return {} if stroke.inlet_gauge_pa is None else {"inlet_gauge_pa": stroke.inlet_gauge_pa}
