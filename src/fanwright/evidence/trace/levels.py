"""Levels at which the pressures stand: at rest, settled, lowest, and what is lost while shut off."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.phases import Phase, runs
from fanwright.evidence.trace.signal import BLOCK, PSI, Grain, Series

LONGEST_LOOK_S = 3.0
SHORTEST_LOOK_S = 0.3
LEAST_ROWS = 4
SETTLED_PA_PER_S = 1.0 * PSI
MOST_ROWS = 200_000
SETTLE_SHUT_S = 30.0
SHORTEST_HOLD_S = 5.0
STANDING_S = 0.3
LEAST_HELD_PA = 20.0 * PSI
BIG_LOSS_SHARE = 0.3
SHORT_DIP_S, LONG_DIP_S = 0.1, 0.3
STEADY_PA, NOISY_PA = 0.1 * PSI, 1.0 * PSI


@dataclass(frozen=True)
class Level:
    """A steady pressure.

    Args:
        value_pa: The pressure, gauge [Pa].
        sd_pa: Standard uncertainty from noise and scatter, the division not counted [Pa].
    """

    value_pa: float
    sd_pa: float


@dataclass(frozen=True)
class Hold:
    """What the drive lost while it was shut off.

    Args:
        opening_pa: What was shut in, gauge [Pa].
        loss_pa_per_s: Loss, positive when the pressure falls [Pa/s].
        sd_pa_per_s: Its standard uncertainty [Pa/s].
        lost_in_60_s_pa: Loss in 60 s, seen or drawn on, not more than there was [Pa].
        lost_sd_pa: Its standard uncertainty [Pa].
        watched_s: How long it was watched after settling [s].
        warm: Whether it could not settle for 30 s first, so that air cooling down may look like a leak.
    """

    opening_pa: float
    loss_pa_per_s: float
    sd_pa_per_s: float
    lost_in_60_s_pa: float
    lost_sd_pa: float
    watched_s: float
    warm: bool


def line(time_s: Series, pressure: Series, noise_pa: float) -> tuple[float, float, float]:
    """Fit a straight line.

    Returns:
        Mean [Pa], slope [Pa/s] and standard uncertainty of the slope [Pa/s].

    Example:
        >>> line(np.array([0.0, 1.0, 2.0]), np.array([1.0, 3.0, 5.0]), 0.0)
        (3.0, 2.0, 0.0)
    """
    stride = max(1, time_s.size // MOST_ROWS)
    moments = time_s[::stride] - time_s[::stride].mean()
    values = pressure[::stride]
    squares = _product(moments, moments)
    mean = float(values.mean(dtype=np.float64))
    if squares <= 0.0:
        return mean, 0.0, math.inf
    slope = _product(moments, values) / squares
    left = values - mean - slope * moments
    scatter = math.sqrt(_product(left, left) / (values.size - 2)) if values.size > 2 else 0.0
    return mean, slope, max(noise_pa, scatter) / math.sqrt(squares)


def _product(one: Series, other: Series) -> float:
    """Sum the products without starting threads, which cost more than they save here."""
    return float(np.einsum("i,i", one, other))


def look_back(time_s: Series, phase: Phase) -> slice:
    """Give the rows at the end of a phase in which a pressure can be seen to have settled."""
    start_s, stop_s = float(time_s[phase.first]), float(time_s[phase.stop - 1])
    look_s = min(LONGEST_LOOK_S, max(SHORTEST_LOOK_S, (stop_s - start_s) / 3.0))
    first = int(np.searchsorted(time_s, stop_s - look_s))
    return slice(max(first, phase.first), phase.stop)


def settled(time_s: Series, pressure: Series, phase: Phase, grain: Grain) -> Level | None:
    """Find the level a pressure settled at by the end of a phase.

    Args:
        time_s: Times [s], shape (n,).
        pressure: Pressures, gauge [Pa], shape (n,).
        phase: The phase.
        grain: Noise and division of the gauge.

    Returns:
        The level, or None if the pressure was still moving or the phase is too short.
    """
    rows = look_back(time_s, phase)
    if rows.stop - rows.start < LEAST_ROWS:
        return None
    mean, slope, slope_sd = line(time_s[rows], pressure[rows], grain.row_sd_pa)
    long_enough = time_s[rows][-1] - time_s[rows][0] >= 0.8 * SHORTEST_LOOK_S
    if not long_enough or abs(slope) > SETTLED_PA_PER_S + 2.0 * min(slope_sd, 3.0 * SETTLED_PA_PER_S):
        return None
    return Level(mean, grain.noise_pa / math.sqrt(rows.stop - rows.start))


def together(levels: Sequence[Level]) -> Level | None:
    """Give the middle of several levels; their scatter counts as uncertainty.

    Example:
        >>> together([Level(1.0, 0.0), Level(3.0, 0.0)])
        Level(value_pa=2.0, sd_pa=1.0)
    """
    if not levels:
        return None
    values = np.array([level.value_pa for level in levels])
    noise = math.sqrt(sum(level.sd_pa**2 for level in levels)) / len(levels)
    scatter = float(values.std(ddof=1)) / math.sqrt(values.size) if values.size > 1 else 0.0
    return Level(float(np.median(values)), math.hypot(noise, scatter))


def lowest(time_s: Series, pressure: Series, first: int, stop: int, grain: Grain) -> Level | None:
    """Find how low a pressure went, without taking the lowest noise for it.

    The mean of a short stretch is followed; it is longer the more noise there is. Where nothing dips, the
    lowest of many means lies under the truth by what is known of the lowest of a normal sample, where the
    dip is sharp by nothing: the half between is added, and counted as uncertainty.

    Args:
        time_s: Times [s], shape (n,).
        pressure: Pressures, gauge [Pa], shape (n,).
        first: First row.
        stop: The row after the last.
        grain: Noise and division of the gauge.
    """
    rows = stop - first
    if rows < 1:
        return None
    interval = float(time_s[stop - 1] - time_s[first]) / max(rows - 1, 1)
    longest_s = SHORT_DIP_S if grain.noise_pa < NOISY_PA else LONG_DIP_S
    wanted = min((grain.noise_pa / STEADY_PA) ** 2, longest_s / max(interval, 1e-9))
    width = min(rows, max(round(wanted), 1))
    least = min(
        _lowest_mean(pressure[start : min(start + BLOCK + width, stop)], width)
        for start in range(first, stop - width + 1, BLOCK)
    )
    mean_sd = grain.noise_pa / math.sqrt(width)
    extreme = mean_sd * math.sqrt(2.0 * math.log(max(rows / width, 1.0)))
    return Level(least + extreme / 2.0, math.hypot(mean_sd, extreme / 2.0))


def _lowest_mean(pressure: Series, width: int) -> float:
    total = np.cumsum(np.concatenate(([0.0], pressure)), dtype=np.float64)
    return float((total[width:] - total[:-width]).min()) / width


def hold(time_s: Series, pressure: Series, shut: NDArray[np.bool_], grain: Grain) -> Hold | None:
    """Measure the loss over the longest stretch in which the drive was shut off full of air.

    Args:
        time_s: Times [s], shape (n,).
        pressure: Pressure at the drive, gauge [Pa], shape (n,).
        shut: Whether the drive was shut off, shape (n,).
        grain: Noise and division of the gauge.

    Returns:
        The loss, or None if nothing was held for long enough.
    """
    found = []
    for first, stop, is_shut in runs(shut):
        if is_shut and stop - first >= LEAST_ROWS:
            opening_pa = _opening(time_s, pressure, first, grain)
            found.append(_held(time_s[first:stop], pressure[first:stop], opening_pa, grain))
    return max(filter(None, found), key=lambda held: held.watched_s, default=None)


def _opening(time_s: Series, pressure: Series, first: int, grain: Grain) -> float:
    """Give the pressure that was shut in: what it stood at before, or, if it was moving, the first rows."""
    before = pressure[int(np.searchsorted(time_s, time_s[first] - STANDING_S)) : first]
    if before.size >= LEAST_ROWS and float(before.std()) < 2.0 * grain.row_sd_pa + 0.5 * PSI:
        return float(before.mean())
    return float(np.median(pressure[first : first + 3]))


def _held(time_s: Series, pressure: Series, opening_pa: float, grain: Grain) -> Hold | None:
    rows, span = time_s.size, float(time_s[-1] - time_s[0])
    if opening_pa < LEAST_HELD_PA:
        return None
    wait = SETTLE_SHUT_S if span >= 1.5 * SETTLE_SHUT_S else span / 3.0
    after = int(np.searchsorted(time_s, time_s[0] + wait))
    later = float(pressure[after : after + max(LEAST_ROWS, rows // 20)].mean())
    if later < (1.0 - BIG_LOSS_SHARE) * opening_pa:
        return _emptied(time_s, pressure, opening_pa, grain)
    watched = float(time_s[-1] - time_s[after])
    if watched < SHORTEST_HOLD_S:
        return None
    _, slope, slope_sd = line(time_s[after:], pressure[after:], grain.noise_pa)
    step = grain.division_pa / math.sqrt(12.0) * math.sqrt(2.0) / watched
    sd = math.hypot(slope_sd, step)
    return Hold(
        opening_pa, -slope, sd, min(-slope * 60.0, opening_pa), 60.0 * sd, watched, wait < SETTLE_SHUT_S
    )


def _emptied(time_s: Series, pressure: Series, opening_pa: float, grain: Grain) -> Hold:
    """Measure a leak that took much of the air before anything could settle: by how fast it began."""
    below = np.flatnonzero(pressure < (1.0 - BIG_LOSS_SHARE) * opening_pa)
    stop = max(int(below[0]) + 1, 2)
    _, slope, slope_sd = line(time_s[:stop], pressure[:stop], grain.row_sd_pa)
    until = int(np.searchsorted(time_s, time_s[0] + 60.0))
    left = float(pressure[max(until - LEAST_ROWS, 0) : until].mean())
    span = float(time_s[-1] - time_s[0])
    longer = 1.0 if span >= 60.0 or left < 0.1 * opening_pa else 60.0 / span
    lost = min(opening_pa, (opening_pa - left) * longer)
    lost_sd = grain.mean_sd_pa(LEAST_ROWS) * math.sqrt(2.0) * longer
    return Hold(opening_pa, -slope, min(slope_sd, abs(slope) / 2.0), lost, lost_sd, span, False)
