"""How good a forecast was, once the outcome is known; coverage always with its own chance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

STANDARD = NormalDist()


def crps_normal(outcome: float, mean: float, sd: float) -> float:
    """Continuous ranked probability score of a normal forecast; 0 is perfect.

    Example:
        >>> round(crps_normal(0.0, 0.0, 1.0), 10)
        0.2336949773
    """
    z = (outcome - mean) / sd
    return sd * (z * (2.0 * STANDARD.cdf(z) - 1.0) + 2.0 * STANDARD.pdf(z) - 1.0 / math.sqrt(math.pi))


def crps_weibull(outcome: float, scale: float, shape: float) -> float:
    """Continuous ranked probability score of a Weibull forecast (own derivation).

    Example:
        >>> round(crps_weibull(80.0, 100.0, 2.0), 8)
        11.1317356
    """
    from scipy.special import gammainc

    hazard = (outcome / scale) ** shape
    mean = scale * math.gamma(1.0 + 1.0 / shape)
    below = float(gammainc(1.0 + 1.0 / shape, hazard))
    inside = outcome * (1.0 - 2.0 * math.exp(-hazard))
    return float(inside + mean - 2.0 * mean * below - mean * (1.0 - 2.0 ** (-1.0 / shape)))


def crps_draws(outcome: float, draws: Sequence[float], *, fair: bool = False) -> float:
    """Continuous ranked probability score of draws; fair where they are few and stand for many.

    Example:
        >>> round(crps_draws(1.0, [0.0, 1.0, 3.0]), 6)
        0.333333
    """
    ordered, number = sorted(draws), len(draws)
    apart = sum((2 * rank - number - 1) * value for rank, value in enumerate(ordered, 1))
    pairs = number * (number - 1) if fair else number * number
    return sum(abs(value - outcome) for value in ordered) / number - apart / pairs


def pinball(outcome: float, point: float, share: float) -> float:
    """Loss of a quantile forecast.

    Example:
        >>> round(pinball(1.0, 0.5, 0.9), 12)
        0.45
    """
    return max(share * (outcome - point), (share - 1.0) * (outcome - point))


def interval_score(outcome: float, low: float, high: float, level: float) -> float:
    """Width of a range and what it missed by, the latter dearer the surer the range claimed to be.

    Example:
        >>> round(interval_score(1.0, -1.0, 0.8, 0.9), 12)
        5.8
    """
    dear = 2.0 / (1.0 - level)
    return high - low + dear * (max(0.0, low - outcome) + max(0.0, outcome - high))


def brier(chances: Sequence[float], outcomes: Sequence[int]) -> tuple[float, float, float, float]:
    """Brier score of chances, and its parts: reliability, resolution, uncertainty (score = rel - res + unc).

    Example:
        >>> round(brier([0.1, 0.1, 0.9], [0, 0, 1])[0], 6)
        0.01
    """
    number, base = len(chances), sum(outcomes) / len(outcomes)
    score = sum((chance - outcome) ** 2 for chance, outcome in zip(chances, outcomes, strict=True)) / number
    reliability = resolution = 0.0
    for value in set(chances):
        told = [outcome for chance, outcome in zip(chances, outcomes, strict=True) if chance == value]
        rate = sum(told) / len(told)
        reliability += len(told) * (value - rate) ** 2 / number
        resolution += len(told) * (rate - base) ** 2 / number
    return score, reliability, resolution, base * (1.0 - base)


def coverage_band(cases: int, level: float, sure: float = 0.95) -> tuple[int, int]:
    """How many of so many outcomes an honest range of a level may hold, fewest and most.

    Example:
        >>> coverage_band(50, 0.9)
        (41, 49)
    """
    from scipy.stats import binom

    low, high = (int(binom.ppf(share, cases, level)) for share in ((1.0 - sure) / 2.0, (1.0 + sure) / 2.0))
    return low, high


def uniform_by_chance(values: Sequence[float]) -> float:
    """Chance that honest forecasts would place their outcomes as unevenly as this (Kolmogorov and Smirnov).

    Args:
        values: For each outcome, the chance the forecast gave to less than it [-].

    Returns:
        The chance; small means that the forecasts are off [-].

    Example:
        >>> uniform_by_chance([0.1, 0.3, 0.5, 0.7, 0.9]) > 0.9
        True
    """
    from scipy.stats import kstwo

    ordered, number = sorted(values), len(values)
    gap = max(
        max(rank / number - value, value - (rank - 1) / number) for rank, value in enumerate(ordered, 1)
    )
    return float(kstwo.sf(gap, number))
