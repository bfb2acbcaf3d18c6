"""Weighted least squares within bounds, by damped Gauss-Newton steps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.identify_model import Model

Series = NDArray[np.float64]

ROUNDS = 25
DAMPINGS = np.array([1e-4, 1e-2, 1.0, 30.0])
ENOUGH = 0.05


@dataclass(frozen=True, eq=False)
class Fit:
    """A fit.

    Args:
        model: What was fitted.
        point: The best point, shape (unknowns,).
        residuals: Scaled differences there, shape (differences,).
        slopes: Their slopes, shape (differences, unknowns).
        rounds: Rounds it took [-].
        settled: Whether the last round changed next to nothing.
    """

    model: Model
    point: Series
    residuals: Series
    slopes: Series
    rounds: int
    settled: bool

    @property
    def squares(self) -> float:
        """Sum of the squared differences."""
        return float(self.residuals @ self.residuals)

    @property
    def scatter(self) -> float:
        """Squares for each degree of freedom: 1 where noise is all that is left."""
        return self.squares / max(self.residuals.size - self.point.size, 1)


def prior_terms(model: Model) -> tuple[Series, Series]:
    """Give what is known of the unknowns before the trace: value, and one over the squared uncertainty."""
    value = np.array([one.prior for one in model.unknowns])
    weight = np.array([one.prior_sd**-2 for one in model.unknowns])
    return value, weight


def fit(model: Model, start: Series, most_rounds: int = ROUNDS) -> Fit:
    """Fit a model from a start.

    Args:
        model: The model.
        start: The start, shape (unknowns,).
        most_rounds: Rounds after which it stops, settled or not [-].
    """
    low = np.array([one.low for one in model.unknowns])
    high = np.array([one.high for one in model.unknowns])
    value, weight = prior_terms(model)
    point, damping, settled, rounds = np.clip(start, low, high), 1.0, False, 0
    residuals, slopes = model.slopes(point)
    cost = float(residuals @ residuals + weight @ (point - value) ** 2)
    while rounds < most_rounds:
        rounds += 1
        normal = slopes.T @ slopes + np.diag(weight)
        pull = -(slopes.T @ residuals) - weight * (point - value)
        tried = np.array([_stepped(normal, pull, point, low, high, damping * each) for each in DAMPINGS])
        found = model.residuals(tried)
        costs = np.einsum("ij,ij->i", found, found) + ((tried - value) ** 2) @ weight
        best = int(np.argmin(costs))
        if not costs[best] < cost:
            if damping > 1e6:
                settled = True
                break
            damping *= 100.0
            continue
        gain, point, cost = cost - float(costs[best]), tried[best], float(costs[best])
        damping = min(max(damping * DAMPINGS[best], 1e-8), 1e8)
        residuals, slopes = model.slopes(point)
        if gain < ENOUGH:
            settled = True
            break
    return Fit(model, point, residuals, slopes, rounds, settled)


def _stepped(
    normal: Series, pull: Series, point: Series, low: Series, high: Series, damping: float
) -> Series:
    """Take one damped step; what would leave its bounds stays on them and the rest is solved again."""
    diagonal = np.diag(normal)
    free = ~(((point <= low) & (pull < 0.0)) | ((point >= high) & (pull > 0.0)))
    step = np.zeros_like(point)
    for _ in range(4):
        places = np.flatnonzero(free)
        if not places.size:
            break
        part = normal[np.ix_(places, places)] + np.diag(damping * diagonal[places] + 1e-9)
        right = pull[places] - normal[np.ix_(places, ~free)] @ step[~free]
        step[places] = np.linalg.solve(part, right)
        target = point + step
        out = free & ((target < low) | (target > high))
        if not out.any():
            break
        step[out] = np.clip(target[out], low[out], high[out]) - point[out]
        free = free & ~out
    return np.clip(point + step, low, high)
