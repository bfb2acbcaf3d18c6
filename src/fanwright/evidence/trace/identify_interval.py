"""From a fit to intervals: what the trace says, spread over what it cannot know of volumes and exponent.

The differences are taken as straight in the unknowns (volumes and exponent enter by their logarithms, in
which a trace depends on them through a product). For each point of a grid over exponent and volumes, each as
likely as any other within its range, the rest of the unknowns is normal; their mixture gives the quantiles.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.identify_fit import Fit, prior_terms
from fanwright.evidence.trace.identify_model import NUISANCES
from fanwright.evidence.trace.identify_result import Interval

Series = NDArray[np.float64]

GRID = (17, 9, 9)
SHARPEST = 0.025
MODEL_SHARE = 0.008
LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9
BISECTIONS = 22


@dataclass(frozen=True, eq=False)
class Spread:
    """The unknowns of a fit with all that is not known of them.

    Args:
        points: Middle of the unknowns for each point of the grid, shape (grid, unknowns).
        weights: Share of each point of the grid, shape (grid,).
        covariance: Covariance of the unknowns about the middle, shape (unknowns, unknowns).
    """

    points: Series
    weights: Series
    covariance: Series


def spread(fit: Fit) -> Spread:
    """Spread a fit over what is not known of volumes and exponent.

    Args:
        fit: The fit.
    """
    model = fit.model
    z = np.array([model.place(name) for name in NUISANCES])
    y = np.setdiff1d(np.arange(fit.point.size), z)
    value, weight = prior_terms(model)
    weight = weight.copy()
    weight[z] = 0.0
    scale = 1.0 / max(fit.scatter, 1.0)
    normal = scale * (fit.slopes.T @ fit.slopes) + np.diag(weight)
    pull = scale * (fit.slopes.T @ fit.residuals) + weight * (fit.point - value)
    inside = normal[np.ix_(y, y)] + 1e-9 * np.diag(np.diag(normal)[y] + 1e-12)
    inverse = np.linalg.inv(inside)
    lean = inverse @ normal[np.ix_(y, z)]
    known = normal[np.ix_(z, z)] - normal[np.ix_(z, y)] @ lean
    slope = pull[z] - lean.T @ pull[y]
    grid = _grid()
    moved = grid - fit.point[z]
    points = np.tile(fit.point, (len(grid), 1))
    points[:, z] = grid
    points[:, y] = fit.point[y] - inverse @ pull[y] - moved @ lean.T
    weights = np.exp(-_blunted(known, slope, moved))
    covariance = np.zeros_like(normal)
    covariance[np.ix_(y, y)] = inverse
    return Spread(points, weights / weights.sum(), covariance)


def _grid() -> Series:
    exponent = np.log(1.0 + 0.4 * (np.arange(GRID[0]) + 0.5) / GRID[0])
    volumes = [np.log(0.9 + 0.2 * (np.arange(each) + 0.5) / each) for each in GRID[1:]]
    return np.stack(np.meshgrid(exponent, *volumes, indexing="ij"), -1).reshape(-1, 3)


def _blunted(known: Series, slope: Series, moved: Series) -> Series:
    """Half the squares each point of the grid costs; what a trace seems to know is trusted to a few percent."""
    sharp, turn = np.linalg.eigh(0.5 * (known + known.T))
    blunt = 1.0 / (1.0 + np.maximum(sharp, 0.0) * SHARPEST**2)
    along = moved @ turn
    costs = along @ (blunt * (turn.T @ slope)) + 0.5 * (along**2) @ (blunt * np.maximum(sharp, 0.0))
    least: Series = costs - costs.min()
    return least


def interval(
    found: Spread,
    linear: Series,
    moved: Series | None = None,
    factor: Series | None = None,
    extra_sd: float = 0.0,
) -> Interval:
    """Give the 80 % interval of a linear function of the unknowns and of what each point of the grid does to it.

    Args:
        found: The spread.
        linear: Weight of each unknown, shape (unknowns,).
        moved: What is added at each point of the grid, shape (grid,), or None.
        factor: What it is multiplied by there, before that, shape (grid,), or None.
        extra_sd: Standard uncertainty from elsewhere.
    """
    times = np.ones(len(found.weights)) if factor is None else factor
    middles = (found.points @ linear) * times + (0.0 if moved is None else moved)
    sd = math.sqrt(max(float(linear @ found.covariance @ linear), 0.0))
    spreads = np.hypot(sd * times, extra_sd) + 1e-9 * float(np.abs(middles).max()) + 1e-300
    heavy = found.weights > 1e-5 * found.weights.max()
    parts = middles[heavy], spreads[heavy], found.weights[heavy] / found.weights[heavy].sum()
    return Interval(*(_quantile(*parts, share) for share in (MIDDLE, LOW, HIGH)))


def _quantile(middles: Series, sds: Series, weights: Series, share: float) -> float:
    low, high = float((middles - 5.0 * sds).min()), float((middles + 5.0 * sds).max())
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        below = float((weights * _normal((middle - middles) / sds)).sum())
        low, high = (middle, high) if below < share else (low, middle)
    return 0.5 * (low + high)


def _normal(x: Series) -> Series:
    """Cumulated normal distribution, to 1e-7 (Abramowitz and Stegun 26.2.17, from memory)."""
    t = 1.0 / (1.0 + 0.2316419 * np.abs(x))
    tail = t * (0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))))
    tail *= np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)
    found: Series = np.where(x > 0.0, 1.0 - tail, tail)
    return found
