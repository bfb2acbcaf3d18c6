"""What a fleet's readings say about its trucks together: rates, their spread, uneven duty, reading errors.

Everything unknown of the fleet lies on a small grid and is weighed by all readings at once, so that a fleet of one
truck keeps the assumptions with all their width and a large one forgets them. A truck's own readings are taken
out of what the fleet tells about it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fanwright.life.filtering import Array, Batch, Bells, Filtered, Nuisance, change_evidence, run
from fanwright.life.priors import Priors

SPACING = 0.25
LOWEST_RATE, HIGHEST_RATE = 3e-4, 0.5
FACTORS = (-1.2, -0.6, 0.0, 0.6, 1.2)
FACTOR_SPREAD = 0.36
UNEVEN = (0.25, 1.0, 4.0, 16.0)
ERROR_SCALES = (0.7, 1.0, 1.5, 2.2)
ERROR_WEIGHTS = (0.1, 0.6, 0.25, 0.05)
HAZARDS = (0.25, 1.0, 4.0)
TRUCK_SPREADS = (0.6, 0.8, 1.0, 1.4, 2.0)
STEPS_FROM_MEDIAN = np.linspace(-3.0, 3.0, 41)
LEARN_FROM = 400
KEEP_MASS, KEEP_MOST = 0.9, 4


@dataclass(frozen=True, eq=False)
class Settings:
    """One candidate for what all trucks share.

    Args:
        nuisance: Uneven duty and reading errors, one row each, shape (kept,).
        hazard: Changes of the rate in 1000 km, same shape.
        weight: How likely each is, sums to 1, same shape.
    """

    nuisance: Nuisance
    hazard: Array
    weight: Array


@dataclass(frozen=True, eq=False)
class Population:
    """What the fleet says.

    Args:
        bells: The bells rates are made of.
        settings: What all trucks share.
        weights: Weight of each bell for each truck, shape (trucks, bells), from the others and the assumptions.
    """

    bells: Bells
    settings: Settings
    weights: Array


def bells(priors: Priors) -> Bells:
    """Give the bells: evenly spaced in the logarithm of the rate, each as wide as the spacing."""
    middles = np.exp(np.arange(math.log(LOWEST_RATE), math.log(HIGHEST_RATE), SPACING))
    spread = max(priors.change_spread**2 - FACTOR_SPREAD**2, 0.01)
    factor_weight = np.exp(-(np.array(FACTORS) ** 2) / (2.0 * spread))
    return Bells(
        rate=middles * math.exp(SPACING**2 / 2.0),
        variance=middles**2 * math.exp(SPACING**2) * math.expm1(SPACING**2),
        factor=np.exp(np.array(FACTORS) + FACTOR_SPREAD**2 / 2.0),
        factor_variance=np.full(len(FACTORS), math.expm1(FACTOR_SPREAD**2)),
        factor_weight=factor_weight / factor_weight.sum(),
    )


def learn(batch: Batch, groups: list[tuple[str, ...]], priors: Priors) -> Population:
    """Weigh everything unknown of a fleet by its readings.

    Args:
        batch: The readings of all trucks.
        groups: The names each truck is pooled by: the first says the group, all may say the duty.
        priors: What is taken for granted.

    Returns:
        What the fleet says about each truck.
    """
    shapes = bells(priors)
    chosen = _informative(batch)
    medians = np.array([priors.log_rate(names) for names in groups])
    nuisance = _candidates(priors)
    evidence = _evidence(batch.part(chosen), shapes, nuisance, priors)
    grid = _grid(shapes, priors)
    fleet = _by_grid(evidence, grid, medians[chosen])
    settings, kept = _settings(fleet, nuisance, grid, priors)
    own = np.einsum("s,sug->ug", settings.weight, fleet[kept])
    weights = _weights(own, chosen, medians, groups, grid, priors)
    return Population(shapes, settings, weights)


@dataclass(frozen=True, eq=False)
class _Grid:
    """Candidates for how a fleet's rates lie about their assumed median.

    Args:
        shift: Shift of the median, shape (grid,) [ln].
        spread: Spread of the trucks, shape (grid,) [ln].
        log_prior: Their prior, shape (grid,).
    """

    shift: Array
    spread: Array
    log_prior: Array
    middles: Array

    def bell_weights(self, median: float) -> Array:
        """Weight of each bell, shape (grid, bells)."""
        inner = np.maximum(self.spread**2 - SPACING**2, 0.01)[:, None]
        off = self.middles - median - self.shift[:, None]
        weights = np.exp(-(off**2) / (2.0 * inner)) + 1e-12
        found: Array = weights / weights.sum(axis=1, keepdims=True)
        return found


def _grid(shapes: Bells, priors: Priors) -> _Grid:
    shift, spread = np.meshgrid(
        STEPS_FROM_MEDIAN * priors.fleet_spread, np.array(TRUCK_SPREADS) * priors.truck_spread, indexing="ij"
    )
    shift, spread = shift.ravel(), spread.ravel()
    log_prior = (
        -0.5 * (shift / priors.fleet_spread) ** 2 - 0.5 * (np.log(spread / priors.truck_spread) / 0.4) ** 2
    )
    return _Grid(shift, spread, log_prior, np.log(shapes.rate) - SPACING**2 / 2.0)


def _informative(batch: Batch) -> Array:
    """Choose the trucks to learn from: all, or an even choice of those with several readings."""
    several = np.flatnonzero(batch.counts >= 2)
    if len(several) <= LEARN_FROM:
        return several
    return several[np.linspace(0, len(several) - 1, LEARN_FROM).astype(np.int64)]


def _candidates(priors: Priors) -> Nuisance:
    uneven, scale = np.meshgrid(np.array(UNEVEN) * priors.uneven_mm, ERROR_SCALES, indexing="ij")
    return Nuisance(uneven.ravel(), scale.ravel())


def _evidence(batch: Batch, shapes: Bells, nuisance: Nuisance, priors: Priors) -> Array:
    """How well each bell foretells a truck, for each hazard: shape (hazards x nuisances, trucks, bells)."""
    if not len(batch.counts):
        return np.zeros((len(HAZARDS) * len(nuisance.uneven_mm), 0, len(shapes.rate)))
    parts = []
    for some in np.array_split(np.arange(len(batch.counts)), max(1, len(batch.counts) // 40)):
        found = run(batch.part(some), shapes, nuisance)
        parts.append([with_changes(found, shapes, rate * priors.change_hazard) for rate in HAZARDS])
    stacked = np.concatenate([np.array(part) for part in parts], axis=1)
    return stacked.transpose(0, 2, 1, 3).reshape(-1, len(batch.counts), len(shapes.rate))


def with_changes(found: Filtered, shapes: Bells, hazard: float) -> Array:
    """Put together no change and one change, shape (trucks, nuisances, bells) [ln of evidence]."""
    once = change_evidence(found)
    with np.errstate(divide="ignore"):
        one = (
            np.logaddexp.reduce(once + np.log(shapes.factor_weight * hazard), axis=3)
            if found.changed
            else -np.inf
        )
    whole = np.where(found.open_interval, found.steps, 0.0).sum(axis=0)
    return np.logaddexp(found.steady.log_evidence, one) - np.log1p(hazard * whole)[:, None, None]


def _by_grid(evidence: Array, grid: _Grid, medians: Array) -> Array:
    """How well each grid candidate foretells each truck, shape (settings, trucks, grid) [ln]."""
    settings, trucks, _ = evidence.shape
    found = np.zeros((settings, trucks, len(grid.shift)))
    top = evidence.max(axis=2, keepdims=True)
    likely = np.exp(evidence - top)
    for median in np.unique(medians):
        here = medians == median
        found[:, here] = np.log(likely[:, here] @ grid.bell_weights(float(median)).T) + top[:, here]
    return found


def _settings(fleet: Array, nuisance: Nuisance, grid: _Grid, priors: Priors) -> tuple[Settings, Array]:
    """Keep the few likeliest candidates of what all trucks share."""
    uneven = np.tile(nuisance.uneven_mm, len(HAZARDS))
    scale = np.tile(nuisance.error_scale, len(HAZARDS))
    hazard = np.repeat(np.array(HAZARDS), len(nuisance.uneven_mm))
    log_prior = (
        -0.5 * (np.log(uneven / priors.uneven_mm) / 1.4) ** 2
        - 0.5 * (np.log(hazard) / 1.4) ** 2
        + np.log(np.array(ERROR_WEIGHTS))[
            np.tile(np.arange(len(ERROR_SCALES)), len(scale) // len(ERROR_SCALES))
        ]
    )
    total = log_prior + np.logaddexp.reduce(fleet.sum(axis=1) + grid.log_prior, axis=1)
    weight = np.exp(total - total.max())
    weight /= weight.sum()
    order = np.argsort(-weight, kind="stable")
    enough = int(np.searchsorted(np.cumsum(weight[order]), KEEP_MASS)) + 1
    kept = order[: min(enough, KEEP_MOST)]
    share = weight[kept] / weight[kept].sum()
    return Settings(Nuisance(uneven[kept], scale[kept]), hazard[kept] * priors.change_hazard, share), kept


def _weights(
    own: Array, chosen: Array, medians: Array, groups: list[tuple[str, ...]], grid: _Grid, priors: Priors
) -> Array:
    """Weight the bells for each truck by the other trucks: its fleet, then its own group."""
    all_of_them = own.sum(axis=0) + grid.log_prior
    names = [names[0] if names else "" for names in groups]
    several = len(set(names)) > 1
    found = np.zeros((len(groups), len(grid.middles)))
    place = {int(truck): at for at, truck in enumerate(chosen)}
    for name in set(names):
        members = [at for at, other in enumerate(names) if other == name]
        learnt = [place[at] for at in members if at in place]
        base = all_of_them
        if several:
            rest = own.sum(axis=0) - own[learnt].sum(axis=0) + grid.log_prior
            base = _widened(rest, grid, priors) + own[learnt].sum(axis=0)
        for median in {float(medians[at]) for at in members}:
            bell_weights = grid.bell_weights(median)
            common = _normal(base) @ bell_weights
            for at in members:
                if medians[at] == median:
                    found[at] = (
                        _normal(base - own[place[at]]) @ bell_weights
                        if at in place and len(place) < LEARN_FROM
                        else common
                    )
    return found


def _normal(log_weights: Array) -> Array:
    weights = np.exp(log_weights - log_weights.max())
    found: Array = weights / weights.sum()
    return found


def _widened(log_weights: Array, grid: _Grid, priors: Priors) -> Array:
    """What the other groups say about the median of one more group: wider by the spread of groups."""
    shape = (len(STEPS_FROM_MEDIAN), len(TRUCK_SPREADS))
    steps = STEPS_FROM_MEDIAN * priors.fleet_spread
    smear = np.exp(-((steps[:, None] - steps) ** 2) / (2.0 * priors.group_spread**2))
    smear /= smear.sum(axis=0)
    return np.log(smear @ _normal(log_weights).reshape(shape) + 1e-300).ravel()
