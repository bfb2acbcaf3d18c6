"""Check a covariance against the profile of the squares: how much they truly rise along an unknown."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.identify_fit import Fit, prior_terms

Series = NDArray[np.float64]

ENDS = 1.2816  # ends of the central 80 % of a normal distribution
WIDEST = 3.0


def widening(fit: Fit, place: int) -> float:
    """Say by how much the uncertainty of an unknown must be widened.

    The unknown is moved to the ends of its interval, the others are fitted again by one straight step, and
    the rise of the squares is compared with what the covariance promised.

    Args:
        fit: The fit.
        place: Place of the unknown.

    Returns:
        1 where the squares rise as promised or faster, more where they rise more slowly [-].
    """
    model = fit.model
    value, weight = prior_terms(model)
    scale = 1.0 / max(fit.scatter, 1.0)
    normal = scale * (fit.slopes.T @ fit.slopes) + np.diag(weight)
    normal += 1e-9 * np.diag(np.diag(normal) + 1e-12)
    covariance = np.linalg.inv(normal)
    sd = math.sqrt(covariance[place, place])
    low = np.array([one.low for one in model.unknowns])
    high = np.array([one.high for one in model.unknowns])
    direction = covariance[:, place] / covariance[place, place]
    moved = np.array([np.clip(fit.point + side * ENDS * sd * direction, low, high) for side in (-1.0, 1.0)])
    others = np.delete(np.arange(fit.point.size), place)
    inside = np.linalg.inv(normal[np.ix_(others, others)])
    left = model.residuals(moved)
    again = moved.copy()
    for number in range(2):
        pull = scale * (fit.slopes.T @ left[number]) + weight * (moved[number] - value)
        again[number, others] -= inside @ pull[others]
    again = np.clip(again, low, high)
    better = model.residuals(again)
    before = scale * fit.squares + float(weight @ (fit.point - value) ** 2)
    found = []
    for number in range(2):
        costs = [
            scale * float(one @ one) + float(weight @ (point - value) ** 2) - before
            for one, point in ((left[number], moved[number]), (better[number], again[number]))
        ]
        reached = (again[number, place] - fit.point[place]) / sd
        found.append((max(min(costs), 1e-3), reached**2))
    promised = sum(one[1] for one in found)
    return min(max(math.sqrt(promised / sum(one[0] for one in found)), 1.0), WIDEST)
