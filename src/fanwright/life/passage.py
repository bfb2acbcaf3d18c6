"""When a known kind of wear first reaches a depth: random rate, diffusion with drift, gamma process.

The forecast itself mixes many such laws; these are its limiting cases in closed form.
"""

from __future__ import annotations

import math
from statistics import NormalDist

STANDARD = NormalDist()


def normal_chance(z: float) -> float:
    """Chance that a standard normal lies below z, exact far out on the left too [-]."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def reached_by_normal_rate(usage: float, depth: float, rate: float, rate_sd: float) -> float:
    """Chance that wear of a normally distributed rate has reached a depth (Lu and Meeker's form).

    Example:
        >>> round(reached_by_normal_rate(10.0, 5.5, 0.47, 0.08), 6)
        0.158655
    """
    return normal_chance((rate * usage - depth) / (rate_sd * usage))


def usage_by_normal_rate(share: float, depth: float, rate: float, rate_sd: float) -> float:
    """Usage by which wear of a normally distributed rate reaches a depth with a chance.

    Example:
        >>> round(usage_by_normal_rate(0.1, 5.5, 0.47, 0.08), 6)
        9.606582
    """
    return depth / (rate - STANDARD.inv_cdf(share) * rate_sd)


def reached_by_lognormal_rate(usage: float, depth: float, median_rate: float, log_sd: float) -> float:
    """Chance that wear of a lognormally distributed rate has reached a depth."""
    return normal_chance(math.log(median_rate * usage / depth) / log_sd)


def usage_by_lognormal_rate(share: float, depth: float, median_rate: float, log_sd: float) -> float:
    """Usage by which wear of a lognormally distributed rate reaches a depth with a chance."""
    return depth / median_rate * math.exp(log_sd * STANDARD.inv_cdf(share))


def reached_by_diffusion(usage: float, depth: float, drift: float, diffusion: float) -> float:
    """Chance that a Wiener process with drift has reached a depth: inverse Gaussian first passage.

    Example:
        >>> round(reached_by_diffusion(10.0, 5.5, 0.47, 0.25), 8)
        0.17420734
    """
    wide = diffusion * math.sqrt(usage)
    late = math.exp(2.0 * drift * depth / diffusion**2) if drift * depth < 300.0 * diffusion**2 else 0.0
    return normal_chance((drift * usage - depth) / wide) + late * normal_chance(
        -(drift * usage + depth) / wide
    )


def reached_by_gamma_process(usage: float, depth: float, shape_rate: float, scale: float) -> float:
    """Chance that a gamma process has reached a depth: monotone, natural for wear.

    Example:
        >>> round(reached_by_gamma_process(10.0, 5.5, 4.7, 0.1), 8)
        0.12412955
    """
    from scipy.special import gammaincc

    return float(gammaincc(shape_rate * usage, depth / scale))


def fit_diffusion(increments: list[float], steps: list[float]) -> tuple[float, float]:
    """Fit drift and diffusion of a Wiener process to increments over steps of usage (likelihood)."""
    drift = sum(increments) / sum(steps)
    variance = sum((gain - drift * step) ** 2 / step for gain, step in zip(increments, steps, strict=True))
    return drift, math.sqrt(variance / len(steps))


def fit_gamma_process(increments: list[float], steps: list[float]) -> tuple[float, float]:
    """Fit shape per usage and scale of a gamma process to positive increments, by maximum likelihood."""
    import numpy as np
    from scipy.optimize import brentq
    from scipy.special import digamma

    gain, step = np.array(increments), np.array(steps)
    rate = gain.sum() / step.sum()

    def slope(log_shape: float) -> float:
        shape = math.exp(log_shape)
        return float((step * (np.log(shape / rate) + np.log(gain) - digamma(shape * step))).sum())

    middle = math.log(1.0 / step.mean())
    shape = math.exp(float(brentq(slope, middle - 15.0, middle + 15.0, xtol=1e-14)))
    return shape, rate / shape
