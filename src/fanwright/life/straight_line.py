"""The plain forecast ours stands beside: one straight line through a truck's readings, in closed form."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Line:
    """A line with normal-inverse-gamma uncertainty: thickness = v . (start, slope), v = (1, usage).

    Args:
        mean: Mean of start and slope, shape (2,).
        spread: Their covariance over the error variance, shape (2, 2).
        shape: Shape of the inverse gamma law of the error variance [-].
        scale: Its scale.
        log_evidence: Logarithm of how well the prior foretold the readings.
    """

    mean: Array
    spread: Array
    shape: float
    scale: float
    log_evidence: float = 0.0

    def thickness(self, usage: float, *, read: bool = False) -> tuple[float, float, float]:
        """Student's t of the thickness, or of a reading of it: degrees of freedom, middle, scale."""
        place = np.array([1.0, usage])
        wide = float(place @ self.spread @ place) + (1.0 if read else 0.0)
        return 2.0 * self.shape, float(place @ self.mean), math.sqrt(self.scale / self.shape * wide)

    def reached(self, usage: float, limit: float, *, read: bool = False) -> float:
        """Chance that the line, or a reading of it, lies below a limit [-]."""
        from scipy.stats import t

        freedom, middle, scale = self.thickness(usage, read=read)
        return float(t.cdf((limit - middle) / scale, freedom))

    def usage_at(self, share: float, limit: float, *, read: bool = False) -> float:
        """Usage by which the limit is reached with a chance; infinite where the line may not fall."""
        from scipy.optimize import brentq

        low, high = 0.0, 1.0
        while self.reached(high, limit, read=read) < share:
            low, high = high, high * 2.0
            if high > 1e12:
                return math.inf
        return float(
            brentq(lambda usage: self.reached(usage, limit, read=read) - share, low, high, xtol=1e-12)
        )


def fit_line(usage: Sequence[float], thickness: Sequence[float], prior: Line) -> Line:
    """Learn a line from readings.

    Args:
        usage: Where it was read [any].
        thickness: What was read [any].
        prior: What was known before.

    Returns:
        What is known now.

    Example:
        >>> flat = Line(np.array([9.5, -0.5]), np.diag([25.0, 6.25]), 3.0, 0.03)
        >>> fit_line([0.0, 2.5, 6.0], [9.52, 8.31, 6.71], flat).mean.round(3).tolist()
        [9.506, -0.468]
    """
    places = np.column_stack([np.ones(len(usage)), np.asarray(usage, dtype=np.float64)])
    read = np.asarray(thickness, dtype=np.float64)
    before = np.linalg.inv(prior.spread)
    spread = np.linalg.inv(before + places.T @ places)
    mean = spread @ (before @ prior.mean + places.T @ read)
    shape = prior.shape + len(read) / 2.0
    scale = prior.scale + 0.5 * float(
        read @ read + prior.mean @ before @ prior.mean - mean @ (before + places.T @ places) @ mean
    )
    log_evidence = (
        -len(read) / 2.0 * math.log(2.0 * math.pi)
        + 0.5 * (np.linalg.slogdet(spread)[1] - np.linalg.slogdet(prior.spread)[1])
        + prior.shape * math.log(prior.scale) - shape * math.log(scale)
        + math.lgamma(shape) - math.lgamma(prior.shape)
    )  # fmt: skip
    return Line(mean, spread, shape, scale, float(log_evidence))
