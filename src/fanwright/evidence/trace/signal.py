"""What a gauge's signal is made of: its noise, its smallest step, its single spikes, its coarse course."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Series = NDArray[np.float64]

PSI = 6894.757293168
WHOLE = 1 << 20
BLOCK = 1 << 18
MOST_COARSE = 2_000_000
COARSE_RATE_HZ = 200.0
SMOOTHING_S = 0.1
SPIKE_PA = 8.0 * PSI
STUCK_S = 1.0
LEAST_NOISE_PA = 0.03 * PSI
STUCK_ROWS = 50
NORMAL_PER_MEDIAN = 1.4826022185056018


@dataclass(frozen=True)
class Grain:
    """How finely a gauge tells pressures apart.

    Args:
        noise_pa: Standard deviation of one row about the true course [Pa].
        division_pa: Smallest step seen between two rows [Pa].
    """

    noise_pa: float
    division_pa: float

    @property
    def row_sd_pa(self) -> float:
        """Standard uncertainty of one row: noise, or the division where no noise shows [Pa]."""
        return math.hypot(self.noise_pa, self.division_pa / math.sqrt(12.0))

    def mean_sd_pa(self, rows: int) -> float:
        """Standard uncertainty of a mean of rows; the division does not average out [Pa]."""
        return math.hypot(self.noise_pa / math.sqrt(max(rows, 1)), self.division_pa / math.sqrt(12.0))


@dataclass(frozen=True, eq=False)
class Coarse:
    """A smoothed, thinned course that shows where to look closely.

    Args:
        step: How many rows make one point [-].
        time_s: Middle of each point [s], shape (m,).
        value_pa: Smoothed pressure [Pa], shape (m,).
        sd_pa: Standard deviation left in one point [Pa].
    """

    step: int
    time_s: Series
    value_pa: Series
    sd_pa: float

    def at(self, row: int) -> int:
        """Give the point that a row of the trace falls into."""
        return min(max(row // self.step, 0), self.time_s.size - 1)

    def row(self, point: int) -> int:
        """Give the first row of a point."""
        return point * self.step


def grain(series: Series) -> Grain:
    """Measure noise and division.

    The noise is taken from the median size of second differences, so that fast strokes, which are a small
    part of a trace, do not count as noise.

    Args:
        series: Pressures [Pa], shape (n,).

    Example:
        >>> grain(np.array([0.0, 2.0, 2.0, 4.0, 4.0, 2.0])).division_pa
        2.0
    """
    bends, smallest = [], math.inf
    for part in _parts(series):
        steps = np.diff(part)
        sizes = np.abs(steps)
        smallest = min(smallest, float(sizes[sizes > 1e-6].min(initial=math.inf)))
        bends.append(np.diff(steps))
    bend = np.concatenate(bends)
    noise = float(np.median(np.abs(bend))) * NORMAL_PER_MEDIAN / math.sqrt(6.0) if bend.size else 0.0
    return Grain(noise, smallest if math.isfinite(smallest) else 0.0)


def _parts(series: Series) -> Iterator[Series]:
    """Give the whole series, or twenty stretches of a very long one."""
    if series.size <= WHOLE:
        yield series
        return
    for start in np.linspace(0, series.size - WHOLE // 20, 20).astype(int):
        yield series[start : start + WHOLE // 20]


def despike(series: Series, noise_pa: float) -> tuple[Series, int]:
    """Replace single rows that stand far from four neighbours which agree with each other.

    Args:
        series: Pressures [Pa], shape (n,).
        noise_pa: Standard deviation of one row [Pa].

    Returns:
        The series, copied only if a spike was found, and how many there were.

    Example:
        >>> despike(np.array([1.0, 1.0, 9e5, 1.0, 1.0]), 0.0)[0].tolist()
        [1.0, 1.0, 1.0, 1.0, 1.0]
    """
    far = max(SPIKE_PA, 8.0 * noise_pa)
    places = []
    for start in range(0, series.size - 4, BLOCK):
        part = series[start : start + BLOCK + 4]
        around = np.stack((part[:-4], part[1:-3], part[3:-1], part[4:]))
        low, high = around.min(axis=0), around.max(axis=0)
        middle = part[2:-2]
        odd = (high - low < far) & ((middle > high + far / 2) | (middle < low - far / 2))
        places.append(np.flatnonzero(odd) + start + 2)
    found = np.concatenate(places) if places else np.empty(0, int)
    if found.size:
        series = series.copy()
        series[found] = (series[found - 1] + series[found + 1]) / 2.0
    return series, int(found.size)


def coarse(time_s: Series, series: Series, interval_s: float, noise_pa: float) -> Coarse:
    """Smooth and thin a series to at most 200 points a second.

    Args:
        time_s: Times [s], shape (n,).
        series: Pressures [Pa], shape (n,).
        interval_s: The usual step between two rows [s].
        noise_pa: Standard deviation of one row [Pa].
    """
    step = max(1, int(1.0 / (interval_s * COARSE_RATE_HZ)), math.ceil(series.size / MOST_COARSE))
    step = min(step, max(1, series.size // 3))
    whole = series.size // step * step
    value = series[:whole].reshape(-1, step).mean(axis=1, dtype=np.float64) if step > 1 else series
    moment = time_s[:whole].reshape(-1, step).mean(axis=1) if step > 1 else time_s
    width = max(1, round(SMOOTHING_S / (interval_s * step)))
    if width < 3 and noise_pa > 0.5 * PSI:
        width = 3
    width = min(width - 1 + width % 2, value.size - 1 + value.size % 2)
    if width > 1:
        value = _running_mean(value, width)
    return Coarse(step, moment, value, noise_pa / math.sqrt(step * max(width, 1)))


def _running_mean(value: Series, width: int) -> Series:
    half = width // 2
    padded = np.concatenate((np.full(half, value[0]), value, np.full(half, value[-1])))
    total = np.cumsum(np.concatenate(([0.0], padded)), dtype=np.float64)
    mean: Series = (total[width:] - total[:-width]) / width
    return mean


def stuck(series: Series, interval_s: float, noise: Grain) -> tuple[int, int] | None:
    """Find the longest stretch of one value that is too long for a gauge with this noise.

    Args:
        series: Pressures as logged [Pa], shape (n,).
        interval_s: The usual step between two rows [s].
        noise: Noise and division of the series elsewhere.

    Returns:
        First row and the row after the last, or None.
    """
    if noise.noise_pa < max(noise.division_pa, LEAST_NOISE_PA):
        return None
    least = int(max(STUCK_ROWS, STUCK_S / interval_s))
    half = max(least // 2, 1)
    marks = np.arange(0, series.size - half, half)
    marks = marks[series[marks] == series[marks + half]]
    held = [int(mark) for mark in marks if bool((series[mark : mark + half] == series[mark]).all())]
    longest = max(
        (_run_about(series, mark) for mark in held), key=lambda run: run[1] - run[0], default=(0, 0)
    )
    return longest if longest[1] - longest[0] >= least else None


def _run_about(series: Series, row: int) -> tuple[int, int]:
    """Give the stretch of equal rows about a row: first, and the row after the last."""
    other = series != series[row]
    before, after = np.flatnonzero(other[:row]), np.flatnonzero(other[row:])
    first = int(before[-1]) + 1 if before.size else 0
    return first, row + int(after[0]) if after.size else series.size
