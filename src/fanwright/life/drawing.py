"""Draws from a mixture of bells by one fixed, evenly spread set of points: same input, same answer."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from statistics import NormalDist

import numpy as np

from fanwright.life.filtering import Array, Index
from fanwright.life.nodes import Nodes
from fanwright.life.population import Settings

POINTS = 1024
DIMENSIONS = 6
SLOWEST = 1e-5
NEVER = 1e9


@dataclass(frozen=True, eq=False)
class Draws:
    """Draws for each truck, arrays (trucks, POINTS).

    Args:
        thickness_mm: Thickness now [mm].
        rate: Rate now [mm/1000 km].
        remaining: Usage until the limit, 0 where it is already reached [1000 km].
        uneven_mm: Variance of the wear ahead over its mean [mm].
        deviate: Standard normal by which the wear ahead is off its mean, shape (POINTS,) [-].
        change_at: Usage until the next change of the rate, shape (POINTS,) [1000 km].
        log_factor: Logarithm of what it multiplies the rate by, shape (POINTS,) [ln].
    """

    thickness_mm: Array
    rate: Array
    remaining: Array
    uneven_mm: Array
    deviate: Array
    change_at: Array
    log_factor: Array

    def ahead_mm(self, row: int, usage: float) -> Array:
        """Give the thickness of one truck after a usage to come [1000 km], shape (POINTS,) [mm]."""
        after = np.maximum(usage - self.change_at, 0.0)
        wear = self.rate[row] * (usage - after + after * np.exp(self.log_factor))
        left: Array = self.thickness_mm[row] - wear + np.sqrt(self.uneven_mm[row] * wear) * self.deviate
        return left


def draw(mixture: Nodes, limit_mm: Array, settings: Settings, change_spread: float) -> Draws:
    """Draw thickness, rate and what remains for each truck.

    Args:
        mixture: The nodes.
        limit_mm: Thickness at which each truck's facing is renewed, shape (trucks,) [mm].
        settings: What all trucks share.
        change_spread: Spread of the logarithm of a change still to come [ln].

    Returns:
        The draws.
    """
    points = _points()
    picked = _pick(mixture.weight, points[0])
    take = np.take_along_axis
    rate_sd = np.sqrt(take(mixture.rate_variance, picked, 1))
    mean = take(mixture.rate, picked, 1)
    rate = np.maximum(mean + rate_sd * points[1], np.maximum(0.02 * mean, SLOWEST))
    slope = take(mixture.covariance, picked, 1) / np.maximum(rate_sd, 1e-15)
    own = np.sqrt(np.maximum(take(mixture.thickness_variance, picked, 1) - slope**2, 0.0))
    thickness = take(mixture.thickness_mm, picked, 1) + slope * points[1] + own * points[2]
    depth = np.maximum(thickness - limit_mm[:, None], 0.0)
    uneven = mixture.uneven_mm[picked]
    ahead = wear_needed(depth, uneven, points[3])
    wait, log_factor = _waits(settings, points[4]), change_spread * points[5]
    remaining = usage_until(ahead, rate, wait, log_factor)
    return Draws(thickness, rate, remaining, uneven, points[3], wait, log_factor)


def _waits(settings: Settings, share: Array) -> Array:
    """Usage until the next change at shares of all that may come: the hazard itself is not known."""
    at = np.geomspace(1e-4, 60.0, 400) / settings.hazard[settings.hazard > 0.0].min()
    changed = 1.0 - settings.hazard_weight @ np.exp(-np.outer(settings.hazard, at))
    waits: Array = np.interp(share, changed, at, right=NEVER)
    return waits


def wear_needed(depth_mm: Array, uneven_mm: Array, deviate: Array) -> Array:
    """Give the expected wear at which uneven wear first reaches a depth.

    Wear with mean R has variance theta R: the deviate z of a normal crosses the depth D at
    R = (sqrt(theta) z / 2 + sqrt(theta z^2 / 4 + D))^2 (Birnbaum and Saunders' law of first passage).

    Example:
        >>> float(wear_needed(np.array(2.0), np.array(0.0), np.array(1.0)))
        2.0000000000000004
    """
    half = 0.5 * np.sqrt(uneven_mm) * deviate
    found: Array = np.where(depth_mm > 0.0, (half + np.sqrt(half * half + depth_mm)) ** 2, 0.0)
    return found


def usage_until(ahead_mm: Array, rate: Array, change_at: Array, log_factor: Array) -> Array:
    """Give the usage in which an expected wear comes about, if the rate may change once on the way."""
    steady = ahead_mm / rate
    after = (ahead_mm - rate * change_at) / (rate * np.exp(log_factor))
    return np.where(steady <= change_at, steady, change_at + after)


@cache
def _points() -> Array:
    """Evenly spread points: the first ordered, the others by an additive sequence of irrational steps.

    Rows: a share for the node, three normal deviates, a share for the wait, a normal deviate.
    """
    root = 1.2
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / DIMENSIONS)
    number = np.arange(1, POINTS + 1)
    shares = np.array([(0.5 + number / root**axis) % 1.0 for axis in range(1, DIMENSIONS)])
    first = (np.arange(POINTS) + 0.5) / POINTS
    inverse = NormalDist().inv_cdf
    deviates = [np.array([inverse(min(max(share, 1e-9), 1 - 1e-9)) for share in row]) for row in shares]
    return np.array([first, deviates[0], deviates[1], deviates[2], shares[3], deviates[4]])


def _pick(weight: Array, share: Array) -> Index:
    cumulative = np.cumsum(weight, axis=1)
    picked = [np.searchsorted(row, share) for row in cumulative]
    capped: Index = np.minimum(np.array(picked, dtype=np.int64), weight.shape[1] - 1)
    return capped
