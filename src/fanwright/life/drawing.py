"""Draws from a mixture of bells by one fixed, evenly spread set of points: the same input, the same answer."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from statistics import NormalDist

import numpy as np

from fanwright.life.filtering import Array, Bells, Filtered
from fanwright.life.population import FACTORS

POINTS = 1024
DIMENSIONS = 6
SLOWEST = 1e-5


@dataclass(frozen=True, eq=False)
class Nodes:
    """All bells of one batch side by side, heaviest dimension last: arrays (trucks, nodes).

    Args:
        weight: How likely each is; sums to 1 for each truck.
        thickness_mm: Mean thickness now [mm].
        rate: Mean rate now [mm/1000 km].
        thickness_variance: Variance of the thickness [mm2].
        covariance: Of thickness and rate.
        rate_variance: Variance of the rate.
        before: Rate before the change; the rate now where there was none [mm/1000 km].
        uneven_mm: Variance of the wear over its mean [mm], shape (nodes,).
        hazard: Changes of the rate in 1000 km, shape (nodes,).
        interval: In which interval the rate changed, -1 for no change, shape (nodes,).
    """

    weight: Array
    thickness_mm: Array
    rate: Array
    thickness_variance: Array
    covariance: Array
    rate_variance: Array
    before: Array
    uneven_mm: Array
    hazard: Array
    interval: Array


@dataclass(frozen=True, eq=False)
class Draws:
    """Draws for each truck, arrays (trucks, POINTS).

    Args:
        thickness_mm: Thickness now [mm].
        rate: Rate now [mm/1000 km].
        remaining: Usage until the limit, 0 where it is already reached [1000 km].
    """

    thickness_mm: Array
    rate: Array
    remaining: Array


def nodes(
    found: Filtered, shapes: Bells, bell_weights: Array, uneven: Array, hazard: Array, share: Array
) -> Nodes:
    """Put all bells side by side with their weights.

    Args:
        found: Where all bells stand.
        shapes: The bells.
        bell_weights: Prior weight of each bell, shape (trucks, bells).
        uneven: Variance of the wear over its mean, shape (nuisances,) [mm].
        hazard: Changes of the rate in 1000 km, shape (nuisances,).
        share: How likely each nuisance is, shape (nuisances,).

    Returns:
        The nodes, sorted by rate so that even points give even draws.
    """
    trucks, _, bells = found.steady.rate.shape
    with np.errstate(divide="ignore"):
        base = np.log(bell_weights)[:, None, :] + np.log(share)[None, :, None]
        factor = np.log(shapes.factor_weight)
        lengths = np.log(np.where(found.open_interval, found.steps, 0.0))
    log_hazard = np.log(hazard)
    blocks = [(found.steady.log_evidence + base, found.steady, -1, np.zeros(1))]
    for number, state in enumerate(found.changed):
        weight = (
            state.log_evidence + base[..., None] + factor + log_hazard[None, :, None, None]
            + lengths[number][:, None, None, None]
        )  # fmt: skip
        blocks.append((weight, state, number, np.array(FACTORS)))
    order = np.argsort(
        np.concatenate([
            np.broadcast_to(np.log(shapes.rate)[:, None] + jumps, (len(share), bells, len(jumps))).ravel()
            for _, _, _, jumps in blocks
        ]), kind="stable",
    )  # fmt: skip

    def flat(part: str) -> Array:
        arrays = [np.reshape(getattr(state, part), (trucks, -1)) for _, state, _, _ in blocks]
        joined: Array = np.concatenate(arrays, axis=1)[:, order]
        return joined

    before = [found.steady.rate] + [
        np.broadcast_to(rate[..., None], state.rate.shape)
        for rate, state in zip(found.before, found.changed, strict=True)
    ]
    old: Array = np.concatenate([rate.reshape(trucks, -1) for rate in before], axis=1)[:, order]
    log_weight = np.concatenate([weight.reshape(trucks, -1) for weight, _, _, _ in blocks], axis=1)[:, order]
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))

    def shared(values: Array) -> Array:
        spread = [
            np.broadcast_to(values[:, None, None], (len(share), bells, len(jumps))).ravel()
            for _, _, _, jumps in blocks
        ]
        joined: Array = np.concatenate(spread)[order]
        return joined

    interval = np.concatenate([
        np.full(len(share) * bells * len(jumps), float(number)) for _, _, number, jumps in blocks
    ])[order]  # fmt: skip
    return Nodes(
        weight / weight.sum(axis=1, keepdims=True), flat("thickness"), flat("rate"), flat("thickness_variance"),
        flat("covariance"), flat("rate_variance"), old, shared(uneven), shared(hazard), interval,
    )  # fmt: skip


def draw(mixture: Nodes, limit_mm: Array, change_spread: float) -> Draws:
    """Draw thickness, rate and what remains for each truck.

    Args:
        mixture: The nodes.
        limit_mm: Thickness at which each truck's facing is renewed, shape (trucks,) [mm].
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
    ahead = wear_needed(np.maximum(thickness - limit_mm[:, None], 0.0), mixture.uneven_mm[picked], points[3])
    return Draws(
        thickness,
        rate,
        usage_until(ahead, rate, mixture.hazard[picked], points[4], change_spread * points[5]),
    )


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


def usage_until(ahead_mm: Array, rate: Array, hazard: Array, wait: Array, log_factor: Array) -> Array:
    """Give the usage in which an expected wear comes about, if the rate may change once on the way."""
    steady = ahead_mm / rate
    change_at = wait / hazard
    after = (ahead_mm - rate * change_at) / (rate * np.exp(log_factor))
    return np.where(steady <= change_at, steady, change_at + after)


@cache
def _points() -> Array:
    """Evenly spread points: the first ordered, the others by an additive sequence of irrational steps.

    Rows: a share for the node, three normal deviates, an exponential wait, a normal deviate.
    """
    root = 1.2
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / DIMENSIONS)
    number = np.arange(1, POINTS + 1)
    shares = np.array([(0.5 + number / root**axis) % 1.0 for axis in range(1, DIMENSIONS)])
    first = (np.arange(POINTS) + 0.5) / POINTS
    inverse = NormalDist().inv_cdf
    deviates = [np.array([inverse(min(max(share, 1e-9), 1 - 1e-9)) for share in row]) for row in shares]
    return np.array([first, deviates[0], deviates[1], deviates[2], -np.log1p(-shares[3]), deviates[4]])


def _pick(weight: Array, share: Array) -> Array:
    cumulative = np.cumsum(weight, axis=1)
    picked = [np.searchsorted(row, share) for row in cumulative]
    return np.minimum(np.array(picked), weight.shape[1] - 1)
