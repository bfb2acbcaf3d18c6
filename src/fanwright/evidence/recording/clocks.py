"""How far apart the clocks of two recordings of one drive are, from the engine speeds in both."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.recording.signals import RPM
from fanwright.evidence.recording.traffic import Series

SECOND_US = 1_000_000
LEAST_COMMON_S = 300
"""Less in common than five minutes proves nothing (assumption)."""
LEAST_SPREAD_RPM = 40.0
"""An engine that only idles looks like any other (assumption)."""
LEAST_LIKENESS = 0.9
ALIKE_RPM = 60.0
LEAST_ALIKE = 0.9
MOST_SECONDS = 3_000_000
FINE_US = tuple(range(-1_000_000, 1_000_001, 100_000))

Floats = NDArray[np.float64]


def clock_apart_us(one: Series, other: Series) -> int | None:
    """Give what must be added to the other's times so that both tell the same; None where they never do.

    The speeds are laid over each other at every whole second; the best place counts only where at least five
    minutes are in common, the speed changes in them, and nine seconds in ten agree within 60 r/min.

    Args:
        one: Engine speed of one recording [rad/s].
        other: Engine speed of the other [rad/s].
    """
    if not len(one.time_us) or not len(other.time_us):
        return None
    if max(_seconds(one), _seconds(other)) > MOST_SECONDS:
        return None
    a, b = _each_second(one), _each_second(other)
    lag = _best_lag(a, b)
    if lag is None:
        return None
    rough = int(one.time_us[0]) - int(other.time_us[0]) + lag * SECOND_US
    apart = {fine: _apart_rpm(one, other, rough + fine) for fine in FINE_US}
    best = min(apart, key=lambda fine: (round(float(np.median(apart[fine])), 3), abs(fine)))
    alike = apart[best]
    return (
        rough + best if len(alike) >= LEAST_COMMON_S and (alike < ALIKE_RPM).mean() >= LEAST_ALIKE else None
    )


def _seconds(series: Series) -> int:
    return int((series.time_us[-1] - series.time_us[0]) // SECOND_US) + 1


def _each_second(series: Series) -> Floats:
    """Give the speed at every second from its first moment, NaN where none is near [r/min]."""
    moments = series.time_us[0] + SECOND_US * np.arange(_seconds(series))
    return series.at(moments, SECOND_US) / RPM


def _best_lag(a: Floats, b: Floats) -> int | None:
    """Give how many seconds later than the first of ``a`` the first of ``b`` fits best; None where nowhere.

    Pearson's correlation at every lag over the seconds that both know, by way of Fourier transforms.
    """
    size = 1 << (len(a) + len(b)).bit_length()
    known_a, known_b = (~np.isnan(a)).astype(float), (~np.isnan(b)).astype(float)
    middle = float(np.nanmean(a)) if known_a.any() else 0.0
    a0, b0 = np.nan_to_num(a - middle), np.nan_to_num(b - middle)

    def over(x: Floats, y: Floats) -> Floats:
        return np.fft.irfft(np.fft.rfft(x, size) * np.conj(np.fft.rfft(y, size)), size)

    many = np.maximum(over(known_a, known_b).round(), 1e-9)
    mean_a, mean_b = over(a0, known_b) / many, over(known_a, b0) / many
    spread_a = over(a0 * a0, known_b) / many - mean_a**2
    spread_b = over(known_a, b0 * b0) / many - mean_b**2
    enough = (many >= LEAST_COMMON_S) & (spread_a > LEAST_SPREAD_RPM**2) & (spread_b > LEAST_SPREAD_RPM**2)
    if not enough.any():
        return None
    product = np.where(enough, spread_a * spread_b, 1.0)
    likeness = np.where(enough, (over(a0, b0) / many - mean_a * mean_b) / np.sqrt(product), -1.0)
    best = int(likeness.argmax())
    if likeness[best] < LEAST_LIKENESS:
        return None
    return best if best < len(a) else best - size


def _apart_rpm(one: Series, other: Series, shift_us: int) -> Floats:
    """Give how far the speeds are apart in the seconds both know, the other's times moved [r/min]."""
    moved = Series(other.time_us + shift_us, other.value, other.sender)
    first, last = max(one.time_us[0], moved.time_us[0]), min(one.time_us[-1], moved.time_us[-1])
    if last <= first:
        return np.array([np.inf])
    moments = np.arange(first, last, SECOND_US)
    apart = np.abs(one.at(moments, SECOND_US) - moved.at(moments, SECOND_US)) / RPM
    known: Floats = apart[~np.isnan(apart)]
    return known if len(known) else np.array([np.inf])
