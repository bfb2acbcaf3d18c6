"""Check a covariance against the profile of the squares: how much they truly rise along an unknown."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace.identify_fit import Fit, prior_terms
from fanwright.evidence.trace.identify_model import NUISANCES

Series = NDArray[np.float64]

ENDS = 1.2816  # ends of the central 80 % of a normal distribution
WIDEST = 3.0


def widening(fit: Fit, place: int) -> float:
    """Say by how much the uncertainty of an unknown must be widened, exponent and volumes held.

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
    moving = np.array([i for i, one in enumerate(model.unknowns) if one.name not in NUISANCES])
    covariance = np.linalg.inv(normal[np.ix_(moving, moving)])
    mine = int(np.flatnonzero(moving == place)[0])
    sd = math.sqrt(covariance[mine, mine])
    low = np.array([one.low for one in model.unknowns])
    high = np.array([one.high for one in model.unknowns])
    moved = np.tile(fit.point, (2, 1))
    moved[:, moving] += np.outer([-ENDS * sd, ENDS * sd], covariance[:, mine] / covariance[mine, mine])
    moved = np.clip(moved, low, high)
    others = np.delete(moving, mine)
    inverse = np.linalg.inv(normal[np.ix_(others, others)])
    left, again = model.residuals(moved), moved.copy()
    for one, residuals in zip(again, left, strict=True):
        pull = scale * (fit.slopes.T @ residuals) + weight * (one - value)
        one[others] -= inverse @ pull[others]
    again = np.clip(again, low, high)

    def costs(points: Series, residuals: Series) -> Series:
        found: Series = scale * np.sum(residuals**2, axis=1) + (points - value) ** 2 @ weight
        return found

    before = scale * fit.squares + float(weight @ (fit.point - value) ** 2)
    rises = np.minimum(costs(moved, left), costs(again, model.residuals(again))) - before
    promised = float(np.sum(((again[:, place] - fit.point[place]) / sd) ** 2))
    return min(max(math.sqrt(promised / max(float(np.sum(np.maximum(rises, 0.0))), 1e-3)), 1.0), WIDEST)
