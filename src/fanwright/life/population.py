"""What a fleet's readings say about its trucks together: rates, their spread, uneven duty, reading errors.

Everything unknown of the fleet lies on a small grid and is weighed by all readings at once: a fleet of one
truck keeps the assumptions with all their width, a large one forgets them. A truck's own readings are taken
out of what the fleet tells about it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fanwright.life.filtering import (
    Array,
    Batch,
    Bells,
    Filtered,
    Index,
    Nuisance,
    Start,
    change_evidence,
    run,
)
from fanwright.life.priors import Priors
from fanwright.life.survivors import first_thickness, log_still_listed

SPACING = 0.25
LOWEST_RATE, HIGHEST_RATE = 3e-4, 0.5
FACTORS = (-1.6, -0.8, 0.0, 0.8, 1.6, 2.4)
FACTOR_SPREAD = 0.46
RARE_SHARE, RARE_SPREAD = 0.06, 1.8
"""Some changes are far larger than the common ones: a setting lost, a cooler plugged; assumption."""

MEDIUM_RATE = 0.006
UNEVEN = (0.06, 0.25, 0.7, 2.0, 5.6, 16.0)
ERROR_SCALES = (0.7, 1.0, 1.5, 2.2)
ERROR_WEIGHTS = (0.1, 0.6, 0.25, 0.05)
HAZARDS = (0.0, 0.25, 0.5, 1.0, 2.0, 4.0)
HAZARD_WEIGHTS = (0.2, 0.12, 0.16, 0.2, 0.2, 0.12)
TRUCK_SPREADS = (0.55, 0.7, 0.85, 1.0, 1.25, 1.6, 2.0)
STEPS_FROM_MEDIAN = np.linspace(-3.0, 3.0, 81)
GROWTHS = (0.0, 1.0)
"""Unevenness alike for all trucks (bites of one size), or growing with the rate (duty comes and goes)."""

LASTING = 0.2
"""Share of the latter that lasts: what comes and goes with the season evens out over a year; assumption."""

FIRST_LOOK, LEARN_FROM = 40, 3500
HOPELESS = 7.0
LONELY = 5
LEAST_MASS, NARROW, LARGE = 0.05, 0.25, 200


@dataclass(frozen=True, eq=False)
class Settings:
    """What all trucks share, as candidates with weights.

    Args:
        nuisance: Uneven duty and reading errors, one row each, shape (kept,).
        lasting: Share of the unevenness that does not even out on the way ahead, same shape [-].
        weight: How likely each is, sums to 1, same shape.
        hazard: Candidates for the changes of the rate in 1000 km, shape (hazards,).
        hazard_weight: How likely each of these is, sums to 1, same shape.
    """

    nuisance: Nuisance
    lasting: Array
    weight: Array
    hazard: Array
    hazard_weight: Array

    def of(self, which: Index) -> Settings:
        """Give the same for some of the bells."""
        nuisance = Nuisance(self.nuisance.uneven_mm[:, which], self.nuisance.error_scale)
        return Settings(nuisance, self.lasting, self.weight, self.hazard, self.hazard_weight)


@dataclass(frozen=True, eq=False)
class Population:
    """What the fleet says.

    Args:
        bells: The bells rates are made of.
        settings: What all trucks share.
        weights: Weight of each bell for each truck from all the others, shape (trucks, bells).
        start: How thick facings are when first read.
    """

    bells: Bells
    settings: Settings
    weights: Array
    start: Start


def bells(priors: Priors) -> Bells:
    """Give the bells: evenly spaced in the logarithm of the rate, each as wide as the spacing."""
    middles = np.exp(np.arange(math.log(LOWEST_RATE), math.log(HIGHEST_RATE), SPACING))
    spread = max(priors.change_spread**2 - FACTOR_SPREAD**2, 0.01)
    common = np.exp(-(np.array(FACTORS) ** 2) / (2.0 * spread)) / math.sqrt(spread)
    rare = np.exp(-(np.array(FACTORS) ** 2) / (2.0 * RARE_SPREAD**2)) / RARE_SPREAD
    factor_weight = (1.0 - RARE_SHARE) * common + RARE_SHARE * rare
    return Bells(
        rate=middles * math.exp(SPACING**2 / 2.0),
        variance=middles**2 * math.exp(SPACING**2) * math.expm1(SPACING**2),
        factor=np.exp(np.array(FACTORS) + FACTOR_SPREAD**2 / 2.0),
        factor_variance=np.full(len(FACTORS), math.expm1(FACTOR_SPREAD**2)),
        factor_weight=factor_weight / factor_weight.sum(),
    )


def learn(
    batch: Batch, groups: list[tuple[str, ...]], priors: Priors, limit_mm: Array | None = None
) -> Population:
    """Weigh everything unknown of a fleet by its readings.

    Args:
        batch: The readings of all trucks.
        groups: The names each truck is pooled by: the first says the group, all may say the duty.
        priors: What is taken for granted.
        limit_mm: Where only facings above their limit are listed, that limit, shape (trucks,) [mm]: those
            that wore fast are missing, and are allowed for.

    Returns:
        What the fleet says about each truck.
    """
    shapes = bells(priors)
    chosen = _informative(batch)
    medians = np.array([priors.log_rate(names) for names in groups])
    grid = _grid(shapes, priors)
    candidates = _candidates(priors, coarse=len(chosen) < LONELY)
    limits = None if limit_mm is None else limit_mm[chosen]
    start = first_thickness(batch)
    likely = _weighed(batch.part(chosen), medians[chosen], shapes, candidates, grid, _Aside(start, limits))
    settings = _settings(likely, candidates, shapes, priors, large=len(chosen) > LARGE)
    own = _own(batch.part(chosen), medians[chosen], shapes, settings, grid, _Aside(start, limits))
    weights = _weights(own, chosen, medians, groups, grid, priors)
    return Population(shapes, settings, weights, start)


@dataclass(frozen=True, eq=False)
class _Aside:
    """What is known beside the readings.

    Args:
        start: How thick facings are when first read.
        limit_mm: Limits where only facings above them are listed, shape (trucks,) [mm]; else None.
    """

    start: Start
    limit_mm: Array | None

    def of(self, which: Index) -> _Aside:
        """Give the same for some of the trucks."""
        return _Aside(self.start, None if self.limit_mm is None else self.limit_mm[which])


@dataclass(frozen=True, eq=False)
class _Candidates:
    """Candidates for what all trucks share, one row each; hazards vary fastest.

    Args:
        uneven_mm: Variance of the wear over its mean, at a medium rate [mm].
        error_scale: How much larger reading errors are than stated [-].
        growth: How unevenness grows with the rate, as a power [-].
        hazard: Changes of the rate in 1000 km.
        log_prior: Their prior.
    """

    uneven_mm: Array
    error_scale: Array
    growth: Array
    hazard: Array
    log_prior: Array


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
    shifts, spreads = STEPS_FROM_MEDIAN * priors.fleet_spread, np.array(TRUCK_SPREADS) * priors.truck_spread
    shift, spread = np.repeat(shifts, len(spreads)), np.tile(spreads, len(shifts))
    log_prior = (
        -0.5 * (shift / priors.fleet_spread) ** 2 - 0.5 * (np.log(spread / priors.truck_spread) / 0.4) ** 2
    )
    return _Grid(shift, spread, log_prior, np.log(shapes.rate) - SPACING**2 / 2.0)


def _informative(batch: Batch) -> Index:
    """Choose the trucks to learn from: all, or an even choice of those with several readings."""
    several = np.flatnonzero(batch.counts >= 2)
    if len(several) > LEARN_FROM:
        several = several[np.linspace(0, len(several) - 1, LEARN_FROM).astype(np.int64)]
    return several.astype(np.int64)


def _candidates(priors: Priors, *, coarse: bool) -> _Candidates:
    """Give all candidates; a lone truck tells so little of them that a few stand for all."""
    every = slice(1, None, 3) if coarse else slice(None)
    growths = (0.5,) if coarse else GROWTHS
    unevens, scales = UNEVEN[every], np.arange(len(ERROR_SCALES))[slice(1, None, 2) if coarse else every]
    growth, uneven, scale, hazard = (
        part.ravel() for part in np.meshgrid(growths, unevens, scales, np.arange(len(HAZARDS)), indexing="ij")
    )
    scale, hazard = scale.astype(np.int64), hazard.astype(np.int64)
    return _Candidates(
        uneven_mm=uneven * priors.uneven_mm,
        error_scale=np.array(ERROR_SCALES)[scale],
        growth=growth,
        hazard=np.array(HAZARDS)[hazard] * priors.change_hazard,
        log_prior=-0.5 * (np.log(uneven) / 1.4) ** 2
        + np.log(ERROR_WEIGHTS)[scale]
        + np.log(HAZARD_WEIGHTS)[hazard],
    )


def _nuisance(uneven_mm: Array, error_scale: Array, growth: Array, shapes: Bells) -> Nuisance:
    return Nuisance(uneven_mm[:, None] * (shapes.rate / MEDIUM_RATE) ** growth[:, None], error_scale)


def _weighed(
    batch: Batch, medians: Array, shapes: Bells, candidates: _Candidates, grid: _Grid, aside: _Aside
) -> Array:
    """Weigh the candidates by all readings, shape (candidates,); sums to 1.

    A first look at some trucks leaves out what is hopeless; the others are looked at only with the rest.
    """
    hazards = candidates.hazard[: len(HAZARDS)]
    trucks, alive = len(batch.counts), np.arange(len(candidates.growth) // len(hazards))
    found = np.tile(grid.log_prior, (len(candidates.growth), 1))
    mixed = np.random.default_rng(trucks).permutation(trucks)
    for start in range(0, trucks, FIRST_LOOK):
        some = np.sort(mixed[start : start + FIRST_LOOK])
        rows = (alive[:, None] * len(hazards) + np.arange(len(hazards))).ravel()
        each = rows[:: len(hazards)]
        nuisance = _nuisance(
            candidates.uneven_mm[each], candidates.error_scale[each], candidates.growth[each], shapes
        )
        evidence = _evidence(batch.part(some), shapes, nuisance, hazards, aside.of(some))
        found[rows] += _on_grid(evidence, grid, medians[some]).sum(axis=1)
        left = np.setdiff1d(np.arange(len(found)), rows)
        found[left] = -np.inf
        total = (
            (np.logaddexp.reduce(found, axis=1) + candidates.log_prior).reshape(-1, len(hazards)).max(axis=1)
        )
        alive = np.flatnonzero(total > total.max() - HOPELESS)
    return _normal(np.logaddexp.reduce(found, axis=1) + candidates.log_prior)


def _own(
    batch: Batch, medians: Array, shapes: Bells, settings: Settings, grid: _Grid, aside: _Aside
) -> Array:
    """How well each place of the fleet foretells each truck by itself, shape (trucks, grid) [ln]."""
    found = np.zeros((len(batch.counts), len(grid.shift)))
    hazard = np.array([settings.hazard_weight @ settings.hazard])
    for start in range(0, len(batch.counts), FIRST_LOOK):
        some = np.arange(start, min(start + FIRST_LOOK, len(batch.counts)))
        evidence = _evidence(batch.part(some), shapes, settings.nuisance, hazard, aside.of(some))
        by_grid = _on_grid(evidence, grid, medians[some])
        found[some] = np.logaddexp.reduce(by_grid + np.log(settings.weight)[:, None, None], axis=0)
    return found


def _evidence(batch: Batch, shapes: Bells, nuisance: Nuisance, hazards: Array, aside: _Aside) -> Array:
    """How well each bell foretells a truck: shape (nuisances x hazards, trucks, bells) [ln]."""
    parts = []
    for some in np.array_split(np.arange(len(batch.counts)), max(1, len(batch.counts) // 20)):
        found = run(batch.part(some), shapes, nuisance, aside.start)
        told = np.array([with_changes(found, shapes, hazard) for hazard in hazards])
        if aside.limit_mm is not None:
            told -= log_still_listed(batch.part(some), aside.limit_mm[some], shapes, nuisance, hazards)
        parts.append(told)
    stacked: Array = np.concatenate(parts, axis=1).transpose(2, 0, 1, 3)
    return stacked.reshape(-1, len(batch.counts), len(shapes.rate))


def with_changes(found: Filtered, shapes: Bells, hazard: float) -> Array:
    """Put together no change and one change, shape (trucks, nuisances, bells) [ln of evidence]."""
    once = change_evidence(found)
    with np.errstate(divide="ignore"):
        one = (
            np.logaddexp.reduce(once + np.log(shapes.factor_weight * hazard), axis=3)
            if found.changed and hazard > 0.0
            else -np.inf
        )
    whole = np.where(found.open_interval, found.steps, 0.0).sum(axis=0)
    both: Array = np.logaddexp(found.steady.log_evidence, one) - np.log1p(hazard * whole)[:, None, None]
    return both


def _on_grid(evidence: Array, grid: _Grid, medians: Array) -> Array:
    found = np.zeros((*evidence.shape[:2], len(grid.shift)))
    top = evidence.max(axis=2, keepdims=True)
    likely = np.exp(evidence - top)
    for median in np.unique(medians):
        here = medians == median
        found[:, here] = np.log(likely[:, here] @ grid.bell_weights(float(median)).T) + top[:, here]
    return found


def _settings(
    likely: Array, candidates: _Candidates, shapes: Bells, priors: Priors, *, large: bool
) -> Settings:
    """Sum the candidates up: two points a dimension where it is wide, one where narrow or the fleet large."""
    rows: list[tuple[float, float, float, float]] = []
    for growth in np.unique(candidates.growth).tolist():
        here = np.where(candidates.growth == growth, likely, 0.0)
        mass = float(here.sum())
        if mass < LEAST_MASS:
            continue
        pairs = [
            _points(np.log(values), here / mass, math.inf if large else NARROW)
            for values in (candidates.uneven_mm, candidates.error_scale)
        ]
        each = mass / (len(pairs[0]) * len(pairs[1]))
        rows += [(uneven, scale, growth, each) for uneven in pairs[0] for scale in pairs[1]]
    uneven_mm, scale, growths, weight = np.array(rows).T
    hazards = np.array(HAZARDS) * priors.change_hazard
    by_hazard = likely.reshape(-1, len(hazards)).sum(axis=0)
    nuisance = _nuisance(uneven_mm, scale, growths, shapes)
    lasting = np.where(growths > 0.0, LASTING, 1.0)
    return Settings(nuisance, lasting, weight / weight.sum(), hazards, by_hazard)


def _points(values: Array, weight: Array, narrow: float) -> list[float]:
    middle = float(weight @ values)
    spread = math.sqrt(max(0.0, float(weight @ (values - middle) ** 2)))
    return [math.exp(middle + way * spread) for way in ((-1.0, 1.0) if spread > narrow else (0.0,))]


def _weights(
    own: Array, chosen: Index, medians: Array, groups: list[tuple[str, ...]], grid: _Grid, priors: Priors
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
