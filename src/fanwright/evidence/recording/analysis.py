"""One stretch of clock turned into runs and sums."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.recording.codes import Packets, TroubleCode, packets, trouble_codes
from fanwright.evidence.recording.energy import (
    DriveFigures,
    density_ratio,
    fan_energies_j,
    slip_energies_j,
)
from fanwright.evidence.recording.exhibit import Line, Run, Span
from fanwright.evidence.recording.signals import RPM, UNKNOWN, Layout
from fanwright.evidence.recording.told import (
    Block,
    Stretches,
    Told,
    blocks,
    common,
    low_stretches,
    reason_of,
    what_was_told,
)
from fanwright.evidence.recording.traffic import Series, Traffic

LOW_AIR_PA = 90.0 * 6894.757293168
"""Least air a drive needs to change fully, gauge (common practice, no source)."""
NEAR_US = 3_000_000
GRIP_US = 1_000_000
RETARDER_US = 2_000_000
SETTLING_US = 60_000_000
LEAST_SLOPE_US = 120_000_000
"""A slope is taken from runs of over 3 minutes, their first minute left out."""
MOST_POINTS = 1_500
LEAST_STEP_US = 600_000_000
"""Engine hours come in steps of 3 minutes, so only a jump of over 10 minutes can be told from a pause."""
HOURS_PERIOD_US = 30_000_000


@dataclass(frozen=True, eq=False)
class Part:
    """What one stretch of clock shows.

    Args:
        traffic: Its frames.
        told: What was told when.
        runs: The runs.
        first_us: Its first time stamp [us].
        last_us: Its last time stamp [us].
        codes: Trouble codes.
        several: What came in several packets.
        air_low_on_us: Air under 90 psi while told on [us]; None without air pressure.
        air_low_off_us: Air under 90 psi while told off [us]; None without air pressure.
        density: Air density over 1.2 kg/m3; None where it is not known.
    """

    traffic: Traffic
    told: Told
    runs: tuple[Run, ...]
    first_us: int
    last_us: int
    codes: tuple[TroubleCode, ...]
    several: Packets
    air_low_on_us: int | None
    air_low_off_us: int | None
    density: float | None


def analyse(traffic: Traffic, layout: Layout, span_us: tuple[int, int], figures: DriveFigures | None) -> Part:
    """Find runs, sums and codes in the frames of one stretch of clock."""
    return analyse_told(traffic, what_was_told(traffic, layout), packets(traffic), span_us, figures)


def analyse_told(
    traffic: Traffic, told: Told, several: Packets, span_us: tuple[int, int], figures: DriveFigures | None
) -> Part:
    """Find runs, sums and codes in one stretch of clock of which it is known what was told when."""
    found = blocks(told)
    density = density_ratio(traffic)
    on, off = _air_low(traffic, told)
    return Part(
        traffic,
        told,
        _runs(traffic, found, figures, density),
        *span_us,
        tuple(trouble_codes(traffic, several)),
        several,
        on,
        off,
        density,
    )


def air_series(traffic: Traffic) -> tuple[Series, ...]:
    """Give the pressures of supply and service air that are there."""
    found = (traffic.series(key) for key in ("air_supply", "air_service_1", "air_service_2"))
    return tuple(one for one in found if one is not None)


def _air_low(traffic: Traffic, told: Told) -> tuple[int | None, int | None]:
    series = air_series(traffic)
    if not series or told.engine_on is None:
        return None, None
    low = low_stretches(series, LOW_AIR_PA)
    low = low.where(low.code == 1)
    return common(told.told(on=True), low).total_us, common(told.told(on=False), low).total_us


def _runs(
    traffic: Traffic, found: list[Block], figures: DriveFigures | None, density: float | None
) -> tuple[Run, ...]:
    if not found:
        return ()
    start = np.array([one.start_us for one in found], np.int64)
    end = np.array([one.end_us for one in found], np.int64)
    engine = traffic.series("engine_speed")
    grips: list[float | None] = [None] * len(found)
    if engine is not None:
        grips = _grip_rpm(engine, start)
    slips: list[float | None] = [None] * len(found)
    works: list[float | None] = [None] * len(found)
    if figures is not None and engine is not None:
        slips = slip_energies_j(figures, found, grips, density or 1.0)
        works = [*fan_energies_j(figures, found, engine, density or 1.0)]
    columns = {
        "coolant_on_k": _at(traffic, "coolant", start),
        "coolant_off_k": _at(traffic, "coolant", end),
        "charge_air_on_k": _at(traffic, "charge_air", start),
        "charge_air_off_k": _at(traffic, "charge_air", end),
        "ambient_k": _at(traffic, "ambient", start),
        "road_speed_m_s": _at(traffic, "road_speed", start),
        "retarder_share": _retarder(traffic, start),
        "lowest_air_gauge_pa": _lowest_air(traffic, found),
        "coolant_rise_k_per_s": _slopes(traffic.series("coolant"), found),
        "charge_air_rise_k_per_s": _slopes(traffic.series("charge_air"), found),
        "slip_energy_j": slips,
        "fan_energy_j": works,
    }
    return tuple(
        _run(one, grips[place], {name: column[place] for name, column in columns.items()})
        for place, one in enumerate(found)
    )


def _run(block: Block, grip_rpm: float | None, more: dict[str, float | None]) -> Run:
    spans = tuple(Span(first / 1e6, last / 1e6, reason_of(code)) for first, last, code in block.codes)
    known = [span.what for span in spans if span.what != UNKNOWN]
    return Run(
        block.start_us / 1e6,
        block.end_us / 1e6,
        known[0] if known else UNKNOWN,
        spans,
        not block.end_seen,
        grip_rpm,
        not block.start_seen,
        block.earliest_start_us / 1e6,
        block.earliest_end_us / 1e6,
        **more,
    )


def _plain(values: NDArray[np.float64]) -> list[float | None]:
    return [None if math.isnan(value) else float(value) for value in values]


def _grip_rpm(engine: Series, start: NDArray[np.int64]) -> list[float | None]:
    soon = engine.first_from(start, GRIP_US)
    return _plain(np.where(np.isnan(soon), engine.at(start, NEAR_US), soon) / RPM)


def _at(traffic: Traffic, key: str, moments: NDArray[np.int64]) -> list[float | None]:
    series = traffic.series(key)
    return [None] * len(moments) if series is None else _plain(series.at(moments, NEAR_US))


def _retarder(traffic: Traffic, start: NDArray[np.int64]) -> list[float | None]:
    series = traffic.series("retarder_torque")
    if series is None:
        return [None] * len(start)
    near = (series.between(int(moment) - RETARDER_US, int(moment) + RETARDER_US) for moment in start)
    return [float(one.value.min()) if len(one.value) else None for one in near]


def _lowest_air(traffic: Traffic, found: list[Block]) -> list[float | None]:
    series = air_series(traffic)
    lowest: list[float | None] = []
    for run in found:
        values = [one.between(run.start_us, run.end_us).value for one in series]
        lowest.append(min((float(value.min()) for value in values if len(value)), default=None))
    return lowest


def _slopes(series: Series | None, found: list[Block]) -> list[float | None]:
    return [None if series is None else _slope(series, run) for run in found]


def _slope(series: Series, run: Block) -> float | None:
    if run.end_us - run.start_us < SETTLING_US + LEAST_SLOPE_US:
        return None
    part = series.between(run.start_us + SETTLING_US, run.end_us)
    if len(part.value) < 10 or part.time_us[-1] - part.time_us[0] < LEAST_SLOPE_US:
        return None
    time = (part.time_us - part.time_us[0]) / 1e6
    time = time - time.mean()
    return float((time * part.value).sum() / (time * time).sum())


def spans(stretches: Stretches | None, what: str) -> tuple[Span, ...]:
    """Turn stretches into spans for an exhibit."""
    if stretches is None:
        return ()
    pairs = zip(stretches.start_us, stretches.end_us, strict=True)
    return tuple(Span(float(start) / 1e6, float(end) / 1e6, what) for start, end in pairs if end > start)


def line(series: Series | None) -> Line:
    """Thin a signal for drawing."""
    if series is None:
        return ()
    step = max(1, len(series.value) // MOST_POINTS)
    return tuple(
        (float(time) / 1e6, float(value))
        for time, value in zip(series.time_us[::step], series.value[::step], strict=True)
    )


def joined_known(told: Told) -> Stretches:
    """Join known stretches that touch, whatever was known."""
    known = told.known
    if not len(known.code):
        return known
    first = np.append(True, known.start_us[1:] != known.end_us[:-1])
    starts = np.flatnonzero(first)
    last = np.append(starts[1:], len(known.code)) - 1
    return Stretches(
        known.start_us[starts], known.end_us[last], np.ones(len(starts), np.int64), known.end_us[last]
    )


def unanswered_request_us(part: Part) -> int | None:
    """Give how long the cab asked for the fan while it was told off, 2 s of grace left out [us]."""
    series = part.traffic.series("fan_request")
    if series is None or part.told.engine_on is None:
        return None
    asked = low_stretches((Series(series.time_us, -series.value, series.sender),), -0.5 + 1e-9)
    asked = asked.where(asked.code == 1)
    late = Stretches(
        np.minimum(asked.start_us + RETARDER_US, asked.end_us), asked.end_us, asked.code, asked.last_us
    )
    return common(part.told.told(on=False), late).total_us


def longest_hot_off_us(part: Part, above_k: float) -> int | None:
    """Give the longest stretch of coolant above a temperature with the fan told off [us]; None without."""
    series = part.traffic.series("coolant")
    if series is None:
        return None
    hot = low_stretches((Series(series.time_us, -series.value, series.sender),), -above_k)
    both = common(part.told.told(on=False), hot.where(hot.code == 1))
    return int((both.end_us - both.start_us).max(initial=0))


def clock_stepped(traffic: Traffic, before_us: int, after_us: int) -> bool:
    """Say whether a jump is a step of the clock and no pause: the engine ran, its hours stood nearly still.

    Args:
        traffic: The frames around it.
        before_us: Last time before the jump [us].
        after_us: First time after it [us].
    """
    hours, speed = traffic.series("engine_time"), traffic.series("engine_speed")
    if hours is None or speed is None or after_us - before_us < LEAST_STEP_US:
        return False
    moments = np.array([before_us, after_us], np.int64)
    if not (speed.at(moments, NEAR_US) / RPM >= 400.0).all():
        return False
    first, last = hours.at(moments, HOURS_PERIOD_US)
    return bool(last - first < 0.5 * (after_us - before_us) / 1e6)
