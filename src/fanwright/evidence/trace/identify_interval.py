"""From a fit to intervals: what the trace says, spread over what it cannot know of volumes and exponent.

The differences are taken as straight in the unknowns (volumes and exponent enter by their logarithms, in
which a trace depends on them through a product). For each point of a grid over exponent and volumes, each as
likely as any other within its range, the rest of the unknowns is normal; their mixture gives the quantiles.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.identify_fit import Fit, fit, prior_terms
from fanwright.evidence.trace.identify_model import NUISANCES, REFERENCE_EXPONENT, Model
from fanwright.evidence.trace.identify_result import Interval

Series = NDArray[np.float64]

GRID = (17, 9, 9)
SHARPEST = 0.03  # how sharply a trace is believed to know the logarithms of exponent and volumes; by trials
MODEL_SHARE = 0.01
LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9
BISECTIONS = 22
LITTLE, AGAIN_ROUNDS = 0.7, 6


@dataclass(frozen=True, eq=False)
class Spread:
    """The unknowns of a fit with all that is not known of them.

    Args:
        points: Middle of the unknowns for each point of the grid, shape (grid, unknowns).
        weights: Share of each point of the grid, shape (grid,).
        covariance: Covariance of the unknowns about the middle, shape (unknowns, unknowns).
        given: The unknowns with the volumes as given and the usual exponent, shape (unknowns,).
    """

    points: Series
    weights: Series
    covariance: Series
    given: Series


@dataclass(frozen=True, eq=False)
class _Straight:
    """A fit taken as straight about its point: what it costs to move exponent and volumes, what follows."""

    place: NDArray[np.intp]
    others: NDArray[np.intp]
    inverse: Series
    lean: Series
    offset: Series
    known: Series
    slope: Series

    def follow(self, point: Series, moved: Series) -> Series:
        """Give whole points whose exponent and volumes are moved by rows of ``moved``."""
        points = np.tile(point, (len(moved), 1))
        points[:, self.place] += moved
        points[:, self.others] += self.offset - moved @ self.lean.T
        return points

    def costs(self, moved: Series, sharpest: float) -> Series:
        """Half the squares each move costs; what a trace seems to know is trusted to ``sharpest``."""
        sharp, turn = np.linalg.eigh(0.5 * (self.known + self.known.T))
        sharp = np.maximum(sharp, 0.0)
        blunt = 1.0 / (1.0 + sharp * sharpest**2)
        along = moved @ turn
        found: Series = along @ (blunt * (turn.T @ self.slope)) + 0.5 * (along**2) @ (blunt * sharp)
        return found


def _straight(best: Fit) -> _Straight:
    model = best.model
    z = np.array([model.place(name) for name in NUISANCES])
    y = np.setdiff1d(np.arange(best.point.size), z)
    value, weight = prior_terms(model)
    weight = weight.copy()
    weight[z] = 0.0
    scale = 1.0 / max(best.scatter, 1.0)
    normal = scale * (best.slopes.T @ best.slopes) + np.diag(weight)
    pull = scale * (best.slopes.T @ best.residuals) + weight * (best.point - value)
    inverse = np.linalg.inv(normal[np.ix_(y, y)] + 1e-9 * np.diag(np.diag(normal)[y] + 1e-12))
    lean = inverse @ normal[np.ix_(y, z)]
    known = normal[np.ix_(z, z)] - normal[np.ix_(z, y)] @ lean
    return _Straight(z, y, inverse, lean, -inverse @ pull[y], known, pull[z] - lean.T @ pull[y])


def spread(best: Fit) -> Spread:
    """Spread a fit over what is not known of volumes and exponent.

    Args:
        best: The fit.
    """
    straight = _straight(best)
    moved = _grid(best.model) - best.point[straight.place]
    costs = straight.costs(moved, SHARPEST)
    weights = np.exp(-_trusted(best, straight) * (costs - costs.min()))
    covariance = np.zeros((best.point.size, best.point.size))
    covariance[np.ix_(straight.others, straight.others)] = straight.inverse
    middle = np.array([math.log(REFERENCE_EXPONENT), 0.0, 0.0]) - best.point[straight.place]
    given = straight.follow(best.point, middle[None])[0]
    return Spread(straight.follow(best.point, moved), weights / weights.sum(), covariance, given)


def _trusted(best: Fit, straight: _Straight) -> float:
    """Say how much of the promised cost of moving exponent and volumes to the middle is true, 0 to 1.

    They are held there and the rest is fitted again: where the squares rise less than promised, the trace
    knows less of them than the straight picture says.
    """
    moved = -best.point[straight.place] + _grid(best.model).mean(axis=0)
    promised = float(straight.costs(moved[None], 0.0)[0])
    if promised < LITTLE:
        return 1.0
    model = best.model
    held = straight.follow(best.point, moved[None])[0]
    pinned = tuple(
        replace(one, start=held[i], low=held[i] - 1e-9, high=held[i] + 1e-9) if i in straight.place else one
        for i, one in enumerate(model.unknowns)
    )
    again = fit(Model(model.machine, model.episodes, pinned), held, AGAIN_ROUNDS)
    value, weight = prior_terms(model)
    weight[straight.place] = 0.0
    scale = 1.0 / max(best.scatter, 1.0)
    rise = 0.5 * scale * (again.squares - best.squares)
    rise += 0.5 * float(weight @ ((again.point - value) ** 2 - (best.point - value) ** 2))
    return min(max(rise, LITTLE) / promised, 1.0)


def _grid(model: Model) -> Series:
    """Give points spread evenly over the ranges of exponent and volumes, shape (grid, 3), as logarithms."""
    sides = []
    for name, points in zip(NUISANCES, GRID, strict=True):
        one = model.unknowns[model.place(name) or 0]
        low, high = math.exp(one.low), math.exp(one.high)
        sides.append(np.log(low + (high - low) * (np.arange(points) + 0.5) / points))
    return np.stack(np.meshgrid(*sides, indexing="ij"), -1).reshape(-1, 3)


def interval(
    found: Spread,
    linear: Series,
    moved: Series | None = None,
    factor: Series | None = None,
    extra_sd: float = 0.0,
) -> Interval:
    """Give the 80 % interval of a linear function of the unknowns, with what each point of the grid does.

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
